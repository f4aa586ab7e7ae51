import json
import math
from datetime import UTC, datetime, timedelta
from importlib.metadata import version

import cv2
import numpy as np
import pytest
from PIL import Image

from analysis.errors import FaceError, InputError, ScaleError
from analysis.flags import Flag
from analysis.imaging.face import joint_band_mask
from analysis.imaging.photo import luminance
from analysis.model.photo import Face, JointLine
from analysis.model.reading import MeasureSettings
from analysis.services.photos import reading_answer
from analysis.synthetic import Pit
from analysis.voids.settings import METHOD_VERSION
from tests.support.drawn_faces import (
    HEIGHT,
    MM_PER_PX,
    WIDTH,
    box,
    drawn,
    outlined,
    percent_of,
    photo_of,
    reading_of,
)

FLAT = np.full((HEIGHT, WIDTH, 3), 160, np.uint8)


@pytest.fixture(scope="module")
def face():
    return drawn()


@pytest.fixture(scope="module")
def pixels(face):
    return np.array(face.pixels)


@pytest.fixture(scope="module")
def whole(pixels):
    return reading_of(pixels)


def places(voids, by=(0, 0)):
    # In order of their columns, of which no two are alike.
    rows, cols = voids.row_px - by[0], voids.col_px - by[1]
    return sorted(zip(rows, cols, strict=True), key=lambda place: place[1])


class TestFigures:
    def test_near_the_drawn_truth_and_its_interval_holds_it(self, face, whole):
        truth = face.share_of(face.smallest_counted_mm)
        found = whole[0].summary.void_share
        assert found.value == pytest.approx(truth, rel=0.15)
        assert found.low <= truth <= found.high
        assert whole[0].summary.void_count == pytest.approx(face.count_of(), abs=2)

    def test_figures_agree_with_each_other(self, whole):
        reading, mask = whole
        summary, voids = reading.summary, reading.voids
        assert summary.face_area_px == HEIGHT * WIDTH
        assert summary.face_area_mm2 == pytest.approx(HEIGHT * WIDTH * MM_PER_PX**2)
        assert summary.void_area_px == pytest.approx(voids.area_px.sum())
        assert summary.void_area_mm2 / summary.face_area_mm2 == pytest.approx(
            summary.void_share.value
        )
        assert summary.void_count == len(voids)
        assert summary.voids_per_m2 == pytest.approx(
            len(voids) / (summary.face_area_mm2 / 1e6)
        )
        assert summary.largest_void_mm == pytest.approx(
            math.sqrt(4 * voids.area_px.max() / math.pi) * MM_PER_PX
        )
        assert mask.shape == (HEIGHT, WIDTH)
        assert mask.sum() == pytest.approx(summary.void_area_px, rel=0.02)
        assert summary.sampled_share.low <= summary.void_share.low
        assert summary.sampled_share.high >= summary.void_share.high

    def test_every_void_is_marked_in_the_mask(self, whole):
        reading, mask = whole
        count, _ = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
        assert count - 1 <= len(reading.voids)
        for row, col in places(reading.voids):
            assert mask[
                round(row) - 1 : round(row) + 2, round(col) - 1 : round(col) + 2
            ].any()

    def test_a_pit_of_known_place_and_size(self):
        pit = Pit(row_mm=22, col_mm=31, diameter_mm=6)
        reading, _ = reading_of(np.array(drawn(pits=(), placed=(pit,)).pixels))
        assert reading.summary.void_count == 1
        assert reading.voids.row_px[0] * MM_PER_PX == pytest.approx(22, abs=0.5)
        assert reading.voids.col_px[0] * MM_PER_PX == pytest.approx(31, abs=0.5)
        assert reading.summary.largest_void_mm == pytest.approx(6, rel=0.13)
        assert reading.voids.kind.tolist() == ["bughole"]

    def test_what_it_rests_on_is_kept(self, pixels):
        photo = photo_of(pixels)
        marked = outlined(10, 10, 200, 300)
        reading, _ = reading_of(photo, face=marked, smallest_mm=1.5)
        assert reading.photo_sha256 == photo.sha256
        assert (reading.height_px, reading.width_px) == (HEIGHT, WIDTH)
        assert reading.face is marked
        assert reading.scale.mm_per_px == MM_PER_PX
        assert reading.settings.smallest_mm == 1.5
        assert reading.method_version == METHOD_VERSION
        assert dict(reading.library_versions)["numpy"] == version("numpy")
        assert reading.measured_at.utcoffset() == timedelta()
        assert abs(datetime.now(UTC) - reading.measured_at) < timedelta(minutes=1)


