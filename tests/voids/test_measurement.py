"""The figures of a reading and their intervals."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from analysis.model.photo import Scale
from analysis.voids.measurement import (
    log_interval,
    measured_interval,
    smallest_counted,
    summarize,
)
from tests.support.painting import grey, painted, pitted, scattered, segmented

SHAPE = (400, 500)


def scale(mm_per_px):
    return Scale(mm_per_px=mm_per_px, relative_uncertainty=0.01, method="typed")


def summary_of(pixels, mm_per_px=0.1, smallest_mm=None, band=None, face=None):
    known = None if mm_per_px is None else scale(mm_per_px)
    size_mm, size_px2 = smallest_counted(known, smallest_mm)
    face = np.ones(pixels.shape[:2], bool) if face is None else face
    found = segmented(pixels, face=face, smallest_px2=size_px2, mm_per_px=mm_per_px)
    return found, summarize(found, face, band, known, size_mm, size_px2)


@pytest.fixture
def face():
    pits = scattered(SHAPE, 30, (4, 9), np.random.default_rng(1))
    return painted(pitted(SHAPE, pits)), pits


class TestSmallest:
    @pytest.mark.parametrize(
        ("mm_per_px", "asked", "size"),
        [(0.1, None, 0.5), (0.25, None, 1.0), (0.1, 2.0, 2.0), (0.25, 0.3, 0.3)],
    )
    def test_size(self, mm_per_px, asked, size):
        size_mm, area = smallest_counted(scale(mm_per_px), asked)
        assert size_mm == size
        assert area * mm_per_px**2 == pytest.approx(np.pi / 4 * size**2)

    def test_without_scale(self):
        assert smallest_counted(None, None) == (None, 4)


class TestMeasuredInterval:
    def test_none_found(self):
        """Garwood (1936): no event seen, upper 97.5 % limit of the mean 3.689."""
        upper = -np.log(0.025)
        low, high = measured_interval(0.0, (0.0, 0.0), 1e-4)
        assert low == 0
        assert high == pytest.approx(upper * 1e-4, rel=1e-3)
        assert upper == pytest.approx(stats.chi2.ppf(0.975, 2) / 2)

    @pytest.mark.parametrize("share", [1e-5, 0.003, 0.2, 0.99])
    def test_holds_the_value_within_0_and_1(self, share):
        low, high = measured_interval(share, (-0.3, 0.3), 1e-5)
        assert 0 <= low < share < high <= 1

    def test_grows_with_its_parts(self):
        shares = np.linspace(0.001, 0.5, 40)
        ends = np.array([measured_interval(s, (-0.2, 0.3), 1e-4) for s in shares])
        assert (np.diff(ends, axis=0) > 0).all()
        narrow = measured_interval(0.01, (-0.1, 0.1), 1e-5)
        wide = measured_interval(0.01, (-0.2, 0.2), 1e-4)
        assert wide[0] < narrow[0]
        assert narrow[1] < wide[1]

    def test_all_may_be_grains(self):
        assert measured_interval(0.05, (-np.inf, 0.2), 1e-4)[0] == 0

    def test_holds_the_truth_on_clear_pits(self, face):
        pixels, pits = face
        found, summary = summary_of(pixels)
        share = summary.void_share
        truth = np.pi * (pits[:, 2] ** 2).sum() / found.mask.size
        # Even grey discs come out a little large; drawn pits do not.
        assert share.low <= 1.01 * truth <= share.high
        assert log_interval(found)[0] < log_interval(found)[1]

    def test_more_alike_voids_narrow_it(self):
        def width(count):
            pits = scattered(SHAPE, count, (7, 8), np.random.default_rng(2))
            low, high = log_interval(summary_of(painted(pitted(SHAPE, pits)))[0])
            return high - low

        assert width(15) < width(3)


class TestFaintVoids:
    """Where even the usual void is faint, fainter ones of the same kind are missed."""

    def upper(self, face, contrast):
        found = summary_of(face[0])[0]
        same = np.full(len(found.voids), contrast)
        return log_interval(replace(found, voids=replace(found.voids, contrast=same)))

    def test_the_fainter_the_higher_the_upper_end(self, face):
        highs = [self.upper(face, c)[1] for c in (0.6, 0.42, 0.37, 0.32)]
        assert highs[0] == highs[1] < highs[2] < highs[3]
        # Drawn faces so faint held up to 2.7 times what was found.
        assert np.exp(highs[3] - highs[0]) == pytest.approx(np.e)

    def test_the_lower_end_stays(self, face):
        assert self.upper(face, 0.32)[0] == self.upper(face, 0.6)[0]


class TestSummary:
    def test_sums(self, face):
        pixels, pits = face
        found, summary = summary_of(pixels)
        assert summary.void_count == len(pits)
        assert summary.face_area_px == pixels[..., 0].size
        assert summary.face_area_mm2 == pytest.approx(pixels[..., 0].size * 0.01)
        assert summary.void_area_px == found.voids.area_px.sum()
        assert summary.void_area_mm2 == pytest.approx(summary.void_area_px * 0.01)
        assert summary.void_share.value == pytest.approx(
            summary.void_area_px / summary.face_area_px
        )
        assert summary.voids_per_m2 == pytest.approx(len(pits) / (40 * 50) * 1e6)
        diameter = found.voids.equivalent_diameter_px.max() * 0.1
        assert summary.largest_void_mm == pytest.approx(diameter)
        assert summary.smallest_counted_px == pytest.approx(5)

    def test_without_scale_nothing_is_in_mm(self, face):
        _, summary = summary_of(face[0], mm_per_px=None)
        assert summary.void_count == 30
        for name in (
            "face_area_mm2",
            "void_area_mm2",
            "voids_per_m2",
            "largest_void_mm",
            "smallest_counted_mm",
        ):
            assert getattr(summary, name) is None

    def test_sampled_interval_is_the_wider_one(self, face):
        _, summary = summary_of(face[0])
        shown, cast = summary.void_share, summary.sampled_share
        assert cast.value == shown.value
        assert cast.low <= shown.low < shown.high <= cast.high

    def test_no_void(self):
        _, summary = summary_of(grey(np.full(SHAPE, 150)))
        assert summary.void_count == 0
        assert summary.void_share.value == summary.void_share.low == 0
        # Area of one smallest void of 0.5 mm times 3.689 (Garwood 1936).
        hidden = 3.689 * np.pi / 4 * 0.5**2 / (40 * 50)
        assert summary.void_share.high == pytest.approx(hidden, rel=1e-3)
        assert summary.sampled_share.high >= summary.void_share.high
        assert summary.largest_void_mm == 0
        assert summary.honeycomb_share == 0

    def test_a_larger_smallest_size_counts_less(self, face):
        shares = [
            summary_of(face[0], smallest_mm=size)[1].void_share.value
            for size in (0.5, 1.0, 1.4, 1.7, 3.0)
        ]
        assert shares == sorted(shares, reverse=True)
        assert shares[0] > shares[3] > shares[-1] == 0

    def test_band_and_open_face(self):
        pits = [(30, 60, 8), (30, 140, 8), (30, 220, 8), (300, 400, 8)]
        band = np.zeros(SHAPE, bool)
        band[:100] = True
        found, summary = summary_of(painted(pitted(SHAPE, pits)), band=band)
        void = np.pi * 64
        assert summary.joint_band_share == pytest.approx(
            3 * void / (100 * 500), rel=0.1
        )
        assert summary.open_face_share == pytest.approx(void / (300 * 500), rel=0.1)
        both = summary.joint_band_share * 100 + summary.open_face_share * 300
        assert both / 400 == pytest.approx(found.mask.mean())

    def test_without_joints_no_band(self, face):
        _, summary = summary_of(face[0])
        assert summary.joint_band_share is summary.open_face_share is None

    def test_a_band_over_all_leaves_no_open_face(self, face):
        _, summary = summary_of(face[0], band=np.ones(SHAPE, bool))
        assert summary.open_face_share is None
        assert summary.joint_band_share > 0
