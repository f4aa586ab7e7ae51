"""The example workshop: invented, with truths to find, in a log of its own."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.model.log import PhotoUse
from analysis.model.photo import Face, JointLine
from analysis.model.workshop import (
    FinishTarget,
    Form,
    FormJoint,
    Mix,
    ProductLine,
)
from analysis.services import records
from analysis.services.log import list_castings, open_log, save_reading
from analysis.services.marks_seen import set_marks
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.storage.engine import data_folder
from analysis.synthetic import workshop
from analysis.synthetic.workshop_faces import DrawnPhoto, draw_piece
from analysis.voids.settings import METHOD_VERSION

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.services.log import Log

_FOLDER = "example"
_DONE = "example workshop"


def open_example(progress: Callable[[float, str], None] | None = None) -> Log:
    """Open the example log, beside the user's own; build it the first time.

    Parameters
    ----------
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Raises
    ------
    RecordError
        It cannot be written.
    """
    log = open_log(str(data_folder() / _FOLDER))
    build_example(log, progress=progress)
    return log


def is_example(log: Log) -> bool:
    """Tell whether a log holds the whole example workshop.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     is_example(open_log(folder))
    False
    """
    return records.load_draft(log, _DONE) is not None


def build_example(
    log: Log,
    *,
    effects: bool = True,
    photos: bool = True,
    progress: Callable[[float, str], None] | None = None,
) -> None:
    """Fill a log with the example workshop; go on where a first try was cut off.

    Parameters
    ----------
    log : Log
        Empty, or begun by this.
    effects : bool
        Off builds the same workshop as if nothing that was done mattered.
    photos : bool
        Draw and measure a dozen photos.
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Raises
    ------
    InputError
        The log holds something else.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     build_example(log, photos=False)
    ...     len(list_castings(log)), is_example(log)
    (221, True)
    """
    if is_example(log):
        return
    tell = progress or _silent
    tell(0.0, "Setting up forms and pours")
    rows = workshop.castings(effects=effects, method_version=METHOD_VERSION)
    _refuse_other_records(log)
    _set_up(log)
    if not list_castings(log):
        preview = records.preview_import(log, _csv(rows))
        records.import_pieces(log, preview, save_token=f"{_DONE} pieces")
    shown = workshop.photographed(rows) if photos else []
    ids = {one.piece.name: one.piece.id or 0 for one in list_castings(log)}
    if effects:
        for row in workshop.over_vibrated(rows):
            set_marks(log, ids[str(row["piece"])], ["bleed streaks"])
    for n, row in enumerate(shown):
        tell((n + 1) / (len(shown) + 1), f"Measuring photo {n + 1} of {len(shown)}")
        _add_photo(log, row, ids[str(row["piece"])])
    records.save_draft(log, _DONE, {"effects": effects})
    tell(1.0, "Done")


def _silent(_part: float, _what: str) -> None:
    pass


def _refuse_other_records(log: Log) -> None:
    ours = {form.name for form in workshop.FORMS}
    forms = {form.name for form in records.list_all(log, Form)}
    if forms - ours or (list_castings(log) and not forms):
        msg = (
            "This log holds other forms or pieces: name an empty one for the example "
            "workshop."
        )
        raise InputError(msg)


def _set_up(log: Log) -> None:
    """Add lines with their targets, mixes and forms."""
    lines = {}
    for line in workshop.LINES:
        token = f"{_DONE} {line.name}"
        lines[line.name] = records.add(
            log, ProductLine(name=line.name), save_token=token
        ).id
        target = FinishTarget(
            product_line_id=lines[line.name],
            low_share=line.low_percent / 100,
            high_share=line.high_percent / 100,
        )
        records.add(log, target, save_token=f"{token} target")
    for name in workshop.MIXES:
        mix = Mix(name=name, basis="by_volume", proportions="1:2:2")
        records.add(log, mix, save_token=f"{_DONE} {name}")
    for form in workshop.FORMS:
        records.add(
            log,
            Form(
                name=form.name,
                form_type=form.form_type,
                face_material=form.face_material,
                product_line_id=lines[form.product_line],
                joints=tuple(
                    FormJoint(name=joint, default_sealing="tape")
                    for joint in form.joints
                ),
                starting_use_count=form.uses_before,
                volume_l=form.volume_l,
            ),
            save_token=f"{_DONE} {form.name}",
        )


def _csv(rows: list[dict[str, object]]) -> bytes:
    file = io.StringIO()
    writer = csv.DictWriter(file, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue().encode()


def _add_photo(log: Log, row: dict[str, object], piece_id: int) -> None:
    joint = {"tape": "sealed", "none": "open"}.get(str(row["joint_sealing"]))
    drawn = draw_piece(
        float(str(row["void_area_percent"])) / 100,
        seed=workshop.SEED + int(str(row["piece"])),
        joint=joint if row["product_line"] == workshop.LINES[0].name else None,
    )
    photo = read_photo(drawn.jpeg, f"piece {row['piece']}.jpg")
    reading, _ = measure(photo, scale=scale_typed(drawn.mm_per_px), face=_face(drawn))
    save_reading(
        log,
        photo_bytes=drawn.jpeg,
        photo=photo,
        reading=reading,
        piece_id=piece_id,
        save_token=f"{_DONE} photo {row['piece']}",
        use=PhotoUse(stage="as_struck", surface_state="dry"),
    )


def _face(drawn: DrawnPhoto) -> Face:
    line = np.array(drawn.joint_px, dtype=np.float64)
    return Face(
        outline_px=np.array(drawn.outline_px, dtype=np.float64),
        joints=(JointLine(line_px=line, name="left"),) if len(line) else (),
        up="top",
    )
