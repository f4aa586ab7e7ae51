"""What the browser's camera sends: taken only if it is a photo for this picture."""

from __future__ import annotations

import pytest

from ui.measure.camera import taken

URL = "data:image/jpeg;base64,aGVsbG8="


def test_a_photo_for_this_picture_is_taken():
    assert taken({"photo": {"version": "1", "url": URL}}, "1") == b"hello"


@pytest.mark.parametrize(
    "state",
    [
        None,
        {},
        {"photo": None},
        {"photo": {"version": "2", "url": URL}},
        {"photo": {"version": "1"}},
        {"photo": {"version": "1", "url": 7}},
        {"photo": {"version": "1", "url": "data:text/html;base64,aGVsbG8="}},
        {"photo": {"version": "1", "url": "data:image/jpeg,hello"}},
        {"photo": {"version": "1", "url": "data:image/jpeg;base64,%%%"}},
    ],
)
def test_anything_else_is_not(state):
    assert taken(state, "1") is None
