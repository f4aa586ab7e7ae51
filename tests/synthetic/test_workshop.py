"""The invented workshop as it is drawn."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.synthetic.workshop import FORMS, castings, photographed
from analysis.synthetic.workshop_faces import draw_piece


def of(rows, **facts):
    return [row for row in rows if all(row[k] == v for k, v in facts.items())]


def log_mean(rows):
    return float(np.mean([np.log(row["void_area_percent"]) for row in rows]))


def test_same_script_gives_the_same_shop():
    assert castings() == castings()


def test_effects_off_keeps_the_castings():
    kept = ("piece", "pour", "form", "joint_sealing", "vibration_s", "mix")
    on, off = castings(), castings(effects=False)

    assert [[row[k] for k in kept] for row in on] == [
        [row[k] for k in kept] for row in off
    ]


def test_both_sealings_and_two_times_in_every_pour():
    rows = castings()

    for pour in {row["pour"] for row in rows}:
        troughs = of(rows, pour=pour, product_line="flower troughs")
        assert {row["joint_sealing"] for row in troughs} == {"tape", "none"}
        for line in ("garden benches", "wall panels"):
            times = {
                row["vibration_s"] for row in of(rows, pour=pour, product_line=line)
            }
            assert len(times) == 2


@pytest.mark.parametrize("effects", [True, False])
def test_agent_goes_with_the_mix_only_as_built_in(effects):
    pairs = {(row["mix"], row["release_agent"]) for row in castings(effects=effects)}

    assert len(pairs) == (2 if effects else 4)


def test_drawn_effects_are_as_large_as_built_in():
    rows = of(castings(), product_line="flower troughs")
    gap = log_mean(of(rows, joint_sealing="tape")) - log_mean(
        of(rows, joint_sealing="none")
    )

    assert gap == pytest.approx(np.log(0.5), abs=0.15)


def test_a_dozen_pieces_of_most_forms_get_a_photo():
    shown = photographed(castings())

    assert len(shown) == 12
    assert {row["form"] for row in shown} == {form.name for form in FORMS} - {"Pot 1"}


def test_joint_lines_stand_where_the_joint_was_drawn():
    assert draw_piece(0.01, seed=1).joint_px == ()
    drawn = draw_piece(0.01, seed=1, joint="open")
    assert drawn.joint_px[0][1] == drawn.joint_px[1][1] == pytest.approx(540)
