"""From stored readings to the map and what stands out, up turned to the top."""

from __future__ import annotations

import re

import numpy as np
import pytest

from analysis.imaging.face_grid import face_grid
from analysis.model.photo import Face, JointLine
from analysis.services import diagnosis, example
from analysis.services import log as log_service
from tests.support.drawn_faces import HEIGHT, WIDTH, drawn, reading_of


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    kept = log_service.open_log(tmp_path_factory.mktemp("example"))
    example.build_example(kept)
    return kept


@pytest.fixture(scope="module")
def pixels():
    return np.array(drawn().pixels)


def reading(pixels, **face):
    found, _ = reading_of(pixels, face=Face(**face))
    return found


def test_open_joint_of_the_example_is_named(log):
    (form,) = (one for one in log_service.forms(log) if one.name == "Trough B")
    found = diagnosis.of_form(log, form.id)[""]

    assert found.placement.faces >= 3
    assert {one.where for one in found.named} == {"left"}
    assert "joint" in found.causes[0].cause
    assert found.placement.thirds_per_m2 is not None


def test_piece_without_a_scale_has_no_map(pixels):
    found, _ = reading_of(pixels, mm_per_px=None)

    assert diagnosis.diagnose([found]) is None
    assert face_grid(found) is None


def test_grid_holds_what_was_marked(pixels):
    left_out = np.array(
        [[100.0, 100.0], [100.0, 160.0], [160.0, 160.0], [160.0, 100.0]]
    )
    slope = np.array([[0.0, 0.0], [0.0, WIDTH], [80.0, WIDTH], [80.0, 0.0]])
    line = np.array([[0.0, 300.0], [HEIGHT, 300.0]])
    found = reading(
        pixels,
        left_out_px=(left_out,),
        sloped_px=(slope,),
        joints=(JointLine(line_px=line, name="left"),),
        joint_band_mm=3.0,
        up="right",
    )
    grid = face_grid(found)
    cell_px = grid.cell_mm / found.scale.mm_per_px

    assert np.count_nonzero(~grid.on_face) * cell_px**2 == pytest.approx(3600, rel=0.05)
    assert grid.sloped.mean() == pytest.approx(80 / HEIGHT, rel=0.05)
    assert (grid.joint == 1).mean() == pytest.approx(40 / WIDTH, rel=0.06)
    assert grid.by_insert.any()
    assert grid.height[0, 0] < 0.05
    assert grid.height[0, -1] > 0.95
    assert len(grid.row) == found.summary.void_count


def test_voids_near_two_joints_count_for_neither(pixels):
    lines = (
        JointLine(line_px=np.array([[0.0, 200.0], [HEIGHT, 200.0]]), name="a"),
        JointLine(line_px=np.array([[0.0, 215.0], [HEIGHT, 215.0]]), name="b"),
    )
    grid = face_grid(reading(pixels, joints=lines, joint_band_mm=3.0))

    assert set(np.unique(grid.joint).tolist()) == {-1, 0, 1, 2}


@pytest.mark.parametrize(
    ("up", "x", "y"), [("top", 30, 10), ("right", 10, -30), ("bottom", -30, -10)]
)
def test_map_turns_what_was_up_to_the_top(pixels, up, x, y):
    found = reading(pixels, up=up)
    mapped = diagnosis._mapped(found)
    voids = found.voids
    scale = found.scale.mm_per_px
    turned = {
        "top": (voids.col_px, voids.row_px),
        "right": (voids.row_px, -voids.col_px),
        "bottom": (-voids.col_px, -voids.row_px),
    }[up]

    assert np.allclose(mapped.voids_mm[:, 0], turned[0] * scale)
    assert np.allclose(mapped.voids_mm[:, 1], turned[1] * scale)
    assert np.sign(x) == np.sign(mapped.outline_mm[:, 0].sum())
    assert np.sign(y) == np.sign(mapped.outline_mm[:, 1].sum())


def test_map_draws_each_void_and_says_names_literally(pixels):
    name = "<b>&left"
    line = np.array([[0.0, 300.0], [HEIGHT, 300.0]])
    found = reading(pixels, joints=(JointLine(line_px=line, name=name),), up="top")
    svg = diagnosis.diagnose([found]).svg

    assert svg.count("<circle") == found.summary.void_count
    assert "&lt;b&gt;&amp;left" in svg
    assert "up, as cast" in svg
    assert re.search(r"\d+ mm</text>", svg)


def test_sloped_part_is_kept_in_the_log():
    from analysis.storage.packing import pack_face, unpack_face  # noqa: PLC0415

    slope = np.array([[0.0, 0.0], [0.0, 90.0], [80.0, 90.0]])
    (kept,) = unpack_face(pack_face(Face(sloped_px=(slope,)))).sloped_px
    older = pack_face(Face())
    del older["sloped_px"]

    assert np.array_equal(kept, slope)
    assert unpack_face(older).sloped_px == ()
