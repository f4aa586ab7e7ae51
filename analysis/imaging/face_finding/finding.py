"""The face of a photo and what is left out of it, proposed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face import crosses_itself, polygon_mask
from analysis.imaging.face_finding.bumps import without_bumps
from analysis.imaging.face_finding.edges import (
    inset,
    outline_of,
    simplified,
    snapped,
    stepped,
)
from analysis.imaging.face_finding.holes import round_holes
from analysis.imaging.face_finding.labels import labels_in
from analysis.imaging.face_finding.network import (
    BESIDE,
    SIDE_PX,
    THING,
    looks_like,
)
from analysis.imaging.face_finding.papers import papers_in
from analysis.imaging.face_finding.regions import regions_of
from analysis.imaging.face_finding.seams import without_seams
from analysis.imaging.face_finding.sides import without_sides
from analysis.imaging.face_finding.stiffness import stiffened
from analysis.imaging.face_finding.sureness import doubts, sure_of
from analysis.imaging.face_finding.tabs import without_tabs
from analysis.imaging.face_finding.tinted_things import sharpened
from analysis.imaging.face_finding.tucking import tucked
from analysis.model.face_proposal import FaceProposal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo

    Line = NDArray[np.float64]

_WORKED_PX = 768
_REFINED_PX = 1536
# Edges are looked for within this many places of the network.
_REACH = 1.6
_SMALLEST_SIDE_PX = 64
# Corners: the line is kept to this share of the photo's longest side.
_BEND = 0.0015
_MOST_CORNERS = 400
# The outline keeps a little within the edge: dark ground beyond it and the shadow at
# its foot would be counted as voids; a strip of face left out changes the share little.
_INSET = 0.0008
# Beside a ruler, a card or a hand no side of the piece is looked for.
_MAYBE_THING = 0.4
# Left-out areas take a rim with them, in places of the network.
_RIM = 0.5
# A place of the network and a half: what a paper's edge cuts off of one, with its rim.
_CRUMB = 1.5
_NOTHING_SURE = 0.02


def find_face(photo: Photo) -> FaceProposal:
    """Propose what of a photo is face.

    Parameters
    ----------
    photo : Photo
        Any readable one; where nothing looks like a face the whole of it is proposed,
        and hardly sure.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> from analysis.imaging.photo import read_photo
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (120, 90), (90, 90, 88)).save(file, "PNG")
    >>> 0 <= find_face(read_photo(file.getvalue())).sure <= 1
    True
    """
    shape = (photo.height_px, photo.width_px)
    papers = papers_in(photo.pixels, photo.lens_35mm)
    looks = looks_like(photo.pixels)
    _know(looks, papers, photo.opaque, shape)
    likely = looks.mean(axis=0)
    zoom = min(1.0, _WORKED_PX / max(shape))
    worked = (max(1, round(shape[0] * zoom)), max(1, round(shape[1] * zoom)))
    small = np.asarray(
        cv2.resize(photo.pixels, worked[::-1], interpolation=cv2.INTER_AREA), np.uint8
    )
    large = np.asarray(cv2.resize(likely, worked[::-1]), np.float32)
    regions = regions_of(sharpened(large, small), worked)
    if regions is not None and not regions.whole:
        regions = without_seams(regions, photo.pixels)
    if regions is None:
        return FaceProposal(
            outline_px=_frame(shape),
            left_out_px=tuple(papers),
            sure=_NOTHING_SURE,
            face_share=1.0,
            whole=True,
        )
    # Full px over reduced ones, by axis: both sizes were rounded. A px's centre is at a
    # whole number, hence + 0.5 and - 0.5 with each change of size.
    ratio = np.array(shape) / worked
    outline = _frame(shape)
    if not regions.whole:
        outline = _outline(
            photo.pixels,
            (outline_of(regions.piece) + 0.5) * ratio - 0.5,
            likely[..., THING] > _MAYBE_THING,
        )
    inside = polygon_mask((outline + 0.5) / ratio - 0.5, worked)
    left_out = [
        paper
        for paper in papers
        if (polygon_mask((paper + 0.5) / ratio - 0.5, worked) & inside).any()
    ]
    known = np.zeros(worked, bool)
    for paper in left_out:
        known |= polygon_mask((paper + 0.5) / ratio - 0.5, worked)
    free = inside & ~known
    # A hole of which the network took a part for a thing is looked at whole.
    holes = round_holes(small, free)
    unseen = np.asarray(free & ~regions.left_out)
    labels = labels_in(small, unseen) if unseen.any() else []
    lines = [*_areas(_beyond(regions.left_out, known)), *holes, *labels]
    left_out += [(line + 0.5) * ratio - 0.5 for line in lines]
    measured = inside.copy()
    for area in left_out:
        measured &= ~polygon_mask((area + 0.5) / ratio - 0.5, worked)
    return FaceProposal(
        outline_px=outline,
        left_out_px=tuple(left_out),
        sure=sure_of(doubts(looks, regions, (outline + 0.5) / ratio - 0.5)),
        face_share=float(measured.mean()),
        whole=regions.whole,
    )


def _know(
    looks: NDArray[np.float32],
    papers: tuple[Line, ...],
    opaque: NDArray[np.bool_] | None,
    shape: tuple[int, int],
) -> None:
    """Tell the network's answer what is known: paper is a thing, nothing is no face."""
    ratio = np.array([SIDE_PX, SIDE_PX]) / shape
    for paper in papers:
        there = polygon_mask((paper + 0.5) * ratio - 0.5, (SIDE_PX, SIDE_PX))
        # A row of the unit matrix is full certainty of one of three.
        looks[:, there] = np.eye(3, dtype=np.float32)[THING]
    if opaque is not None:
        side = (SIDE_PX, SIDE_PX)
        seen = cv2.resize(opaque.astype(np.float32), side, interpolation=cv2.INTER_AREA)
        looks[:, np.asarray(seen) < 0.5] = np.eye(3, dtype=np.float32)[BESIDE]  # noqa: PLR2004


