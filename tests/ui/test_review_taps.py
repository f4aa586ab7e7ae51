"""What is tapped on a review that was closed meanwhile."""

import pytest
from streamlit.testing.v1 import AppTest


def tap_late(name):
    """Call what a control of a closed review still calls, as the server does."""
    # A page of its own: it sees nothing of this file.
    import streamlit as st  # noqa: PLC0415

    from analysis.model.review import Review  # noqa: PLC0415
    from ui.pieces import review_taps as taps  # noqa: PLC0415
    from ui.widgets.picture import Tap  # noqa: PLC0415

    tap = Tap(x=1.0, y=1.0, reach_px=2.0, spot=0)
    calls = {
        "choose": lambda: taps.choose(None, tap),
        "add": lambda: taps.add(None, tap),
        "join": lambda: taps.join(None, tap),
        "take_drawn": lambda: taps.take_drawn(None),
        "decide": lambda: taps.decide(None, None, "stain"),
        "say_seen": lambda: taps.say_seen(None, "seen all True"),
        "step": lambda: taps.step(None, "undo"),
        "take": lambda: taps.take(None, Review()),
    }
    st.session_state["seen all True"] = True
    st.button("late", on_click=calls[name])


@pytest.mark.parametrize(
    "name",
    ["choose", "add", "join", "take_drawn", "decide", "say_seen", "step", "take"],
)
def test_a_late_tap_on_a_closed_review_does_nothing(name):
    page = AppTest.from_function(tap_late, kwargs={"name": name}).run()

    page.button[0].click().run()

    assert not page.exception
    assert "review" not in page.session_state
