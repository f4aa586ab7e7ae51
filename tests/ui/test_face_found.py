"""The face is shown as found before any figure, and accepted, fixed or waived."""

from __future__ import annotations

import pytest

from tests.benchmarks.face_scenes import draw
from tests.support.pictures import file_of
from tests.support.screens import can_measure, given, press, ran, start, texts

DRAWN = draw(1, 71)


pytestmark = pytest.mark.usefixtures("data")


@pytest.fixture
def shown():
    app = given(start(), file_of(DRAWN.pixels))
    app.button_group(key="scale way").set_value("typed").run()
    return ran(app.text_input(key="mm per px").set_value("0,8").run())


def test_no_figure_until_the_face_was_accepted(shown):
    assert "The face takes" in texts(shown)
    assert not can_measure(shown)

    press(shown, "Right")

    assert can_measure(shown)


def test_fix_hands_the_outline_over(shown):
    press(shown, "Fix")

    assert shown.button_group(key="face way").value == "corners"
    assert shown.text_input(key="face corners").value.count(",") >= 3
    assert can_measure(shown)


def test_a_photo_of_nothing_but_face_is_said_to_be_one(shown):
    press(shown, "The photo holds nothing but face")

    assert shown.button_group(key="face way").value == "whole"
    assert can_measure(shown)
