"""What is read of a JPEG's blocks, against Pillow's planes and NumPy's medians."""

import numpy as np
import pytest
from PIL import Image

from analysis.imaging.block_planes import read_planes


def grainy(height, width, seed=3):
    rng = np.random.default_rng(seed)
    pixels = rng.normal(rng.uniform(20, 235, 3), 30, (height, width, 3))
    return Image.fromarray(pixels.clip(0, 255).astype(np.uint8))


def planes_of(image):
    light = np.asarray(image.convert("L"), float)
    coded = np.asarray(image.convert("YCbCr"), float)
    return light, coded[..., 1], coded[..., 2]


@pytest.mark.parametrize("height", [530, 1021, 1040])
@pytest.mark.parametrize("rows", [8, 16])
def test_edges_are_medians_of_their_blocks(height, rows):
    image = grainy(height, 83)
    seen = read_planes(image, rows)
    light, *colours = planes_of(image)
    for got, plane, is_colour in (
        (seen.light_edges, light[:, :80], False),
        *((one, plane[:, :80:2], True) for one, plane in zip(
            seen.colour_edges, colours, strict=True)),
    ):  # fmt: skip
        beside = 8 if is_colour else 2
        tops = range(rows, height - beside, rows)
        assert got.shape == (4, len(tops), 10)
        for edge, top in enumerate(tops):
            near = plane[top - 6 : top + 6] if is_colour else plane[top - 2 : top + 2]
            if is_colour:
                near = (near[::2] + near[1::2]) / 2
            half = len(near) // 2
            above, below = near[1] - near[0], near[-1] - near[-2]
            sides = near[half - 1 : half + 1]
            wanted = (
                sides[1] - sides[0] - (above + below) / 2,
                abs(above),
                abs(below),
                (sides.min(axis=0) < 30) | (sides.max(axis=0) > 225),
            )
            for one, values in zip(got[:, edge], wanted, strict=True):
                blocks = np.float64(values).reshape(10, -1)
                assert np.array_equal(one, np.median(blocks, axis=1))


def test_sums_and_ends_are_those_of_the_planes():
    image = grainy(530, 83)
    seen = read_planes(image, 16)
    light, *colours = planes_of(image)
    for sums, plane in zip(
        (seen.light_sums, *seen.colour_sums), (light, *colours), strict=True
    ):
        assert np.array_equal(sums, plane[:, :80].reshape(530, 10, 8).sum(axis=2))
    # 34 rows of blocks; the last one is cut short.
    assert seen.ends.shape == (34, 2, 80)
    assert np.array_equal(seen.ends[3], light[[48, 63], :80])
    assert np.array_equal(seen.ends[-1], light[[528, 529], :80])


def test_a_grey_picture_has_no_colour():
    seen = read_planes(grainy(64, 64).convert("L"), 8)
    assert seen.colour_edges == seen.colour_sums == ()
