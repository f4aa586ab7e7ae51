"""Following the log over pours, with what the maker decided."""

import time
from datetime import date

import numpy as np
import pytest

from analysis.errors import InputError, NotInLogError
from analysis.model.log import Piece, Pour
from analysis.model.outlook import TargetBand
from analysis.monitoring.differences import differences
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.note_words import break_words
from analysis.monitoring.target import chance_now
from analysis.services import batch_marks, forms
from analysis.services.batches import (
    batches,
    castings_at,
    form_names,
    line_names,
    measured_pieces,
    pieces_of_log,
)
from analysis.services.log import add_pour_with_pieces, open_log
from analysis.services.tables import table_from_csv, table_from_log
from tests.support.shop_log import shop_log
from tests.support.track_tables import csv_of, shares_of

LINE = "smooth troughs"


@pytest.fixture
def log(tmp_path):
    return shop_log(tmp_path / "log")


def drifting(tmp_path, **layout):
    return shop_log(tmp_path / "drift", shares_of(24, late_factor=2.5), **layout)


def followed(log, **scope):
    marked = batch_marks.marks(log, **scope)
    return batches(pieces_of_log(log), marked, **scope)


def test_empty_log_has_nothing_to_follow(tmp_path):
    log = open_log(tmp_path)
    assert pieces_of_log(log) is None

    pour = Pour(name="1", cast_on=date(2026, 1, 5))
    add_pour_with_pieces(log, pour, [Piece(name="1", pour_id=0)], save_token="a")
    assert pieces_of_log(log) is None


def test_notes_of_pieces_are_no_setting(log):
    assert "note" not in table_from_log(log).text


def test_steady_shop_shows_no_drift(log):
    found = followed(log, product_line=LINE)

    assert found.sentence == "No drift: none of 24 pours stands out."
    assert found.drawn.tolist() == list(range(24))
    assert found.air_c[:3].tolist() == [12.0, 13.0, 14.0]


def test_drift_is_found_and_what_differs_is_named(tmp_path):
    log = drifting(tmp_path, late_agent="wax")
    columns = pieces_of_log(log)
    found = batches(columns)

    assert found.status.state == "drifting"
    first = differences(columns, found.track, "B024")[0]
    assert first.setting == "release_agent"
    assert first.level == "wax"


def test_pieces_behind_a_point_are_those_of_the_forms_it_stands_for(log):
    columns = pieces_of_log(log)
    both = batches(columns).track
    names = [one.piece.name for one in castings_at(log, columns, both, 2)]
    assert names == ["0005", "0006"]

    form = columns.form[0]
    one_form = batches(columns, form=str(form)).track
    assert [one.piece.name for one in castings_at(log, columns, one_form, 2)] == [
        name
        for name, of in zip(names, columns.form[both.pour_of_piece == 2], strict=True)
        if of == form
    ]


def test_pieces_behind_a_point_whose_pour_is_gone_are_refused(log):
    columns = pieces_of_log(log)
    gone = measured_pieces(
        table_from_csv("piece,pour,void_area_percent\n1,B998,0.4\n2,B999,0.4\n")
    )
    with pytest.raises(NotInLogError, match="B999 was removed from the log"):
        castings_at(log, columns, batches(gone).track, 1)


def test_names_come_with_the_commonest_first():
    table = pieces(
        [0.1] * 4, form=["a", "b", "b", ""], product_line=["x", "y", "y", "y"]
    )

    assert line_names(table) == ("y", "x")
    assert form_names(table, None) == ("b", "a")
    assert form_names(table, "x") == ("a",)


def test_deliberate_change_starts_a_new_baseline_and_can_be_taken_back(tmp_path):
    log = drifting(tmp_path)
    scope = {"product_line": LINE}
    change_day = followed(log, **scope).track.points.cast_on[20].astype(object)
    batch_marks.add_change(log, change_day, " new  mix ", save_token="c", **scope)

    found = followed(log, **scope)
    assert [(b.at, break_words(b)) for b in found.track.breaks] == [(20, "new mix")]
    assert found.status.state == "too_early"

    (mark,) = batch_marks.marks(log, **scope)
    batch_marks.take_back(log, mark)
    assert followed(log, **scope).status.state == "drifting"


def test_change_without_words_is_refused(log):
    with pytest.raises(InputError, match="The change"):
        batch_marks.add_change(log, date(2026, 3, 2), " ", save_token="c")
    assert batch_marks.marks(log) == ()


def test_frozen_baseline_gives_the_limits_and_the_newest_counts(log):
    scope = {"product_line": LINE}
    result = followed(log, **scope).track
    batch_marks.freeze_baseline(log, result, 4, 13, save_token="one", **scope)
    frozen = followed(log, **scope).track
    assert np.flatnonzero(frozen.points.in_baseline).tolist() == list(range(4, 14))

    batch_marks.freeze_baseline(log, frozen, 2, 10, save_token="two", **scope)
    again = followed(log, **scope).track
    assert np.flatnonzero(again.points.in_baseline).tolist() == list(range(2, 11))

    batch_marks.take_back(log, batch_marks.marks(log, **scope)[-1])
    back = followed(log, **scope).track
    assert np.flatnonzero(back.points.in_baseline).tolist() == list(range(4, 14))


