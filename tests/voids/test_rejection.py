"""Marks that are no voids, and the words they are turned down with."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from analysis.model.reading import REJECTED_KINDS
from analysis.voids import completion, segmentation
from analysis.voids.quality_flags import is_speckled
from analysis.voids.rejection import (
    WORDS,
    Evidence,
    broad_stains,
    clear_marks,
    enough_beside_voids,
    evidence_of_voids,
    several_clear,
)
from tests.benchmarks.lights import measure_in
from tests.support.painting import GROUND, disc, noisy, painted, pitted, segmented

SHAPE = (300, 400)
PITS = [(40, 60, 5), (60, 330, 7), (250, 60, 5), (240, 340, 8), (30, 200, 4)]


def lined(points, width_px=2, light=None, level=0.05):
    """Linear light with a dark polyline of (x, y), soft as a lens draws it."""
    light = np.full(SHAPE, GROUND) if light is None else light.copy()
    at = np.int32(np.rint(np.array(points) * 16))
    cv2.polylines(light, [at], isClosed=False, color=level, thickness=width_px, shift=4)
    return cv2.GaussianBlur(light, (0, 0), 0.7)


def stained(light, row, col, sigma, strength):
    rows, cols = np.ogrid[: light.shape[0], : light.shape[1]]
    off = (rows - row) ** 2 + (cols - col) ** 2
    return light * (1 - strength * np.exp(-off / (2 * sigma**2)))


def test_every_rejected_kind_has_words():
    # A shadow running out, sand and a broken arris have reasons of their own.
    assert set(WORDS) == {*REJECTED_KINDS, "edge", "unsure", "sand", "arris"}
    assert all(WORDS.values())


class TestLines:
    @pytest.mark.parametrize("length", [40, 90, 180, 260])
    @pytest.mark.parametrize("degrees", [0, 23, 45, 90])
    def test_straight_line_never_counts(self, length, degrees):
        x, y = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
        ends = [(200 - x * length / 2, 150 - y * length / 2)]
        ends += [(200 + x * length / 2, 150 + y * length / 2)]
        found = segmented(noisy(painted(lined(ends))))
        assert len(found.voids) == 0
        if length < 200:
            assert set(found.rejected.kind) <= {"crack", "joint_or_fin"}
            assert len(found.rejected) >= 1

    def test_flat_line_has_its_words(self):
        found = segmented(noisy(painted(lined([(150, 150), (250, 150)]))))
        assert found.rejected.reason == (WORDS["joint_or_fin"],)
        assert found.rejected.elongation[0] > 10

    def test_crooked_line_is_a_crack(self):
        points = [(100, 90), (135, 120), (150, 100), (180, 150), (215, 140), (240, 190)]
        found = segmented(noisy(painted(lined(points))))
        assert len(found.voids) == 0
        assert "crack" in found.rejected.kind
        assert WORDS["crack"] in found.rejected.reason

    def test_right_across_a_face_with_pits(self):
        light = pitted(SHAPE, PITS)
        points = [(0, 150), (110, 165), (190, 140), (290, 170), (399, 150)]
        found = segmented(noisy(painted(lined(points, light=light))))
        assert len(found.voids) == len(PITS)
        assert not found.mask[125:185].any()

    def test_pit_on_a_faint_line_stays_a_void(self):
        light = lined([(140, 150), (250, 150)], level=0.9 * GROUND)
        cover = pitted(SHAPE, [(150, 200, 9)], background=1.0, floor=0.1)
        found = segmented(noisy(painted(light * cover)))
        assert found.voids.area_px == pytest.approx([np.pi * 81], rel=0.2)

    def test_a_round_piece_of_a_line_is_a_pit_on_it(self, monkeypatch):
        monkeypatch.setattr(
            segmentation, "on_lines", lambda *given: np.ones(given[3].count, bool)
        )
        light = pitted(SHAPE, PITS)
        cv2.ellipse(light, (200, 180), (20, 8), 30, 0, 360, 0.03, -1, cv2.LINE_AA)
        found = segmented(noisy(painted(light)))
        assert len(found.voids) == len(PITS)
        assert set(found.rejected.kind) == {"joint_or_fin"}

    def test_long_pit_is_no_line(self):
        """Pits at a grazing angle are seen long: 4.6 times on real photos."""
        light = np.full(SHAPE, GROUND)
        cv2.ellipse(light, (200, 150), (28, 9), 30, 0, 360, 0.03, -1, cv2.LINE_AA)
        found = segmented(noisy(painted(cv2.GaussianBlur(light, (0, 0), 0.7))))
        assert found.voids.area_px == pytest.approx([np.pi * 28 * 9], rel=0.18)


class TestStains:
    @pytest.mark.parametrize(
        ("sigma", "strength"), [(6, 0.5), (10, 0.5), (25, 0.6), (60, 0.6)]
    )
    def test_soft_dark_patch_beside_pits(self, sigma, strength):
        light = stained(pitted(SHAPE, PITS), 150, 200, sigma, strength)
        found = segmented(noisy(painted(light)))
        assert len(found.voids) == len(PITS)
        assert not found.mask[100:200, 120:280].any()
        # The rim of a broad one may be taken for a line.
        assert set(found.rejected.kind) <= {"stain", "crack"}

    @pytest.mark.parametrize("radius", [60, 90])
    def test_a_broad_faint_soft_mark_never_counts(self, radius):
        shape = (420, 560)
        pits = [(60, 60, 9), (70, 480, 8), (350, 90, 10), (360, 470, 8)]
        damp = cv2.GaussianBlur(disc(shape, 210, 280, radius), (0, 0), 12)
        light = pitted(shape, pits) * (1 - 0.3 * damp)
        found = segmented(noisy(painted(light), 1))
        assert len(found.voids) == len(pits)
        assert "stain" in found.rejected.kind

    def test_its_words(self):
        light = stained(pitted(SHAPE, PITS), 150, 200, 10, 0.5)
        found = segmented(noisy(painted(light)))
        assert found.rejected.reason == (WORDS["stain"],)
        assert found.rejected.rim_sharpness[0] < found.voids.rim_sharpness.min()

    def test_pits_in_a_stain_are_found_at_their_size(self):
        places = [(130, 180, 5), (160, 220, 6), (150, 260, 5)]
        dry = segmented(noisy(painted(pitted(SHAPE, places))))
        wet = segmented(
            noisy(painted(stained(pitted(SHAPE, places), 150, 200, 60, 0.6)))
        )
        assert len(wet.voids) == 3
        order = np.argsort(wet.voids.col_px), np.argsort(dry.voids.col_px)
        areas = wet.voids.area_px[order[0]] / dry.voids.area_px[order[1]]
        assert areas == pytest.approx(1, abs=0.1)

    def test_bloom_does_not_darken_what_is_around_it(self):
        rows, cols = np.ogrid[: SHAPE[0], : SHAPE[1]]
        bloom = np.exp(-((np.hypot(rows - 150, cols - 200) / 40) ** 4))
        light = 0.06 + 0.5 * bloom
        assert len(segmented(noisy(painted(light))).voids) == 0


def test_evidence_of_a_pit():
    light = pitted(SHAPE, PITS, background=0.4, floor=0.1, blur_px=0)
    found = segmented(painted(light)).voids
    assert found.contrast == pytest.approx(0.75, abs=0.05)
    assert found.rim_sharpness.min() > 0.8
    assert found.colour_shift.max() < 0.01
    assert found.elongation.max() < 1.1
    assert found.solidity.min() > 0.85


def test_a_coloured_spot_shifts_colour():
    pixels = painted(pitted(SHAPE, PITS))
    cv2.circle(pixels, (200, 150), 9, (90, 30, 20), -1)
    found = segmented(pixels)
    candidates = [found.voids, found.rejected]
    col, shift = (
        np.concatenate([getattr(some, name) for some in candidates])
        for name in ("col_px", "colour_shift")
    )
    tinted = (np.abs(col - 200) < 3) & (shift > 0.1)
    assert tinted.sum() == 1
    assert shift[~tinted].max() < 0.02


class TestBesideVoids:
    """A mark as deep as the face's many voids needs less certainty."""

    def enough(self, contrast=0.4, sharpness=0.6, voids=12):
        likely = np.append(np.full(voids, 0.9), 0.7)
        features = SimpleNamespace(
            contrast=np.append(np.full(voids, 0.5), contrast),
            rim_sharpness=np.append(np.ones(voids), sharpness),
        )
        shapes = SimpleNamespace(pixel_count=np.full(voids + 1, 80.0))
        return enough_beside_voids(features, shapes, likely)[-1]

    def test_the_nearer_its_depth_the_less(self):
        assert self.enough(0.25) == pytest.approx(0.85)
        assert self.enough(0.375) == pytest.approx(0.6)
        assert self.enough(0.6) == pytest.approx(0.6)

    def test_few_voids_tell_nothing(self):
        assert self.enough(voids=9) == np.inf
        assert self.enough(voids=10) < 1

    def test_damp_has_no_edge(self):
        assert self.enough(sharpness=0.39) == np.inf

    def test_faint_soft_pits_under_a_cloudy_sky(self):
        one = measure_in("red rubber, large", 0, "overcast", 77)
        assert one.ratio == pytest.approx(1, abs=0.06)


