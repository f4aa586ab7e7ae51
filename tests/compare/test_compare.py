from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analysis.compare.compare import compare, compare_factors, holm
from analysis.compare.level_words import figures_sentence
from analysis.compare.note_words import note_words, pair_notes
from analysis.compare.output import comparison_keys
from analysis.compare.tangled import cure_words
from analysis.errors import InputError, TableError
from analysis.model.comparison import CompareOptions
from analysis.model.notes import note
from analysis.pieces.table import piece_table, read_table

TAPE = CompareOptions(by="joint_sealing", levels=("tape", "none"))


def head(rows, options=TAPE):
    return compare(piece_table(rows), options).head


def pieces(values, pours, levels):
    return [
        {"piece": n, "pour": pour, "joint_sealing": level, "void_area_percent": value}
        for n, (value, pour, level) in enumerate(
            zip(values, pours, levels, strict=True)
        )
    ]


def test_geometric_ratio_is_that_of_geometric_means_of_equal_pours(shop):
    made = shop.rows(pours=12)
    answer = head(made)
    logs = {
        level: np.log(
            [r["void_area_percent"] for r in made if r["joint_sealing"] == level]
        ).mean()
        for level in ("tape", "none")
    }
    assert answer.geometric_ratio == pytest.approx(np.exp(logs["tape"] - logs["none"]))
    first, second = answer.groups
    assert first.geometric_mean == pytest.approx(np.exp(logs["tape"]))
    assert answer.geometric_ratio == pytest.approx(
        first.geometric_mean / second.geometric_mean
    )
    assert (first.n_pieces, first.n_pours, answer.unit) == (18, 6, "pour")
    assert answer.verdict == "lower"
    assert answer.ratio_low < answer.ratio < answer.ratio_high < 1


def test_geometric_ratio_is_that_of_the_shown_means_of_unequal_pours(shop):
    made = [row for n, row in enumerate(shop.rows(pours=12, pieces=5)) if n % 7]
    answer = head(made)
    first, second = answer.groups
    assert answer.geometric_ratio == pytest.approx(
        first.geometric_mean / second.geometric_mean
    )


def test_ratio_is_total_void_area_over_total_face_area(shop):
    made = shop.with_column(
        shop.rows(pours=12), "face_area_mm2", lambda n, _: 1000.0 * (1 + n % 5)
    )
    made[3]["void_area_percent"] = 0.0
    answer = head(made)
    totals = {
        level: np.sum(
            [
                (r["void_area_percent"] * r["face_area_mm2"], r["face_area_mm2"])
                for r in made
                if r["joint_sealing"] == level
            ],
            axis=0,
        )
        for level in ("tape", "none")
    }
    mean = {level: void / face for level, (void, face) in totals.items()}
    assert answer.ratio == pytest.approx(mean["tape"] / mean["none"])
    assert answer.ratio != pytest.approx(answer.geometric_ratio)


@pytest.mark.parametrize("asked", ["60", "60.0", " 60"])
def test_levels_are_found_however_they_are_typed(asked):
    rows = [
        {"piece": n, "pour": n, "vibration_s": 30 * (1 + n % 2), "void_area_percent": n}
        for n in range(4)
    ]
    options = CompareOptions(by="vibration_s", levels=(asked, "30"))
    assert head(rows, options).levels == ("60", "30")


def test_turning_the_levels_round_turns_the_answer_round(shop):
    made = shop.rows(pours=10)
    one, other = head(made), head(made, CompareOptions(by="joint_sealing"))
    assert other.levels == ("tape", "none")
    back = head(made, dataclasses.replace(TAPE, levels=("none", "tape")))
    assert back.ratio == pytest.approx(1 / one.ratio)
    assert back.ratio_low == pytest.approx(1 / one.ratio_high)
    assert back.p_value == pytest.approx(one.p_value)
    assert (one.verdict, back.verdict) == ("lower", "higher")


def test_order_of_rows_and_seed_do_not_matter(shop):
    made = shop.rows(pours=8)
    assert head(made[::-1]).p_value == pytest.approx(head(made).p_value)
    mixed = shop.rows(pours=8, pieces=6, mixed=True)
    assert head(mixed).p_value == head(mixed).p_value


def test_erasing_the_effect_takes_every_verdict_away(shop):
    outcomes = []
    for seed in range(40):
        made = shop.rows(pours=12, log_ratio=0.0, seed=seed)
        outcomes.append(head(made).verdict)
    # 5 % of 40 is 2; more than 6 would happen once in a thousand times.
    assert sum(verdict in {"lower", "higher"} for verdict in outcomes) <= 6
    assert set(outcomes) <= {"lower", "higher", "no_clear_difference"}


