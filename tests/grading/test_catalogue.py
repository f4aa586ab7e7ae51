from __future__ import annotations

import pytest

from analysis.errors import InputError
from analysis.grading.catalogue import criterion, own_criterion, published
from analysis.grading.grade import class_of
from analysis.model.grading import ByHand, Criterion, GradeClass
from analysis.model.workshop import FinishTarget


def test_an_unknown_code_is_refused():
    with pytest.raises(InputError, match="'x' is no criterion: choose one of oenorm"):
        criterion("x")


def test_codes_and_titles_are_unique():
    assert len({one.code for one in published()}) == len(published())
    assert len({one.title for one in published()}) == len(published())


def test_a_target_is_a_band_with_both_ends_inside():
    target = FinishTarget(
        product_line_id=1,
        low_share=0.01,
        high_share=0.03,
        largest_void_mm=8.0,
        honeycomb_share=0.0,
        id=4,
    )
    own = own_criterion(target, "rough pots")
    assert own.edition == "target no. 4"
    good = {"void_share": 0.02, "void_diameter_mm": 8.0, "honeycomb_share": 0.0}
    assert class_of(own, good) == "within the target"
    for name, value in (
        ("void_share", 0.0099),
        ("void_share", 0.0301),
        ("void_diameter_mm", 8.01),
        ("honeycomb_share", 0.001),
    ):
        assert class_of(own, good | {name: value}) == "outside the target"
    assert class_of(own, good | {"void_share": 0.01}) == "within the target"
    assert class_of(own, good | {"void_share": 0.03}) == "within the target"


def test_a_target_without_limits_holds_for_everything():
    own = own_criterion(FinishTarget(product_line_id=1), "pots")
    assert not own.limited


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"void_share": 0.1}, "Figure measured by hand must be one of"),
        ({"leak_width_mm": -1.0}, "Width of the joint leak must be between 0 and"),
        ({"step_mm": float("nan")}, "Step at a joint must be a finite number"),
    ],
)
def test_figures_by_hand_are_checked(figures, words):
    with pytest.raises(InputError, match=words):
        ByHand(figures=figures)


def test_a_criterion_is_checked():
    with pytest.raises(InputError, match="Quantity limited by P must be one of"):
        GradeClass(name="P", at_most={"beauty": 1.0})
    with pytest.raises(InputError, match="Tag of P must be one of confirmed"):
        GradeClass(name="P", tag="sure")
    parts = dict.fromkeys(
        ("code", "title", "edition", "clause", "source", "counts", "beyond"), "x"
    )
    with pytest.raises(InputError, match="Tag of x must be one of confirmed"):
        Criterion(**parts, tag="sure", classes=())
    with pytest.raises(InputError, match="Quantity shown by x must be one of"):
        Criterion(**parts, tag="own", classes=(), shown=("beauty",))