def test_marks_of_another_line_do_not_count(log):
    form = {"form": "Trough A"}
    result = followed(log, **form).track
    batch_marks.freeze_baseline(log, result, 0, 9, save_token="one", **form)

    assert len(batch_marks.marks(log, **form)) == 1
    assert batch_marks.marks(log, form="Trough B") == ()
    assert batch_marks.marks(log, product_line=LINE) == ()


def test_baseline_that_cannot_carry_limits_is_refused(log):
    result = followed(log).track
    with pytest.raises(InputError, match="has 4 pours: choose at least 8"):
        batch_marks.freeze_baseline(log, result, 0, 3, save_token="a")
    with pytest.raises(NotInLogError, match="stools was removed from the log"):
        batch_marks.freeze_baseline(
            log, result, 0, 9, save_token="b", product_line="stools"
        )
    batch_marks.add_change(log, date(2026, 3, 2), "new mix", save_token="c")
    with pytest.raises(InputError, match="a change between"):
        batch_marks.freeze_baseline(log, followed(log).track, 0, 20, save_token="d")
    assert len(batch_marks.marks(log)) == 1


def test_pours_without_a_day_cannot_be_frozen(log):
    undated = batches(
        pieces([0.01, 0.02] * 5, cast_on=np.full(10, "NaT", "datetime64[D]"))
    ).track
    with pytest.raises(InputError, match="The day of this pour is not known"):
        batch_marks.freeze_baseline(log, undated, 0, 9, save_token="a")


def test_baseline_whose_pours_are_gone_falls_back_to_the_first_stable(log):
    scope = {"product_line": LINE}
    result = followed(log, **scope).track
    batch_marks.freeze_baseline(log, result, 4, 13, save_token="one", **scope)
    few = measured_pieces(table_from_csv(csv_of(shares_of(10))))

    found = batches(few, batch_marks.marks(log, **scope), product_line=LINE).track

    assert found.points.in_baseline[0]


def test_target_in_force_gives_a_chance(log):
    target = batch_marks.target_of(log, LINE)
    assert (target.low, target.high) == (0.0, 0.006)
    assert batch_marks.target_of(log, "stools") is None
    assert batch_marks.target_of(log, None) is None
    assert list(batch_marks.targets_of_lines(log)) == [LINE]

    columns = pieces_of_log(log)
    chance = chance_now(columns, batches(columns).track, target)
    assert 0.8 < chance.chance < 1.0


def test_forms_are_judged_with_their_refinishing(log):
    columns = pieces_of_log(log)
    assert set(forms.wear(columns)) == {"Trough A", "Trough B"}

    day = date(2026, 3, 2)
    batch_marks.add_refinished(log, "Trough A", day, save_token="r")
    batch_marks.add_refinished(log, "Trough A", date(2026, 2, 2), save_token="s")
    (name,) = marked = batch_marks.refinished_marks(log)
    assert (name, marked[name].from_day) == ("Trough A", day)

    found = forms.wear(columns, refinished={"Trough A": day})
    assert found["Trough A"].use.min() == 9.0
    assert found["Trough B"].use.min() == 1.0

    judge = forms.judge_of_log(log, table_from_log(log))
    (again,) = judge(["Trough A", "gone"]).values()
    assert again.use.min() == 9.0
    assert again.face == found["Trough A"].face
    assert judge(["Trough A"])["Trough A"] is again
    with pytest.raises(NotInLogError, match="Trough Z was removed from the log"):
        batch_marks.add_refinished(log, "Trough Z", day, save_token="t")


def test_types_of_several_forms_are_judged_as_one():
    several = forms.wear(columns_of_two_types(), by_type=True)
    assert set(several) == {"trough"}
    assert several["trough"].of_type
    assert several["trough"].face.n_castings == 24


def columns_of_two_types():
    return pieces(
        [0.01] * 36,
        form=["A"] * 12 + ["B"] * 12 + ["C"] * 12,
        form_type=["trough"] * 24 + ["pot"] * 12,
        form_use=np.tile(np.arange(1.0, 13.0), 3),
    )


def test_no_form_known_means_no_wear():
    assert forms.wear(pieces([0.01, 0.02]), by_type=True) == {}
    assert forms.wear(pieces([0.01, 0.02])) == {}


def test_a_hundred_thousand_readings_are_ready_within_a_second():
    n = 100_000
    rng = np.random.default_rng(6)
    table = pieces(
        np.exp(rng.normal(np.log(0.004), 0.3, n)),
        pours=[f"P{i // 5:05d}" for i in range(n)],
        void_count=rng.poisson(40, n),
        face_area_mm2=np.full(n, 1e5),
        joint_sealing=np.full(n, "tape"),
    )
    target = TargetBand(low=0.0, high=0.006)
    start = time.process_time()  # other work on the machine does not count
    found = batches(table)
    chance_now(table, found.track, target)
    differences(table, found.track, found.track.points.pour[-1])

    assert time.process_time() - start < 1.0
    marked = np.flatnonzero(found.track.points.signals.any(axis=0))
    assert set(marked) <= set(found.drawn)