def test_pours_that_hold_both_levels_need_fewer(shop):
    made = shop.rows(pours=4, pieces=6, mixed=True, between=1.0, within=0.2)
    answer = head(made)
    assert answer.unit == "piece within pour"
    assert answer.verdict == "lower"


def test_both_kinds_of_pours_work_together(shop):
    alone = shop.rows(pours=8, seed=3)
    both = shop.rows(pours=4, pieces=4, mixed=True, seed=4)
    for row in both:
        row["pour"] = "M" + row["pour"]
    answer = head(alone + both)
    assert answer.unit == "pour and piece within pour"
    assert answer.ratio_high - answer.ratio_low < 1.01 * min(
        head(alone).ratio_high - head(alone).ratio_low,
        head(both).ratio_high - head(both).ratio_low,
    )


class TestSmallSamples:
    """S65 and S69: one piece, one pour, tiny groups."""

    def test_one_piece_against_three(self):
        answer = head(pieces([1.2, 2.0, 2.1, 2.2], "ABCD", ["tape"] + ["none"] * 3))
        assert answer.verdict == "not_enough_evidence"
        assert answer.p_value == pytest.approx(0.5)  # 1 of 4, two-sided

    @pytest.mark.parametrize(("n", "least"), [(2, 1 / 3), (3, 0.1)])
    def test_p_of_two_and_three_pours(self, n, least):
        values = np.arange(1.0, 2 * n + 1)
        answer = head(pieces(values, range(2 * n), ["tape"] * n + ["none"] * n))
        assert answer.verdict == "not_enough_evidence"
        assert answer.p_value == pytest.approx(least)
        assert answer.pours_needed >= 4
        assert any("It takes 4 against 4" in one for one in pair_notes(answer))

    def test_ten_pieces_of_one_pour_are_one_pour(self):
        random = np.random.default_rng(2)
        values = np.concatenate(
            [random.normal(1, 0.1, 10), random.normal(1.3, 0.1, 10)]
        )
        answer = head(
            pieces(values, ["A"] * 10 + ["B"] * 10, ["tape"] * 10 + ["none"] * 10)
        )
        assert answer.verdict == "not_enough_evidence"
        assert [group.n_pours for group in answer.groups] == [1, 1]
        assert [group.n_pieces for group in answer.groups] == [10, 10]

    def test_one_pour_with_both_is_no_verdict(self):
        values = [0.2, 0.3] * 8
        answer = head(
            pieces(
                np.add(values, np.arange(16) / 500), ["A"] * 16, ["tape", "none"] * 8
            )
        )
        assert answer.verdict == "not_enough_evidence"

    def test_four_against_four_may_have_one(self):
        values = [0.2, 0.21, 0.23, 0.25, 0.8, 0.9, 1.0, 0.7]
        answer = head(pieces(values, range(8), ["tape"] * 4 + ["none"] * 4))
        assert answer.verdict == "lower"
        assert answer.p_value <= 0.05

    def test_no_text_nan_anywhere(self):
        answer = head(pieces([1.0, 2.0], "AB", ["tape", "none"]))
        assert answer.ratio_low is None
        assert "nan" not in " ".join(pair_notes(answer)).lower()


