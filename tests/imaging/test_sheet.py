from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from analysis.errors import ScaleError
from analysis.imaging.markers import find_markers, marker_cells
from analysis.imaging.sheet import find_sheet
from analysis.model.card import LAYOUTS
from analysis.model.sheet import (
    FRAME_MM,
    MARKER_MM,
    SHEET_MARKERS,
    WHITE_EDGE_MM,
    corners_mm,
)
from tests.support.cameras import face_to_photo, moved, paper_sheet, pasted, seen

FACE_MM = (500.0, 380.0)
PX_PER_MM = 3.0
AT = (60.0, 40.0)  # mm, the paper's corner
CARD_MARKERS = {4: (0.0, 0.0)}  # the left marker of layout A


def _face():
    rows, cols = (round(side * PX_PER_MM) for side in FACE_MM[::-1])
    grain = np.random.default_rng(4).normal(150, 8, (rows, cols, 1))
    return np.repeat(np.clip(grain, 0, 255).astype(np.uint8), 3, axis=2)


def _with_sheet(markers=SHEET_MARKERS, size=1.0, at=AT, face=None):
    sheet = paper_sheet(PX_PER_MM, markers=markers, size=size)
    face = _face() if face is None else face
    return pasted(face, sheet, round(at[1] * PX_PER_MM), round(at[0] * PX_PER_MM))


def _length(plane, start, end):
    ends = moved(plane.photo_to_mm, np.array([start, end]))
    return math.dist(*ends)


@pytest.mark.parametrize(
    ("tilt", "turn", "roll"), [(0, 0, 0), (20, 0, 0), (-14, 14, 35)]
)
def test_lengths_all_over_the_face_are_right_at_any_tilt(tilt, turn, roll):
    to_photo = face_to_photo(FACE_MM, tilt_deg=tilt, turn_deg=turn, roll_deg=roll)
    photo = seen(_with_sheet(), PX_PER_MM, to_photo)

    plane, markers = find_sheet(photo)

    assert [marker.number for marker in markers] == [0, 1, 2, 3]
    for start, end in (
        ((80, 60), (220, 60)),
        ((80, 330), (420, 330)),
        ((450, 60), (450, 330)),
    ):
        ends = moved(to_photo, np.array([start, end], float))
        assert _length(plane, *ends) == pytest.approx(math.dist(start, end), rel=0.01)


def test_the_uncertainty_holds_the_scale_found_at_the_sheet():
    off = []
    for tilt in (0, 8, 16, 24):
        to_photo = face_to_photo(FACE_MM, tilt_deg=tilt)
        photo = seen(_with_sheet(), PX_PER_MM, to_photo)
        plane, _ = find_sheet(photo)
        ends = moved(to_photo, np.array([[80.0, 100.0], [220.0, 100.0]]))
        off.append(abs(_length(plane, *ends) / 140 - 1) / plane.relative_uncertainty)
        assert plane.relative_uncertainty < 0.02
    assert max(off) < 2


def test_a_marker_is_found_where_it_was_drawn_also_in_a_large_photo():
    to_photo = face_to_photo(FACE_MM, far_mm=900, photo_px=(3600, 4800), focal_px=3600)
    photo = seen(_with_sheet(), PX_PER_MM, to_photo, photo_px=(3600, 4800))

    found = {marker.number: marker.corners_px for marker in find_markers(photo)}

    for number, (x, y) in SHEET_MARKERS.items():
        drawn = np.array(corners_mm(x, y)) + np.array(AT) + WHITE_EDGE_MM
        wanted = moved(to_photo, drawn)[:, ::-1]
        assert np.abs(found[number] - wanted).max() < 1.0


def test_a_card_alone_gives_a_plane_less_sure_than_the_sheet():
    to_photo = face_to_photo(FACE_MM, tilt_deg=10)
    card, markers = find_sheet(seen(_with_sheet(CARD_MARKERS), PX_PER_MM, to_photo))
    sheet, _ = find_sheet(seen(_with_sheet(), PX_PER_MM, to_photo))

    assert [marker.number for marker in markers] == [4]
    ends = moved(to_photo, np.array([[70.0, 60.0], [100.0, 60.0]]))
    assert _length(card, *ends) == pytest.approx(30, rel=0.02)
    assert card.relative_uncertainty > sheet.relative_uncertainty


def test_what_a_ruler_says_of_the_check_length_corrects_the_printer():
    photo = seen(_with_sheet(), PX_PER_MM, face_to_photo(FACE_MM))
    plain, shrunk = (find_sheet(photo, check_mm=told)[0] for told in (None, 142.5))
    corner, other = np.array([[700.0, 500.0], [900.0, 500.0]])

    ratio = _length(shrunk, corner, other) / _length(plain, corner, other)

    assert ratio == pytest.approx(0.95)
    assert shrunk.relative_uncertainty < plain.relative_uncertainty


def test_no_sheet_is_said():
    with pytest.raises(ScaleError, match="No scale sheet was found"):
        find_sheet(_face())


def test_a_mirrored_sheet_is_said():
    photo = seen(_with_sheet(), PX_PER_MM, face_to_photo(FACE_MM))
    with pytest.raises(ScaleError, match="mirrored"):
        find_sheet(np.ascontiguousarray(photo[:, ::-1]))


def test_a_cut_sheet_is_said():
    photo = seen(_with_sheet(), PX_PER_MM, face_to_photo(FACE_MM))
    photo[:, 850:] = 120
    with pytest.raises(ScaleError, match="Only 2 of the sheet's 4 markers"):
        find_sheet(photo)


def test_two_sheets_are_said():
    both = _with_sheet(at=(300, 220), size=0.5, face=_with_sheet())
    with pytest.raises(ScaleError, match="Two scale sheets of different size"):
        find_sheet(seen(both, PX_PER_MM, face_to_photo(FACE_MM)))


def test_a_card_of_another_size_beside_the_sheet_is_said():
    both = _with_sheet(CARD_MARKERS, at=(350, 220), size=0.7, face=_with_sheet())
    with pytest.raises(ScaleError, match="two markers of different size"):
        find_sheet(seen(both, PX_PER_MM, face_to_photo(FACE_MM)))


def test_a_bent_sheet_is_said():
    photo = seen(_with_sheet(), PX_PER_MM, face_to_photo(FACE_MM))
    rows, cols = np.mgrid[: photo.shape[0], : photo.shape[1]].astype(np.float32)
    bent = cv2.remap(
        photo, cols, rows + 40 * np.sin(cols / 110).astype(np.float32), cv2.INTER_LINEAR
    )
    with pytest.raises(ScaleError, match="bent"):
        find_sheet(bent)


@pytest.mark.parametrize("told", [0, 20, 2000, math.nan, "wide"])
def test_an_impossible_check_length_is_refused(told):
    with pytest.raises(ScaleError, match="The check length"):
        find_sheet(_face(), check_mm=told)


def test_markers_differ_and_the_frame_holds_them():
    of_cards = [number for one in LAYOUTS.values() for number in one.markers]
    cells = [marker_cells(number) for number in (*SHEET_MARKERS, *of_cards)]
    for one, first in enumerate(cells):
        assert first[0].all()
        for other in cells[one + 1 :]:
            turned = [np.rot90(other, turn) for turn in range(4)]
            assert min((first != kind).sum() for kind in turned) >= 4
    assert all(x + MARKER_MM <= FRAME_MM[0] for x, _ in SHEET_MARKERS.values())
