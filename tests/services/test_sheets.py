from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.sheet import MARKER_MM
from analysis.services.sheets import find_sheet, scale_sheet
from tests.support.pages import page_sizes_mm, rendered


@pytest.mark.parametrize(
    ("page", "size_mm"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))]
)
def test_the_printed_sheet_is_one_page_and_found_at_its_true_size(page, size_mm):
    file = scale_sheet(page)
    (size,) = page_sizes_mm(file)
    assert size == pytest.approx(size_mm, abs=0.1)

    pixels = np.repeat(rendered(file, dpi=100)[0][..., None], 3, axis=2)
    px_per_mm = pixels.shape[1] / size_mm[0]
    plane, markers = find_sheet(pixels)

    first = markers[0].corners_px
    assert math.dist(first[0], first[1]) == pytest.approx(
        MARKER_MM * px_per_mm, rel=0.01
    )
    assert abs(plane.photo_to_mm[0, 0] * px_per_mm) == pytest.approx(1, rel=0.005)


def test_a_page_nobody_has_is_refused():
    with pytest.raises(InputError, match="Page"):
        scale_sheet("A9")
