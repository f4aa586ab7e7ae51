"""``report``: a sheet of paper about a piece, a question, a pour or a form."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.cli.files import check_apart, check_targets, path_of, say
from analysis.errors import InputError
from analysis.services import report_sheets, reports
from analysis.services.log import open_log
from analysis.services.workshop_settings import apply_settings

if TYPE_CHECKING:
    import argparse

KINDS = ("piece", "trial", "batch", "form")


def add_report(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``report``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_report(parser)
    >>> parser.parse_args(["piece", "7", "--log", "finish", "--out", "a.pdf"]).page
    'A4'
    """
    parser.add_argument("kind", choices=KINDS)
    parser.add_argument(
        "id", metavar="ID", help="piece, pour or form by name; a trial by its factor"
    )
    parser.add_argument("--log", metavar="URL", required=True, help="folder, file, URL")
    parser.add_argument("--out", metavar="PDF", required=True)
    parser.add_argument("--page", choices=tuple(reports.PAGES_MM), default="A4")
    parser.add_argument("--unit", choices=reports.UNITS, default="mm")
    parser.add_argument(
        "--criterion",
        metavar="CODE",
        action="append",
        default=[],
        help="judge a piece by it; its own target if left out",
    )
    parser.set_defaults(run=_report)


def _report(options: argparse.Namespace) -> None:
    if not options.log.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    target = path_of(options.out)
    check_targets(None, [target])
    log = open_log(options.log, create=False)
    check_apart(log, [target])
    apply_settings(log)
    page, name, of_what = options.page, options.id, ""
    if options.kind == "piece":
        casting = reports.casting_named(log, name)
        of_what = f", piece {casting.piece.name}"  # it may have been asked by number
        sheet = reports.piece_sheet(
            log, casting, codes=options.criterion, page=page, unit=options.unit
        )
    elif options.kind == "trial":
        sheet = report_sheets.trial_sheet(log, name, page=page)
    elif options.kind == "batch":
        sheet = report_sheets.pour_sheet(log, name, page=page)
    else:
        sheet = report_sheets.form_sheet(log, name, page=page)
    target.write_bytes(sheet)
    say(f"Written: {target}{of_what}.")
