"""What a full form weighs, against figures of the trade and a published load limit."""

from __future__ import annotations

import pytest

from analysis.diagnosis.advice import cautions
from analysis.diagnosis.lifting import CONCRETE_KG_PER_L, IDEAL_LIFT_KG, concrete_kg
from analysis.errors import InputError


def test_ordinary_concrete():
    # 2,400 kg/m3: common practice. 23 kg: load constant of the NIOSH lifting equation
    # (51 lb, 0.4536 kg each).
    assert concrete_kg(1000) == pytest.approx(2400)
    assert pytest.approx(51 * 0.45359, abs=0.2) == IDEAL_LIFT_KG


def test_caution_tells_the_same_figures():
    said = cautions("lifting")[0]
    assert f"10 litres weigh about {10 * CONCRETE_KG_PER_L:g} kg" in said.text
    assert f"{IDEAL_LIFT_KG:g} kg (51 lb)" in said.more


def test_the_load_constant_is_no_permission():
    said = cautions("lifting")[0]
    assert "may lift" not in said.text + said.more
    assert "It is no permission" in said.more


@pytest.mark.parametrize("litres", [0, -1, float("nan"), float("inf"), 100_001, "22"])
def test_what_no_form_holds_is_refused(litres):
    with pytest.raises(InputError, match="Concrete a form holds"):
        concrete_kg(litres)
