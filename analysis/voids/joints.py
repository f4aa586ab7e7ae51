"""What a joint of the form left on the face: bare sand, fins, a broken arris."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.model.reading import JointMarks
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.voids.background import Background
    from analysis.voids.shapes import Pixels

    _Floats = NDArray[np.float32]
    _Mask = NDArray[np.bool_]

_SET = SETTINGS.joints
_NEITHER, _BREAK, _FIN = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointLines:
    """Joints of a face.

    Attributes
    ----------
    lines_px : tuple of ndarray of float64, each (n, 2)
        (row, col).
    band, seam : ndarray of bool, (rows, cols)
        Within reach of a joint, and its own line with a gap or a fin.
    mm_per_px : float
    """

    lines_px: tuple[NDArray[np.float64], ...]
    band: _Mask
    seam: _Mask
    mm_per_px: float

    def part(self, window: tuple[slice, slice]) -> JointLines:
        """Return them in px of some rows and columns."""
        first = np.array([side.start for side in window], dtype=np.float64)
        return JointLines(
            lines_px=tuple(line - first for line in self.lines_px),
            band=self.band[window],
            seam=self.seam[window],
            mm_per_px=self.mm_per_px,
        )


def all_marks(parts: Sequence[JointMarks | None]) -> JointMarks | None:
    """Add up the marks of the parts of a face.

    Examples
    --------
    >>> one = JointMarks(
    ...     length_mm=50.0,
    ...     sand_length_mm=5.0,
    ...     fin_length_mm=0.0,
    ...     arris_loss_mm2_per_m=40.0,
    ... )
    >>> whole = all_marks([one, one, None])
    >>> whole.sand_length_mm, whole.arris_loss_mm2_per_m
    (10.0, 40.0)
    """
    known = [part for part in parts if part is not None]
    if not known:
        return None
    length = sum(part.length_mm for part in known)
    lost = sum(part.arris_loss_mm2_per_m * part.length_mm for part in known)
    return JointMarks(
        length_mm=length,
        sand_length_mm=sum(part.sand_length_mm for part in known),
        fin_length_mm=sum(part.fin_length_mm for part in known),
        arris_loss_mm2_per_m=lost / length if length else 0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Near:
    """The face near the joints, reduced: tone over its surroundings, log scale."""

    px_per_mm: float
    odd: _Floats
    usual: float
    across_mm: _Floats
    along_mm: _Floats
    line: NDArray[np.int32]
    reach: _Mask
    open: _Mask


def joint_marks(
    light: _Floats,
    background: Background,
    face: _Mask,
    plain: _Mask,
    ledges: _Mask,
    sand: _Mask | None,
    joints: JointLines,
) -> tuple[JointMarks, _Mask, _Mask]:
    """Tell sand, fins and breaks along the joints.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    background : Background
        The light the face would show without voids.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    plain : ndarray of bool, (rows, cols)
        What is plainly a void.
    ledges : ndarray of bool, (rows, cols)
        Dark spots that lie as a break does.
    sand : ndarray of bool, (rows, cols), or None
        Bare sand.
    joints : JointLines

    Returns
    -------
    marks : JointMarks
    broken : ndarray of bool, (rows, cols)
        What broke off an arris.
    fins : ndarray of bool, (rows, cols)
        Fins with their shadows.
    """
    near = _near(light, background, face, plain, joints)
    sandy = np.zeros(near.odd.shape, dtype=bool)
    if sand is not None:
        sandy = _shrunk(sand.astype(np.float32), near.odd.shape) > _SET.inside_share
    broken, fins = _told_apart(near, sandy)
    at_arris = _shrunk(ledges.astype(np.float32), near.odd.shape) > _SET.inside_share
    broken |= at_arris & near.reach & ~fins
    length = _bins(near, near.reach & (np.abs(near.across_mm) < _SET.line_mm))
    sanded = _bins(near, sandy & (np.abs(near.across_mm) < _SET.sand_reach_mm))
    length_mm = float(np.count_nonzero(length))
    px = near.px_per_mm**-2
    marks = JointMarks(
        length_mm=length_mm,
        sand_length_mm=float(np.count_nonzero(sanded & length)),
        fin_length_mm=_fin_mm(near, fins, sandy | broken, length),
        arris_loss_mm2_per_m=float(np.count_nonzero(broken) * px / length_mm * 1000)
        if length_mm
        else 0.0,
    )
    return marks, _grown(broken, face), _grown(fins, face)


def _grown(mask: _Mask, face: _Mask) -> _Mask:
    """Bring what was found on the reduced photo to full size."""
    size = (face.shape[1], face.shape[0])
    grown = cv2.resize(mask.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return np.asarray((grown > 0) & face)


def _shrunk(values: _Floats, shape: tuple[int, ...]) -> _Floats:
    size = (shape[1], shape[0])
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA))


def _near(
    light: _Floats,
    background: Background,
    face: _Mask,
    plain: _Mask,
    joints: JointLines,
) -> _Near:
    scale = min(1.0, joints.mm_per_px * _SET.px_per_mm)
    shape = tuple(max(1, round(side * scale)) for side in light.shape)
    base = _shrunk(background.cells, shape)
    tone = np.log(np.maximum(_shrunk(light, shape) / np.maximum(base, 1e-6), 1e-3))
    calm = cv2.GaussianBlur(tone, (0, 0), _SET.calm_px)
    # OpenCV's median over more than 5 px takes 8 bits only, hence the codes.
    codes = np.clip(
        (calm - _SET.brightest_log) * _SET.codes_per_log + 255, 0, 255
    ).astype(np.uint8)
    around = cv2.medianBlur(codes, _SET.tone_px).astype(np.float32)
    odd = (calm - ((around - 255) / _SET.codes_per_log + _SET.brightest_log)).astype(
        np.float32
    )
    reach = _shrunk((joints.band & face).astype(np.float32), shape) > _SET.inside_share
    clear = _shrunk(plain.astype(np.float32), shape) < _SET.inside_share
    # Middles of the reduced px, in px of the photo: (rows, 1) and (1, columns).
    rows = (np.arange(shape[0], dtype=np.float32)[:, None] + 0.5) / scale - 0.5
    cols = (np.arange(shape[1], dtype=np.float32)[None] + 0.5) / scale - 0.5
    across, along, line = from_lines(joints.lines_px, joints.mm_per_px, rows, cols)
    return _Near(
        px_per_mm=scale / joints.mm_per_px,
        odd=odd,
        usual=float(np.median(np.abs(odd[reach]))) if reach.any() else 1.0,
        across_mm=across,
        along_mm=along,
        line=line,
        reach=reach,
        open=reach & clear,
    )


def from_lines(
    lines_px: Sequence[NDArray[np.float64]],
    mm_per_px: float,
    rows: NDArray[Any],
    cols: NDArray[Any],
) -> tuple[_Floats, _Floats, NDArray[np.int32]]:
    """Signed distance from the nearest joint and place along it, mm; and which.

    Parameters
    ----------
    lines_px : sequence of ndarray of float64, each (n, 2)
        (row, col) of the photo.
    mm_per_px : float
    rows, cols : ndarray
        Places in px of the photo, of shapes that go together.

    Examples
    --------
    >>> line = np.array([[0.0, 2.0], [3.0, 2.0]])
    >>> from_lines([line], 0.5, np.array([1.0]), np.arange(5.0))[0].tolist()
    [-1.0, -0.5, 0.0, 0.5, 1.0]
    """
    shape = np.broadcast_shapes(rows.shape, cols.shape)
    across = np.full(shape, np.inf, np.float32)
    along = np.zeros(shape, np.float32)
    line = np.zeros(shape, np.int32)
    for number, points in enumerate(lines_px, start=1):
        walked = 0.0
        for begin, end in pairwise(points):
            length = float(np.hypot(*(end - begin)))
            if length == 0:
                continue
            down, right = (end - begin) / length
            # Along and across the segment, by its unit vector. `beyond` is how far a
            # place lies past either end: there the end itself is nearest.
            run = (rows - begin[0]) * down + (cols - begin[1]) * right
            side = (cols - begin[1]) * down - (rows - begin[0]) * right
            beyond = np.maximum(np.maximum(-run, run - length), 0)
            away = np.hypot(side, beyond) * np.where(side < 0, -1, 1)
            away = (away * mm_per_px).astype(np.float32)
            nearer = np.abs(away) < np.abs(across)
            across[nearer] = away[nearer]
            # Counted on from the segments before it.
            here = (np.clip(run, 0, length) + walked) * mm_per_px
            along[nearer] = here[nearer]
            line[nearer] = number
            walked += length
    return across, along, line


def along_one_side(
    pixels: Pixels, asked: NDArray[np.bool_], joints: JointLines
) -> NDArray[np.float64]:
    """Tell dark spots that lie along one side of the joint, longer than deep.

    A void knows nothing of the joint: it is as long along it as across, or lies on
    both sides. What broke off the arris, and the shadow of a fin, begin at the joint
    along all of their length.

    Parameters
    ----------
    pixels : Pixels
        Of all spots.
    asked : ndarray of bool, (n,)
        Which of them to look at.
    joints : JointLines

    Returns
    -------
    ndarray of float64, (n,)
        How far each of them reaches from the joint, mm; 0 of all others.
    """
    found = np.zeros(pixels.count)
    for one in np.flatnonzero(asked):
        # Px are sorted by label: those of one are a slice.
        first, stop = np.searchsorted(pixels.label, [one, one + 1])
        row, col = np.divmod(pixels.flat[first:stop], pixels.shape[1])
        across, along, _ = from_lines(joints.lines_px, joints.mm_per_px, row, col)
        # Counted positive on the side that holds most of it: `astray` is below 0 where
        # the spot goes over to the other side.
        side = 1.0 if np.count_nonzero(across > 0) * 2 > len(across) else -1.0
        astray, reach = np.quantile(
            side * across, (_SET.other_quantile, _SET.reach_quantile)
        )
        long = float(along.max() - along.min())
        if long < max(_SET.least_ledge_mm, _SET.ledge_longer_ratio * reach):
            continue
        # So long that its rim may lie astray: outlines are drawn round.
        surely = long >= max(_SET.sure_ledge_mm, _SET.sure_ledge_ratio * reach)
        surely &= bool(np.mean(side * across > 0) >= _SET.sure_ledge_side_share)
        bins = ((along - along.min()) / _SET.ledge_bin_mm).astype(np.intp)
        # How near it comes to the joint in each bin along it; inf in a bin without px.
        start = np.full(int(bins.max()) + 1, np.inf)
        np.minimum.at(start, bins, np.abs(across))
        starts = np.mean(start < _SET.ledge_touches_mm)
        is_ledge = starts >= _SET.ledge_starts_share and astray > -_SET.astray_mm
        if is_ledge or (surely and starts >= _SET.sure_ledge_starts_share):
            found[one] = reach
    return found


def _bins_apart(near: _Near) -> int:
    """Bins of a mm from joint to joint, more of them empty than a gap of a fin."""
    return int(near.along_mm.max()) + 1 + _SET.fin_gap_mm


def _bins(near: _Near, where: _Mask) -> _Mask:
    """Mm of joint, one after the other, that a mask meets; joints follow each other."""
    most = _bins_apart(near)
    # Joint and mm in one number.
    place = near.line[where] * most + near.along_mm[where].astype(np.intp)
    met = np.bincount(place, minlength=(int(near.line.max()) + 1) * most)
    return np.asarray(met > 0)


def _told_apart(near: _Near, sandy: _Mask) -> tuple[_Mask, _Mask]:
    """Mark what broke off along one side of the joint, and fins with their shadows."""
    least = max(_SET.odd_log, _SET.odd_ratio * near.usual)
    odd = (np.abs(near.odd) > least) & near.open & ~sandy
    odd &= np.abs(near.across_mm) < _SET.deepest_mm
    kernel = np.ones((_SET.closed_px, _SET.closed_px), np.uint8)
    closed = cv2.morphologyEx(odd.astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    number, labels, stats, _ = cv2.connectedComponentsWithStats(closed)
    kind = np.zeros(number, dtype=np.int8)
    for one in range(1, number):
        if stats[one, cv2.CC_STAT_AREA] < _SET.least_break_mm2 * near.px_per_mm**2:
            continue
        left, top, wide, high = stats[one, :4].tolist()
        box = (slice(top, top + high), slice(left, left + wide))
        mine = labels[box] == one
        kind[one] = _kind(near.across_mm[box][mine], near.along_mm[box][mine])
    return np.asarray(kind[labels] == _BREAK), np.asarray(kind[labels] == _FIN)


def _kind(across: _Floats, along: _Floats) -> int:
    """Tell a mark that starts at the joint by its shape.

    What broke off goes to one side only; a fin and its shadow lie on both, and run
    along the joint far longer than they are wide.
    """
    side = 1.0 if np.count_nonzero(across > 0) * 2 > len(across) else -1.0
    deep = side * across
    # How near the mark comes to the joint in each mm along it.
    place = along.astype(np.intp) - int(along.min())
    start = np.full(int(place.max()) + 1, np.inf)
    np.minimum.at(start, place, np.abs(across))
    known = np.isfinite(start)
    starts = np.count_nonzero(start[known] < _SET.touches_mm) / np.count_nonzero(known)
    long = float(along.max() - along.min())
    reach = float(np.quantile(deep, _SET.reach_quantile))
    if starts < _SET.starts_share or long < _SET.longer_ratio * reach:
        return _NEITHER
    wide = max(reach, _SET.least_deep_mm)
    one_sided = np.mean(deep > -_SET.touches_mm / 2) >= _SET.one_sided_share
    one_sided &= bool(np.quantile(deep, _SET.other_quantile) > -_SET.astray_mm)
    short = long < _SET.surely_fin_ratio * wide
    if one_sided and short and reach >= _SET.least_reach_mm:
        return _BREAK
    is_fin = long >= max(_SET.least_fin_mm, _SET.fin_longer_ratio * wide)
    return _FIN if is_fin else _NEITHER


def _fin_mm(near: _Near, fins: _Mask, other: _Mask, length: _Mask) -> float:
    """Length of joint with a fin: a long mark, or a bright ridge beside a shadow."""
    close = near.reach & (np.abs(near.across_mm) < _SET.fin_reach_mm) & ~other
    most = _bins_apart(near)
    count = (int(near.line.max()) + 1) * most
    place = near.line[close] * most + near.along_mm[close].astype(np.intp)
    bright, dark = np.zeros(count), np.zeros(count)
    np.maximum.at(bright, place, near.odd[close])
    np.maximum.at(dark, place, -near.odd[close])
    ridge = bright > np.maximum(_SET.fin_bright_log, _SET.fin_ratio * near.usual)
    ridge &= bright > _SET.fin_of_dark_share * dark
    ridge |= _bins(near, fins)[: len(ridge)]
    gap, least = (
        np.ones((1, mm), np.uint8) for mm in (_SET.fin_gap_mm, _SET.least_fin_mm)
    )
    # On one row of bins: short gaps are closed, then too short ridges dropped.
    line = cv2.morphologyEx(ridge[None].astype(np.uint8), cv2.MORPH_CLOSE, gap)
    line = cv2.morphologyEx(line, cv2.MORPH_OPEN, least)
    return float(np.count_nonzero((line[0] > 0) & length[: line.shape[1]]))
