"""The printed scale sheet: where each marker is, in mm.

Markers are of OpenCV's ArUco dictionary `DICTIONARY`. The sheet carries one in each
corner of a frame; cards have markers of their own (`analysis.model.card`).
x runs to the right and y down; the corners of a marker are named from its top left
one clockwise, as OpenCV gives them.
"""

from __future__ import annotations

from types import MappingProxyType

DICTIONARY = "DICT_5X5_50"
MARKER_MM = 40.0
# Left as white paper on each side of a marker, or it is not found.
WHITE_EDGE_MM = 8.0
FRAME_MM = (170.0, 100.0)
# Identity -> x, y of the marker's top left corner in the frame.
SHEET_MARKERS = MappingProxyType(
    {
        0: (0.0, 0.0),
        1: (FRAME_MM[0] - MARKER_MM, 0.0),
        2: (FRAME_MM[0] - MARKER_MM, FRAME_MM[1] - MARKER_MM),
        3: (0.0, FRAME_MM[1] - MARKER_MM),
    }
)
CHECK_MM = 150.0
CHECK_INCH = 6.0
# From the frame down to the grey line along which the sheet is cut.
BELOW_MM = 30.0
# Codes of the grey patches, sRGB.
GREYS = (245, 200, 160, 120, 80, 40)


def corners_mm(
    left: float, top: float, side: float = MARKER_MM
) -> tuple[tuple[float, float], ...]:
    """Return a marker's corners, (x, y) from its top left one clockwise.

    Examples
    --------
    >>> corners_mm(0.0, 0.0)[2]
    (40.0, 40.0)
    """
    right, bottom = left + side, top + side
    return ((left, top), (right, top), (right, bottom), (left, bottom))
