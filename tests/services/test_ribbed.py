import math

import numpy as np
import pytest
from scipy.special import ellipe

from analysis.errors import InputError, PairError, ScaleError
from analysis.flags import Flag
from analysis.model.photo import Face, JointLine
from analysis.model.reading import MeasureSettings
from analysis.services.measuring import measure
from analysis.services.pairing import measure_pair
from analysis.services.photos import scale_typed
from analysis.services.ribbed import ALONG_FLUTES, BY_FACETS, _slopes
from tests.support.drawn_faces import MM_PER_PX, drawn, photo_of

RIBBED = MeasureSettings(face_kind="ribbed")


def fluted(strength=0.45, pitch_px=60):
    """A drawn face under the shade of upright flutes, and its true share."""
    face = drawn(seed=4)
    wave = np.sin(2 * np.pi * np.arange(face.pixels.shape[1]) / pitch_px)
    light = (face.pixels / 255.0) ** 2.2 * np.exp(strength * wave)[None, :, None]
    pixels = np.uint8(255 * np.clip(light * 0.6, 0, 1) ** (1 / 2.2))
    return photo_of(pixels), float((face.labels > 0).mean())


def read(photo, settings=None, face=None):
    made, _ = measure(photo, scale=scale_typed(MM_PER_PX), face=face, settings=settings)
    return made


@pytest.fixture(scope="module")
def photo():
    return fluted()[0]


@pytest.fixture(scope="module")
def ribbed(photo):
    return read(photo, RIBBED)


def test_pits_on_flutes_are_measured(ribbed):
    true = fluted()[1]
    share = ribbed.summary.void_share
    assert share.value == pytest.approx(true, rel=0.25)
    assert share.low < true < share.high
    assert ribbed.summary.honeycomb_share == 0
    assert ribbed.method_version.endswith(ALONG_FLUTES)
    assert Flag.SLOPES_NOT_CORRECTED in ribbed.flags
    assert Flag.FLUTES_FOUND not in ribbed.flags


def test_plain_flutes_are_found_without_being_told(photo, ribbed):
    found = read(photo)
    assert found.summary == ribbed.summary
    assert found.flags == ribbed.flags | {Flag.FLUTES_FOUND}


def test_beside_joints_flutes_are_not_guessed(photo):
    line = JointLine(line_px=np.array([[0.0, 200.0], [299.0, 200.0]]))
    found = read(photo, face=Face(joints=(line,)))
    assert not found.method_version.endswith(ALONG_FLUTES)


def test_mm2_are_those_of_the_slopes(photo, ribbed):
    pitch, depth = 60 * MM_PER_PX, 3.0
    given = read(
        photo,
        MeasureSettings(face_kind="ribbed", pitch_mm=pitch, depth_mm=depth),
    )
    # Length of a sine over one period: a complete elliptic integral of the second
    # kind (Abramowitz & Stegun 17.3.3), as scipy has it.
    more = (math.pi * depth / pitch) ** 2
    factor = 2 / math.pi * ellipe(-more)
    assert given.summary.face_area_mm2 == pytest.approx(
        factor * ribbed.summary.face_area_mm2
    )
    assert given.summary.voids_per_m2 == pytest.approx(
        ribbed.summary.voids_per_m2 / factor
    )
    assert given.summary.void_share.value == ribbed.summary.void_share.value
    assert Flag.SLOPES_NOT_CORRECTED not in given.flags


def test_level_flutes_change_no_area():
    assert _slopes(1e-9) == pytest.approx((1.0, 0.0))


@pytest.mark.parametrize(
    ("kind", "flag"),
    [
        ("round", Flag.SLOPES_NOT_CORRECTED),
        ("faceted", Flag.FACETS_NOT_LEVELLED),
        ("ribbed", Flag.FLUTES_NOT_FOUND),
    ],
)
def test_what_cannot_be_done_is_told_and_the_interval_widens(kind, flag):
    face = photo_of(drawn(seed=4).pixels)
    flat, told = read(face), read(face, MeasureSettings(face_kind=kind))
    assert told.flags >= flat.flags | {flag}
    one, other = flat.summary.void_share, told.summary.void_share
    assert one.value == other.value
    assert other.low < one.low < one.high < other.high


def test_flat_faces_are_measured_as_ever():
    face = photo_of(drawn(seed=4).pixels)
    found, flat = read(face), read(face, MeasureSettings(face_kind="flat"))
    assert found.summary == flat.summary
    assert found.flags == flat.flags


def test_an_unknown_kind_is_refused():
    with pytest.raises(
        InputError, match="one of flat, round, ribbed, faceted, free, 'oval'"
    ):
        MeasureSettings(face_kind="oval")


@pytest.mark.parametrize("size", [{"pitch_mm": 20.0}, {"depth_mm": 4.0}])
def test_pitch_and_depth_need_a_ribbed_face(size):
    with pytest.raises(InputError, match="belongs to a ribbed face"):
        MeasureSettings(**size)
    with pytest.raises(InputError, match=r"the kind given is flat: .* or leave it out"):
        MeasureSettings(face_kind="flat", **size)


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, 1001.0])
def test_impossible_pitches_are_refused(value):
    with pytest.raises(InputError, match="Pitch of the flutes"):
        MeasureSettings(face_kind="ribbed", pitch_mm=value)


def test_a_pitch_needs_a_scale(photo):
    settings = MeasureSettings(face_kind="ribbed", pitch_mm=9.0)
    with pytest.raises(ScaleError, match="Flutes of 9 mm need a scale"):
        measure(photo, settings=settings)


def test_a_pair_is_flat(photo):
    other = photo_of(drawn(seed=4).pixels)
    with pytest.raises(PairError, match="measured as a flat face, the kind given is r"):
        measure_pair(photo, other, settings=RIBBED)


def test_a_faceted_face_is_levelled_side_by_side():
    face = drawn(seed=4)
    lit = (face.pixels / 255.0) ** 2.2
    lit[:, : lit.shape[1] // 2] *= 0.55
    pixels = np.uint8(255 * np.clip(lit, 0, 1) ** (1 / 2.2))
    reading = read(photo_of(pixels), MeasureSettings(face_kind="faceted"))
    true = float((face.labels > 0).mean())
    assert reading.summary.void_share.value == pytest.approx(true, rel=0.25)
    assert reading.summary.honeycomb_share == 0
    assert reading.method_version.endswith(BY_FACETS)
    assert Flag.FACETS_NOT_LEVELLED not in reading.flags
    assert Flag.SLOPES_NOT_CORRECTED in reading.flags


def test_flutes_in_the_dark_are_told_by_a_wider_interval():
    photo, _ = fluted()
    dark = photo.pixels.copy()
    dark[:, :60] = 2
    lit, unlit = read(photo, RIBBED), read(photo_of(dark), RIBBED)
    shares = [one.summary.void_share for one in (lit, unlit)]
    assert shares[1].high / shares[1].value > shares[0].high / shares[0].value
