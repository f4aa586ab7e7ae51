"""The verbs ``measure`` and ``measure-pair``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from analysis.cli.files import check_targets, path_of, read_bytes, say, write_json
from analysis.errors import InputError
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
from analysis.services.set_up import held_set_up, set_up_line
from analysis.vocabulary import FACE_KINDS

if TYPE_CHECKING:
    import argparse

    from numpy.typing import NDArray

    from analysis.model.reading import Reading
    from analysis.model.set_up import HeldSetUp
    from analysis.model.workshop import Form

# The sentence or the call itself shows these; the others put the figure in doubt.
_SEEN_ANYWAY = {
    Flag.NO_SCALE,
    Flag.WHOLE_PHOTO,
    Flag.SMALL_FACE,
    Flag.NOTHING_FOUND,
    Flag.LOW_RESOLUTION,
}


def add_measure(parser: argparse.ArgumentParser, name: str = "PHOTO") -> None:
    """Add the options of ``measure``."""
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
    parser.add_argument(
        "--form-face", metavar="NAME", default="", help="which of that form's faces"
    )
    parser.add_argument("--set-up", metavar="NAME", help="place and light in that log")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.add_argument("--mask", metavar="FILE")
    parser.add_argument("--overlay", metavar="FILE")
    parser.set_defaults(run=_measure, second=None)


def add_measure_pair(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``measure-pair``."""
    add_measure(parser, "PHOTO_A")
    parser.add_argument("second", metavar="PHOTO_B")


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
    _check_log_words(options)
    photo = read_photo(read_bytes(path, "photo"), path.name)
    face = _face(options)
    scale = None if options.mm_per_px is None else scale_typed(options.mm_per_px)
    form = _form(options)
    settings = _settings(options, form, has_scale=scale is not None)
    if options.second is None:
        reading, mask = measure(photo, scale=scale, face=face, settings=settings)
    else:
        other = path_of(options.second)
        second = read_photo(read_bytes(other, "photo"), other.name)
        reading, mask = measure_pair(
            photo, second, scale=scale, face=face, settings=settings
        )
    reading = _in_usual_set_up(reading, options)
    held = None
    if form is not None and form.id is not None:
        log = open_log(options.log, create=False)
        held = held_set_up(log, form.id, photo, scale, face)
    if options.mask is not None:
        Path(options.mask).write_bytes(encoded(mask))
    if options.overlay is not None:
        picture = reading_overlay(photo, reading)
        suffix = Path(options.overlay).suffix.lower()
        kind = "JPEG" if suffix in {".jpg", ".jpeg"} else "PNG"
        Path(options.overlay).write_bytes(encoded(picture, kind))
    _tell(reading, held, options.json)


def _check_log_words(options: argparse.Namespace) -> None:
    if (options.log is None) != (options.set_up is None and options.form is None):
        msg = (
            "--log and --set-up or --form belong together: give the log with what is "
            "asked of it, or neither."
        )
        raise InputError(msg)
    if options.form_face and options.form is None:
        msg = f"--form-face {options.form_face!r} is a face of a form: give --form too."
        raise InputError(msg)


def _face(options: argparse.Namespace) -> Face:
    outline = options.outline
    return Face(
        outline_px=None if outline is None else _points(outline, "Face outline"),
        left_out_px=tuple(_points(area, "Left-out area") for area in options.leave_out),
        joints=tuple(
            JointLine(line_px=_points(line, "Joint line")) for line in options.joint
        ),
        joint_band_mm=options.joint_band_mm,
        name=options.form_face.strip(),
    )


def _tell(reading: Reading, held: HeldSetUp | None, json: str | None) -> None:
    """Say what was measured, in sentences or as JSON."""
    if json is not None:
        answer = reading_answer(reading)
        if held is not None:
            answer["set_up_held_against"] = "kept" if held.kept else "last"
            answer["set_up_differs"] = list(held.differs)
        write_json(answer, json)
        return
    say(reading_sentence(reading))
    if held is not None:
        say(set_up_line(held.differs, kept=held.kept))
    for flag in sorted((reading.flags | reading.light_flags) - _SEEN_ANYWAY):
        say(" ".join(FLAG_WORDS[flag]))


def _form(options: argparse.Namespace) -> Form | None:
    if options.form is None:
        return None
    return form_named(open_log(options.log, create=False), options.form)


def _settings(
    options: argparse.Namespace, form: Form | None, *, has_scale: bool
) -> MeasureSettings:
    """Return what is asked, over what the form says: an own kind stands alone."""
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
