"""Void shares along single joints, against areas counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.imaging.joint_bands import joint_band_shares
from analysis.model.photo import Face, JointLine
from tests.support.readings import catalog, reading


def square(row, col, side):
    return np.array(
        [[row, col], [row, col + side], [row + side, col + side], [row + side, col]],
        dtype=float,
    )


def upright(col, name):
    return JointLine(line_px=np.array([[0.0, col], [99.0, col]]), name=name)


def read(joints, squares, **face):
    outlines = tuple(square(*one) for one in squares)
    areas = tuple(float(one[2] ** 2) for one in squares)
    return reading(
        catalog(areas, outline_px=outlines),
        mm_per_px=0.5,
        width_px=200,
        height_px=100,
        face=Face(joints=joints, joint_band_mm=5.0, **face),
    )


def test_each_joint_has_its_own_share():
    found = joint_band_shares(
        read(
            (upright(20.0, "left"), upright(180.0, "right")),
            [(40, 15, 10), (50, 90, 9)],
        )
    )

    assert found == {"left": pytest.approx(100 / 2100), "right": 0.0}


def test_voids_below_the_smallest_size_are_left_out():
    one = read((upright(20.0, "left"),), [(40, 15, 10), (70, 15, 2)])

    all_of_them = joint_band_shares(one)["left"]
    large = joint_band_shares(one, smallest_mm=2.0)["left"]

    assert all_of_them == pytest.approx(104 / 2100)
    assert large == pytest.approx(100 / 2100)


def test_what_lies_near_two_joints_counts_for_neither():
    found = joint_band_shares(
        read((upright(20.0, "a"), upright(30.0, "b")), [(40, 22, 6), (60, 12, 4)])
    )

    # each keeps the 10 columns that the other does not reach
    assert found == {"a": pytest.approx(16 / 1000), "b": 0.0}


def test_outline_and_left_out_areas_bound_the_band():
    outline = np.array([[0.0, 0.0], [0.0, 200.0], [50.0, 200.0], [50.0, 0.0]])
    found = joint_band_shares(
        read(
            (upright(20.0, "left"),),
            [(10, 15, 10), (70, 15, 10)],
            outline_px=outline,
            left_out_px=(square(30, 0, 20),),
        )
    )

    # 50 rows of 21 columns, less 20 rows of the 10 columns below column 20
    assert found == {"left": pytest.approx(100 / (50 * 21 - 20 * 10))}


def test_nothing_without_scale_or_names():
    assert joint_band_shares(reading(mm_per_px=None)) == {}
    assert joint_band_shares(read((upright(20.0, ""),), [(40, 15, 10)])) == {}
