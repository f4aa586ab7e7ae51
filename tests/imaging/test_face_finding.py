"""The face found in a photo: outline, left-out areas, and what must stay in."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.imaging.face import crosses_itself, polygon_mask
from analysis.imaging.face_finding.edges import outline_of, stepped
from analysis.imaging.face_finding.finding import find_face
from analysis.imaging.face_finding.holes import round_holes
from analysis.imaging.face_finding.regions import Regions
from analysis.imaging.face_finding.sides import without_sides
from analysis.imaging.face_finding.sureness import doubts, sure_of
from analysis.imaging.face_finding.tucking import tucked
from analysis.model.card import LAYOUTS, PAPER_MM
from analysis.report.card_sheet import CARD_PAPERS
from tests.benchmarks.face_finding import overlap, photo_of, taken
from tests.benchmarks.face_scenes import BESIDE, draw

BASE = 71


# One photo of each thing beside or on the face, flat, round and faceted, by its number.
KINDS = {
    "nothing": 12,
    "ruler": 1,
    "tape": 0,
    "card on": 13,
    "card half": 22,
    "card beside": 24,
    "scale sheet": 11,
    "paper": 21,
    "hand": 3,
    "tool": 8,
    "shadow": 2,
    "tie holes": 15,
    "drain hole": 6,
    "stamp": 7,
}


def test_each_kind_of_thing_has_its_photo():
    assert set(KINDS) == set(BESIDE)


@pytest.mark.parametrize("kind", KINDS)
def test_faces_are_found_beside_each_kind_of_thing(kind):
    drawn = draw(KINDS[kind], BASE)
    assert drawn.kinds["beside"] == kind

    found = find_face(photo_of(drawn.pixels))

    mask = taken(found.outline_px, found.left_out_px, drawn.face.shape)
    assert overlap(mask, drawn.face) > 0.93
    assert drawn.share(mask) == pytest.approx(drawn.true_share, rel=0.06)
    assert found.face_share == pytest.approx(mask.mean(), abs=0.01)


@pytest.mark.parametrize(("number", "base"), [(9, BASE), (1, 5)])
def test_a_card_or_sheet_on_the_face_is_left_out_as_one(number, base):
    found = find_face(photo_of(draw(number, base).pixels))

    assert len(found.left_out_px) == 1


def test_an_outline_drawn_in_at_corners_does_not_cross_itself():
    drawn = draw(11, 7)  # its points change places at a corner

    found = find_face(photo_of(drawn.pixels))

    assert not crosses_itself(found.outline_px)
    mask = taken(found.outline_px, found.left_out_px, drawn.face.shape)
    assert overlap(mask, drawn.face) > 0.97


def test_the_same_photo_gives_the_same_face():
    photo = photo_of(draw(0, BASE).pixels)

    first, second = find_face(photo), find_face(photo)

    assert np.array_equal(first.outline_px, second.outline_px)
    assert first.sure == second.sure


def test_a_close_photo_is_whole():
    grain = np.random.default_rng(3).normal(140, 5, (300, 400, 1)).clip(0, 255)

    assert find_face(photo_of(np.repeat(grain, 3, axis=2).astype(np.uint8))).whole


def test_round_voids_of_one_size_stay_in():
    photo = np.full((600, 800, 3), 160, np.uint8)
    for col in range(100, 800, 120):
        cv2.circle(photo, (col, 300), 9, (40, 40, 40), -1)

    assert round_holes(photo, np.ones((600, 800), bool)) == []


def test_tie_holes_are_left_out():
    photo = np.full((600, 800, 3), 160, np.uint8)
    for spot in ((200, 150), (600, 150), (200, 450), (600, 450)):
        cv2.circle(photo, spot, 14, (25, 25, 25), -1)

    holes = round_holes(photo, np.ones((600, 800), bool))

    assert len(holes) == 4
    inside = sum(polygon_mask(hole, (600, 800)) for hole in holes)
    assert inside.sum() >= 4 * np.pi * 14**2


@pytest.mark.parametrize(("last", "found"), [((600, 450), 4), ((690, 300), 0)])
def test_small_holes_are_told_by_their_rectangle(last, found):
    photo = np.full((600, 800, 3), 160, np.uint8)
    for spot, radius in zip(
        ((200, 150), (600, 150), (200, 450), last), (9, 10, 9, 10), strict=True
    ):
        cv2.circle(photo, spot, radius, (25, 25, 25), -1)

    assert len(round_holes(photo, np.ones((600, 800), bool))) == found


def test_a_tie_hole_that_a_void_opens_into_is_told_by_the_other_three():
    photo = np.full((600, 800, 3), 160, np.uint8)
    for spot in ((200, 150), (600, 150), (200, 450), (600, 450)):
        cv2.circle(photo, spot, 10, (25, 25, 25), -1)
    cv2.circle(photo, (609, 444), 4, (25, 25, 25), -1)
    for col in range(60, 800, 80):
        cv2.circle(photo, (col, 300), 2, (40, 40, 40), -1)
    alone = photo.copy()
    cv2.circle(alone, (200, 150), 12, (160, 160, 160), -1)

    assert len(round_holes(photo, np.ones((600, 800), bool))) == 4
    assert round_holes(alone, np.ones((600, 800), bool)) == []


def test_two_voids_not_far_beyond_the_others_stay_in():
    photo = np.full((600, 800, 3), 160, np.uint8)
    for col in range(60, 800, 80):
        cv2.circle(photo, (col, 100), 6, (40, 40, 40), -1)
    for col in (200, 600):
        cv2.circle(photo, (col, 400), 16, (40, 40, 40), -1)

    assert round_holes(photo, np.ones((600, 800), bool)) == []


@pytest.mark.parametrize(
    ("axes", "void_px", "found"),
    [((16, 16), 2, 1), ((17, 15), 2, 0), ((16, 16), 4, 0)],
    ids=["drain hole", "not round", "not far beyond the voids"],
)
def test_a_small_hole_alone_is_told_by_the_voids_about_it(axes, void_px, found):
    photo = np.full((600, 800, 3), 160, np.uint8)
    for col in range(60, 800, 80):
        cv2.circle(photo, (col, 100), void_px, (40, 40, 40), -1)
    cv2.ellipse(photo, (400, 330), axes, 0, 0, 360, (25, 25, 25), -1)

    assert len(round_holes(photo, np.ones((600, 800), bool))) == found


@pytest.mark.parametrize("name", CARD_PAPERS)
def test_the_whole_paper_of_every_print_is_known(name):
    paper = CARD_PAPERS[name]
    left, top, right, below = PAPER_MM[paper.layout]
    block = LAYOUTS[paper.layout].block

    assert left + right + block[2] - block[0] >= paper.size[0] - 0.1
    assert top + below + block[3] - block[1] >= paper.size[1] - 0.1


def square(low, high):
    """An outline about 2 px apart, from `low` to `high` in rows and columns."""
    corners = np.array([(low, low), (low, high), (high, high), (high, low)], float)
    part = np.arange(0, 1, 2 / (high - low))[:, None]
    turns = zip(corners, np.roll(corners, -1, axis=0), strict=True)
    return np.vstack([a + part * (b - a) for a, b in turns])


def plain(tone=120.0, side=400):
    """A face on brighter ground, from a quarter of the side to three quarters."""
    picture = np.full((side, side, 3), 200.0, np.float32)
    picture[side // 4 : 3 * side // 4, side // 4 : 3 * side // 4] = tone
    return picture


def test_a_dark_gap_beside_the_face_is_left_outside():
    picture = plain()
    picture[100:300, 300:305] = 40.0  # as between stones

    line = tucked(square(100.0, 304.5), picture)

    right = line[np.abs(line[:, 0] - 200) < 80]
    right = right[right[:, 1] > 200]
    assert np.abs(right[:, 1] - 299.5).max() < 1.0


def test_a_void_at_the_edge_does_not_dent_the_outline():
    picture = plain(side=1000)
    cv2.circle(picture, (749, 500), 4, (40.0, 40.0, 40.0), -1)
    picture[:, 750:] = 200.0

    line = tucked(square(250.0, 749.5), picture)

    here = line[(np.abs(line[:, 0] - 500) < 6) & (line[:, 1] > 500)]
    assert here[:, 1].min() > 748.0


def with_side(tone, wide=40, soft=0.0):
    """A face with a strip of another tone at its right, and the outline of both."""
    picture = np.full((800, 1120, 3), 128.0, np.float32)
    picture[..., 0] = 230.0
    picture[150:650, 250:850, 0] = 128.0
    picture[150:650, 850 - wide : 850, 0] = tone
    if soft:
        light = cv2.GaussianBlur(picture[150:650, 700:850, 0], (0, 0), soft)
        picture[150:650, 700:850, 0] = light
    corners = np.array([(150.0, 250), (150, 849.5), (649.5, 849.5), (649.5, 250)])
    return stepped(corners), picture


NO_THING = np.zeros((8, 8), bool)


def test_a_side_seen_beside_the_face_is_left_outside():
    line, picture = with_side(85.0)

    found = without_sides(line, picture, NO_THING)

    right = found[(np.abs(found[:, 0] - 400) < 150) & (found[:, 1] > 600)]
    assert np.abs(right[:, 1] - 813.5).max() < 5  # a little is given back
    left = found[(np.abs(found[:, 0] - 400) < 150) & (found[:, 1] < 600)]
    assert np.abs(left[:, 1] - 250).max() < 1


@pytest.mark.parametrize(
    ("line", "picture", "thing"),
    [
        (*with_side(119.0), NO_THING),
        (*with_side(85.0, soft=20.0), NO_THING),
        (*with_side(85.0, wide=90), NO_THING),
        (*with_side(85.0), ~NO_THING),
    ],
    ids=["hardly darker", "soft shadow", "facet", "thing"],
)
def test_what_is_no_side_stays(line, picture, thing):
    assert without_sides(line, picture, thing) is None


def test_a_side_of_another_hue_is_no_side():
    line, picture = with_side(85.0)
    picture[150:650, 810:850, 1] = 150.0

    assert without_sides(line, picture, NO_THING) is None


def test_a_slab_seen_with_its_side_is_measured_without_it():
    drawn = draw(34, 22)

    found = find_face(photo_of(drawn.pixels))

    mask = taken(found.outline_px, found.left_out_px, drawn.face.shape)
    assert overlap(mask, drawn.face) > 0.97
    assert drawn.share(mask) == pytest.approx(drawn.true_share, rel=0.1)


def sureness(*, soft=0.0, dent=False, shift=0):
    """How sure a square of the network's answer is, its looks apart by `shift`."""
    face = np.zeros((256, 256), np.float32)
    face[60:200, 50:210] = 1
    if dent:
        face[100:160, 50:140] = 0
    if soft:
        face = cv2.GaussianBlur(face, (0, 0), soft)
    looks = np.zeros((4, 256, 256, 3), np.float32)
    for number, look in enumerate(looks):
        look[..., 1] = np.roll(face, number * shift, axis=1)
        look[..., 0] = 1 - look[..., 1]
    piece = face > 0.5
    regions = Regions(piece=piece, left_out=np.zeros_like(piece), whole=False)
    return sure_of(doubts(looks, regions, outline_of(piece)))


