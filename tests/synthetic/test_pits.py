import numpy as np
import pytest

from analysis.synthetic import FaceRecipe, Honeycomb, Joint, PitPopulation, draw_face
from analysis.synthetic.pits import scatter

SIZE = {"height_px": 600, "width_px": 600, "mm_per_px": 0.2}


def places(seed=1, **parts):
    return scatter(FaceRecipe(**SIZE, **parts), np.random.default_rng(seed))


def test_count_follows_the_density():
    population = PitPopulation(per_m2=20_000, median_mm=0.6, largest_mm=2)
    counts = [len(places(seed, pits=(population,))[0]) for seed in range(8)]
    expected = 20_000 * 0.12**2
    # Poisson, eight draws; a few pits near the edge are left out.
    assert np.mean(counts) == pytest.approx(expected, rel=0.12)


def test_sizes_keep_their_limits():
    population = PitPopulation(
        per_m2=50_000, median_mm=1, spread=1.5, smallest_mm=0.8, largest_mm=1.5
    )
    diameter = places(pits=(population,))[0].diameter_mm
    assert diameter.min() >= 0.8
    assert diameter.max() <= 1.5


def test_pits_lie_wholly_inside():
    _, rims, _ = places(pits=(PitPopulation(per_m2=20_000, median_mm=3),))
    assert np.all(rims.row_px > rims.reach_px)
    assert np.all(rims.col_px + rims.reach_px < 599)


def test_scattered_pits_stay_apart_unless_asked():
    apart = PitPopulation(per_m2=40_000, median_mm=1.2, touching_share=0)
    pits = places(pits=(apart,))[0]
    gap = np.hypot(
        pits.row_mm[:, None] - pits.row_mm, pits.col_mm[:, None] - pits.col_mm
    )
    reach = 0.5 * (pits.diameter_mm[:, None] + pits.diameter_mm)
    np.fill_diagonal(gap, np.inf)
    assert np.all(gap >= reach)


def test_touching_pits_touch():
    close = PitPopulation(per_m2=20_000, median_mm=1.2, touching_share=0.5)
    pits = places(pits=(close,))[0]
    gap = np.hypot(
        pits.row_mm[:, None] - pits.row_mm, pits.col_mm[:, None] - pits.col_mm
    )
    reach = 0.5 * (pits.diameter_mm[:, None] + pits.diameter_mm)
    np.fill_diagonal(gap, np.inf)
    assert 0.2 < np.mean(np.any(gap < reach, axis=1)) < 0.9


def test_towards_top_thins_the_bottom():
    top = PitPopulation(per_m2=40_000, median_mm=0.6, towards_top=1)
    row = places(pits=(top,))[0].row_mm
    assert np.mean(row < 60) > 0.6


def test_clumps_are_closer_than_chance():
    def nearest(share):
        population = PitPopulation(
            per_m2=5_000, median_mm=0.4, largest_mm=0.6, clump_share=share, clump_mm=3
        )
        pits = places(pits=(population,))[0]
        gap = np.hypot(
            pits.row_mm[:, None] - pits.row_mm, pits.col_mm[:, None] - pits.col_mm
        )
        np.fill_diagonal(gap, np.inf)
        return np.median(gap.min(axis=1))

    assert nearest(1.0) < 0.6 * nearest(0.0)


def test_long_pits_lie_along_their_direction():
    population = PitPopulation(
        per_m2=2_000,
        median_mm=5,
        spread=0.1,
        irregularity=0,
        elongation=2,
        elongation_deg=0,
        touching_share=0,
    )
    recipe = FaceRecipe(**SIZE, pits=(population,))
    face = draw_face(recipe, seed=2)
    for label in range(1, face.count_of() + 1):
        row, col = np.nonzero(face.labels == label)
        assert np.ptp(col) > 1.5 * np.ptp(row)


def test_honeycomb_lies_in_its_patch():
    patch = Honeycomb(row_mm=60, col_mm=60, diameter_mm=50)
    face = draw_face(FaceRecipe(**SIZE, honeycomb=(patch,)), seed=3)
    assert face.in_honeycomb.all()
    assert face.honeycomb.sum() * 0.2**2 == pytest.approx(np.pi * 25**2, rel=0.01)
    inside = face.honeycomb[np.rint(face.row_px).astype(int), :][
        np.arange(len(face.row_px)), np.rint(face.col_px).astype(int)
    ]
    assert inside.mean() > 0.98
    filled = face.coverage[face.honeycomb].mean()
    assert 0.3 < filled < 0.6


def test_leaking_joint_has_pits_along_it():
    joint = Joint(
        start_mm=(0, 60), end_mm=(119, 60), leak_width_mm=5, leak_pits_per_m=900
    )
    pits = places(joints=(joint,))[0]
    assert len(pits) == pytest.approx(900 * 0.119, rel=0.3)
    assert np.std(pits.col_mm) == pytest.approx(2.5, rel=0.25)