def _frame(shape: tuple[int, int]) -> Line:
    bottom, right = shape[0] - 0.5, shape[1] - 0.5
    return np.array([(-0.5, -0.5), (-0.5, right), (bottom, right), (bottom, -0.5)])


def _outline(pixels: NDArray[np.uint8], rough: Line, thing: NDArray[np.bool_]) -> Line:
    """Draw a rough outline to the edges of the photo."""
    shape = (pixels.shape[0], pixels.shape[1])
    longest = max(shape)
    zoom = min(1.0, _REFINED_PX / longest)
    line = rough
    if min(shape) * zoom >= _SMALLEST_SIDE_PX:
        size = (round(shape[1] * zoom), round(shape[0] * zoom))
        small: Any = pixels
        if zoom < 1:
            small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
        # CIE Lab in OpenCV's 8 bits: distances are about what the eye sees.
        colours = cv2.cvtColor(small, cv2.COLOR_RGB2LAB).astype(np.float32)
        colours = cv2.GaussianBlur(colours, (0, 0), 1.0)
        ratio = np.array([size[1], size[0]]) / shape
        reach = max(3, round(_REACH * longest * zoom / SIDE_PX))
        line = snapped((rough + 0.5) * ratio - 0.5, np.asarray(colours), reach)
        parted = without_sides(line, np.asarray(colours), thing)
        if parted is not None:
            line = stepped(_uncrossed(parted, (size[1], size[0])))
        line = without_tabs(line, np.asarray(colours), thing)
        line = tucked(line, np.asarray(colours))
        line = stiffened(line, np.asarray(colours))
        line = without_bumps(line, np.asarray(colours), thing)
        line = inset(line, _INSET * longest * zoom)
        line = (line + 0.5) / ratio - 0.5
    found = _few_corners(line, _BEND * longest)
    if crosses_itself(found):
        found = _few_corners(_uncrossed(found, shape), _BEND * longest)
    if crosses_itself(found):
        found = np.asarray(cv2.convexHull(found.astype(np.float32)), np.float64)[:, 0]
    return found if len(found) >= 3 else _frame(shape)  # noqa: PLR2004  a polygon


def _few_corners(line: Line, bend_px: float) -> Line:
    found = simplified(line, bend_px)
    while len(found) > _MOST_CORNERS:
        bend_px *= 1.5
        found = simplified(line, bend_px)
    return found


def _uncrossed(line: Line, shape: tuple[int, int]) -> Line:
    """Return the outline of the largest part inside a line that crosses itself.

    Points that move inwards at a sharp corner may change places.
    """
    ratio = min(1.0, _REFINED_PX / max(shape))
    size = (max(1, round(shape[0] * ratio)), max(1, round(shape[1] * ratio)))
    inside = polygon_mask((line + 0.5) * ratio - 0.5, size).astype(np.uint8)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    # Threads that join loops go.
    opened = np.asarray(cv2.morphologyEx(inside, cv2.MORPH_OPEN, kernel)) > 0
    if not opened.any():
        return line
    return (outline_of(opened) + 0.5) / ratio - 0.5


def _beyond(left_out: NDArray[np.bool_], known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the left-out areas beyond known papers.

    A paper's edge runs through places of the network: what they show beside it are
    crumbs of the paper, not a thing of their own.
    """
    rest = left_out & ~known
    if not known.any():
        return rest
    wide = max(1, round(_CRUMB * max(known.shape) / SIDE_PX))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * wide + 1, 2 * wide + 1))
    near = np.asarray(cv2.dilate(known.astype(np.uint8), kernel)) > 0
    _, labels = cv2.connectedComponents(rest.astype(np.uint8), connectivity=8)
    return rest & np.isin(labels, np.unique(np.asarray(labels)[~near]))


def _areas(mask: NDArray[np.bool_]) -> list[Line]:
    """Return the outline of each left-out area, with a rim."""
    step = max(mask.shape) / SIDE_PX
    wide = max(1, round(_RIM * step))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * wide + 1, 2 * wide + 1))
    grown = cv2.dilate(mask.astype(np.uint8), kernel)
    count, labels = cv2.connectedComponents(grown, connectivity=8)
    lines = []
    for number in range(1, count):
        line = simplified(outline_of(labels == number), 0.4 * step)
        if len(line) >= 3:  # noqa: PLR2004  a polygon
            lines.append(line)
    return lines
