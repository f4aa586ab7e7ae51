"""Close-ups reduced, and what was found brought back with its own area."""

import numpy as np
import pytest
from skimage.draw import disk
from skimage.measure import regionprops

from analysis.imaging.homography import moved
from analysis.imaging.registration import described
from analysis.pairs.planes import planes_of
from analysis.pairs.reduction import (
    AS_TAKEN,
    Steps,
    as_taken,
    enlarged_labels,
    grown,
    reduced,
    reduced_face,
    steps_of,
)

LARGE, USUAL = (3000, 4000), (800, 1000)


def area(across_px):
    return np.pi / 4 * across_px**2


@pytest.mark.parametrize(
    ("across_px", "shape", "second", "wanted"),
    [
        (4.0, USUAL, USUAL, (1, 1)),  # the photos that pairs were set on
        (15.0, USUAL, USUAL, (1, 1)),  # too few px to line up by
        (4.0, LARGE, LARGE, (1, 1)),  # a large face: its smallest voids need all px
        (2.26, LARGE, LARGE, (1, 1)),  # no scale: 4 px are counted
        (15.0, LARGE, LARGE, (2, 2)),
        (40.0, LARGE, LARGE, (3, 3)),  # 1,280 px are left
        (15.0, LARGE, (1500, 2000), (2, 1)),  # a frame of a film
        (4.0, USUAL, LARGE, (1, 4)),
        (4.0, (4000, 3000), (3000, 4000), (1, 1)),
    ],
)
def test_photos_are_reduced_as_far_as_the_smallest_void_allows(
    across_px, shape, second, wanted
):
    steps = steps_of(area(across_px), shape, shape, second)
    assert (steps.first, steps.second) == wanted


@pytest.mark.parametrize("step", [2, 3, 4])
def test_areas_and_places_come_back(step):
    """Against discs drawn by scikit-image and measured by it."""
    labels = np.zeros((90, 120), np.int32)
    discs = [(20, 25, 2.0), (20, 80, 6.5), (60, 40, 14.0), (88, 100, 9.0), (0, 3, 5.0)]
    for number, (row, col, radius) in enumerate(discs, start=1):
        labels[disk((row, col), radius, shape=labels.shape)] = number
    large = enlarged_labels(labels, step, (90 * step + 1, 120 * step + step - 1))

    before, after = regionprops(labels), regionprops(large)
    assert [one.area * step**2 for one in before] == [one.area for one in after]
    for one, other in zip(before[:3], after[:3], strict=True):
        row, col = one.centroid
        middle = (col * step + (step - 1) / 2, row * step + (step - 1) / 2)
        # Of px as deep as each other the first are taken: a twentieth of a reduced px.
        assert other.centroid[::-1] == pytest.approx(middle, abs=0.05 * step)
        # A smooth rim is as full as a disc's.
        assert other.solidity > 0.93


def test_touching_labels_keep_their_areas():
    labels = np.zeros((20, 30), np.int32)
    labels[5:12, 5:14], labels[5:12, 14:22], labels[12, 8] = 1, 2, 3
    large = enlarged_labels(labels, 2, (40, 60))
    assert np.bincount(large.ravel())[1:].tolist() == [252, 224, 4]


def test_a_px_of_the_face_lies_in_it_as_a_whole():
    inside = np.zeros((7, 9), bool)
    inside[1:, :8] = True
    assert np.argwhere(~reduced_face(inside, 2)).tolist() == [[0, c] for c in range(4)]
    assert reduced_face(inside, 1) is inside


def test_places_of_a_reduced_photo_are_those_of_the_photo():
    ramp = np.tile(np.arange(30, dtype=np.float32), (20, 1))
    small = reduced(ramp, 3)
    assert small.shape == (6, 10)
    x = moved(grown(3), np.array([[4.0, 2.0]]))[0, 0]
    assert small[2, 4] == pytest.approx(x)


def test_a_registration_is_told_in_px_of_the_photos():
    lying = described(np.array([[1.0, 0, 3], [0, 1, 4], [0, 0, 1]]), (60, 80), 0.2, 0.3)
    steps = Steps(first=2, second=4)
    full = as_taken(lying, steps, (121, 160), (240, 320))

    assert (full.rms_px, full.scatter_px) == pytest.approx((0.4, 0.6))
    assert full.scale == pytest.approx(2)
    at = np.array([[10.0, 20.0]])
    there = moved(np.linalg.inv(grown(4)), moved(full.to_second, moved(grown(2), at)))
    assert there == pytest.approx(at + np.array([3, 4]))
    assert as_taken(lying, AS_TAKEN, (60, 80), (60, 80)) is lying


@pytest.mark.parametrize(("radius", "size"), [(20, 400), (35, 400), (45, 400)])
def test_a_pit_longer_than_the_ground_follows_does_not_level_itself(radius, size):
    row, col = np.mgrid[:size, : size + 120].astype(np.float32)
    off, side = np.hypot(row - size / 2, col - 260), (col - 260) / radius
    first, second = (
        np.where(off < radius, 0.16 + 0.13 * sign * side, 0.4).astype(np.float32)
        for sign in (1, -1)
    )
    planes = planes_of(first, second, np.eye(3), np.ones(first.shape, bool))

    within = off < radius - 4
    truth = np.log(np.minimum(first, second)[within] / 0.4)
    assert np.log(planes.darker[within]) == pytest.approx(truth, abs=0.12)
    assert planes.darker[off > radius + 6] == pytest.approx(1, abs=0.03)