class TestSettings:
    def test_a_larger_smallest_size_counts_the_larger_ones_only(self, pixels, whole):
        reading, _ = reading_of(pixels, smallest_mm=2.0)
        sizes = whole[0].voids.equivalent_diameter_px * MM_PER_PX
        assert reading.summary.void_count == np.count_nonzero(sizes >= 2.0)
        assert reading.summary.smallest_counted_mm == 2.0
        assert (reading.voids.equivalent_diameter_px * MM_PER_PX).min() >= 2.0

    @pytest.mark.parametrize(("mm_per_px", "smallest"), [(0.1, 0.5), (0.15, 0.6)])
    def test_by_default_the_larger_of_half_a_mm_and_four_px(
        self, pixels, mm_per_px, smallest
    ):
        reading, _ = reading_of(pixels, mm_per_px=mm_per_px)
        assert reading.summary.smallest_counted_mm == pytest.approx(smallest)

    def test_scale_and_smallest_size_grown_alike_change_no_share(self, pixels):
        one, _ = reading_of(pixels, smallest_mm=1.0)
        two, _ = reading_of(pixels, smallest_mm=2.0, mm_per_px=2 * MM_PER_PX)
        assert two.summary.void_share.value == one.summary.void_share.value
        assert two.summary.void_area_mm2 == pytest.approx(4 * one.summary.void_area_mm2)
        assert two.summary.largest_void_mm == pytest.approx(
            2 * one.summary.largest_void_mm
        )

    def test_without_a_scale_nothing_is_in_mm(self, pixels, whole):
        reading, _ = reading_of(pixels, mm_per_px=None)
        summary = reading.summary
        assert summary.void_share.value == pytest.approx(
            whole[0].summary.void_share.value, rel=0.02
        )
        in_mm = (
            summary.face_area_mm2,
            summary.void_area_mm2,
            summary.voids_per_m2,
            summary.largest_void_mm,
            summary.smallest_counted_mm,
        )
        assert in_mm == (None,) * 5
        assert Flag.NO_SCALE in reading.flags
        # 4 px as an area.
        assert summary.smallest_counted_px == pytest.approx(math.sqrt(16 / math.pi))

    def test_a_size_in_mm_needs_a_scale(self, pixels):
        with pytest.raises(ScaleError, match="smallest size of 1 mm needs a scale"):
            reading_of(pixels, mm_per_px=None, smallest_mm=1.0)

    @pytest.mark.parametrize("size", [0, -1, math.nan, math.inf, 1001, "1"])
    def test_impossible_sizes(self, size):
        with pytest.raises(InputError, match="Smallest counted size must be"):
            MeasureSettings(smallest_mm=size)

    @pytest.mark.parametrize(
        ("mark", "text"),
        [
            (
                {"outline_px": [[0, 0], [0, math.nan], [9, 9]]},
                "Face outline has a point",
            ),
            ({"outline_px": [[0, 0], [0, 9]]}, "Face outline needs at least 3 points"),
            ({"left_out_px": ([[0, 0]],)}, "Left-out area needs at least 3 points"),
            ({"joint_band_mm": 0}, "Width of the joint band must be more than 0 mm"),
            ({"joint_band_mm": math.nan}, "Width of the joint band must be a finite"),
            ({"joint_band_mm": 1001}, "Width of the joint band must be at most"),
        ],
    )
    def test_impossible_marks(self, mark, text):
        with pytest.raises(FaceError, match=text):
            Face(**mark)

    @pytest.mark.parametrize(
        ("line", "text"),
        [
            ([[0, 0]], "needs at least 2 points"),
            ([[0, 0], [9, math.inf]], "not a finite"),
        ],
    )
    def test_impossible_joints(self, line, text):
        with pytest.raises(FaceError, match=f"Joint line .*{text}"):
            JointLine(line_px=line)


