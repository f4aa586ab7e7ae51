"""Cards drawn as they are printed, for photos of them."""

from __future__ import annotations

import cv2
import numpy as np
import segno

from analysis.imaging.markers import marker_cells
from analysis.model.card import EDGE_MM, LAYOUTS, Code

MARK = "7KQ4ZX"
WHITE, BLACK = 245, 12


def code(layout="A", kind="piece", number="12", mark=MARK):
    return Code(layout=layout, kind=kind, number=number, log_mark=mark)


def paper_card(px_per_mm, card, *, text=None, hide=()):
    """Draw a card with its white edge; what is in `hide` is left out."""
    layout = LAYOUTS[card.layout]
    left, top, right, below = layout.block
    edge = EDGE_MM + 2
    size = (right - left + 2 * edge, below - top + 2 * edge)
    paper = np.full([round(side * px_per_mm) for side in size[::-1]], WHITE, np.uint8)

    def put(cells, x, y, side):
        wide = round(side * px_per_mm)
        drawn = np.where(cells, BLACK, WHITE).astype(np.uint8)
        row = round((y - top + edge) * px_per_mm)
        col = round((x - left + edge) * px_per_mm)
        paper[row : row + wide, col : col + wide] = cv2.resize(
            drawn, (wide, wide), interpolation=cv2.INTER_NEAREST
        )

    for number, (x, y) in layout.markers.items():
        if number not in hide:
            put(marker_cells(number), x, y, layout.marker_mm)
    if "code" not in hide:
        made = segno.make(text or card.text, error="q", micro=False)
        cells = np.array([list(row) for row in made.matrix], dtype=bool)
        put(cells, *layout.code_at, layout.code_mm)
    return np.repeat(paper[..., None], 3, axis=2)
