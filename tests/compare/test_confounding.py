from __future__ import annotations

import numpy as np

from analysis.compare.confounding import (
    alias_of,
    assigned_to,
    candidates,
    find_aliases,
    joint_alias,
)
from analysis.compare.tangled import alias_words
from analysis.pieces.table import piece_table

LEVELS = ("tape", "none")


def made(count, **columns):
    rows = [
        {"piece": n, "pour": n, "void_area_percent": 0.5}
        | {name: values(n) for name, values in columns.items()}
        for n in range(count)
    ]
    return piece_table(rows), (np.arange(count) % 2 == 0).astype(float)


def test_results_and_names_are_no_factors():
    table, _ = made(4, joint_sealing=lambda _: "tape", form_use=lambda n: n)
    assert candidates(table, "mix") == ("joint_sealing", "form_use")
    assert candidates(table, "joint_sealing") == ("form_use",)
    assert candidates(table, "joints_sealed") == ("form_use",)


def test_a_form_type_is_not_told_from_its_forms():
    table, _ = made(4, form=lambda n: f"F{n}", form_type=lambda _: "pot")
    assert candidates(table, "form_type") == ()


def test_seconds_belong_to_their_method():
    table, _ = made(4, vibration_method=lambda _: "table", vibration_s=lambda n: 30 + n)
    assert candidates(table, "vibration_method") == ()
    assert candidates(table, "vibration_s") == ("vibration_method",)


def test_overlap_is_no_alias():
    table, x = made(8, mix=lambda n: "C25" if n < 4 else "C40")
    assert alias_of(table, "mix", x, LEVELS) is None


def test_three_levels_against_two_are_an_alias():
    table, x = made(12, mix=lambda n: f"even {n % 6}" if n % 2 == 0 else f"odd {n % 4}")
    alias = alias_of(table, "mix", x, LEVELS)
    assert alias_words(alias).startswith(
        "All pieces with tape had mix even 0, even 2, even 4"
    )


def test_lots_on_both_sides_are_what_the_level_was_assigned_to():
    table, x = made(24, lot=lambda n: f"lot {n % 6}")
    assert alias_of(table, "lot", x, LEVELS) is None
    assert alias_of(table, "lot", x, LEVELS, strict=True) is not None


def test_a_column_of_remarks_is_a_name():
    table, x = made(12, remark=lambda n: f"remark {n}" if n > 3 else "none")
    assert alias_of(table, "remark", x, LEVELS) is None


def test_mostly_unknown_is_not_judged():
    table, x = made(12, mix=lambda n: ("C25", "C40")[n % 2] if n < 4 else "")
    assert alias_of(table, "mix", x, LEVELS) is None


def test_known_on_one_side_only_is_not_judged():
    table, x = made(12, mix=lambda n: "C25" if n % 2 == 0 else "")
    assert alias_of(table, "mix", x, LEVELS) is None


def test_seconds_that_never_overlap_in_any_method():
    table, x = made(
        12,
        vibration_method=lambda n: "table" if n < 6 else "poker",
        vibration_s=lambda n: (300 if n < 6 else 15) + (n if n % 2 else -n),
    )
    alias = alias_of(table, "vibration_s", x, LEVELS)
    assert "never the same" in alias_words(alias)


def test_quantities_apart_in_a_few_pours_may_be_chance():
    table, x = made(6, form_use=lambda n: n + 50 * (n % 2))
    assert alias_of(table, "form_use", x, LEVELS) is None


def test_seconds_that_overlap_in_one_method():
    table, x = made(
        12,
        vibration_method=lambda n: "table" if n < 6 else "poker",
        vibration_s=lambda n: 300 + n if n < 6 else 15 + n * (n % 2),
    )
    assert alias_of(table, "vibration_s", x, LEVELS) is None


def test_two_factors_together():
    pattern = "abcabcabcabc"
    table, _ = made(
        12,
        oil=lambda n: int(pattern[n] == "a"),
        wax=lambda n: int(pattern[n] == "b"),
        day=lambda n: n // 6,
    )
    x = np.array([1.0 if letter in "ab" else 0.0 for letter in pattern])
    found = joint_alias(table, ("oil", "wax", "day"), x, LEVELS)
    assert [alias.factor for alias in found] == ["oil", "wax"]
    assert "Oil and wax together" in alias_words(found[0])
    assert [a.factor for a in find_aliases(table, "mix", x, LEVELS)] == ["oil", "wax"]


def test_too_few_pours_to_blame_two_factors():
    table, x = made(4, oil=lambda n: n % 2, wax=lambda n: n % 3)
    assert joint_alias(table, ("oil",), x, LEVELS) == ()


def test_forms_with_both_levels_or_not_known():
    table, x = made(8, form=lambda n: f"F{n % 3}")
    assert assigned_to(table, "form", x) is None
    table, x = made(8, form=lambda n: "" if n == 0 else "F1")
    assert assigned_to(table, "form", x) is None
    assert assigned_to(table, "colour", x) is None


def test_two_factors_together_are_found_among_many_pieces():
    """Many pieces are looked at in part first: it must not miss what holds for all."""
    count = 9_000
    mix = np.arange(count) % 3
    x = (mix == 2).astype(float)  # tape where neither oil nor wax was taken
    table = piece_table(
        {
            "piece": n,
            "pour": n // 4,
            "oil": int(mix[n] == 0),
            "wax": int(mix[n] == 1),
            "crew": "AB"[n // 7 % 2],
            "void_area_percent": 0.5,
        }
        for n in range(count)
    )
    factors = ("oil", "wax", "crew")
    found = joint_alias(table, factors, x, LEVELS)
    assert [alias.factor for alias in found] == ["oil", "wax"]
    # One piece that the part does not hold parts them again.
    x[1] = 1.0
    assert joint_alias(table, factors, x, LEVELS) == ()
    assert joint_alias(table, ("crew", "oil"), x, LEVELS) == ()
