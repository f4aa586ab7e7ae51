"""Irregular rims: radius as a short harmonic series, painted in small windows.

The rim of radius R(t) = r0 (1 + sum Re(c_k e^{ikt})), k = 2..6, encloses
pi r0^2 (1 + sum |c_k|^2 / 2), so that its area is known in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

HARMONICS = np.arange(2, 7)
# Rims of broken bubbles are more lobed than jagged: high harmonics fall quickly.
FALL = np.sqrt(2) / HARMONICS**1.5
MOST_RAGGED = 0.6
CHUNK_PX = 400_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rims:
    """Rims as columns of one length n.

    Attributes
    ----------
    row_px, col_px : ndarray of float64, (n,)
        Centres.
    diameter_px : ndarray of float64, (n,)
        Of the circle of equal area.
    harmonics : ndarray of complex128, (n, 5)
        c_k of the series.
    """

    row_px: NDArray[np.float64]
    col_px: NDArray[np.float64]
    diameter_px: NDArray[np.float64]
    harmonics: NDArray[np.complex128]

    @property
    def base_px(self) -> NDArray[np.float64]:
        """Radius r0 of the series, px."""
        growth = 1.0 + 0.5 * np.sum(np.abs(self.harmonics) ** 2, axis=1)
        base: NDArray[np.float64] = 0.5 * self.diameter_px / np.sqrt(growth)
        return base

    @property
    def reach_px(self) -> NDArray[np.float64]:
        """Radius that no part of the rim exceeds, px."""
        reach: NDArray[np.float64] = self.base_px * (
            1.0 + np.sum(np.abs(self.harmonics), axis=1)
        )
        return reach


def draw_harmonics(
    irregularity: NDArray[np.float64],
    rng: np.random.Generator,
    stretch: NDArray[np.complex128] | None = None,
) -> NDArray[np.complex128]:
    """Return random series, more ragged with `irregularity`.

    `stretch` is added to the second harmonic, the one that makes a rim long. The sum
    of the amplitudes stays below 0.6, so that the rim never crosses itself.

    Examples
    --------
    >>> draw_harmonics(np.zeros(2), np.random.default_rng(1)).shape
    (2, 5)
    """
    shape = (len(irregularity), len(HARMONICS))
    draw = rng.standard_normal((*shape, 2))
    series = (draw[..., 0] + 1j * draw[..., 1]) * (irregularity[:, None] * FALL)
    if stretch is not None:
        series[:, 0] = series[:, 0] + stretch
    size = np.abs(series).sum(axis=1, keepdims=True)
    capped: NDArray[np.complex128] = series * np.minimum(
        1.0, MOST_RAGGED / np.maximum(size, 1e-12)
    )
    return capped


def windows(
    rims: Rims, shape: tuple[int, int]
) -> Iterator[
    tuple[int, tuple[slice, slice], NDArray[np.float32], NDArray[np.float32]]
]:
    """Yield each rim's window: index, slices, coverage 0..1 and radius over rim.

    A px is covered by a ramp one px wide along the radius; the ramp would add 1/12
    px² to R², which is taken off first, so that areas keep their closed form.
    Rims of like size are worked out together.
    """
    # Sizes in steps of the root of 2, at most that much too large a window: rims of a
    # step stack to one array, in chunks that keep it small.
    half = np.ceil(rims.reach_px + 1.0).astype(int)
    step = 2.0 ** (np.ceil(2 * np.log2(np.maximum(half, 2))) / 2)
    classes = np.ceil(step).astype(int)
    for size in np.unique(classes):
        members = np.flatnonzero(classes == size)
        count = max(1, CHUNK_PX // (2 * size + 1) ** 2)
        for first in range(0, len(members), count):
            chunk = members[first : first + count]
            yield from _chunk_windows(rims, chunk, int(size), shape)


def _chunk_windows(
    rims: Rims, chunk: NDArray[np.intp], size: int, shape: tuple[int, int]
) -> Iterator[
    tuple[int, tuple[slice, slice], NDArray[np.float32], NDArray[np.float32]]
]:
    row0 = np.rint(rims.row_px[chunk]).astype(int)
    col0 = np.rint(rims.col_px[chunk]).astype(int)
    # Arrays are (n, 2 size + 1, 2 size + 1): rim, row, col. A px is col + i row from
    # the exact centre, which need not lie on one.
    offset = np.arange(-size, size + 1)
    down = offset[None, :] + (row0 - rims.row_px[chunk])[:, None]
    right = offset[None, :] + (col0 - rims.col_px[chunk])[:, None]
    spot = (right[:, None, :] + 1j * down[:, :, None]).astype(np.complex64)
    radius = np.abs(spot)
    unit = spot / np.maximum(radius, 1e-6)
    series = rims.harmonics[chunk].astype(np.complex64)
    # Powers of the unit vector are e^{ikt}, from k = 2 on, one product each: neither
    # angle nor cosine is worked out.
    power = unit * unit
    wave = np.ones_like(radius)
    for k in range(len(HARMONICS)):
        if np.any(series[:, k]):
            factor = series[:, k, None, None]
            wave += factor.real * power.real - factor.imag * power.imag
        power *= unit
    rim = wave * rims.base_px[chunk].astype(np.float32)[:, None, None]
    trimmed = np.sqrt(np.maximum(rim * rim - np.float32(1 / 12), 0))
    coverage = np.clip(trimmed - radius + np.float32(0.5), 0, 1)
    relative = (radius / np.maximum(rim, 1e-6)).astype(np.float32)
    for k, index in enumerate(chunk):
        top, left = row0[k] - size, col0[k] - size
        rows = slice(max(top, 0), min(top + 2 * size + 1, shape[0]))
        cols = slice(max(left, 0), min(left + 2 * size + 1, shape[1]))
        if rows.start >= rows.stop or cols.start >= cols.stop:
            continue
        cut = (
            k,
            slice(rows.start - top, rows.stop - top),
            slice(cols.start - left, cols.stop - left),
        )
        yield int(index), (rows, cols), coverage[cut], relative[cut]


def covered(rims: Rims, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Return how much of each px lies inside any rim, 0..1.

    Examples
    --------
    >>> disc = Rims(row_px=np.array([20.0]), col_px=np.array([20.0]),
    ...             diameter_px=np.array([16.0]), harmonics=np.zeros((1, 5), complex))
    >>> bool(abs(covered(disc, (41, 41)).sum() / (np.pi * 64) - 1) < 0.005)
    True
    """
    out = np.zeros(shape, np.float32)
    for _, at, coverage, _ in windows(rims, shape):
        np.maximum(out[at], coverage, out=out[at])
    return out