class TestNothingToSee:
    """S68 d and S71: identical, constant, rounded, tied."""

    def test_identical_values(self):
        answer = head(pieces([0.5] * 12, range(12), ["tape", "none"] * 6))
        assert answer.verdict == "not_enough_evidence"

    def test_constant_groups(self):
        answer = head(pieces([0.4, 0.8] * 6, range(12), ["tape", "none"] * 6))
        assert answer.verdict == "not_enough_evidence"
        assert any("exactly the same" in one for one in pair_notes(answer))

    def test_one_constant_group_above_zero(self):
        values = [0.4 if n % 2 else 0.8 + n / 50 for n in range(12)]
        answer = head(pieces(values, range(12), ["none", "tape"] * 6))
        assert answer.verdict == "not_enough_evidence"

    def test_float_noise_is_no_difference(self):
        values = [0.1 + 0.2 if n % 2 else 0.3 for n in range(12)]
        answer = head(pieces(values, range(12), ["tape", "none"] * 6))
        assert answer.verdict == "not_enough_evidence"

    def test_less_than_a_rounding_step(self):
        values = [0.50, 0.51] * 5 + [0.51, 0.52] * 5
        answer = head(pieces(values, range(20), ["tape"] * 10 + ["none"] * 10))
        assert answer.p_value < 0.05
        assert answer.verdict == "no_clear_difference"
        assert any("rounding of the values, 0.01" in one for one in pair_notes(answer))

    def test_rounding_that_averages_out_is_no_obstacle(self):
        random = np.random.default_rng(5)
        values = np.concatenate(
            [random.normal(0.050, 0.012, 60), random.normal(0.058, 0.012, 60)]
        )
        answer = head(
            pieces(np.round(values, 2), range(120), ["tape"] * 60 + ["none"] * 60)
        )
        assert answer.verdict == "lower"

    def test_one_level_only(self):
        with pytest.raises(TableError, match="nothing but joints sealed with tape was"):
            head(
                pieces([1, 2, 3], "ABC", ["tape"] * 3),
                CompareOptions(by="joint_sealing"),
            )

    def test_level_never_cast(self):
        with pytest.raises(TableError, match="No piece has joint sealing 'wax'"):
            head(
                pieces([1, 2], "AB", ["tape", "none"]),
                CompareOptions(by="joint_sealing", levels=("wax", "none")),
            )

    def test_only_one_duration(self):
        rows = [
            {"piece": n, "pour": n, "vibration_s": 60, "void_area_percent": n}
            for n in (1, 2, 3)
        ]
        with pytest.raises(TableError, match="nothing but 60 s of vibration was tried"):
            head(rows, CompareOptions(by="vibration_s"))


def products(noise):
    random = np.random.default_rng(7)
    made = []
    for line, seconds, count, share in (
        ("planter", 30, 10, 0.8),
        ("planter", 60, 2, 0.6),
        ("panel", 30, 2, 3.0),
        ("panel", 60, 10, 2.6),
    ):
        for _ in range(count):
            made.append(
                {
                    "piece": len(made),
                    "pour": len(made),
                    "product_line": line,
                    "vibration_s": seconds,
                    "void_area_percent": share * np.exp(noise * random.normal()),
                }
            )
    return made


class TestMixedProducts:
    """S70: pooling turns the answer round."""

    options = CompareOptions(by="vibration_s", levels=("60", "30"))

    def test_compared_within_products_and_warned(self):
        answer = head(products(0.08), self.options)
        assert answer.verdict == "lower"
        assert answer.ratio < 1
        inside = {stratum.name: stratum.ratio for stratum in answer.strata}
        assert inside == {
            "panel": pytest.approx(2.6 / 3, rel=0.15),
            "planter": pytest.approx(0.6 / 0.8, rel=0.15),
        }
        assert any(
            one.startswith("Beware of product line") for one in pair_notes(answer)
        )

    def test_the_very_numbers_never_say_higher(self):
        answer = head(products(0.0), self.options)
        assert answer.ratio < 1
        assert answer.verdict == "not_enough_evidence"  # constant, as if copied

    def test_within_can_be_asked_for(self):
        options = dataclasses.replace(self.options, within=("product_line",))
        assert head(products(0.08), options).ratio < 1


class TestConfounding:
    def test_the_other_setting_is_named(self, shop):
        made = shop.with_column(
            shop.rows(),
            "vibration_method",
            lambda _, row: "table" if row["joint_sealing"] == "tape" else "poker",
        )
        answer = head(made)
        assert answer.verdict == "cannot_separate"
        assert [alias.factor for alias in answer.aliases] == ["vibration_method"]
        assert (
            "cast joints sealed with tape where vibration method is poker"
            in cure_words(answer.aliases[0])
        )

    def test_one_more_casting_separates(self, shop):
        made = shop.with_column(
            shop.rows(),
            "vibration_method",
            lambda _, row: "table" if row["joint_sealing"] == "tape" else "poker",
        )
        made[0]["vibration_method"] = "poker"  # one piece of 36 tells nearly nothing
        assert head(made).verdict in {"no_clear_difference", "cannot_separate"}
        for row in made:
            if shop.pour_number(row) % 4 < 2:
                row["vibration_method"] = "poker"
        answer = head(made)
        assert (answer.verdict, answer.aliases) == ("lower", ())

    def test_form_use_that_never_overlaps(self, shop):
        made = shop.with_column(
            shop.rows(),
            "form_use",
            lambda n, row: n + (100 if row["joint_sealing"] == "tape" else 0),
        )
        answer = head(made)
        assert answer.verdict == "cannot_separate"
        assert [alias.factor for alias in answer.aliases] == ["form_use"]

    def test_form_use_that_overlaps_is_fine(self, shop):
        made = shop.with_column(shop.rows(), "form_use", lambda n, _: n)
        assert head(made).verdict == "lower"

    def test_all_sealed_measured_with_another_version(self, shop):
        made = shop.with_column(
            shop.rows(),
            "method_version",
            lambda _, row: "2" if row["joint_sealing"] == "tape" else "1",
        )
        answer = head(made)
        assert answer.verdict == "cannot_separate"
        assert [alias.factor for alias in answer.aliases] == ["method_version"]

    def test_forms_of_one_level_each_are_the_units(self, shop):
        made = shop.with_column(
            shop.rows(pours=6, pieces=8, mixed=True),
            "form",
            lambda n, _: f"F{n % 8}",
        )
        answer = head(made)
        assert answer.unit == "form"
        assert answer.verdict in {"lower", "no_clear_difference"}

    def test_two_forms_cannot_be_told_from_the_sealing(self, shop):
        made = shop.with_column(
            shop.rows(pours=6, mixed=True), "form", lambda _, row: row["joint_sealing"]
        )
        assert head(made).verdict == "cannot_separate"


