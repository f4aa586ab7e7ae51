from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.grading.catalogue import OWN
from analysis.grading.wording import (
    grade_lines,
    grade_sentence,
    undecided_words,
)
from analysis.model.log import PhotoUse, Piece, Pour
from analysis.model.workshop import FinishTarget, Form, ProductLine
from analysis.services import grading
from analysis.services.log import list_castings, open_log, save_with_new_piece
from analysis.services.marks_seen import set_marks
from analysis.services.photos import read_photo
from analysis.services.pieces import standing_lines
from analysis.storage.readings import save_reading
from analysis.storage.records import add
from analysis.vocabulary import HONEYCOMB
from tests.support.drawn_faces import drawn, reading_of
from tests.support.pictures import file_of


def photographed(log, name="7", *, seed=4, use=None, **piece):
    data = file_of(np.array(drawn(seed=seed).pixels))
    photo = read_photo(data, f"{name}.png")
    found, _ = reading_of(photo)
    save_with_new_piece(
        log,
        piece=Piece(name=name, pour_id=0, **piece),
        pour=Pour(name=f"P{name}", cast_on=date(2026, 3, 2)),
        photo_bytes=data,
        photo=photo,
        reading=found,
        save_token=f"piece {name}",
        use=use or PhotoUse(stage="as_struck"),
    )
    return list_castings(log)[0]


@pytest.fixture
def log(tmp_path):
    return open_log(tmp_path)


def line_of(log, **target):
    line = add(log, ProductLine(name="pots"), save_token="line").id
    if target:
        add(log, FinishTarget(product_line_id=line, **target), save_token="target")
    return line


def test_a_piece_is_judged_by_each_criterion(log):
    one = photographed(log)
    for criterion in grading.choices(log, one.piece):
        found = grading.judge_piece(log, one, criterion.code)
        assert grade_sentence(found)
        assert found.criterion.code == criterion.code
    found = grading.judge_piece(log, one, "oenorm_b2211_pores")
    assert "m² was measured and 0.25 m² is asked for" in undecided_words(found)
    assert found.areas == ()


def test_figures_by_hand_count(log):
    one = photographed(log)
    figures = {"leak_width_mm": 2.0, "step_mm": 0.0, "fin_mm": 0.0}
    assert grading.judge_piece(log, one, "oenorm_b2211_joints", figures).grade == "S3"


def test_two_areas_are_judged_together_and_a_second_reading_of_one_is_not(log):
    one = photographed(log)
    for seed, token in ((5, "b"), (5, "b again")):
        data = file_of(np.array(drawn(seed=seed).pixels))
        photo = read_photo(data, "second.png")
        save_reading(
            log,
            photo_bytes=data,
            photo=photo,
            reading=reading_of(photo)[0],
            piece_id=one.piece.id,
            save_token=token,
            use=PhotoUse(stage="as_struck"),
        )
    assert len(standing_lines(log, one.piece.id)) == 2
    found = grading.judge_piece(log, one, "dbv_porosity")
    assert [name for name, _, _ in found.areas] == ["second.png", "7.png"]
    assert "2 areas, each by itself" in grade_lines(found)[-1]


def test_worst_spots_and_later_stages_are_left_out(log):
    one = photographed(log, use=PhotoUse(purpose="worst_spot"))
    assert standing_lines(log, one.piece.id) == ()
    assert (
        grade_sentence(grading.judge_piece(log, one, "dbv_porosity"))
        == "Not judged: no ordinary part was measured."
    )


def test_the_own_target_comes_first_and_from_the_form_where_the_piece_has_none(log):
    line = line_of(log, high_share=0.5)
    form = add(log, Form(name="A", product_line_id=line), save_token="form").id
    one = photographed(log, form_id=form)
    assert next(c.code for c in grading.choices(log, one.piece)) == OWN
    found = grading.judge_piece(log, one, OWN)
    assert found.grade == "within the target"
    assert found.criterion.title == "Own finish target of pots"


def test_the_eye_confirms_honeycomb_by_a_mark(log):
    one = photographed(log)
    joints = {"leak_width_mm": 2.0, "step_mm": 0.0, "fin_mm": 0.0}
    assert grading.judge_piece(log, one, "oenorm_b2211_joints", joints).grade == "S3"
    set_marks(log, one.piece.id, [HONEYCOMB])
    found = grading.judge_piece(log, one, "oenorm_b2211_joints", joints)
    assert found.grade == "worse than S1"
    assert "you saw honeycomb" in undecided_words(found)


def test_without_a_target_there_is_none_to_judge_by(log):
    one = photographed(log, product_line_id=line_of(log))
    with pytest.raises(InputError, match="Piece 7 has no finish target: set one"):
        grading.judge_piece(log, one, OWN)
    with pytest.raises(InputError, match="'x' is no criterion"):
        grading.judge_piece(log, one, "x")


def test_a_kept_verdict_stays_and_judging_again_adds(log):
    line = line_of(log, high_share=0.5)
    one = photographed(log, product_line_id=line)
    first = grading.keep_verdict(log, one, save_token="v1")
    assert grading.keep_verdict(log, one, save_token="v1").already_saved
    add(log, FinishTarget(product_line_id=line, high_share=1e-6), save_token="stricter")
    (kept,) = grading.verdicts(log, one)
    assert (kept.verdict, kept.in_force) == ("within the target", False)
    grading.keep_verdict(log, one, save_token="v2")
    again, kept = grading.verdicts(log, one)
    assert (again.verdict, again.in_force) == ("outside the target", True)
    assert kept.target_id != again.target_id
    assert first.id
    # A second tap says nothing new, whatever its token.
    assert grading.keep_verdict(log, one, save_token="v3").already_saved
    assert len(grading.verdicts(log, one)) == 2


def test_nothing_measured_gives_no_verdict(log):
    line = line_of(log, high_share=0.5)
    use = PhotoUse(purpose="show")
    one = photographed(log, product_line_id=line, use=use)
    with pytest.raises(InputError, match="Piece 7 has nothing to judge yet: measure"):
        grading.keep_verdict(log, one, save_token="v")
    assert grading.verdicts(log, one) == ()
