"""Scoring of outlined photos, on outlines drawn by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks import real_crops, real_faces, real_summary, scoring

SQUARE = {"shape": "polygon", "data": [10, 10, 20, 10, 20, 20, 10, 20]}
FULL, RING = real_crops.Rule(), real_crops.Rule(mode="ring")


def labels_of(*voids, shape=(40, 40)):
    return real_crops.outline_labels(list(map(real_crops.outline_points, voids)), shape)


def test_a_polygon_of_whole_pixels_fills_just_those():
    labels = labels_of(SQUARE)
    assert labels.sum() == 100
    assert labels[10:20, 10:20].all()


def test_both_ways_of_noting_an_outline_agree():
    flat = {"shape": "ellipse", "data": [20.3, 15.4, 6, 4, 0]}
    named = {"type": "ellipse", "cx": 20.3, "cy": 15.4, "rx": 6, "ry": 4}
    first = labels_of(flat)
    assert np.array_equal(first, labels_of(named))
    assert first.sum() == pytest.approx(np.pi * 24, rel=0.04)


def test_an_ellipse_turns_clockwise_on_screen():
    points = real_crops.ellipse_points(0, 0, 5, 1, 90)
    assert points[0] == pytest.approx([0, 5])


def test_full_drops_specks_and_what_is_ignored():
    true = labels_of(SQUARE)
    ignore = np.zeros((40, 40), bool)
    ignore[:, 25:] = True
    found = np.zeros((40, 40), np.int32)
    found[10:20, 10:20] = 1
    found[30:33, 5:8] = 2  # 9 px: a speck
    found[5:15, 28:38] = 3  # ignored
    score = real_crops.score_crop(true, ignore, found, FULL)
    assert score.hits.f1 == 1
    assert score.share_ratio == pytest.approx(1)
    found[30:34, 5:9] = 2  # 16 px: wrong
    assert real_crops.score_crop(true, ignore, found, FULL).hits.wrong == 1


def test_a_void_wins_over_the_ignored():
    true = labels_of(SQUARE)
    score = real_crops.score_crop(true, np.ones((40, 40), bool), true, FULL)
    assert score.hits.recall == 1
    assert score.mean_iou == 1


def test_ring_scores_near_the_outlines_only():
    true = labels_of(SQUARE)
    found = np.zeros((40, 40), np.int32)
    found[5:25, 5:25] = 1
    found[30:38, 30:38] = 2
    score = real_crops.score_crop(true, np.zeros((40, 40), bool), found, RING)
    assert (score.hits.right, score.hits.wrong) == (1, 0)
    assert 2 < score.share_ratio <= 2.56


def test_the_wall_is_judged_by_its_majors():
    voids = [
        {
            "tier": "major",
            "type": "polygon",
            "points": [[5, 5], [15, 5], [15, 15], [5, 15]],
        },
        {
            "tier": "minor",
            "type": "polygon",
            "points": [[30, 30], [32, 30], [32, 32], [30, 32]],
        },
    ]
    found = np.zeros((40, 40), np.int32)
    found[5:15, 10:20] = 1
    wall = real_faces.score_wall(voids, np.zeros((40, 40), bool), found)
    assert (wall["majors"], wall["found"]) == (1, 1)
    assert wall["iou"] == pytest.approx(50 / 150)
    assert wall["all_percent"] == pytest.approx(100 * 104 / 1600)
    assert wall["counted_percent"] == pytest.approx(100 * 100 / 1600)


def test_a_crack_band_leaves_the_pits_out():
    band = real_faces.crack_band([[[0, 20], [40, 20]]], [[20, 20, 4, 4, 0]], (40, 40))
    assert band[20, 5]
    assert not band[20, 20]
    assert not band[30, 5]


def test_an_absent_folder_is_said_in_words(monkeypatch, tmp_path):
    monkeypatch.setenv("STRUCKFACE_REAL_FACES", str(tmp_path / "none"))
    assert real_faces.folder() is None
    assert "STRUCKFACE_REAL_FACES" in list(real_faces.report(None))[-1]


def test_the_three_ways_of_noting_a_polygon_agree():
    corners = [[10, 10], [20, 10], [20, 20], [10, 20]]
    first = labels_of(SQUARE)
    assert np.array_equal(first, labels_of({"polygon": corners}))
    assert np.array_equal(first, labels_of({"type": "polygon", "points": corners}))
    assert real_crops.polygon_area(corners) == 100


def test_small_outlines_only_excuse_what_hits_them():
    true = np.zeros((40, 40), np.int32)
    true[5:15, 5:15], true[30:32, 30:32] = 1, 2
    found = np.where(true == 1, 1, 0)
    found[30:33, 30:34] = 2  # 12 px on the small one
    rule = real_crops.Rule(from_px=3.0, speck_px2=7.0)
    score = real_crops.score_crop(true, np.zeros((40, 40), bool), found, rule)
    assert (score.hits.right, score.hits.missed, score.hits.wrong) == (1, 0, 0)
    assert score.share_ratio == pytest.approx(1)
    found[20:23, 30:33] = 3  # 9 px beside it: wrong, and in the share
    worse = real_crops.score_crop(true, np.zeros((40, 40), bool), found, rule)
    assert worse.hits.wrong == 1
    assert worse.share_ratio == pytest.approx(1.09)


def test_a_face_is_what_the_background_leaves():
    ignore = np.zeros((120, 160), bool)
    ignore[:, :60] = True  # reaches the border: background
    ignore[50:80, 90:120] = True  # a doubtful place on the face
    (outline,) = real_crops.face_outlines(ignore)
    assert outline.min(axis=0).tolist() == [60, 0]
    assert outline.max(axis=0).tolist() == [159, 119]


def crop_of(*outlines, rule=FULL):
    return real_crops.Crop(
        key="X",
        rule=rule,
        image=np.full((80, 80, 3), 128, np.uint8),
        outlines=tuple(np.asarray(points, float) for points in outlines),
        ignore=np.zeros((80, 80), bool),
    )


@pytest.mark.parametrize(
    ("view", "shape", "area_px"),
    [
        ("enlarged, blurred", (160, 160), 400),
        ("moved", (80, 80), 100),
        ("squeezed", (80, 20), 25),
    ],
)
def test_outlines_follow_the_view(view, shape, area_px):
    crop = crop_of([[20, 20], [30, 20], [30, 30], [20, 30]])
    seen = real_crops.VIEWS[view](crop)
    assert seen.image.shape[:2] == seen.ignore.shape == shape
    assert real_crops.polygon_area(seen.outlines[0]) == pytest.approx(area_px)


def test_motion_smears_along_the_row_only():
    crop = crop_of()
    crop.image[40, 40] = 128 - 70
    seen = real_crops.moved(crop).image
    assert seen[40, 37:44, 0].tolist() == [118] * 7
    assert np.all(np.delete(seen, 40, axis=0) == 128)


def test_views_ask_for_what_can_be_counted():
    small = [[20, 20], [23, 20], [23, 23], [20, 23]]  # 9 px2, squeezed 2.25
    seen = real_crops.squeezed(crop_of(small))
    assert seen.diameters_px[0] < seen.rule.from_px
    assert seen.rule.from_px == pytest.approx(np.sqrt(16 / np.pi))


def row(key, group, right, missed, **given):
    hits = scoring.Hits(right=right, missed=missed, wrong=0)
    return real_faces.Row(key=key, what="crop", group=group, hits=hits, **given)


def test_means_are_of_the_view_that_is_judged():
    group = real_summary.SEEN
    rows = [
        row("N3", group, 0, 4),
        row("N3", group, 4, 0, view="face"),
        row("P8", group, 2, 2),
        row("P8", group, 1, 3, view="moved"),
    ]
    means = {what: figure for what, figure, *_ in real_summary.group_means(rows)}
    assert means[f"{group}: mean recall"] == 0.75
    assert means["moved: mean recall"] == 0.25
    lines = list(real_summary.leave_one_out_lines(rows))
    assert lines[0].endswith("| no N3 | no P8 |")
    recall = next(line for line in lines if f"{group}: mean recall" in line)
    assert recall.split("|")[2:-1] == [" 0.750 ", " 0.500 ", " 1.000 "]


@pytest.mark.parametrize(
    ("figure", "sign", "limit", "good"),
    [(0.9, ">=", 0.9, True), (0.89, ">=", 0.9, False), (0.08, "<=", 0.08, True),
     (float("nan"), ">=", 0.9, False), (1.0, "", None, None)],
)  # fmt: skip
def test_a_mean_is_held_against_its_limit(figure, sign, limit, good):
    assert real_summary.reaches(figure, sign, limit) is good


def test_a_pattern_must_fit_one_file(tmp_path):
    with pytest.raises(FileNotFoundError, match="fits 0 files"):
        real_crops.only(tmp_path, "T2_*_crop.png")