class TestEvidence:
    """Whether a face has voids at all, by its likeliest candidates."""

    def told(self, likely, contrast=0.4, size_px=40.0, count=1):
        full = np.ones(count)
        return evidence_of_voids(likely * full, contrast * full, size_px * full)

    def test_one_without_doubt_is_enough(self):
        assert self.told(0.96) is Evidence.SURE
        assert self.told(0.9, contrast=0.8) is Evidence.SURE

    def test_a_few_likely_ones_may_be_stains(self):
        assert self.told(0.9, count=9) is Evidence.NONE
        assert self.told(0.9, count=10) is Evidence.MANY

    def test_specks_are_no_evidence(self):
        assert self.told(0.99, size_px=6.0, count=50) is Evidence.NONE

    def test_no_candidate(self):
        assert self.told(0.0, count=0) is Evidence.NONE

    def test_many_without_one_sure_are_told_as_doubt(self, monkeypatch):
        light = pitted(SHAPE, PITS)
        usual = segmented(noisy(painted(light)))
        monkeypatch.setattr(segmentation, "_evidence", lambda *_: Evidence.MANY)
        doubted = segmented(noisy(painted(light)))
        assert not is_speckled(usual)
        assert is_speckled(doubted)


class TestClearMarks:
    """Sharp, deep marks far out of the noise show a face to have voids together."""

    def clear(self, likely=0.7, noise=0.03, on_line=False, size_px=20.0, **other):
        figures = {"contrast": 0.5, "rim_sharpness": 0.9, "colour_shift": 0.0}
        figures |= {"thinness": 2.0, **other}
        return bool(
            clear_marks(
                SimpleNamespace(**{k: np.array([v]) for k, v in figures.items()}),
                SimpleNamespace(pixel_count=np.array([size_px])),
                np.array([likely]),
                np.array([noise]),
                np.array([on_line]),
            )[0]
        )

    def test_a_pit_of_a_moved_photo(self):
        assert self.clear()

    @pytest.mark.parametrize(
        "other",
        [
            {"likely": 0.6},
            {"noise": 0.06},
            {"contrast": 0.35},
            {"rim_sharpness": 0.6},
            {"on_line": True},
            {"thinness": 4.5},
            {"size_px": 4.0},
            {"colour_shift": 0.012, "contrast": 0.42},
            {"size_px": 90.0, "contrast": 0.37},
        ],
    )
    def test_what_is_not_clear(self, other):
        assert not self.clear(**other)

    def several(self, places):
        shapes = SimpleNamespace(
            row_px=np.array([row for row, _ in places], dtype=float),
            col_px=np.array([col for _, col in places], dtype=float),
            feret_max_px=np.full(len(places), 6.0),
        )
        return several_clear(shapes, np.ones(len(places), dtype=bool))

    def test_several_show_a_face_to_have_small_voids(self):
        assert not self.several([(10, 10), (60, 200)])
        assert self.several([(10, 10), (60, 200), (150, 90)])
        one = np.ones(1)
        told = evidence_of_voids(one * 0.7, one * 0.5, one * 20, several_clear=True)
        assert told is Evidence.SEVERAL

    def test_in_one_row_they_are_chips(self):
        row = [(50 + col / 10, col) for col in range(10, 300, 40)]
        assert not self.several(row)
        assert not self.several([*row, (150, 90)])
        assert self.several([*row, (150, 90), (200, 20), (120, 300)])

    def test_very_many_are_grains(self):
        rng = np.random.default_rng(3)
        assert self.several(rng.uniform(0, 300, (25, 2)).tolist())
        assert not self.several(rng.uniform(0, 300, (26, 2)).tolist())

    def test_pits_of_a_moved_photo_count(self):
        light = cv2.blur(pitted(SHAPE, PITS, floor=0.1), (7, 1))
        found = segmented(noisy(painted(light)))
        assert len(found.voids) == len(PITS)