class TestOutline:
    @pytest.mark.parametrize("bench", [0, 90, 255])
    @pytest.mark.parametrize("origin", [(0, 0), (53, 7), (60, 80)])
    def test_the_same_face_inside_a_larger_photo(self, pixels, whole, bench, origin):
        larger = np.full((400, 500, 3), bench, np.uint8)
        top, left = origin
        larger[top : top + HEIGHT, left : left + WIDTH] = pixels
        reading, mask = reading_of(larger, face=outlined(top, left, HEIGHT, WIDTH))
        assert len(reading.voids) == len(whole[0].voids)
        assert (
            np.abs(
                np.subtract(places(reading.voids, origin), places(whole[0].voids))
            ).max()
            < 0.8
        )
        assert reading.summary.void_share.value == pytest.approx(
            whole[0].summary.void_share.value, rel=0.02
        )
        inside = np.zeros(larger.shape[:2], bool)
        inside[top : top + HEIGHT, left : left + WIDTH] = True
        assert not (mask & ~inside).any()
        assert mask.sum() == pytest.approx(whole[1].sum(), rel=0.02)
        for line in reading.voids.outline_px:
            assert (line >= np.array(origin) - 1).all()

    def test_a_part_counts_the_voids_of_that_part(self, pixels, whole):
        reading, mask = reading_of(pixels, face=outlined(0, 0, HEIGHT, 200))
        assert reading.summary.face_area_px == HEIGHT * 200
        inner = [place for place in places(whole[0].voids) if place[1] < 185]
        found = [place for place in places(reading.voids) if place[1] < 185]
        assert np.abs(np.subtract(found, inner)).max() < 0.4
        assert not mask[:, 200:].any()

    def test_left_out_voids_do_not_count(self, pixels, whole):
        voids = whole[0].voids
        largest = int(voids.area_px.argmax())
        row, col = int(voids.row_px[largest]), int(voids.col_px[largest])
        area = box(row - 25, col - 25, 50, 50)
        reading, mask = reading_of(pixels, face=Face(left_out_px=(area,)))
        cut = whole[1].copy()
        cut[max(0, row - 25) : row + 25, max(0, col - 25) : col + 25] = False
        assert mask.sum() == pytest.approx(cut.sum(), rel=0.02)
        assert reading.summary.void_area_px < whole[0].summary.void_area_px

    @pytest.mark.parametrize("behind", [0, 255])
    def test_transparent_pixels_are_neither_void_nor_face(self, pixels, behind):
        cut_out = np.dstack([pixels, np.full((HEIGHT, WIDTH), 255, np.uint8)])
        cut_out[150:] = (behind, behind, behind, 0)
        cut, mask = reading_of(cut_out)
        half, _ = reading_of(pixels, face=outlined(0, 0, 150, WIDTH))
        assert cut.summary.face_area_px == 150 * WIDTH
        assert cut.summary.void_share.value == half.summary.void_share.value
        assert not mask[150:].any()

    def test_a_clean_cut_out_is_clean(self):
        row, col = np.mgrid[:HEIGHT, :WIDTH]
        alpha = np.where(np.hypot(row - 150, col - 200) < 140, 255, 0)
        reading, _ = reading_of(np.dstack([FLAT, alpha.astype(np.uint8)]))
        assert reading.summary.void_count == 0
        assert reading.summary.void_share.value == 0

    def test_the_whole_photo_is_flagged(self, pixels, whole):
        assert Flag.WHOLE_PHOTO in whole[0].flags
        marked, _ = reading_of(pixels, face=outlined(0, 0, HEIGHT, WIDTH))
        assert Flag.WHOLE_PHOTO not in marked.flags


