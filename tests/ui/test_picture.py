"""The picture's doors: what it takes, and what it makes of the browser's answer."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from analysis.errors import InputError
from ui.widgets.picture import _marks, _plain, _tap, picture

APP = Path(__file__).parent / "apps" / "marking.py"
PNG = b"\x89PNG\r\n\x1a\n"
SIZE = (400.0, 300.0)
START = ((1.0, 2.0),)


def test_points_to_begin_with_are_returned_until_some_are_marked():
    app = AppTest.from_file(str(APP), default_timeout=30)
    app.query_params["points"] = "[[10, 20.5], [-0.5, 1999.5]]"
    app.run().run()

    assert not app.exception
    assert "[[10.0, 20.5], [-0.5, 1999.5]]" in app.get("html")[0].proto.body


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"preview": b"GIF89a"}, "must be a JPEG or PNG, b'GIF89a' was given"),
        ({"width_px": 0}, "width must be at least 1 px, 0 was given"),
        ({"height_px": math.nan}, "height must be a finite number, nan was given"),
        ({"mode": "circle"}, "mode must be one of points, polygon, line, view, pick"),
        ({"points": [(1, math.inf)]}, "points marked has a point that is not a finite"),
        ({"lines": [[(1, 2, 3)]]}, "outline needs at least 1 points of two numbers"),
    ],
)
def test_unusable_settings_are_refused(wrong, message):
    given = {"preview": PNG, "width_px": 400, "height_px": 300, "key": "face"} | wrong

    with pytest.raises(InputError, match=message):
        picture(given.pop("preview"), **given)


def sent(points, version="a"):
    return {"marks": {"version": version, "points": points}}


@pytest.mark.parametrize(
    "state", [None, {}, {"marks": None}, {"marks": "x"}, sent([[5, 6]], "old")]
)
def test_without_marks_of_this_version_the_first_points_hold(state):
    assert _marks(state, SIZE, "a", START) == START


@pytest.mark.parametrize("points", [[[1]], [["x", 2]], [[None, 2]], "x", 7])
def test_what_is_no_point_is_not_taken_from_the_browser(points):
    assert _marks(sent(points), SIZE, "a", START) == START


def test_marked_points_replace_the_first_ones():
    assert _marks(sent([[5, 6.25], [7, 8]]), SIZE, "a", START) == ((5, 6.25), (7, 8))
    assert _marks(sent([]), SIZE, "a", START) == ()


def test_points_stay_on_the_photo():
    assert _marks(sent([[-9, 400]]), SIZE, "a", START) == ((-0.5, 299.5),)


def test_outlines_go_out_short():
    assert _plain([(1 / 3, 2 / 3)], "An outline") == ((0.333, 0.667),)


def tapped(**changes):
    return {"tap": {"x": 5, "y": 6.25, "reach": 30, "spot": None} | changes}


def test_a_tap_is_taken_with_its_reach():
    tap = _tap(tapped(), SIZE)
    assert (tap.x, tap.y, tap.reach_px, tap.spot) == (5, 6.25, 30, None)
    assert _tap(tapped(spot=3, reach=0), SIZE).spot == 3
    assert _tap(tapped(x=-9, y=400), SIZE).y == 299.5


@pytest.mark.parametrize(
    "state",
    [None, {}, {"tap": None}, tapped(x="a"), tapped(y=math.nan), tapped(reach=-1)],
)
def test_what_is_no_tap_is_not_taken_from_the_browser(state):
    assert _tap(state, SIZE) is None
