"""A segmentation as a person decided it: the same figures from other voids."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.flags import Flag
from analysis.model.reading import VoidCatalog
from analysis.model.review import REASON_KINDS, decided
from analysis.voids.listing import area_sd, size_kinds
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import region_pixels, region_shapes

# The normal law's 97.5 %.
_NORMAL = 1.96

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.review import Decided, Mark, Outline
    from analysis.voids.doubts import Doubts
    from analysis.voids.segmentation import Segmentation
    from analysis.voids.shapes import Shapes


def reviewed(
    found: Segmentation,
    marks: Sequence[Mark],
    face: NDArray[np.bool_],
    *,
    mm_per_px: float | None,
) -> Segmentation:
    """Return what counts after a person's decisions.

    Light, background, noise and patches stay: the figures are taken by the same steps
    as those of the automatic reading.

    Parameters
    ----------
    found : Segmentation
        The automatic one.
    marks : sequence of Mark
        Outlines in its px.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    mm_per_px : float or None
        Scale, for the kinds by size.

    Returns
    -------
    Segmentation

    Raises
    ------
    InputError
        A decision is about a candidate that is not there.

    Examples
    --------
    >>> from analysis.model.review import Mark
    >>> from analysis.voids.segmentation import segment
    >>> photo = np.full((90, 120, 3), 160, np.uint8)
    >>> photo[40:50, 60:70] = 40
    >>> light = (photo[..., 0] / 255.0).astype(np.float32) ** 2.2
    >>> face = np.ones(light.shape, bool)
    >>> found = segment(photo, light, face, smallest_px2=4, mm_per_px=None)
    >>> mark = Mark(action="reject", spot=0, reason="stain")
    >>> after = reviewed(found, [mark], face, mm_per_px=None)
    >>> len(after.voids), after.rejected.reason[0], bool(after.mask.any())
    (0, 'by hand: stain or damp', False)
    """
    if not marks:
        return found
    candidates, added = decided(marks, len(found.voids), len(found.rejected))
    whole = _joined(found, added)
    counted = np.array([candidate.counted for candidate in candidates], dtype=bool)
    kind = _kinds(found, whole, counted, mm_per_px)
    by_hand = {
        at: candidate for at, candidate in enumerate(candidates) if candidate.by_hand
    }
    reason = [
        "" if counts else words
        for counts, words in zip(counted, whole.reason, strict=True)
    ]
    flags = list(whole.flags)
    for at, candidate in by_hand.items():
        flags[at] = flags[at] | {Flag.BY_HAND}
        if candidate.reason:
            kind[at], reason[at] = REASON_KINDS[candidate.reason]
    whole = replace(whole, kind=kind, reason=tuple(reason), flags=tuple(flags))
    hand = np.array([candidate.by_hand for candidate in candidates], dtype=bool)
    return replace(
        found,
        voids=whole.chosen(np.flatnonzero(counted)),
        rejected=whole.chosen(np.flatnonzero(~counted)),
        mask=_mask(found, whole.outline_px, by_hand, face),
        doubts=_doubts_left(found, whole.area_px, counted, hand, added),
    )


def _doubts_left(
    found: Segmentation,
    area: NDArray[np.float64],
    counted: NDArray[np.bool_],
    by_hand: NDArray[np.bool_],
    added: Sequence[Outline],
) -> Doubts:
    """Return the doubts that a person's decisions leave.

    What was decided is no longer doubted as a void or none; no doubt can be about more
    than what is left undecided. Rims found by the search keep their doubt; a rim drawn
    by hand is off by about half a px along its length.
    """
    was = found.doubts
    if not by_hand.any():
        return was
    total = max(float(found.voids.area_px.sum()), 1e-9)
    open_counted = float(area[counted & ~by_hand].sum())
    open_others = float(area[~counted & ~by_hand].sum())
    drawn = np.zeros(len(area), dtype=bool)
    # Added outlines stand at the end of the list.
    drawn[len(area) - len(added) :] = True
    rims = sum(
        perimeter_px(line.line_px)
        for line, kept in zip(added, counted[drawn], strict=True)
        if kept
    )
    found_area = float(area[counted & ~drawn].sum())
    by_search = float(area[counted & by_hand].sum())
    return replace(
        was,
        rim_px=was.rim_px * min(1.0, found_area / total)
        + SETTINGS.interval.drawn_rim_px * rims,
        strict_px=was.strict_px * min(1.0, open_counted / total) + by_search,
        wrong_px=min(was.wrong_px, open_counted),
        missed_px=min(was.missed_px, open_others),
        shaped_px=min(was.shaped_px, open_others),
    )


def perimeter_px(line_px: NDArray[np.float64]) -> float:
    """Length of a closed outline, px.

    Examples
    --------
    >>> perimeter_px(np.array([[0.0, 0.0], [0.0, 4.0], [3.0, 0.0]]))
    12.0
    """
    return float(np.hypot(*(line_px - np.roll(line_px, 1, axis=0)).T).sum())


def decided_interval(after: Segmentation) -> tuple[float, float]:
    """95 % interval of a face that a person has looked at as a whole, in logarithms.

    Nothing is left of the segmentation: neither voids that may be none nor missed
    ones. What is left is where the rims lie: together (the search's doubt of its own
    rims; half a px along what was drawn by hand), and each by itself.

    Parameters
    ----------
    after : Segmentation
        As reviewed, with one void or more.

    Returns
    -------
    low, high : float
        Logs of truth over estimate.
    """
    total = float(after.voids.area_px.sum())
    together = after.doubts.rim_px / total
    each = float(np.sqrt((after.voids.area_sd_px**2).sum())) / total
    half = float(np.hypot(together, _NORMAL * each))
    return -half, half


def _joined(found: Segmentation, added: Sequence[Outline]) -> VoidCatalog:
    """Put voids, turned-down candidates and added voids in one catalogue."""
    parts = [found.voids, found.rejected]
    parts += [_row(one, found.mask.shape) for one in added]
    joined: dict[str, Any] = {}
    for field in fields(VoidCatalog):
        columns = [getattr(part, field.name) for part in parts]
        joined[field.name] = (
            np.concatenate(columns)
            if isinstance(columns[0], np.ndarray)
            else tuple(value for column in columns for value in column)
        )
    return VoidCatalog(**joined)


def _row(outline: Outline, shape: tuple[int, ...]) -> VoidCatalog:
    """Describe one added void; the light on its rim was not weighed."""
    area = np.array([outline.area_px])
    form = _shape(outline, shape)
    nothing = np.zeros(1)
    return VoidCatalog(
        row_px=form.row_px,
        col_px=form.col_px,
        area_px=area,
        area_sd_px=area_sd(area, np.ones(1)),
        feret_max_px=form.feret_max_px,
        kind=np.array(["bughole"], dtype="<U12"),
        reason=("",),
        contrast=np.array([outline.contrast]),
        rim_sharpness=nothing,
        shading=nothing,
        colour_shift=nothing,
        elongation=form.elongation,
        solidity=form.solidity,
        flags=(frozenset(),),
        outline_px=(outline.line_px,),
    )


def _shape(outline: Outline, shape: tuple[int, ...]) -> Shapes:
    """Measure the pixels inside an outline."""
    labels = _filled(outline.line_px, shape).astype(np.int32)
    return region_shapes(region_pixels(labels, 1))


def _filled(line_px: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.uint8]:
    """Return 1 inside an outline and on it."""
    image = np.zeros(shape[:2], np.uint8)
    cv2.fillPoly(image, [np.rint(line_px[:, ::-1]).astype(np.int32)], 1)
    return image


def _kinds(
    found: Segmentation,
    whole: VoidCatalog,
    counted: NDArray[np.bool_],
    mm_per_px: float | None,
) -> NDArray[np.str_]:
    """Name counted voids by size and place; leave the others as they are."""
    rows, cols = found.honeycomb.shape
    row = np.clip(np.rint(whole.row_px), 0, rows - 1).astype(np.intp)
    col = np.clip(np.rint(whole.col_px), 0, cols - 1).astype(np.intp)
    by_size = size_kinds(whole.equivalent_diameter_px * (mm_per_px or np.nan))
    wanted = np.where(found.honeycomb[row, col], "honeycomb", by_size)
    return np.where(counted, wanted, whole.kind).astype("<U12")


def _mask(
    found: Segmentation,
    lines_px: Sequence[NDArray[np.float64]],
    by_hand: dict[int, Decided],
    face: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Take out of the mask what a person turned down, then put in what counts."""
    mask = found.mask.astype(np.uint8)
    for counts in (0, 1):
        for at, candidate in by_hand.items():
            if candidate.counted == bool(counts) and len(lines_px[at]):
                line = np.rint(lines_px[at][:, ::-1]).astype(np.int32)
                cv2.fillPoly(mask, [line], counts)
    return (mask > 0) & face
