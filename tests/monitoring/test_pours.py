import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.monitoring import TrackOptions
from analysis.monitoring.chosen import choose
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.pours import log_shares, pour_values
from analysis.pieces.sealing import sealings_of
from tests.support.wording import said


def test_every_way_of_writing_open_and_sealed():
    recorded = np.array([" None", "OPEN", "unsealed", "no", "tape", "wax", "mixed", ""])
    assert sealings_of(recorded).tolist() == [
        *["open"] * 4, "sealed", "sealed", "mixed", "not recorded",
    ]  # fmt: skip


def test_the_value_of_a_pour_is_the_geometric_mean_of_its_pieces():
    pours = pour_values(pieces([0.01, 0.04, 0.02], pours=["a", "a", "b"]))
    assert np.exp(pours.log_share) == pytest.approx([0.02, 0.02])
    # Within pour a: logs differ by ln 4, variance ln(4)**2 / 2; pour b adds none.
    assert pours.within_variance == pytest.approx(np.log(4) ** 2 / 2)


def test_pours_are_in_order_of_casting_not_of_listing():
    days = np.array(["2024-03-31", "2024-03-30", "2024-04-01"], "datetime64[D]")
    pours = pour_values(pieces([0.01] * 3, pours=["x", "y", "z"], cast_on=days))
    assert pours.pour.tolist() == ["y", "x", "z"]
    assert pours.cast_on.astype(str).tolist() == [
        "2024-03-30", "2024-03-31", "2024-04-01",
    ]  # fmt: skip


def test_pours_of_one_day_keep_the_order_listed():
    day = np.full(3, np.datetime64("2024-03-31"))
    pours = pour_values(pieces([0.01] * 3, pours=["z", "a", "m"], cast_on=day))
    assert pours.pour.tolist() == ["z", "a", "m"]


def test_counts_are_not_known_when_one_piece_has_none():
    table = pieces(
        [0.01, 0.01, 0.01],
        pours=["a", "a", "b"],
        void_count=[3, np.nan, 4],
        face_area_mm2=[1e5, 1e5, 1e5],
    )
    assert np.isnan(pour_values(table).void_count).tolist() == [True, False]


def test_half_of_the_smallest_share_stands_for_zero():
    assert np.exp(log_shares(pieces([0.0, 0.01, 0.03]))[0]) == pytest.approx(0.005)


def test_half_a_smallest_void_stands_for_zero_where_the_size_is_known():
    table = pieces([0.0, 0.01], smallest_counted_mm=[1, 2], face_area_mm2=[1e4, 1e4])
    # A void of 2 mm is 3.1416 mm2 of 10 000.
    assert np.exp(log_shares(table)[0]) == pytest.approx(3.14159 / 1e4 / 2, rel=1e-5)


def test_only_zeros_still_have_logs():
    assert np.isfinite(log_shares(pieces([0.0, 0.0]))).all()


@pytest.mark.parametrize("name", ["product_line", "stage", "joint_sealing"])
def test_unlike_pieces_are_not_mixed_unless_asked(name):
    kinds = {
        "product_line": ("pots", "benches"),
        "stage": ("as struck", "polished"),
        "joint_sealing": ("tape", "none"),
    }[name]
    column = [kinds[i % 2] for i in range(9)]
    table = pieces([0.01] * 9, **{name: column})
    apart = choose(table, TrackOptions())
    assert apart.rows.tolist() == [0, 2, 4, 6, 8]
    assert "Left out, since only like goes with like" in " ".join(said(apart))
    mixed = choose(table, TrackOptions(together=(name,)))
    assert len(mixed.rows) == 9
    assert "Mixed, as you asked" in " ".join(said(mixed))


def test_form_types_stand_in_for_product_lines_that_are_not_recorded():
    kinds = ["trough", "panel", "trough"]
    assert choose(pieces([0.01] * 3, form_type=kinds), TrackOptions()).of == (
        ("form_type", "trough"),
    )
    with_line = pieces([0.01] * 3, form_type=kinds, product_line=["garden"] * 3)
    assert len(choose(with_line, TrackOptions()).rows) == 3


def test_a_pour_of_sealed_and_open_joints_is_charted_by_one_kind():
    table = pieces(
        [0.01, 0.05] * 8,
        pours=[f"P{i // 2:02d}" for i in range(16)],
        joint_sealing=["silicone", "none"] * 8,
    )
    chosen = choose(table, TrackOptions(sealing="sealed"))
    assert set(table.void_share[chosen.rows]) == {0.01}


def test_sealing_that_changed_once_makes_eras():
    table = pieces([0.01] * 6, joint_sealing=["none"] * 3 + ["tape"] * 3)
    assert choose(table, TrackOptions()).sealing_eras


def test_a_pour_that_holds_both_kinds_makes_no_era():
    table = pieces(
        [0.01] * 4,
        pours=["a", "b", "b", "c"],
        joint_sealing=["none", "none", "tape", "tape"],
        cast_on=np.full(4, np.datetime64("NaT")),
    )
    assert not choose(table, TrackOptions()).sealing_eras


def test_other_method_versions_are_left_out_and_said():
    chosen = choose(pieces([0.01] * 3, method_version=["2", "1", "2"]), TrackOptions())
    assert chosen.rows.tolist() == [0, 2]
    assert "measure their photos again" in said(chosen)[0]


def test_pours_without_a_day_are_left_out_unless_none_has_one():
    days = np.array(["2024-01-01", "NaT", "2024-01-03"], "datetime64[D]")
    chosen = choose(pieces([0.01] * 3, cast_on=days), TrackOptions())
    assert chosen.rows.tolist() == [0, 2]
    assert "1 pour without a casting date" in said(chosen)[0]
    undated = choose(
        pieces([0.01] * 3, cast_on=np.full(3, np.datetime64("NaT"))), TrackOptions()
    )
    assert len(undated.rows) == 3
    assert "order listed" in said(undated)[0]


def test_smallest_sizes_that_differ_are_told():
    table = pieces([0.01, 0.01], smallest_counted_mm=[0.5, 2.0])
    assert "from 0.5 to 2 mm" in said(choose(table, TrackOptions()))[0]


def test_many_kinds_are_named_briefly():
    lines = [f"line {i % 9}" for i in range(40)]
    note = said(choose(pieces([0.01] * 40, product_line=lines), TrackOptions()))[0]
    assert "and 3 more" in note


def test_nothing_left_is_refused():
    with pytest.raises(InputError, match="no measured piece with form T9"):
        choose(pieces([0.01], form=["T1"]), TrackOptions(form="T9"))
    with pytest.raises(InputError, match="joint sealing open"):
        choose(pieces([0.01], joint_sealing=["tape"]), TrackOptions(sealing="open"))
