import numpy as np
import pytest

from analysis.imaging.photo import luminance
from analysis.imaging.ribs import find_ribs
from analysis.imaging.ribs_levelled import levelled
from tests.support.drawn_faces import drawn

SIZE = (300, 400)
PITCH_PX = 32.0


def fluted(turned_deg=0.0, *, strength=0.35, seed=5, bend=0.0):
    """Light of upright flutes, turned, with noise; their pitch is known."""
    row, col = np.mgrid[0 : SIZE[0], 0 : SIZE[1]].astype(np.float64)
    down, right = row - SIZE[0] / 2, col - SIZE[1] / 2
    turn = np.radians(turned_deg)
    across = right * np.cos(turn) - down * np.sin(turn)
    along = right * np.sin(turn) + down * np.cos(turn)
    across = across / (1 + bend * along)
    log = strength * np.sin(2 * np.pi * across / PITCH_PX)
    noise = np.random.default_rng(seed).normal(0, 0.03, SIZE)
    return (0.4 * np.exp(log + noise)).astype(np.float32)


def whole():
    return np.ones(SIZE, dtype=bool)


@pytest.mark.parametrize("turned", [0, 7.3, 45, 90, 152])
def test_direction_and_pitch_of_turned_flutes(turned):
    found = find_ribs(fluted(turned), whole())
    off = np.degrees(found.towards_rad) - (90 - turned)
    assert abs((off + 90) % 180 - 90) < 0.4
    assert found.pitch_px == pytest.approx(PITCH_PX, rel=0.06)
    assert found.plain


def test_flutes_that_meet_far_away():
    bend = 0.0006
    light = fluted(10, bend=bend)
    found = find_ribs(light, whole())
    assert abs(found.bend_per_px) == pytest.approx(bend, rel=0.25)
    even = levelled(light, whole(), found, 0.5)
    assert np.log(even).std() < 0.08 < np.log(light).std()


def test_levelling_leaves_pits_and_takes_arrises():
    light = fluted(20)
    arris = np.abs((np.arange(SIZE[1]) % 50) - 25) < 1
    light = fluted(0)
    light[:, arris] *= 0.5
    light[100:106, 203:209] *= 0.3
    found = find_ribs(light, whole())
    even = levelled(light, whole(), found, 0.5)
    usual = np.median(even)
    assert np.median(even[:, arris]) == pytest.approx(usual, rel=0.03)
    assert even[102:104, 205:207].mean() < 0.4 * usual


def test_what_lies_outside_the_face_never_enters():
    light, inside = fluted(0), whole()
    inside[:, :60] = inside[200:] = False
    other = light.copy()
    other[~inside] = 0.9
    found = find_ribs(light, inside)
    one, two = (levelled(some, inside, found, 0.5) for some in (light, other))
    inner = np.zeros(SIZE, dtype=bool)
    inner[2:198, 63:-2] = True
    assert np.abs(one / two - 1)[inner].max() < 1e-3


def test_a_part_is_levelled_like_the_whole():
    light = fluted(12)
    found = find_ribs(light, whole())
    part = found.part(50.0, 80.0)
    row, col = np.float32([120.0]), np.float32([160.0])
    for of_whole, of_part in zip(
        found.places(row, col), part.places(row - 50, col - 80), strict=True
    ):
        assert of_whole == pytest.approx(of_part, abs=1e-3)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_flat_faces_are_not_taken_for_ribbed(seed):
    light = luminance(drawn(seed=seed).pixels)
    found = find_ribs(light, np.ones(light.shape, bool))
    assert found is None or not found.plain


def test_nothing_runs_on_an_even_face():
    assert find_ribs(np.full(SIZE, 0.4, np.float32), whole()) is None
    assert find_ribs(np.full((4, 90), 0.4, np.float32), np.ones((4, 90), bool)) is None


def test_the_pitch_given_is_the_one_looked_for():
    light = fluted(0)
    assert find_ribs(light, whole(), pitch_px=30).pitch_px == pytest.approx(32, rel=0.1)
    assert find_ribs(light, whole(), pitch_px=11).pitch_px is None
