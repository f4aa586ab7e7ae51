"""The strewn faces of the sampling study."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks import sampling_study

WIDE = sampling_study.PHOTO_PX[1] * sampling_study.PHOTOS[1]


@pytest.mark.parametrize("pattern", sampling_study.PATTERNS)
def test_each_pattern_has_its_number_of_voids(pattern):
    rng = np.random.default_rng(2)
    counts = [len(sampling_study.strew(rng, pattern, 20)) for _ in range(60)]
    assert np.mean(counts) == pytest.approx(240, rel=0.06)


def test_a_gradient_runs_from_dense_to_thin():
    rng = np.random.default_rng(3)
    places = sampling_study.strew(rng, "gradient", 4000)[:, 1] / WIDE
    density = np.histogram(places, 10, (0, 1))[0] / len(places) * 10
    middle = (np.arange(10) + 0.5) / 10
    assert density == pytest.approx(1.6 - 1.2 * middle, abs=0.06)


def test_clumps_vary_more_than_even_strewing():
    rng = np.random.default_rng(4)

    def dispersion(pattern):
        mask = [
            len(
                [
                    1
                    for row, col in sampling_study.strew(rng, pattern, 40)
                    if row < sampling_study.PHOTO_PX[0]
                    and col < sampling_study.PHOTO_PX[1]
                ]
            )
            for _ in range(80)
        ]
        return np.var(mask) / np.mean(mask)

    assert dispersion("even") == pytest.approx(1, abs=0.5)
    assert dispersion("clumped") > 2


def test_photos_are_different_parts_of_the_face():
    rng = np.random.default_rng(5)
    mask = np.arange(WIDE)[None] + np.arange(3 * 480)[:, None] * WIDE
    shown = list(sampling_study.photos_of(rng, mask, 12))
    assert len({int(photo[0, 0]) for photo in shown}) == 12
    assert {photo.shape for photo in shown} == {sampling_study.PHOTO_PX}


def test_a_photo_without_voids_does_not_say_none_for_sure():
    nothing = np.zeros(sampling_study.PHOTO_PX, bool)
    low, high = sampling_study.interval([nothing])
    assert low == 0
    assert high == pytest.approx(3.689 * np.pi / 4 * 9 / nothing.size)


def test_the_study_repeats_itself():
    case = sampling_study.Case(pattern="even", voids=20, photos=1)
    first = sampling_study.study(case, 3)
    assert first == sampling_study.study(case, 3)
    assert 0 <= first["held"] <= 1