def test_a_dent_a_faint_line_and_unlike_looks_make_an_outline_less_sure():
    apart = sureness(shift=3)

    assert sureness() > apart + 0.2 > sureness(shift=6) + 0.4
    assert sureness(shift=3, dent=True) < apart - 0.2
    assert sureness(shift=3, soft=6.0) < apart - 0.2


def test_an_outline_that_takes_in_the_wall_is_unsure():
    drawn = draw(16, 22)  # plaster of the face's own tone

    found = find_face(photo_of(drawn.pixels))

    mask = taken(found.outline_px, found.left_out_px, drawn.face.shape)
    assert overlap(mask, drawn.face) < 0.9
    assert found.sure < 0.5


def test_light_that_falls_off_to_the_edge_is_face():
    picture = plain()
    across = (np.arange(100, 300) - 199.5) / 100
    picture[100:300, 100:300] = (70 + 60 * np.sqrt(1 - across**2))[None, :, None]

    line = tucked(square(100.0, 299.5), picture)

    assert cv2.contourArea(line.astype(np.float32)) > 0.96 * 199.5**2


def test_the_frame_of_the_photo_stays():
    picture = np.full((200, 200, 3), 120.0, np.float32)
    picture[:8] = 30.0

    line = tucked(square(-0.5, 199.5), picture)

    assert line[:, 0].min() == -0.5


def test_grass_beside_a_face_is_not_counted():
    drawn = draw(41, 77)

    found = find_face(photo_of(drawn.pixels))

    mask = taken(found.outline_px, found.left_out_px, drawn.face.shape)
    assert drawn.share(mask) == pytest.approx(drawn.true_share, rel=0.1)