class TestLikeWithLike:
    def test_filled_pieces_are_left_out(self, shop):
        made = shop.with_column(
            shop.rows(), "stage", lambda n, _: "filled" if n % 3 == 0 else "as struck"
        )
        for row in made[::3]:
            row["void_area_percent"] = 0.01
        answer = head(made)
        assert sum(group.n_pieces for group in answer.groups) == 24
        assert "Left out: 12 pieces of another stage (filled)." in pair_notes(answer)

    def test_light_is_compared_inside_each(self, shop):
        made = shop.with_column(
            shop.rows(pours=16),
            "light",
            lambda _, row: "lamp" if shop.pour_number(row) % 4 < 2 else "sky",
        )
        for row in made:
            row["void_area_percent"] *= 3 if row["light"] == "sky" else 1
        answer = head(made)
        assert len(answer.strata) == 2
        assert answer.verdict == "lower"

    def test_photos_of_a_piece_are_pooled_by_area(self, shop):
        made = shop.with_column(shop.rows(), "face_area_mm2", lambda *_: 1000.0)
        twin = [row | {"face_area_mm2": 3000.0} for row in made]
        answer = compare(piece_table(made + twin), TAPE)
        assert answer.head.groups[0].n_pieces == 18
        assert answer.head.ratio == pytest.approx(head(made).ratio)
        joined = note("photos_joined", photos=72, pieces=36)
        assert joined in answer.notes

    def test_photos_that_disagree_are_refused(self):
        made = pieces([1, 2], "AA", ["tape", "none"])
        made[1]["piece"] = made[0]["piece"]
        with pytest.raises(TableError, match="piece 0 of pour A has joint_sealing"):
            head(made)

    def test_zero_is_half_the_smallest_counted_size(self, shop):
        made = shop.with_column(shop.rows(), "face_area_mm2", lambda *_: 60_000.0)
        made = shop.with_column(made, "smallest_counted_mm", lambda *_: 2.0)
        made[0]["void_area_percent"] = 0.0
        same = [dict(row) for row in made]
        same[0]["void_area_percent"] = 100 * np.pi / 60_000 / 2
        assert head(made).geometric_ratio == pytest.approx(head(same).geometric_ratio)
        assert head(made).ratio < head(same).ratio  # a zero stays a zero there
        assert any("stands in for zero" in note for note in pair_notes(head(made)))

    def test_zero_is_half_the_smallest_share_otherwise(self, shop):
        made = shop.rows()
        made[0]["void_area_percent"] = 0.0
        same = [dict(row) for row in made]
        least = min(r["void_area_percent"] for r in made if r["void_area_percent"])
        same[0]["void_area_percent"] = least / 2
        assert head(made).geometric_ratio == pytest.approx(head(same).geometric_ratio)

    def test_a_level_free_of_voids_can_win(self):
        values = [0.0] * 6 + [0.5, 0.6, 0.7, 0.4, 0.8, 0.55]
        answer = head(pieces(values, range(12), ["tape"] * 6 + ["none"] * 6))
        assert answer.verdict == "lower"

    def test_unknown_pours_and_levels_are_counted_out(self, shop):
        made = shop.rows()
        made[0]["pour"] = ""
        made[1]["joint_sealing"] = None
        made[2]["void_area_percent"] = None
        notes = [note_words(one) for one in compare(piece_table(made), TAPE).notes]
        assert "Left out: 1 piece with pour not known." in notes
        assert "Left out: 1 piece with joint sealing not known." in notes
        assert "Left out: 1 piece with void area not known." in notes


