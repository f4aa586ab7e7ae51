"""Sheets of paper and files to take along; made only when they are asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.compare.output import comparison_table
from analysis.services import exports, report_sheets, reports
from ui.batches.chart import share_chart, wear_chart
from ui.compare.chart import piece_chart
from ui.paper import words
from ui.paper.chart_files import png_of, svg_of
from ui.vibration.dose_chart import dose_chart
from ui.widgets.fields import file_button, segments
from ui.widgets.record_fields import box
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.comparison import Comparison
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.outlook import FormWear
    from analysis.model.vibration import VibrationAnswer
    from analysis.services.batches import Batches
    from analysis.services.exports import Table
    from analysis.services.log import Log
    from ui.paper.chart_files import Chart

_PDF, _JSON, _PNG = "application/pdf", "application/json", "image/png"
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def offer_piece(log: Log, casting: Casting, line: ReadingLine | None) -> None:
    """Offer a piece's sheet, and its latest reading as files."""
    piece = casting.piece
    name = f"piece-{piece.id}"
    with box(words.TAKE, f"paper of {name}"):
        page, unit = _page(name), segments(words.UNIT, words.UNITS, f"unit of {name}")
        code = st.session_state.get(f"limits of {piece.id}")
        codes = (code,) if code else ()
        _file(
            words.PIECE_SHEET,
            lambda: reports.piece_sheet(
                log, casting, codes=codes, page=page, unit=unit
            ),
            f"{name}.pdf",
            _PDF,
        )
        pour = casting.pour.name
        _file(
            words.POUR_SHEET,
            lambda: report_sheets.pour_sheet(log, pour, page=page),
            f"pour-{casting.pour.id}.pdf",
            _PDF,
        )
        if line is not None:
            _file(
                words.ANNOTATED,
                lambda: exports.annotated_png(log, line),
                f"{name}.png",
                _PNG,
            )
            _file(
                words.FIGURES,
                lambda: exports.reading_json(log, line),
                f"{name}.json",
                _JSON,
            )
            _file(
                words.VOIDS_CSV,
                lambda: exports.table_csv(exports.void_table(log, line)),
                f"{name}-voids.csv",
                "text/csv",
            )
            _file(
                words.VOIDS_XLSX,
                lambda: exports.table_xlsx(exports.void_table(log, line)),
                f"{name}-voids.xlsx",
                _XLSX,
            )
            _file(
                words.ANNOTATIONS,
                lambda: exports.annotations_json(log, [line]),
                f"{name}.coco.json",
                _JSON,
            )


def offer_form(log: Log, name: str, wear: FormWear | None) -> None:
    """Offer a form's sheet, and the chart of its castings."""
    with box(words.TAKE, f"paper of form {name}"):
        page = _page(f"form {name}")
        _file(
            words.FORM_SHEET,
            lambda: report_sheets.form_sheet(log, name, page=page),
            "form.pdf",
            _PDF,
        )
        if wear is not None and len(wear.use):
            _chart(lambda: wear_chart(wear), "form")


def offer_trial(log: Log, comparison: Comparison) -> None:
    """Offer a comparison as asked: sheet, chart and the pieces behind it."""
    with box(words.TAKE, "paper of trial"):
        page = _page("trial")
        _file(
            words.TRIAL_SHEET,
            lambda: report_sheets.trial_sheet(
                log, comparison.by, page=page, comparison=comparison
            ),
            "comparison.pdf",
            _PDF,
        )
        _chart(lambda: piece_chart(comparison), "comparison")
        _table(lambda: comparison_table(comparison), "comparison")


def offer_pours(log: Log, found: Batches, pour: str) -> None:
    """Offer the chart of the pours as it is drawn, its table, and a pour's sheet."""
    with box(words.TAKE, "paper of pours"):
        page = _page("pours")
        _file(
            literal(words.sheet_of_pour(pour)),
            lambda: report_sheets.pour_sheet(log, pour, page=page, followed=found),
            "pour.pdf",
            _PDF,
        )
        _chart(lambda: share_chart(found), "pours")
        _table(lambda: exports.track_table(found.track), "pours")


def offer_vibration(answer: VibrationAnswer) -> None:
    """Offer the chart of the void area against the seconds."""
    if len(answer.pieces.piece):
        with box(words.TAKE, "paper of vibration"):
            _chart(lambda: dose_chart(answer), "vibration")


def _chart(make: Callable[[], Chart], name: str) -> None:
    _file(words.CHART_SVG, lambda: svg_of(make()), f"{name}.svg", "image/svg+xml")
    _file(words.CHART_PNG, lambda: png_of(make()), f"{name}.png", _PNG)


def _table(make: Callable[[], Table], name: str) -> None:
    _file(words.TABLE_CSV, lambda: exports.table_csv(make()), f"{name}.csv", "text/csv")
    _file(words.TABLE_XLSX, lambda: exports.table_xlsx(make()), f"{name}.xlsx", _XLSX)


def _page(key: str) -> str:
    return segments(words.PAPER, words.PAPERS, f"paper size of {key}")


def _file(label: str, make: Callable[[], bytes | str], name: str, mime: str) -> None:
    file_button(label, make, name, f"take {name}", mime=mime)