class TestJoints:
    def joints(self):
        return (JointLine(line_px=np.array([[-1.0, 200.0], [301.0, 200.0]])),)

    def test_band_and_open_face_add_up(self, pixels, whole):
        face = Face(joints=self.joints(), joint_band_mm=9.0)
        reading, mask = reading_of(pixels, face=face)
        band = joint_band_mask(self.joints(), 9.0 / MM_PER_PX, (HEIGHT, WIDTH))
        assert band.sum() == HEIGHT * 121
        summary = reading.summary
        assert summary.joint_band_share == pytest.approx(mask[band].mean())
        assert summary.open_face_share == pytest.approx(mask[~band].mean())
        together = (
            summary.joint_band_share * band.sum()
            + summary.open_face_share * (~band).sum()
        )
        # The gap of the joint is closed, which shapes voids on it a little.
        assert together == pytest.approx(whole[1].sum(), rel=0.01)

    def test_pits_along_the_joint_show_in_its_band(self):
        pits = tuple(Pit(row_mm=5 + 6 * n, col_mm=30, diameter_mm=3) for n in range(7))
        pixels = np.array(drawn(pits=(), placed=pits).pixels)
        reading, _ = reading_of(
            pixels, face=Face(joints=self.joints(), joint_band_mm=5)
        )
        truth = 7 * math.pi * 1.5**2 / (45 * 10)
        assert reading.summary.joint_band_share == pytest.approx(truth, rel=0.15)
        assert reading.summary.open_face_share == 0

    def test_in_a_window_the_band_is_where_the_joint_is(self, pixels):
        face = outlined(0, 100, HEIGHT, 300, joints=self.joints(), joint_band_mm=9.0)
        reading, mask = reading_of(pixels, face=face)
        band = joint_band_mask(self.joints(), 60, (HEIGHT, WIDTH))
        assert reading.summary.joint_band_share == pytest.approx(mask[band].mean())

    def test_a_band_over_all_leaves_no_open_face(self, pixels):
        face = Face(joints=self.joints(), joint_band_mm=500)
        reading, _ = reading_of(pixels, face=face)
        assert reading.summary.open_face_share is None

    def test_not_known_without_joints_or_scale(self, pixels, whole):
        unscaled, _ = reading_of(
            pixels, mm_per_px=None, face=Face(joints=self.joints())
        )
        for reading in (whole[0], unscaled):
            assert reading.summary.joint_band_share is None
            assert reading.summary.open_face_share is None


class TestNothingFound:
    def test_zero_with_what_could_hide(self):
        reading, mask = reading_of(FLAT)
        summary = reading.summary
        assert not mask.any()
        assert (summary.void_share.value, summary.void_share.low) == (0, 0)
        # Garwood 1936: a count of none does not exclude a mean of 3.689 (97.5 %).
        one = math.pi / 4 * 0.6**2 / summary.face_area_mm2
        assert summary.void_share.high == pytest.approx(3.689 * one)
        assert summary.sampled_share.high >= summary.void_share.high
        assert Flag.NOTHING_FOUND in reading.flags
        assert (summary.void_count, summary.voids_per_m2) == (0, 0)
        assert summary.largest_void_mm == 0

    def test_a_clean_drawn_face_has_none(self):
        assert percent_of(np.array(drawn(pits=()).pixels)) == 0

    def test_bloom_is_no_void(self):
        row, col = np.mgrid[:HEIGHT, :WIDTH]
        pixels = np.full((HEIGHT, WIDTH, 3), 120, np.uint8)
        pixels[np.hypot(row - 100, col - 100) < 15] = 140
        assert percent_of(pixels) == 0
        pixels[np.hypot(row - 200, col - 250) < 15] = 40
        reading, _ = reading_of(pixels)
        assert reading.summary.void_count == 1
        assert reading.voids.row_px[0] == pytest.approx(200, abs=1)


