"""The command line: ``python -m analysis VERB ...``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from analysis.cli.cheapest import add_cheapest
from analysis.cli.compare import add_compare
from analysis.cli.example import add_example
from analysis.cli.faces import add_find_face
from analysis.cli.files import check_targets, path_of, read_bytes, say, write_json
from analysis.cli.folder import add_measure_folder
from analysis.cli.plan import add_plan
from analysis.cli.records import (
    add_backup,
    add_export,
    add_import,
    add_migrate_log,
    add_photo_folder,
    add_restore,
)
from analysis.cli.report import add_report
from analysis.cli.track import add_track
from analysis.cli.vibration import add_vibration
from analysis.errors import InputError, StruckfaceError
from analysis.flags import FLAG_WORDS, Flag
from analysis.model.photo import Face, JointLine
from analysis.model.reading import MeasureSettings
from analysis.model.workshop import settings_of_form
from analysis.services.gauge import with_usual
from analysis.services.log import form_named, open_log
from analysis.services.measuring import measure
from analysis.services.pairing import measure_pair
from analysis.services.photos import (
    encoded,
    read_photo,
    reading_answer,
    reading_overlay,
    reading_sentence,
    scale_typed,
)
from analysis.vocabulary import FACE_KINDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.reading import Reading


class _Parser(argparse.ArgumentParser):
    """Refuses with one sentence instead of a usage dump."""

    def error(self, message: str) -> NoReturn:
        """Raise what argparse found wrong."""
        raise InputError(_sentence(message))


# The sentence or the call itself shows these; the others put the figure in doubt.
_SEEN_ANYWAY = {
    Flag.NO_SCALE,
    Flag.WHOLE_PHOTO,
    Flag.SMALL_FACE,
    Flag.NOTHING_FOUND,
    Flag.LOW_RESOLUTION,
}


def main(argv: Sequence[str]) -> int:
    """Run one verb.

    Parameters
    ----------
    argv : sequence of str
        Verb and options, without the program's name.

    Returns
    -------
    int
        0 done; 2 for a bad request, with one sentence on stderr.

    Examples
    --------
    >>> main(["measure", "--help"])  # doctest: +ELLIPSIS
    usage: ...
    0
    """
    try:
        options = _parser().parse_args(list(argv))
        options.run(options)
    except SystemExit as stop:
        return 0 if stop.code in {0, None} else 2
    except StruckfaceError as error:
        return _refuse(str(error))
    except OSError as error:
        return _refuse(f"{error.strerror or error}: {error.filename or 'file'}.")
    except MemoryError:
        return _refuse("There is not enough memory for this photo: measure a part.")
    except Exception as error:  # noqa: BLE001  the promise is never to raise
        return _refuse(
            f"Something went wrong inside ({type(error).__name__}: {error})."
        )
    return 0


def _refuse(sentence: str) -> int:
    # A file's name may hold anything, even what would move the cursor.
    plain = "".join(sign if sign.isprintable() else " " for sign in sentence)
    print(" ".join(plain.split()), file=sys.stderr)  # noqa: T201  the answer
    return 2


def _sentence(message: str) -> str:
    text = message[:1].upper() + message[1:]
    return text if text.endswith(".") else f"{text}."


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="analysis",
        description="Struckface on the command line.",
        allow_abbrev=False,
    )
    verbs = parser.add_subparsers(required=True, metavar="VERB")
    _add_measure(
        verbs.add_parser(
            "measure", help="measure the voids of one photo", allow_abbrev=False
        )
    )
    pair = verbs.add_parser(
        "measure-pair",
        help="measure one face photographed in two lights",
        allow_abbrev=False,
    )
    _add_measure(pair, "PHOTO_A")
    pair.add_argument("second", metavar="PHOTO_B")
    add_compare(
        verbs.add_parser(
            "compare", help="compare the levels of a factor", allow_abbrev=False
        )
    )
    add_track(
        verbs.add_parser(
            "track", help="follow the finish pour by pour", allow_abbrev=False
        )
    )
    for name, told, add in (
        ("find-face", "propose what of a photo is face", add_find_face),
        ("measure-folder", "measure a folder into a log", add_measure_folder),
        ("import", "take a table of pieces into a log", add_import),
        ("export", "write the pieces of a log as a table", add_export),
        ("backup", "write a whole log to one zip", add_backup),
        ("restore", "put a backup back", add_restore),
        ("migrate-log", "copy a log into an empty one", add_migrate_log),
        ("photo-folder", "keep the photos in a shared folder", add_photo_folder),
        ("vibration", "tell whether more vibration is needed", add_vibration),
        ("cheapest", "tell what is cheapest, repair included", add_cheapest),
        ("plan", "plan the next pours", add_plan),
        ("report", "lay out a sheet of paper", add_report),
        ("example", "write the example workshop into an empty log", add_example),
    ):
        add(verbs.add_parser(name, help=told, allow_abbrev=False))
    return parser


def _add_measure(parser: argparse.ArgumentParser, name: str = "PHOTO") -> None:
    parser.add_argument("photo", metavar=name)
    parser.add_argument("--mm-per-px", type=float)
    parser.add_argument("--smallest-mm", type=float)
    parser.add_argument(
        "--face-kind", metavar="KIND", help=f"one of {', '.join(FACE_KINDS)}"
    )
    parser.add_argument("--pitch-mm", type=float, help="from flute to flute")
    parser.add_argument("--depth-mm", type=float, help="of the flutes")
    parser.add_argument("--outline", metavar="PTS", help="x,y x,y ... in px")
    parser.add_argument("--leave-out", metavar="PTS", action="append", default=[])
    parser.add_argument("--joint", metavar="PTS", action="append", default=[])
    parser.add_argument("--joint-band-mm", type=float, default=15.0)
    parser.add_argument("--log", metavar="URL", help="whose form and usual spread hold")
    parser.add_argument("--form", metavar="NAME", help="in that log: kind of face")
    parser.add_argument("--set-up", metavar="NAME", help="place and light in that log")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.add_argument("--mask", metavar="FILE")
    parser.add_argument("--overlay", metavar="FILE")
    parser.set_defaults(run=_measure, second=None)


def _in_usual_set_up(reading: Reading, options: argparse.Namespace) -> Reading:
    if options.set_up is None:
        return reading
    return with_usual(open_log(options.log, create=False), reading, options.set_up)


def _measure(options: argparse.Namespace) -> None:
    path = path_of(options.photo)
    targets = (options.mask, options.overlay, options.json)
    written = [path_of(name) for name in targets if name not in {None, "-"}]
    check_targets(path, written)
    if options.second is not None:
        check_targets(path_of(options.second), written)
    if (options.log is None) != (options.set_up is None and options.form is None):
        msg = (
            "--log and --set-up or --form belong together: give the log with what is "
            "asked of it, or neither."
        )
        raise InputError(msg)
    photo = read_photo(read_bytes(path, "photo"), path.name)
    outline = options.outline
    face = Face(
        outline_px=None if outline is None else _points(outline, "Face outline"),
        left_out_px=tuple(_points(area, "Left-out area") for area in options.leave_out),
        joints=tuple(
            JointLine(line_px=_points(line, "Joint line")) for line in options.joint
        ),
        joint_band_mm=options.joint_band_mm,
    )
    scale = None if options.mm_per_px is None else scale_typed(options.mm_per_px)
    settings = _settings(options, has_scale=scale is not None)
    if options.second is None:
        reading, mask = measure(photo, scale=scale, face=face, settings=settings)
    else:
        other = path_of(options.second)
        second = read_photo(read_bytes(other, "photo"), other.name)
        reading, mask = measure_pair(
            photo, second, scale=scale, face=face, settings=settings
        )
    reading = _in_usual_set_up(reading, options)
    if options.mask is not None:
        Path(options.mask).write_bytes(encoded(mask))
    if options.overlay is not None:
        picture = reading_overlay(photo, reading)
        suffix = Path(options.overlay).suffix.lower()
        kind = "JPEG" if suffix in {".jpg", ".jpeg"} else "PNG"
        Path(options.overlay).write_bytes(encoded(picture, kind))
    if options.json is None:
        say(reading_sentence(reading))
        for flag in sorted((reading.flags | reading.light_flags) - _SEEN_ANYWAY):
            say(" ".join(FLAG_WORDS[flag]))
    else:
        write_json(reading_answer(reading), options.json)


def _settings(options: argparse.Namespace, *, has_scale: bool) -> MeasureSettings:
    """Return what is asked, over what the form says: an own kind stands alone."""
    form = None
    if options.form is not None:
        form = form_named(open_log(options.log, create=False), options.form)
    told = settings_of_form(form, has_scale=has_scale)
    kind = options.face_kind or told.face_kind
    pitch, depth = options.pitch_mm, options.depth_mm
    if kind == told.face_kind:
        pitch = told.pitch_mm if pitch is None else pitch
        depth = told.depth_mm if depth is None else depth
    return MeasureSettings(
        smallest_mm=options.smallest_mm,
        face_kind=kind,
        pitch_mm=pitch,
        depth_mm=depth,
    )


def _points(text: str, name: str) -> NDArray[np.float64]:
    """Read ``x,y x,y`` as (row, col)."""
    try:
        pairs = [[float(part) for part in pair.split(",")] for pair in text.split()]
    except ValueError:
        pairs = []
    if not pairs or any(len(pair) != 2 for pair in pairs):  # noqa: PLR2004  x and y
        msg = f"{name} must be x,y pairs parted by spaces, {text!r} was given."
        raise InputError(msg)
    return np.array(pairs, dtype=np.float64)[:, ::-1]
