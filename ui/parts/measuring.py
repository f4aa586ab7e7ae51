"""Measuring, with words on how far it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.desk.measuring import measure
from analysis.model.photo import Face, JointLine
from analysis.model.reading import MeasureSettings
from ui import words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from ui.state import Points, Request


def measured(photo: Photo, request: Request) -> Reading:
    """Measure a photo as asked, telling what is being done."""
    bar = st.progress(0.0, words.STARTING)

    def tell(part: float, what: str) -> None:
        bar.progress(part, what)

    try:
        reading, _ = measure(
            photo,
            scale=request.scale,
            face=Face(
                outline_px=None if request.outline is None else _rows(request.outline),
                left_out_px=tuple(_rows(area) for area in request.left_out),
                joints=tuple(JointLine(line_px=_rows(line)) for line in request.joints),
            ),
            settings=MeasureSettings(smallest_mm=request.smallest_mm),
            progress=tell,
        )
    finally:
        bar.empty()
    return reading


def _rows(points: Points) -> NDArray[np.float64]:
    """Turn (x, y) into (row, col)."""
    return np.array(points, dtype=np.float64)[:, ::-1]
