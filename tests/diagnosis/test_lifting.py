"""What a full form weighs, against figures of the trade and a published load limit."""

from __future__ import annotations

import pytest

from analysis.diagnosis.advice import cautions
from analysis.diagnosis.lifting import CONCRETE_KG_PER_L, ONE_PERSON_KG, concrete_kg
from analysis.errors import InputError


def test_ordinary_concrete():
    # 2,400 kg/m3: common practice. 23 kg: load constant of the NIOSH lifting equation
    # (51 lb, 0.4536 kg each).
    assert concrete_kg(1000) == pytest.approx(2400)
    assert pytest.approx(51 * 0.45359, abs=0.2) == ONE_PERSON_KG


def test_caution_tells_the_same_figures():
    (said,) = cautions("lifting")
    assert f"{10 * CONCRETE_KG_PER_L:g} kg" in said.text
    assert f"{ONE_PERSON_KG:g} kg" in said.text


@pytest.mark.parametrize("litres", [0, -1, float("nan"), float("inf"), 100_001, "22"])
def test_what_no_form_holds_is_refused(litres):
    with pytest.raises(InputError, match="Concrete a form holds"):
        concrete_kg(litres)
