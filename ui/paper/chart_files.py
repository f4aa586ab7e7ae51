"""Charts as files, on white and wide enough for a page."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import altair as alt

    Chart = alt.Chart | alt.LayerChart | alt.FacetChart

_WIDTH_PX = 560
_PER_INCH = 200


def svg_of(chart: Chart) -> str:
    """Return a chart as an SVG file."""
    file = io.StringIO()
    _for_paper(chart).save(file, format="svg")
    return file.getvalue()


def png_of(chart: Chart) -> bytes:
    """Return a chart as a PNG file."""
    file = io.BytesIO()
    _for_paper(chart).save(file, format="png", ppi=_PER_INCH)
    return file.getvalue()


def _for_paper(chart: Chart) -> Chart:
    return chart.properties(width=_WIDTH_PX, background="white")
