import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.afterwards import HandFigures, Outcome, Repair, Verdict
from analysis.model.log import JointState, PhotoUse, Piece, Step
from analysis.model.workshop import FinishTarget, Form, FormJoint, Mix, MixPart
from analysis.vocabulary import MIXED, NONE


def piece(*steps, joints=()):
    return Piece(name="1", pour_id=1, steps=steps, joints=joints)


def sealed(*words):
    return piece(
        joints=tuple(JointState(joint=f"{n}", sealing=w) for n, w in enumerate(words))
    )


@pytest.mark.parametrize(
    ("words", "sealing"),
    [
        ((), None),
        (("tape", "tape"), "tape"),
        (("tape", NONE), MIXED),
        (("tape", None), None),
        ((NONE, NONE), NONE),
    ],
)
def test_the_sealing_of_a_piece_is_that_of_its_joints(words, sealing):
    assert sealed(*words).joint_sealing == sealing


@pytest.mark.parametrize(
    ("steps", "method", "seconds"),
    [
        ((), None, None),
        ((("table", 40.0), ("table", 20.0)), "table", 60.0),
        ((("table", 300.0), ("poker", 15.0)), "table then poker", None),
        ((("table", 40.0), ("table", None)), "table", None),
        (((None, 40.0),), None, 40.0),
        (((None, 40.0), (None, 20.0)), None, None),
        (((NONE, None),), NONE, None),
    ],
)
def test_seconds_of_different_methods_are_never_added(steps, method, seconds):
    made = piece(*(Step(method=one, seconds=s) for one, s in steps))
    assert (made.vibration_method, made.vibration_s) == (method, seconds)


@pytest.mark.parametrize("value", ["1,25", "", " 1.25 ", np.nan, np.inf, -3, 90000])
def test_a_time_that_is_none_is_refused(value):
    with pytest.raises(InputError, match="Vibration must be"):
        Step(seconds=value)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Form(name=" "), "form needs a name"),
        (lambda: Form(name="x" * 201), "name of 201 characters"),
        (
            lambda: Form(name="A", joints=(FormJoint(name="l"), FormJoint(name="l"))),
            "names a joint twice",
        ),
        (
            lambda: Piece(name="1", pour_id=1, joints=(JointState(), JointState())),
            "names a joint twice",
        ),
        (lambda: Mix(name="m", basis="by eye"), "Basis of the mix must be one of"),
        (lambda: MixPart(kind="salt", name="x"), "Kind of mix part must be one of"),
        (
            lambda: FinishTarget(product_line_id=1, low_share=0.2, high_share=0.1),
            "lower end 0.2 is above",
        ),
        (lambda: Outcome(piece_id=1, eye_score=11), "Eye score must be between"),
        (lambda: Outcome(piece_id=1, outcome="fine"), "Outcome must be one of"),
        (lambda: Step(certainty="sure"), "How the time is known must be one of"),
        (lambda: Outcome(piece_id=1, stage="new"), "Stage must be one of"),
        (lambda: Repair(piece_id=1, minutes=-1), "Repair minutes must be between"),
        (
            lambda: HandFigures(piece_id=1, step_mm=float("nan")),
            "Step at the joint must be a finite",
        ),
        (
            lambda: Verdict(reading_id=1, finish_target_id=1, verdict=""),
            "verdict needs a name",
        ),
        (lambda: PhotoUse(purpose="fun"), "Purpose of the photo must be one of"),
        (lambda: PhotoUse(stage="new"), "Stage must be one of"),
        (lambda: PhotoUse(surface_state="icy"), "Surface state must be one of"),
    ],
)
def test_what_cannot_be_is_refused(make, message):
    with pytest.raises(InputError, match=message):
        make()