class TestBroadStains:
    """Broad marks that are faint, tinted or soft show no face to have voids."""

    def told(self, size_px=900.0, contrast=0.35, sharpness=1.0, shift=0.0):
        features = SimpleNamespace(
            contrast=np.array([contrast, 0.9]),
            rim_sharpness=np.array([sharpness, 1.0]),
            colour_shift=np.array([shift, 0.0]),
        )
        shapes = SimpleNamespace(pixel_count=np.array([size_px, 80.0]))
        return bool(broad_stains(features, shapes)[0])

    def test_a_faint_one(self):
        assert self.told()
        assert not self.told(contrast=0.6)

    def test_a_tinted_one(self):
        assert self.told(contrast=0.5, shift=0.012)
        assert not self.told(contrast=0.5)

    def test_a_soft_one(self):
        assert self.told(contrast=0.5, sharpness=0.3)

    def test_a_small_one_may_show_it(self):
        assert not self.told(size_px=200.0)

    def test_a_stain_that_the_network_takes_for_a_void(self, monkeypatch):
        monkeypatch.setattr(
            completion, "void_probability", lambda figures: np.full(len(figures), 0.97)
        )
        stain = disc(SHAPE, 150, 200, 14) * 0.3
        found = segmented(noisy(painted(GROUND * (1 - stain))))
        assert found.evidence is Evidence.NONE
        assert len(found.voids) == 0
        assert "stain" in found.rejected.kind
