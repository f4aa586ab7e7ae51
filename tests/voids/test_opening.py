"""Openings drawn by the network: its file, what it is told, what is made of it."""

import hashlib
import json

import cv2
import numpy as np
import pytest

from analysis.flags import Flag
from analysis.imaging.photo import read_photo
from analysis.services.measuring import measure
from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.synthetic.face import encode
from analysis.synthetic.scene import Lamp
from analysis.voids.candidates import Candidates
from analysis.voids.judging import NAMES, judging_features, void_probability
from analysis.voids.opening import network
from analysis.voids.opening.openings import own_part, seed_frames
from analysis.voids.opening.planes import (
    PATCH_PX,
    PLANES,
    Frames,
    lay_planes,
    pyramid,
    read_patches,
    read_seeds,
)
from analysis.voids.shapes import region_pixels
from tests.support.painting import noisy, painted, pitted, segmented


@pytest.fixture(scope="module")
def side_lit():
    pits = PitPopulation(per_m2=9000, median_mm=2.4, spread=0.4, smallest_mm=1.2)
    recipe = FaceRecipe(
        height_px=500,
        width_px=700,
        mm_per_px=0.12,
        pits=(pits,),
        lamp=Lamp(azimuth_deg=160, elevation_deg=40, strength=0.7, sky=0.3),
    )
    return draw_face(recipe, seed=21)


def frame(row, col, half, label=1):
    one = np.array([1.0])
    return Frames(
        row_px=row * one, col_px=col * one, half_px=half * one, label=np.array([label])
    )


def some_candidates(depth, noise):
    flat = np.ones(len(depth))
    return Candidates(
        labels=np.zeros((50, 50), np.int32),
        area_px=20 * flat,
        depth=depth,
        noise=noise,
        edge_px=3 * flat,
        background=0.4 * flat,
        step=flat,
    )


class TestItsFile:
    def test_the_record_is_of_this_file(self):
        record = json.loads(network.RECORD.read_text(encoding="utf-8"))
        data = network.WEIGHTS.read_bytes()
        assert hashlib.sha256(data).hexdigest() == record["sha256"]
        assert len(data) < 1_000_000
        assert record["weights"] <= 150_000

    def test_another_file_is_not_used(self, tmp_path, monkeypatch):
        other = tmp_path / "opening.onnx"
        other.write_bytes(network.WEIGHTS.read_bytes()[:-1] + b"x")
        monkeypatch.setattr(network, "WEIGHTS", other)
        network.record.cache_clear()
        try:
            assert network.record() is None
        finally:
            network.record.cache_clear()

    def test_answers_do_not_hang_on_the_batch(self):
        rng = np.random.default_rng(3)
        planes = rng.standard_normal((300, PLANES, PATCH_PX, PATCH_PX))
        planes = planes.astype(np.float32)
        together, alone = network.ask(planes), network.ask(planes[290:291])
        assert np.array_equal(together.opening[290], alone.opening[0])
        assert np.array_equal(together.void_logit[290], alone.void_logit[0])


class TestWhatItIsTold:
    def test_a_patch_lies_where_its_frame_lies(self):
        rows, cols = np.mgrid[:80, :90].astype(np.float32)
        for picture, middle in ((rows, 41.0), (cols, 37.5)):
            patch = read_patches(pyramid(picture), frame(41.0, 37.5, 12.0))[0]
            assert patch.mean() == pytest.approx(middle, abs=1e-3)
            assert np.ptp(patch) == pytest.approx(24 * 31 / 32, rel=1e-3)

    @pytest.mark.parametrize("half", [10.0, 30.0, 60.0, 140.0])
    def test_halved_photos_show_the_same_place(self, half):
        rows, cols = np.mgrid[:400, :400].astype(np.float32)
        patch = read_patches(pyramid(cols), frame(200.0, 190.0, half))[0]
        assert patch.mean() == pytest.approx(190.0, abs=0.05)
        assert rows.shape == cols.shape

    def test_the_dark_part_keeps_its_area(self):
        labels = np.zeros((60, 60), np.int32)
        labels[20:29, 30:37] = 4
        patch = read_seeds(labels, frame(24.0, 33.0, 12.0, label=4))[0]
        assert patch.sum() * (24 / 32) ** 2 == pytest.approx(63, rel=0.05)
        assert read_seeds(labels, frame(24.0, 33.0, 12.0, label=3)).max() == 0

    def test_contrast_is_of_the_patch_itself(self):
        near = np.full((1, PATCH_PX, PATCH_PX), 2.0, np.float32)
        near[0, 12:20, 12:20] = 1.0
        seed = (near < 1.5).astype(np.float32)
        planes = lay_planes(
            near, near, seed, frame(0, 0, 16.0), 1.0, np.array([0.05]), None
        )
        assert planes[0, 0].min() == pytest.approx(-0.5)
        assert planes[0, 1].min() == pytest.approx(-1.0)
        assert planes[0, 7:, 0, 0].tolist() == [0, 0, 0]

    def test_the_light_is_told_to_all(self):
        one = np.ones((2, PATCH_PX, PATCH_PX), np.float32)
        both = Frames(
            row_px=np.zeros(2), col_px=np.zeros(2), half_px=np.full(2, 16.0),
            label=np.array([1, 2]),
        )  # fmt: skip
        light = np.array([[0.3, -0.2], [0.3, -0.2]])
        planes = lay_planes(one, one, one, both, 1.0, np.full(2, 0.05), light)
        assert planes[:, 7:, 5, 5] == pytest.approx(np.array([[1, 0.3, -0.2]] * 2))


