"""What the screens ask a log about trials."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime

import numpy as np
import pytest
from PIL import Image

from analysis.compare.choices import factors, outcomes
from analysis.compare.compare import compare
from analysis.compare.within_piece import compare_joints
from analysis.errors import TableError
from analysis.model.afterwards import Outcome, Repair
from analysis.model.comparison import CompareOptions
from analysis.model.log import JointState, Piece, Pour
from analysis.model.photo import Face, JointLine, Scale
from analysis.model.workshop import Form
from analysis.services import comparisons
from analysis.services import log as log_service
from analysis.services.tables import trials_of_log
from analysis.storage.records import add
from tests.support.compare_log import fill
from tests.support.drawn_faces import photo_of
from tests.support.readings import catalog, reading, summary

LEFT = JointLine(line_px=np.array([[0.0, 20.0], [100.0, 20.0]]), name="left")
RIGHT = JointLine(line_px=np.array([[0.0, 180.0], [100.0, 180.0]]), name="right")


def square(row, col, side):
    return np.array(
        [[row, col], [row, col + side], [row + side, col + side], [row + side, col]],
        dtype=float,
    )


def png(grey=150):
    file = io.BytesIO()
    Image.new("RGB", (200, 100), (grey, grey, grey)).save(file, "PNG")
    return file.getvalue()


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


def cast(log, number, *, joints, void_left_px, mm_per_px=0.5):
    """A piece with a void of 100 px² on the right and one of a given side left."""
    data = png(100 + number)
    photo = photo_of(Image.open(io.BytesIO(data)))
    voids = catalog(
        (float(void_left_px**2), 100.0),
        outline_px=(square(40, 20, void_left_px), square(40, 175, 10)),
    )
    read = reading(
        voids,
        photo_sha256=photo.sha256,
        width_px=200,
        height_px=100,
        scale=Scale(mm_per_px=mm_per_px, relative_uncertainty=0.01, method="typed"),
        face=Face(joints=(LEFT, RIGHT), joint_band_mm=5.0),
        summary=summary(largest_void_mm=float(number), smallest_counted_mm=0.5),
        measured_at=datetime(2026, 3, number, tzinfo=UTC),
    )
    return log_service.save_with_new_piece(
        log,
        piece=Piece(name=f"{number}", pour_id=0, joints=joints),
        pour=Pour(name=f"P{number}", cast_on=date(2026, 3, number)),
        form=Form(name=f"F{number}"),
        photo_bytes=data,
        photo=photo,
        reading=read,
        save_token=f"{number}",
    )


def both(number):
    """Left sealed in even pieces, right in odd ones."""
    kinds = ("tape", "none") if number % 2 == 0 else ("none", "tape")
    return tuple(
        JointState(joint=joint, sealing=kind)
        for joint, kind in zip(("left", "right"), kinds, strict=True)
    )


def test_outcomes_of_the_log_stand_in_the_table(log):
    for number in (1, 2, 3):
        cast(log, number, joints=(), void_left_px=4)
    for n, minutes in enumerate((4.0, 6.0)):
        add(log, Repair(piece_id=1, minutes=minutes), save_token=f"r{n}")
    add(log, Outcome(piece_id=1, outcome="first_quality"), save_token="a")
    add(log, Outcome(piece_id=1, outcome="second"), save_token="b")
    add(log, Outcome(piece_id=2, outcome="first_quality"), save_token="c")
    add(log, Outcome(piece_id=3, outcome="patched"), save_token="d")

    table = trials_of_log(log)

    assert table.number["largest_void_mm"].tolist() == [1.0, 2.0, 3.0]
    assert table.text["second"].tolist() == ["yes", "no", "no"]
    # repaired twice; judged and not repaired; patched, nobody knows how long
    np.testing.assert_array_equal(table.number["repair_minutes"], [10.0, 0.0, np.nan])


def test_a_repair_without_minutes_is_not_known(log):
    cast(log, 1, joints=(), void_left_px=4)
    cast(log, 2, joints=(), void_left_px=4)
    add(log, Repair(piece_id=1, minutes=4.0), save_token="a")
    add(log, Repair(piece_id=1), save_token="b")
    add(log, Repair(piece_id=2, minutes=3.0), save_token="c")

    table = trials_of_log(log)

    np.testing.assert_array_equal(table.number["repair_minutes"], [np.nan, 3.0])


def test_joints_are_compared_inside_pieces(log):
    for number in range(1, 9):
        sealed_left = number % 2 == 0
        cast(
            log,
            number,
            joints=both(number),
            void_left_px=5 + number % 3 if sealed_left else 20,
        )

    table = comparisons.joints_of_log(log)
    answer = compare_joints(table).head

    assert len(table) == 16
    # bands of 5 mm = 10 px to each side of the line: 21 columns of 100 rows
    left = table.number["joint_band_percent"][table.text["joint"] == "left"]
    assert left[table.text["piece"][table.text["joint"] == "left"] == "2"] == (
        pytest.approx(100 * 7 * 7 / 2100)
    )
    assert answer.unit == "joint within piece"
    assert answer.verdict == "lower"


def test_without_such_joints_it_says_what_to_do(log):
    cast(log, 1, joints=(JointState(sealing="tape"),), void_left_px=4)

    with pytest.raises(TableError, match="give one row per joint"):
        comparisons.joints_of_log(log)


def test_typical_pieces_are_shown_at_one_scale(log):
    for number, kind in ((1, "tape"), (2, "none")):
        cast(
            log,
            number,
            joints=(JointState(sealing=kind),),
            void_left_px=4,
            mm_per_px=0.5 if kind == "tape" else 0.25,
        )
    table = trials_of_log(log)
    comparison = compare(table, CompareOptions(by="joints_sealed"))

    first, second = comparisons.looks(log, comparison)

    assert (first.level, first.piece) == ("yes", "1")
    assert (second.level, second.piece) == ("no", "2")
    # the lower side of the smaller face: 100 px of 0.25 mm
    assert first.side_mm == second.side_mm == 25.0
    sizes = [Image.open(io.BytesIO(one.jpeg)).size for one in (first, second)]
    assert sizes == [(200, 200), (200, 200)]


@pytest.mark.parametrize(("effect", "seen"), [(0.45, True), (1.0, False)])
def test_erasing_the_effect_takes_every_verdict_from_a_log(log, effect, seen):
    table = trials_of_log(fill(log, effect=effect))
    verdicts = {
        (by, outcome): pair.verdict
        for by in factors(table)
        for outcome in outcomes(table)
        for pair in compare(table, CompareOptions(by=by, outcome=outcome)).pairs
    }

    found = {by for (by, _), verdict in verdicts.items() if verdict == "lower"}

    assert ("joints_sealed", "void_area_percent") in verdicts
    assert ("joint_sealing", "voids_per_m2") in verdicts
    assert len({by for by, _ in verdicts}) >= 4
    assert found == ({"joints_sealed", "joint_sealing"} if seen else set())
    assert "higher" not in verdicts.values()
