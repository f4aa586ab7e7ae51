"""One log with all that readers of a piece's figures could disagree about."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time

from analysis.model.log import JointState, PhotoUse, Piece, Pour, Step
from analysis.model.review import Mark
from analysis.model.workshop import FinishTarget, Form, FormJoint, ProductLine
from analysis.services import log as log_service
from analysis.services import records
from analysis.storage.exchange import import_pieces, preview_import
from analysis.storage.reviews import save_review
from tests.support.photos import measured, photo_of, png

# Voids as (row, col, side): beside the left joint, beside the right one, between them.
LEFT, RIGHT, MIDDLE = (5, 0, 3), (15, 57, 2), (20, 25, 4)
SECONDS = {"P1": 20.0, "P2": 30.0, "P3": 40.0, "P4": 25.0, "P5": 35.0, "P6": 30.0}
# Cast in this order: P1's pour has no time, P3's was saved last and cast before P2's.
ORDER = ("A", "C", "B", "D", "E")


@dataclass
class Everything:
    """The log and what is true of it."""

    log: object
    piece: dict[str, int] = field(default_factory=dict)
    form: dict[str, int] = field(default_factory=dict)
    shots: int = 0

    def shoot(
        self,
        piece: str,
        places,
        *,
        minutes,
        stage="as_struck",
        purpose="representative",
        again=None,
        **measuring,
    ):
        """Keep a reading of a new photo, or of the one already taken as `again`."""
        self.shots += 1
        number = self.shots if again is None else again
        data = png(number)
        photo = photo_of(data, f"photo {number}.png")
        saved = log_service.save_reading(
            self.log,
            photo_bytes=data,
            photo=photo,
            reading=measured(data, places, minutes=minutes, **measuring),
            piece_id=self.piece[piece],
            save_token=f"shot {self.shots}",
            use=PhotoUse(stage=stage, purpose=purpose),
        )
        return saved.id, number


def form_with_joints(name: str, line: int | None = None) -> Form:
    joints = (FormJoint(name="left"), FormJoint(name="right"))
    return Form(
        name=name,
        form_type="trough",
        joints=joints,
        starting_use_count=4,
        product_line_id=line,
    )


def of_everything(folder) -> Everything:
    """Make the log."""
    log = log_service.open_log(folder)
    made = Everything(log=log)
    line = records.add(log, ProductLine(name="troughs"), save_token="line").id
    target = FinishTarget(product_line_id=line, low_share=0.0, high_share=0.02)
    records.add(log, target, save_token="target")
    made.form["T1"] = records.add(log, form_with_joints("T1"), save_token="T1").id
    made.form["T2"] = records.add(
        log, Form(name="T2", form_type="trough"), save_token="T2"
    ).id
    _cast(made, line)
    _photograph(made)
    _bring_in(log)
    return made


def _piece(made: Everything, name: str, line: int, form: str, joints) -> Piece:
    return Piece(
        name=name,
        pour_id=0,
        form_id=made.form[form],
        product_line_id=line,
        joints=joints,
        steps=(Step(method="table", seconds=SECONDS[name]),),
    )


def _cast(made: Everything, line: int) -> None:
    """Three pours on one day, with and without a time; a fourth a day later."""
    both = (
        JointState(joint="left", sealing="tape"),
        JointState(joint="right", sealing="none"),
    )
    sealed = (JointState(sealing="tape"),)
    open_ = (JointState(sealing="none"),)
    without = (JointState(sealing="not applicable"),)
    day, next_day = date(2026, 3, 30), date(2026, 3, 31)
    pours = (
        (Pour(name="A", cast_on=day), [("P1", "T1", sealed)]),
        (Pour(name="B", cast_on=day, cast_at=time(9, 30)), [("P2", "T1", both)]),
        (Pour(name="C", cast_on=day, cast_at=time(7, 15)), [("P3", "T1", open_)]),
        (
            Pour(name="D", cast_on=next_day),
            [("P4", "T2", without), ("P5", "T1", open_)],
        ),
    )
    for pour, cast in pours:
        pieces = [_piece(made, name, line, form, joints) for name, form, joints in cast]
        log_service.add_pour_with_pieces(made.log, pour, pieces, save_token=pour.name)
    made.piece = {
        one.piece.name: one.piece.id for one in log_service.list_castings(made.log)
    }


def _photograph(made: Everything) -> None:
    # An ordinary photo, then a close-up of the worst spot.
    made.shoot("P1", [MIDDLE], minutes=1)
    made.shoot("P1", [(0, 10, 15)], minutes=90, purpose="worst_spot")
    # As struck with both bands, then filled.
    made.shoot("P2", [LEFT, RIGHT, MIDDLE], minutes=2, joints=True)
    made.shoot("P2", [RIGHT], minutes=95, stage="filled", joints=True)
    # Measured, reviewed, and measured again by the machine.
    first, number = made.shoot("P3", [MIDDLE, (5, 5, 5)], minutes=3)
    data = png(number)
    save_review(
        made.log,
        reviews_id=first,
        reading=measured(data, [MIDDLE], minutes=4),
        marks=[Mark(action="reject", spot=1, reason="stain")],
        signed_by="M.",
        save_token="review",
    )
    made.shoot("P3", [MIDDLE, (5, 5, 5), (30, 30, 5)], minutes=99, again=number)
    # Two photos at unlike scales: the larger face weighs more.
    made.shoot("P4", [MIDDLE], minutes=5, mm_per_px=2.0)
    made.shoot("P4", [MIDDLE, (5, 5, 4)], minutes=6, mm_per_px=1.0)
    # Nothing to find.
    made.shoot("P5", [], minutes=7)


def _bring_in(log) -> None:
    """One piece came with a table, its count and its size unknown."""
    table = (
        "piece,pour,cast_on,form,form_type,product_line,joint_sealing,"
        "vibration_method,vibration_s,void_area_percent,stage,method_version\n"
        "P6,E,2026-04-01,T1,trough,troughs,none,table,30,0.002,as_struck,1\n"
    )
    import_pieces(log, preview_import(log, table.encode()), save_token="brought")


# What is true, in percent: 16, 9, 4 px of voids on faces of 2400 px.
TRUE = {
    "P1": 100 * 16 / 2400,
    "P2": 100 * (9 + 4 + 16) / 2400,
    "P3": 100 * 16 / 2400,
    "P4": (4 * 100 * 16 / 2400 + 100 * 32 / 2400) / 5,
    "P5": 0.0,
    "P6": 0.002,
}
N_PHOTOS = {"P1": 1, "P2": 1, "P3": 1, "P4": 2, "P5": 1, "P6": 0}
USES = {"P1": 5, "P3": 6, "P2": 7, "P5": 8, "P6": 9, "P4": 1}
