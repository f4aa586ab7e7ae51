"""What joints left on the photos of a piece, together."""

import numpy as np

from analysis.pieces.columns import alike
from analysis.pieces.reading_figures import (
    NUMBERS,
    WORDS,
    ReadingFigures,
    pooled_figures,
)

PLAIN = dict.fromkeys(NUMBERS, np.nan) | {"face_area_px": 1000.0, "void_area_px": 5.0}


def marked(length_mm, loss):
    return PLAIN | {
        "joint_length_mm": length_mm,
        "sand_length_mm": 40.0,
        "fin_length_mm": 0.0,
        "arris_loss_mm2_per_m": loss,
    }


def pooled(*photos):
    number = {name: np.array([one[name] for one in photos]) for name in NUMBERS}
    n = len(photos)
    figures = ReadingFigures(
        piece_id=np.ones(n, dtype=np.int64),
        number=number,
        void_count=np.ones(n, dtype=np.int64),
        words=dict.fromkeys(WORDS, alike(None, n)),
    )
    _, found = pooled_figures(figures)
    return {name: cells[0] for name, cells in found.items()}


def test_lengths_add_up_and_loss_is_weighed_by_length():
    found = pooled(marked(100.0, 30.0), marked(300.0, 10.0), PLAIN)
    assert found["joint_length_mm"] == 400
    assert found["sand_length_mm"] == 80
    assert found["fin_length_mm"] == 0
    assert found["arris_loss_mm2_per_m"] == 15


def test_unknown_without_a_photo_that_shows_a_joint():
    found = pooled(PLAIN)
    assert found["sand_length_mm"] is None
    assert found["arris_loss_mm2_per_m"] is None
