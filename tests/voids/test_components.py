"""Connected regions against OpenCV's, on both sides of where runs are joined."""

import cv2
import numpy as np
import pytest

from analysis.voids import components as room
from analysis.voids.components import components


@pytest.fixture(params=["runs", "opencv"])
def way(request, monkeypatch):
    monkeypatch.setattr(room, "_SMALL_PX", 0 if request.param == "runs" else 10**9)
    monkeypatch.setattr(room, "_PX_A_RUN", 0)


def agrees(mask):
    """Both numberings pair up one to one."""
    count, flat, label = components(mask)
    wanted, found = cv2.connectedComponents(np.uint8(mask), connectivity=8)
    assert np.array_equal(flat, np.flatnonzero(mask))
    pairs = np.unique(np.stack([label, found.ravel()[flat]]), axis=1)
    assert count == wanted
    assert pairs.shape[1] == count - 1
    assert label.dtype == np.int32


@pytest.mark.usefixtures("way")
class TestRegions:
    @pytest.mark.parametrize("part", [0.05, 0.3, 0.5, 0.7])
    @pytest.mark.parametrize("shape", [(40, 57), (1, 30), (30, 1)])
    def test_of_chance(self, part, shape):
        agrees(np.random.default_rng(5).random(shape) < part)

    def test_the_two_ends_of_a_row_do_not_touch(self):
        mask = np.zeros((4, 9), bool)
        mask[0, -1] = mask[1, 0] = mask[2, -1] = True
        assert components(mask)[0] == 4
        agrees(mask)

    def test_all_and_none(self):
        agrees(np.ones((6, 7), bool))
        agrees(np.zeros((6, 7), bool))