def test_a_level_without_a_usable_piece(shop):
    made = shop.rows()
    for row in made:
        if row["joint_sealing"] == "none":
            row["void_area_percent"] = None
    answer = compare(piece_table(made), TAPE)
    assert answer.head.verdict == "not_enough_evidence"
    assert answer.head.groups[1].n_pieces == 0
    for row in made:
        row["pour"] = ""
    assert head(made).verdict == "not_enough_evidence"


def test_all_before_and_all_after_is_said(shop):
    made = shop.with_column(
        shop.rows(),
        "cast_on",
        lambda _, r: "2026-03-01" if r["joint_sealing"] == "tape" else "2026-01-01",
    )
    answer = head(made)
    assert answer.verdict == "cannot_separate"
    assert [alias.factor for alias in answer.aliases] == ["cast_on"]
    assert "was cast before all of" in pair_notes(answer)[0]


def three(seed=3):
    random = np.random.default_rng(seed)
    effect = {"tape": -0.9, "wax": -0.9, "none": 0.0}
    return [
        {
            "piece": n,
            "pour": n // 2,
            "joint_sealing": (level := ("tape", "wax", "none")[n // 2 % 3]),
            "void_area_percent": np.exp(effect[level] + random.normal(0, 0.25)),
        }
        for n in range(48)
    ]


def test_several_levels_pair_by_pair():
    answer = compare(piece_table(three()), CompareOptions(by="joint_sealing"))
    verdicts = {pair.levels: pair.verdict for pair in answer.pairs}
    assert verdicts == {
        ("tape", "wax"): "no_clear_difference",
        ("tape", "none"): "lower",
        ("wax", "none"): "lower",
    }
    alone = compare(
        piece_table(three()), dataclasses.replace(TAPE, levels=("tape", "wax"))
    )
    assert answer.head.p_value >= alone.head.p_value
    assert answer.levels == ("tape", "wax", "none")


def test_holm_can_take_a_verdict_back(shop):
    pair = compare(shop.table(pours=8), TAPE).head
    alike = [
        dataclasses.replace(pair, p_value=p, verdict="lower")
        for p in (0.03, 0.01, 0.04)
    ]
    adjusted = holm(alike)
    assert [done.p_value for done in adjusted] == pytest.approx([0.06, 0.03, 0.06])
    assert [done.verdict for done in adjusted] == [
        "no_clear_difference",
        "lower",
        "no_clear_difference",
    ]
    assert "adjusted for 3 pairs" in note_words(adjusted[0].rests_on[-1])


def test_kind_of_sealing_and_sealed_or_not():
    answer = compare(piece_table(three()), CompareOptions(by="joints_sealed")).head
    assert answer.levels == ("yes", "no")
    assert answer.groups[0].n_pieces == 32
    assert answer.verdict == "lower"


def test_pieces_with_both_kinds_of_joints_are_neither():
    made = three()
    made[0]["joint_sealing"] = "mixed"
    answer = compare(piece_table(made), CompareOptions(by="joints_sealed"))
    assert answer.levels == ("yes", "no")
    assert answer.notes[0] == note("both_sealings", pieces=1)


def test_several_factors_each_adjusted_for_the_other():
    random = np.random.default_rng(11)
    made = []
    for n in range(32):
        tape, oil = n % 2, (n // 2 % 4) == (n % 2)
        log = -0.7 * tape + 0.9 * oil + random.normal(0, 0.2)
        made.append(
            {
                "piece": n,
                "pour": n,
                "joint_sealing": "tape" if tape else "none",
                "release_agent": "oil" if oil else "wax",
                "form_use": int(random.integers(1, 40)),
                "void_area_percent": np.exp(log),
            }
        )
    answers = compare_factors(
        piece_table(made),
        ("joint_sealing", "release_agent"),
        CompareOptions(by="joint_sealing", adjust_for=("form_use",)),
    )
    tape, oil = answers["joint_sealing"].head, answers["release_agent"].head
    assert np.log(tape.ratio) == pytest.approx(-0.7, abs=0.25)
    assert np.log(oil.ratio) == pytest.approx(0.9, abs=0.25)
    assert (tape.verdict, oil.verdict) == ("lower", "higher")
    assert note_words(tape.method).startswith("adjusted ")


def test_seconds_of_one_method_never_meet_those_of_another():
    made = []
    random = np.random.default_rng(4)
    for n in range(24):
        method = "poker" if n % 2 else "table"
        seconds = 60 if n // 2 % 2 else 30
        made.append(
            {
                "piece": n,
                "pour": n,
                "vibration_method": method,
                "vibration_s": seconds,
                "void_area_percent": (4 if method == "poker" else 1)
                * (0.5 if seconds == 60 else 1)
                * np.exp(random.normal(0, 0.1)),
            }
        )
    answer = head(made, CompareOptions(by="vibration_s", levels=("60", "30")))
    assert answer.verdict == "lower"
    assert {stratum.name for stratum in answer.strata} == {"poker", "table"}


@pytest.mark.parametrize(
    "outcome", ["joint_band_percent", "largest_void_mm", "repair_minutes"]
)
def test_other_outcomes(shop, outcome):
    made = [row | {outcome: row.pop("void_area_percent")} for row in shop.rows()]
    options = dataclasses.replace(TAPE, outcome=outcome)
    assert head(made, options).verdict == "lower"


def test_counts_use_a_count_model(shop):
    random = np.random.default_rng(6)
    made = shop.with_column(shop.rows(), "face_area_mm2", lambda *_: 50_000.0)
    made = shop.with_column(
        made,
        "void_count",
        lambda _, row: int(random.poisson(60 * row["void_area_percent"])),
    )
    answer = head(made, dataclasses.replace(TAPE, outcome="voids_per_m2"))
    assert "Poisson" in note_words(answer.method)
    assert answer.verdict == "lower"
    assert answer.ratio_low < np.exp(-0.8) < answer.ratio_high


def test_fixed_keys_of_the_command_line(shop):
    keys = comparison_keys(compare(shop.table(), TAPE))
    assert set(keys) == {
        "unit", "levels", "estimate_ratio", "ratio_of_geometric_means", "ratio_low",
        "ratio_high", "p_value",
        "method", "groups", "verdict", "verdict_unadjusted", "adjusted_for", "dealt",
        "inseparable_from", "pieces_needed", "pours_needed", "pairs", "notes",
    }  # fmt: skip
    assert set(keys["groups"][0]) == {
        "name", "n_pieces", "n_pours", "geometric_mean_percent",
    }  # fmt: skip
    assert keys["pairs"] == []


def test_keys_of_pairs():
    keys = comparison_keys(
        compare(piece_table(three()), CompareOptions(by="joint_sealing"))
    )
    assert keys["levels"] == ["tape", "wax", "none"]
    assert keys["pairs"][0]["levels"] == ["tape", "wax"]
    assert set(keys) - {"pairs"} == set(keys["pairs"][0])


def test_sentence_holds_ratio_interval_and_counts(shop):
    words = figures_sentence(compare(shop.table(), TAPE))
    assert words.startswith("Joints sealed with tape: 0.")
    assert "times the void area of open joints, 95 % 0." in words
    assert words.endswith("18 pieces in 6 pours against 18 in 6.")


def test_points_for_drawing(shop):
    pieces_shown = compare(shop.table(), TAPE).pieces
    assert len(pieces_shown.value) == 36
    assert pieces_shown.used.all()
    assert set(pieces_shown.level.tolist()) == {"tape", "none"}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ratio": 1.0}, "Ratio must differ from 1"),
        ({"ratio": -1.0}, "Ratio must be more than 0"),
        ({"power": 1.5}, "Power must be between"),
        ({"outcome": "beauty"}, "Outcome must be one of"),
        ({"levels": ("tape",)}, "Levels must be two different ones"),
        ({"levels": ("tape", "tape")}, "Levels must be two different ones"),
    ],
)
def test_options_are_checked(changes, words):
    with pytest.raises(InputError, match=words):
        CompareOptions(**{"by": "mix"} | changes)


def test_unknown_factor(shop):
    with pytest.raises(TableError, match="There is no factor 'colour'"):
        compare(shop.table(), CompareOptions(by="colour"))


def test_too_many_values():
    rows = [
        {"piece": n, "pour": n, "age": n, "void_area_percent": 1} for n in range(30)
    ]
    with pytest.raises(TableError, match="Age has 30 different values"):
        compare(piece_table(rows), CompareOptions(by="age"))


def test_blank_factor():
    table = read_table("piece,pour,mix,void_area_percent\n1,A,,1\n")
    with pytest.raises(TableError, match="since no measured piece tells it: cast two"):
        compare(table, CompareOptions(by="mix"))