class TestWhatIsMadeOfIt:
    def test_only_the_part_with_the_dark_part_counts(self):
        drawn = np.zeros((1, 32, 32), np.float32)
        drawn[0, 3:9, 3:9] = drawn[0, 20:28, 20:28] = 0.9
        seed = np.zeros_like(drawn)
        seed[0, 22:24, 22:24] = 1
        kept = own_part(drawn, seed)
        assert kept[0, 20:28, 20:28].min() > 0.8
        assert kept[0, :12, :12].max() == 0

    def test_frames_hold_their_regions_in_the_middle(self):
        labels = np.zeros((90, 90), np.int32)
        labels[40:50, 60:64] = 1
        found = seed_frames(region_pixels(labels, 1))
        assert (found.row_px[0], found.col_px[0]) == (44.5, 61.5)
        assert found.half_px[0] == 20

    def test_likelier_with_every_reason(self):
        plain = np.array([[0.0, 0.5, 0.8, 3.0, 0.5, 2.0]])
        assert len(NAMES) == plain.shape[1]
        for at in range(5):
            more = plain.copy()
            more[0, at] += 0.5
            assert void_probability(more) > void_probability(plain)

    def test_fainter_candidates_do_not_change_what_the_face_is_like(self):
        depth, noise = np.array([0.9, 0.8, 0.3]), np.full(3, 0.08)
        features = judging_features(some_candidates(depth, noise), np.zeros(3), 2.5)
        alone = judging_features(
            some_candidates(depth[:2], noise[:2]), np.zeros(2), 2.5
        )
        assert features[:2] == pytest.approx(alone)

    def test_candidates_in_sand_do_not_change_what_the_face_is_like(self):
        depth, noise = np.array([0.9, 0.8, 0.7]), np.full(3, 0.08)
        logit, in_sand = np.array([4.0, 3.0, -5.0]), np.array([False, False, True])
        features = judging_features(some_candidates(depth, noise), logit, 2.5, in_sand)
        alone = judging_features(some_candidates(depth[:2], noise[:2]), logit[:2], 2.5)
        assert features[:2] == pytest.approx(alone)

    def test_lit_floors_belong_to_the_void(self, side_lit):
        found = segmented(side_lit.pixels, smallest_px2=12, mm_per_px=0.12)
        opening = side_lit.labels > 0
        both = (found.mask & opening).sum() / (found.mask | opening).sum()
        assert both > 0.75
        assert found.by_network

    def test_same_bytes_with_any_number_of_threads(self, side_lit):
        results, before = [], cv2.getNumThreads()
        try:
            for threads in (1, 2, 4):
                cv2.setNumThreads(threads)
                found = segmented(side_lit.pixels, smallest_px2=12, mm_per_px=0.12)
                results.append((found.mask.tobytes(), found.voids.area_px.tobytes()))
        finally:
            cv2.setNumThreads(before)
        assert len(set(results)) == 1

    def test_clean_face_has_none(self):
        found = segmented(noisy(painted(np.full((200, 300), 0.4)), 2))
        assert len(found.voids) == 0

    def test_spots_in_a_pepper_of_faint_specks(self):
        specks = [(15 + 22 * i, 12 + 23 * j, 1.6) for i in range(8) for j in range(12)]
        light = pitted((200, 300), specks, background=0.4, floor=0.3)
        pits = pitted((200, 300), [(100, 150, 7)], background=1.0, floor=0.1)
        found = segmented(noisy(painted(light * pits), 2))
        assert found.mask[100, 150]
        assert len(found.voids) < 20


class TestWithoutIt:
    def test_the_reading_says_so(self, side_lit, monkeypatch):
        photo = read_photo(encode(side_lit))
        usual, _ = measure(photo)
        monkeypatch.setattr(network, "record", lambda: None)
        dark, mask = measure(photo)
        assert Flag.BY_DARKNESS in dark.flags
        assert Flag.BY_DARKNESS not in usual.flags
        assert dark.method_version != usual.method_version
        assert mask.any()
        assert dark.summary.void_share.value > 0
