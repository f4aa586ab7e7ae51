"""What stands below a share, on the screen and on paper."""

from __future__ import annotations

from dataclasses import replace

import pytest
from streamlit.testing.v1 import AppTest

from analysis.report.piece_sheet import _how
from tests.support.photos import measured, png
from tests.support.screens import ran


def counts(summary):
    from ui.widgets.result import show_counts  # noqa: PLC0415  runs as a script

    show_counts(summary)


@pytest.mark.parametrize(
    ("places", "largest_mm", "told"),
    [
        ([(20, 25, 4)], 4.5, "4.5"),
        ([(20, 25, 4)], 0.0, None),  # all of them lie in honeycomb
        ([], 0.0, "0.0"),
    ],
)
def test_voids_all_in_honeycomb_have_no_largest_one(places, largest_mm, told):
    reading = measured(png(1), places, minutes=1)
    summary = replace(reading.summary, largest_void_mm=largest_mm)

    page = ran(AppTest.from_function(counts, kwargs={"summary": summary}).run())
    shown = {one.label: one.value for one in page.metric}
    paper = _how(replace(reading, summary=summary), "mm")

    assert shown["Voids counted"] == str(len(places))
    assert shown.get("Largest, mm") == told
    assert ("the largest" in paper) == (largest_mm > 0)
