"""The inks of the charts: the house's two colours and its text, by day and by night."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import streamlit as st


@dataclass(frozen=True, slots=True, kw_only=True)
class Inks:
    """What a chart is drawn with, as ``#rrggbb``.

    Attributes
    ----------
    ground : str
        What lies under it; on paper white comes close enough.
    text : str
        Words, and lines that matter like words.
    quiet : str
        What stands behind the answer.
    first, second : str
        The two of a pair: blue-grey, and the red-brown of formwork ply.
    """

    ground: str
    text: str
    quiet: str
    first: str
    second: str

    @property
    def pair(self) -> list[str]:
        """Both colours, in their order."""
        return [self.first, self.second]


# The grounds and words of `.streamlit/config.toml`.
BY_DAY: Final = Inks(
    ground="#f6f5f2",
    text="#23272b",
    quiet="#6b675f",
    first="#3d5566",
    second="#a3492b",
)
BY_NIGHT: Final = Inks(
    ground="#1d1f20",
    text="#eceae5",
    quiet="#b3aea4",
    first="#9dbdd1",
    second="#e58a66",
)


def screen_inks() -> Inks:
    """Return the inks for the ground that the screen shows now."""
    return BY_NIGHT if st.context.theme.type == "dark" else BY_DAY


def axis_of(inks: Inks, **more: Any) -> dict[str, Any]:  # noqa: ANN401  Altair's own
    """Return how an axis is written, to be read at arm's length on a phone."""
    return {
        "titleFontSize": 14,
        "titleColor": inks.text,
        "labelFontSize": 13,
        "labelColor": inks.text,
        **more,
    }


def legend_of(inks: Inks) -> dict[str, Any]:
    """Return how a legend is written: above the chart, a line each.

    Side by side they would reach beyond a phone enlarged to 200 %.
    """
    return {
        "columns": 1,
        "title": None,
        "orient": "top",
        "labelFontSize": 14,
        "labelColor": inks.text,
        "symbolSize": 120,
    }