class TestSameFace:
    @pytest.mark.parametrize(
        "turned",
        [
            lambda given: np.rot90(given, 1),
            lambda given: np.rot90(given, 2),
            lambda given: np.rot90(given, 3),
            lambda given: given[:, ::-1],
            lambda given: given[::-1],
        ],
    )
    def test_turned_or_mirrored(self, pixels, whole, turned):
        reading, mask = reading_of(np.ascontiguousarray(turned(pixels)))
        assert reading.summary.void_count == pytest.approx(len(whole[0].voids), abs=1)
        assert reading.summary.void_share.value == pytest.approx(
            whole[0].summary.void_share.value, rel=0.08
        )
        assert np.mean(mask != turned(whole[1])) < 0.01

    def test_stored_on_its_side(self, pixels, whole):
        exif = Image.Exif()
        exif[0x0112] = 8
        photo = photo_of(
            np.ascontiguousarray(np.rot90(pixels, -1)), exif=exif.tobytes()
        )
        reading, mask = reading_of(photo)
        assert (reading.height_px, reading.width_px) == (HEIGHT, WIDTH)
        assert np.array_equal(mask, whole[1])

    def test_at_half_the_resolution(self, pixels):
        fine = percent_of(pixels, smallest_mm=1.2)
        half = cv2.resize(
            pixels, (WIDTH // 2, HEIGHT // 2), interpolation=cv2.INTER_AREA
        )
        coarse = percent_of(half, mm_per_px=2 * MM_PER_PX, smallest_mm=1.2)
        assert coarse == pytest.approx(fine, rel=0.10)

    def test_four_times_darker(self, pixels, whole):
        codes = np.arange(256, dtype=np.uint8)
        light = luminance(np.repeat(codes[:, None, None], 3, axis=2))[:, 0] / 4
        coded = np.where(
            light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
        )
        darker = np.rint(255 * coded).astype(np.uint8)[pixels]
        assert darker.mean() < 0.6 * pixels.mean()
        assert percent_of(darker) == pytest.approx(
            100 * whole[0].summary.void_share.value, rel=0.15
        )

    @pytest.mark.parametrize(
        ("mode", "file_format", "options"),
        [
            ("RGB", "JPEG", {"quality": 95}),
            ("CMYK", "JPEG", {"quality": 95}),
            ("RGB", "HEIF", {"quality": 95}),
            ("P", "PNG", {}),
            ("LA", "PNG", {}),
        ],
    )
    def test_in_another_kind_of_file(self, pixels, whole, mode, file_format, options):
        picture = Image.fromarray(pixels)
        picture = picture.quantize(256) if mode == "P" else picture.convert(mode)
        # In points of percent, at a share of about 4 %.
        assert percent_of(photo_of(picture, file_format, **options)) == pytest.approx(
            100 * whole[0].summary.void_share.value, abs=0.05
        )

    def test_the_same_bytes_give_the_same_answer(self, pixels):
        photo = photo_of(pixels)
        before = photo.pixels.copy()
        first, second = (
            json.dumps(reading_answer(reading_of(photo)[0])) for _ in range(2)
        )
        assert first == second
        assert np.array_equal(photo.pixels, before)


class TestProgress:
    def test_told_upwards_to_the_end(self, pixels):
        told = []
        reading_of(pixels, progress=lambda part, what: told.append((part, what)))
        parts = [part for part, _ in told]
        assert parts == sorted(parts)
        assert 0 <= parts[0] < 0.2
        assert told[-1] == (1.0, "Done")
        assert all(what for _, what in told)
        assert len(set(parts)) == len(parts) >= 4

    def test_what_stops_the_telling_stops_the_measuring(self, pixels):
        class StoppedError(Exception):
            pass

        def stop(part, _what):
            if part > 0.2:
                raise StoppedError

        with pytest.raises(StoppedError):
            reading_of(pixels, progress=stop)


def test_a_strip_longer_than_opencv_reads_patches_from():
    strip = np.full((100, 33_000, 3), 160, np.uint8)
    at = [(16_000, 50), (32_900, 50)]
    for place in at:
        cv2.circle(strip, place, 9, (40, 40, 40), -1, cv2.LINE_AA)
    reading, _ = reading_of(strip)
    found = sorted(zip(reading.voids.col_px, reading.voids.row_px, strict=True))
    assert np.abs(np.subtract(found, at)).max() < 1
