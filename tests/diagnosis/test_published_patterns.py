"""Where voids sit, against point patterns that statisticians have published on.

Redwood seedlings (Strauss 1975, subset of Ripley 1977), Japanese black pine saplings
(Numata 1961) and biological cells (Crick and Ripley) are the three patterns of Diggle,
Statistical Analysis of Spatial Point Patterns (1983): clustered, random and regular.
Coordinates as in the R package spatstat, inst/data-raw.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.diagnosis.naming import SURE_CLUSTERS, name_patterns
from analysis.diagnosis.pattern_words import evidence_words
from analysis.diagnosis.placement import _mean_distance, place
from analysis.model.diagnosis import FaceGrid

SIDE = 400
# 62 seedlings in a square of 23 m, 65 saplings in one of 5.7 m, 42 cells; in hundredths
# of the side.
REDWOOD = """
36,8 44,10 48,8 48,14 50,10 76,14 78,12 78,16 84,8 86,18 90,8 90,10 90,16 90,20 18,40
18,38 20,42 60,34 62,34 64,36 64,28 68,32 68,24 70,28 72,26 10,58 12,58 12,62 14,58
18,56 18,54 20,52 20,50 22,46 24,48 52,58 50,60 58,58 94,52 96,54 22,80 22,84 26,70
44,76 48,78 50,76 90,76 90,78 48,68 52,66 56,64 99.9,84 44,82 48,82 34,84 38,84 26,86
40,86 28,86 74,90 86,90 96,96
"""
PINES = """
9,9 29,2 38,3 39,18 48,3 59,2 65,16 67,13 73,13 79,3 86,13 89,8 98,2 2,18 11,31 42,22
48,13 62,21 73,23 89,23 2,41 3,44 7,42 52,42 64,43 8,59 8,63 12,63 12,66 17,58 31,53
32,52 42,49 52,52 91,52 94,58 34,68 37,68 47,67 52,67 59,67 66,68 76,66 73,73 89,74
94,78 98,79 97,86 12,84 11,94 17,95 21,79 29,84 32,83 35,86 39,79 52,93 58,83 69,93
77,93 36,97 36,96 39,96 43,96 62,97
"""
CELLS = """
35,2.5 48.7,8.7 63.7,5 77.5,2.5 82.5,12.5 8.7,18.7 23.7,15 40,16.2 57.5,21.2 73.7,23.7
6.2,36.2 21.2,33.7 32.5,28.7 45,28.7 65,36.2 90,26.2 33.7,46.2 46.2,42.5 60,47.5
80,38.7 93.8,40 15,50 35,60 56.2,57.5 72.5,51.2 86.2,52.5 98.7,51.2 6.2,75 17.5,65
33.7,75 46.2,75 52.5,65 73.7,68.7 86.2,63.7 23.7,78.7 63.7,81.2 77.5,85 90,77.5
17.5,91.2 35,96.2 46.2,90 62.5,95
"""


def points(text):
    """Coordinates as shares of the side."""
    return np.array([one.split(",") for one in text.split()], dtype=float) / 100


def found(text):
    xy = points(text)
    none = np.zeros((SIDE, SIDE), dtype=bool)
    grid = FaceGrid(
        cell_mm=1.0,
        on_face=~none,
        joint=np.zeros((SIDE, SIDE), dtype=np.int64),
        joint_names=(),
        sloped=none,
        by_insert=none,
        height=None,
        patch=none,
        row=xy[:, 1] * SIDE - 0.5,
        col=xy[:, 0] * SIDE - 0.5,
        diameter_mm=np.full(len(xy), 3.0),
    )
    return place([grid])


def donnelly(text):
    """Observed mean distance to the nearest point over that of a random pattern.

    Donnelly (1978): 0.5 sqrt(A / n) + (0.0514 + 0.041 / sqrt(n)) P / n, which corrects
    Clark and Evans (1954) for the edge.
    """
    xy = points(text)
    n = len(xy)
    gaps = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    nearest = np.sort(gaps, axis=1)[:, 1].mean()
    expected = 0.5 / np.sqrt(n) + (0.0514 + 0.041 / np.sqrt(n)) * 4 / n
    return nearest / expected


def test_the_data_are_whole():
    assert [len(points(text)) for text in (REDWOOD, PINES, CELLS)] == [62, 65, 42]


@pytest.mark.parametrize("text", [REDWOOD, PINES, CELLS])
def test_the_ratio_of_distances_is_donnellys(text):
    assert found(text).neighbour_ratio == pytest.approx(donnelly(text), rel=0.02)


def test_redwoods_are_bunched_together():
    seen = found(REDWOOD)
    assert seen.neighbour_p <= SURE_CLUSTERS
    assert [one.pattern for one in name_patterns(seen)] == ["clusters"]
    (named,) = name_patterns(seen)
    assert evidence_words(named.evidence).startswith("Voids are bunched together")


def test_pines_are_scattered():
    # Diggle's example of complete spatial randomness.
    seen = found(PINES)
    assert 0.9 < seen.neighbour_ratio < 1.15
    assert seen.neighbour_p > 0.05
    assert name_patterns(seen) == ()


def test_cells_keep_apart_and_are_not_called_bunched():
    seen = found(CELLS)
    assert seen.neighbour_ratio > 1.3
    assert seen.neighbour_p == 1.0
    assert name_patterns(seen) == ()


def test_distances_of_a_textbook_example():
    # Twelve points and the nearest distance of each, mean 21.6121: O'Sullivan and
    # Unwin, Geographic Information Analysis, as worked in the PySAL documentation.
    xy = np.array(
        [[66.22, 32.54], [22.52, 22.39], [31.01, 81.21], [9.47, 31.02],
         [30.78, 60.10], [75.21, 58.93], [79.26, 7.68], [8.23, 39.93],
         [98.73, 77.17], [89.78, 42.53], [65.19, 92.08], [54.46, 8.48]]
    )  # fmt: skip
    printed = [25.59050019, 15.64542745, 21.11125292, 8.99587128, 21.11125292,
               21.93729473, 24.81289987, 8.99587128, 29.76387072, 21.93729473,
               34.63124168, 24.81289987]  # fmt: skip
    assert _mean_distance(xy) == pytest.approx(21.612139802089246, rel=1e-12)
    assert np.mean(printed) == pytest.approx(21.612139802089246, rel=1e-8)
