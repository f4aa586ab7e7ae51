"""Measuring in two lights: what is found, what is refused, what the answer tells."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from analysis.errors import FaceError, PairError, ScaleError
from analysis.flags import Flag
from analysis.model.pair import SecondLight
from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings
from analysis.services.measuring import measure
from analysis.services.pairing import measure_pair, second_on_first
from analysis.services.photos import read_photo, reading_answer, scale_typed
from tests.services.pair_photos import pair_of_photos

SCALE = scale_typed(0.15)


def photos(**given):
    return [read_photo(data) for data in pair_of_photos(**given)]


def changed(photo, change):
    file = io.BytesIO()
    Image.fromarray(change(np.asarray(photo.pixels))).save(file, "PNG")
    return read_photo(file.getvalue())


@pytest.fixture(scope="module")
def pair():
    return photos()


@pytest.fixture(scope="module")
def answer(pair):
    return measure_pair(*pair, scale=SCALE)


def test_pits_are_counted_and_grains_are_not(pair, answer):
    reading, mask = answer
    alone, _ = measure(pair[0], scale=SCALE)

    assert reading.summary.void_count == 8
    assert alone.summary.void_count > 20
    assert mask.shape == pair[0].pixels.shape[:2]
    assert set(reading.rejected.kind) <= {"grain", "stain", "other"}


def test_openings_are_whole(answer):
    reading, _ = answer
    # Bowls of radius 7 to 10 px, two of each.
    truth = sum(np.pi * radius**2 * 2 for radius in (7, 8, 9, 10))

    assert reading.summary.void_area_px == pytest.approx(truth, rel=0.12)
    low, high = (
        end * reading.summary.face_area_px
        for end in (reading.summary.void_share.low, reading.summary.void_share.high)
    )
    assert low < truth < high


def test_flush_grains_that_touch_pits_are_cut_off():
    reading, mask = measure_pair(*photos(touching=True, seed=5), scale=SCALE)
    truth = sum(np.pi * radius**2 * 2 for radius in (7, 8, 9, 10))

    assert reading.summary.void_count == 8
    assert mask.sum() == pytest.approx(truth, rel=0.12)


def test_answer_tells_how_the_photos_lie(answer):
    told = reading_answer(answer[0])

    # The second is moved by (9, -6) px and turned by atan(0.012) about the corner.
    middle = np.array([[0.9999, -0.012], [0.012, 0.9999]]) @ [239.5, 179.5]
    shift = middle - [239.5 - 9, 179.5 + 6]
    assert told["shift_px"] == pytest.approx(np.hypot(*shift), abs=0.3)
    assert told["rotation_deg"] == pytest.approx(np.degrees(0.012), abs=0.05)
    assert told["registration_rms_px"] < 0.6
    assert told["light_angle_deg"] == pytest.approx(180, abs=15)
    assert told["method_version"] != "1"


def test_a_single_photo_has_no_such_keys(pair):
    assert "shift_px" not in reading_answer(measure(pair[0])[0])


def test_the_order_does_not_matter(pair, answer):
    other, _ = measure_pair(pair[1], pair[0], scale=SCALE)

    assert other.summary.void_count == answer[0].summary.void_count
    assert other.summary.void_area_px == pytest.approx(
        answer[0].summary.void_area_px, rel=0.05
    )


def test_a_face_without_relief_is_zero_and_tells_no_angle():
    reading, mask = measure_pair(*photos(pits=0), scale=SCALE)

    assert reading.summary.void_share.value == 0.0
    assert reading.summary.void_share.high > 0.0
    assert reading.second_light.light_angle_deg is None
    assert not mask.any()
    assert Flag.UNRELIABLE_FINISH not in reading.flags


def bare(seed, *, mark=0, height=300, width=400):
    """A photo of a smooth clean face, or one dark disc on it."""
    rng = np.random.default_rng(seed)
    grey = np.full((height, width), 150.0) + np.linspace(-9, 9, width) * (-1) ** seed
    row, col = np.ogrid[:height, :width]
    grey[(row - 150) ** 2 + (col - 200) ** 2 < mark**2] = 50
    grey += rng.normal(0, 1.5, grey.shape)
    picture = np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=90)
    return read_photo(file.getvalue())


def test_a_bare_clean_face_is_zero_however_its_photos_lie():
    first, second = bare(1), bare(2)
    reading, mask = measure_pair(first, second, scale=SCALE)

    assert reading.summary.void_share.value == reading.summary.void_share.low == 0
    assert reading.summary.void_share.high > 0
    assert not mask.any()
    assert Flag.NOTHING_FOUND in reading.flags
    answer = reading_answer(reading)
    told = ("shift_px", "rotation_deg", "registration_rms_px", "light_angle_deg")
    assert [answer[key] for key in told] == [None] * 4
    with pytest.raises(PairError, match="Nothing on this face tells how"):
        second_on_first(first, second, reading, longest_px=240)


@pytest.mark.parametrize("marked", [0, 1])
def test_a_bare_face_with_a_hole_in_one_light_is_not_guessed_at(marked):
    photos = [bare(seed, mark=12 * (seed == marked)) for seed in (0, 1)]
    with pytest.raises(PairError, match="lines up"):
        measure_pair(*photos, scale=SCALE)


def test_only_the_outlined_face_is_measured(pair, answer):
    left = Face(outline_px=[(0, 0), (0, 239), (359, 239), (359, 0)])

    reading, mask = measure_pair(*pair, scale=SCALE, face=left)

    assert 0 < reading.summary.void_count < answer[0].summary.void_count
    assert not mask[:, 242:].any()
    assert Flag.WHOLE_PHOTO not in reading.flags


def test_lights_on_one_side_are_refused():
    with pytest.raises(PairError, match="comes from one side in both"):
        measure_pair(*photos(angles=(180.0, 170.0)))


def test_the_same_file_is_refused(pair):
    with pytest.raises(PairError, match="same photo"):
        measure_pair(pair[0], pair[0])


def stored(photo, *, zoom=1.0, quality=90, cut=0):
    """A copy as a messenger or an editor makes it."""
    picture = Image.fromarray(np.asarray(photo.pixels)[cut:, cut:])
    size = [round(side * zoom) for side in picture.size]
    file = io.BytesIO()
    picture.resize(size, Image.Resampling.BOX).save(file, "JPEG", quality=quality)
    return read_photo(file.getvalue())


@pytest.mark.parametrize(
    "how", [{}, {"quality": 60}, {"zoom": 0.8}, {"cut": 24}], ids=str
)
@pytest.mark.parametrize("pits", [1, 0])
def test_the_same_photo_stored_anew_is_refused(how, pits):
    first = photos(pits=pits)[0]
    with pytest.raises(PairError, match="same photo"):
        measure_pair(first, stored(first, **how))


@pytest.mark.parametrize("quarters", [1, 2, 3])
@pytest.mark.parametrize("pits", [1, 0])
def test_the_same_photo_turned_is_refused(quarters, pits):
    first = photos(pits=pits)[0]
    with pytest.raises(PairError, match="same photo"):
        measure_pair(first, changed(first, lambda px: np.rot90(px, quarters)))


def in_file(pixels, orientation):
    """A JPEG whose camera data say how it is to be turned."""
    told = Image.Exif()
    told[0x0112] = orientation
    file = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(
        file, "JPEG", quality=95, exif=told.tobytes()
    )
    return read_photo(file.getvalue())


def test_photos_held_differently_are_a_pair(pair, answer):
    """One upright by its camera data, one that a viewer turned: both are the face."""
    second = np.asarray(pair[1].pixels)
    usual = answer[0]
    for turned, degrees in (
        (in_file(np.rot90(second), 6), 0.0),
        (in_file(second, 6), 90.0),
        (in_file(second, 3), 180.0),
    ):
        reading, _ = measure_pair(pair[0], turned, scale=SCALE)
        lying = reading.second_light
        assert reading.summary.void_count == 8
        assert lying.shift_px == pytest.approx(usual.second_light.shift_px, abs=0.5)
        off = lying.rotation_deg - usual.second_light.rotation_deg - degrees
        assert abs((off + 180) % 360 - 180) < 0.1


def test_a_mirrored_photo_is_refused(pair):
    with pytest.raises(PairError, match="same face"):
        measure_pair(pair[0], changed(pair[1], lambda px: px[:, ::-1]))


@pytest.mark.parametrize("which", [0, 1])
def test_a_photo_of_nothing_is_refused(pair, which):
    given = list(pair)
    given[which] = changed(pair[which], lambda px: np.full_like(px, 120))
    with pytest.raises(PairError, match="blurred or was moved"):
        measure_pair(*given)


@pytest.mark.parametrize(("which", "said"), [(0, "The face"), (1, "The second photo")])
def test_a_black_photo_is_named(pair, which, said):
    given = list(pair)
    given[which] = changed(pair[which], np.zeros_like)
    with pytest.raises(FaceError, match=f"{said} is pure black"):
        measure_pair(*given)


def test_a_second_photo_of_more_pixels_is_read_at_the_size_of_the_first(pair, answer):
    large = enlarged(pair_of_photos()[1], 3)

    reading, mask = measure_pair(pair[0], large, scale=SCALE)

    usual = answer[0]
    assert mask.shape == pair[0].pixels.shape[:2]
    assert reading.summary.void_area_px == pytest.approx(
        usual.summary.void_area_px, rel=0.03
    )
    assert reading.second_light.shift_px == pytest.approx(
        usual.second_light.shift_px, abs=0.5
    )
    scale = np.linalg.det(
        np.array(reading.second_light.to_second).reshape(3, 3)[:2, :2]
    )
    assert scale == pytest.approx(9, rel=0.02)


@pytest.mark.parametrize("how", [{}, {"quality": 75}, {"zoom": 0.8}], ids=str)
def test_the_same_photo_of_a_bare_face_is_refused(how):
    first = bare(1)
    with pytest.raises(PairError, match="same photo"):
        measure_pair(first, stored(first, **how))


def test_two_shots_from_one_stand_are_a_pair():
    """A stand or a wall holds the camera still: only the lamp tells them apart."""
    reading, _ = measure_pair(*photos(turn=0.0, shift=(0.0, 0.0)), scale=SCALE)

    assert reading.second_light.shift_px < 0.2
    assert reading.summary.void_count == 8


def test_another_face_is_refused(pair):
    with pytest.raises(PairError, match="same face"):
        measure_pair(pair[0], photos(seed=11)[1])


@pytest.mark.parametrize("which", [0, 1])
def test_a_blurred_photo_is_refused_by_name(pair, which):
    given = list(pair)
    given[which] = changed(pair[which], lambda px: cv2.GaussianBlur(px, (0, 0), 3.0))
    with pytest.raises(
        PairError, match=f"The {('first', 'second')[which]} photo is blur"
    ):
        measure_pair(*given)


def test_a_moved_photo_is_refused(pair):
    streak = np.full((1, 15), 1 / 15)
    moved = changed(pair[1], lambda px: cv2.filter2D(px, -1, streak))
    with pytest.raises(PairError, match="blurred or was moved"):
        measure_pair(pair[0], moved)


def test_half_of_the_face_is_no_pair(pair):
    part = changed(pair[1], lambda px: px[:, :200])
    with pytest.raises(PairError, match=r"% of the face|same face"):
        measure_pair(pair[0], part)


def test_most_of_the_face_is_told(pair):
    part = changed(pair[1], lambda px: px[:, :380])

    reading, mask = measure_pair(pair[0], part, scale=SCALE)

    assert Flag.PARTLY_PAIRED in reading.flags
    assert not mask[:, 385:].any()
    assert reading.summary.face_area_px < 0.85 * mask.size


def test_a_size_in_mm_needs_a_scale(pair):
    with pytest.raises(ScaleError, match="needs a scale"):
        measure_pair(*pair, settings=MeasureSettings(smallest_mm=2))


def test_progress_is_told(pair):
    told = []
    measure_pair(*pair, progress=lambda part, what: told.append((part, what)))
    assert [part for part, _ in told] == sorted(part for part, _ in told)
    assert told[-1] == (1.0, "Done")


def test_the_second_lies_on_the_first(pair, answer):
    laid = second_on_first(*pair, answer[0], longest_px=240)

    assert laid.shape == (180, 240, 3)
    first = cv2.resize(pair[0].pixels, (240, 180), interpolation=cv2.INTER_AREA)
    inner = np.s_[20:160, 20:220]
    assert np.abs(laid[inner].astype(float) - first[inner]).mean() < 6


def test_another_second_is_not_laid_on(pair, answer):
    with pytest.raises(PairError, match="not of this reading"):
        second_on_first(pair[0], pair[0], answer[0], longest_px=240)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"to_second": (1.0,)}, "3 x 3"),
        ({"to_second": ()}, "3 x 3"),
        ({"shift_px": None}, "Shift"),
        ({"to_second": (np.nan,) * 9}, "finite"),
        ({"shift_px": -1.0}, "Shift"),
        ({"registration_rms_px": np.nan}, "Misfit"),
        ({"rotation_deg": 200.0}, "Turn"),
        ({"light_angle_deg": 181.0}, "Angle"),
    ],
)
def test_impossible_pairs_are_refused(change, words):
    given = {
        "photo_sha256": "",
        "to_second": (1.0, 0, 0, 0, 1, 0, 0, 0, 1),
        "shift_px": 1.0,
        "rotation_deg": 0.0,
        "registration_rms_px": 0.1,
        "light_angle_deg": 90.0,
    }
    with pytest.raises(PairError, match=words):
        SecondLight(**given | change)


def test_a_second_photo_of_fewer_pixels_moves_no_further(answer):
    first, second = pair_of_photos()
    pixels = cv2.imdecode(np.frombuffer(second, np.uint8), cv2.IMREAD_COLOR)
    small = cv2.resize(pixels, None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA)
    file = cv2.imencode(".png", small)[1].tobytes()

    reading, _ = measure_pair(read_photo(first), read_photo(file), scale=SCALE)

    usual = answer[0]
    assert reading.second_light.shift_px == pytest.approx(
        usual.second_light.shift_px, abs=0.5
    )
    assert reading.summary.void_share.value == pytest.approx(
        usual.summary.void_share.value, rel=0.05
    )


def enlarged(data, times):
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    large = cv2.resize(pixels, None, fx=times, fy=times, interpolation=cv2.INTER_CUBIC)
    return read_photo(cv2.imencode(".png", large)[1].tobytes())


@pytest.mark.parametrize("second_times", [2, 1])
def test_a_close_up_is_read_reduced_and_told_as_taken(
    answer, monkeypatch, second_times
):
    monkeypatch.setattr("analysis.pairs.reduction.LEAST_SIDE_PX", 400)
    first, second = pair_of_photos()
    photos = enlarged(first, 2), enlarged(second, second_times)

    reading, mask = measure_pair(
        *photos, scale=scale_typed(0.075), settings=MeasureSettings(smallest_mm=0.95)
    )

    usual, summary = answer[0], reading.summary
    assert summary.void_count == 8
    assert summary.smallest_counted_mm == 0.95
    assert summary.void_area_px == pytest.approx(
        4 * usual.summary.void_area_px, rel=0.04
    )
    assert mask.shape == photos[0].pixels.shape[:2]
    assert mask.sum() == summary.void_area_px == reading.voids.area_px.sum()
    order = np.argsort(usual.voids.row_px), np.argsort(reading.voids.row_px)
    for name in ("row_px", "col_px"):
        was, now = getattr(usual.voids, name), getattr(reading.voids, name)
        assert now[order[1]] == pytest.approx(2 * was[order[0]] + 0.5, abs=1)
    for line in reading.voids.outline_px:
        assert mask[tuple(line.astype(int).T)].all()
    lying = reading.second_light
    assert lying.shift_px == pytest.approx(2 * usual.second_light.shift_px, abs=0.6)
    assert lying.registration_rms_px < 1.2
    scale = np.linalg.det(np.array(lying.to_second).reshape(3, 3)[:2, :2])
    assert scale == pytest.approx((second_times / 2) ** 2, rel=0.02)
