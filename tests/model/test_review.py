import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.review import Mark, Outline, Review, decided

SQUARE = Outline(
    line_px=np.array([[0.0, 0], [0, 4], [4, 4], [4, 0]]),
    area_px=16.0,
    contrast=0.5,
    drawn=True,
)
STAIN = Mark(action="reject", spot=0, reason="stain")
BACK = Mark(action="bring_back", spot=1)
ADD = Mark(action="add", spot=2, outline=SQUARE)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"action": "erase", "spot": 0}, "done to a spot must be one of reject"),
        ({"action": "reject", "spot": 0}, "Reason to turn a void down must be one of"),
        ({"action": "bring_back", "spot": -1}, "Number of a spot must be at least 0"),
        ({"action": "add", "spot": 0}, "missing for 'add'"),
        ({"action": "bring_back", "spot": 0, "outline": SQUARE}, "given for 'bring"),
        ({"action": "replace", "spot": 2, "gone": (0,)}, "1 and 0 were given for 'rep"),
        (
            {"action": "seen_all", "spot": 0, "gone": (0,), "outlines": (SQUARE,)},
            "1 and",
        ),
    ],
)
def test_half_decisions_are_refused(given, message):
    with pytest.raises(InputError, match=message):
        Mark(**given)


def test_an_outline_needs_an_area():
    with pytest.raises(InputError, match="Area of a void must be more than 0 px²"):
        Outline(line_px=SQUARE.line_px, area_px=0.0, contrast=0.5, drawn=False)
    with pytest.raises(InputError, match="Outline of a void needs at least 3 points"):
        Outline(line_px=[[0, 0], [1, 1]], area_px=1.0, contrast=0.5, drawn=False)


def test_decisions_are_played_back_in_order():
    spots, added = decided([STAIN, BACK, ADD], 1, 1)
    assert [spot.counted for spot in spots] == [False, True, True]
    assert [spot.reason for spot in spots] == ["stain", "", ""]
    assert all(spot.by_hand for spot in spots)
    assert added == (SQUARE,)


def test_back_as_found_is_no_decision():
    undone = Mark(action="bring_back", spot=0)
    spots, _ = decided([STAIN, undone], 1, 1)
    assert spots[0].counted
    assert not spots[0].by_hand


def test_an_added_spot_can_be_turned_down_again():
    spots, added = decided([ADD, Mark(action="reject", spot=2, reason="shadow")], 1, 1)
    assert (spots[2].counted, spots[2].reason, len(added)) == (False, "shadow", 1)


@pytest.mark.parametrize(
    "mark",
    [Mark(action="bring_back", spot=2), Mark(action="add", spot=3, outline=SQUARE)],
)
def test_a_decision_about_a_spot_that_is_not_there_is_refused(mark):
    with pytest.raises(InputError, match="but there are 2: open the review again"):
        decided([mark], 1, 1)


def test_undo_and_redo_lead_back_and_forth():
    review = Review().done(STAIN).done(BACK)
    back = review.undo().undo().undo()
    assert back.marks == ()
    assert back.redo().marks == (STAIN,)
    assert back.redo().redo().redo().marks == (STAIN, BACK)
    assert back.redo().done(BACK).redo().marks == (STAIN, BACK)
    assert back.done(ADD).undone == ()


def test_a_replaced_spot_gives_its_place_to_new_ones():
    mark = Mark(action="replace", spot=2, gone=(0,), outlines=(SQUARE, SQUARE))
    spots, added = decided([mark, Mark(action="seen_all", spot=0)], 1, 1)
    assert [spot.counted for spot in spots] == [False, False, True, True]
    assert (spots[0].reason, len(added)) == ("replaced", 2)
    again = Mark(action="replace", spot=4, gone=(2, 3), outlines=(SQUARE,))
    spots, added = decided([mark, again], 1, 1)
    assert [spot.counted for spot in spots] == [False] * 4 + [True]
    assert len(added) == 3
    with pytest.raises(InputError, match="about spots 0, but there are 2"):
        decided([Mark(action="replace", spot=3, gone=(0,), outlines=(SQUARE,))], 1, 1)
