"""Which side the light comes from, and the lit part of pits it lights."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Spots
    from analysis.voids.shapes import Shapes

_ANGLES = 24
_LEAST_AREA_PX = 12.0
_FEWEST = 3
# The mean pull of bright rims must stand out by this, and be this strong.
_SURE_SIGMAS, _LEAST_PULL = 3.0, 0.006
_RAYS, _SAMPLES = 15, 48
_CHUNK = 2000
_THINNEST = 8.0


def lamp_side(
    light: NDArray[np.float32], spots: Spots, shapes: Shapes
) -> float | None:
    """Estimate the direction towards the lamp from the lit rims of all pits.

    Around each spot the light just outside it pulls towards where it is brighter
    than ground; pits lit from one side all pull the same way.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    spots : Spots
    shapes : Shapes
        Of the spots.

    Returns
    -------
    float or None
        Radians from the column axis towards the row axis; None when the pulls do
        not agree.
    """
    used = (spots.area_px >= _LEAST_AREA_PX) & (
        np.pi / 4 * shapes.feret_max_px**2 / spots.area_px < _THINNEST
    )
    at = np.flatnonzero(used)
    if len(at) < _FEWEST:
        return None
    angle = np.arange(_ANGLES) * (2 * np.pi / _ANGLES)
    reach = shapes.support_px[:: len(shapes.support_px) // _ANGLES, at].T
    size = np.sqrt(spots.area_px[at])
    beyond = np.linspace(0.1, 0.7, 6)
    distance = reach[..., None] * 0.9 + 1.0 + size[:, None, None] * beyond
    col = shapes.col_px[at, None, None] + distance * np.cos(angle)[None, :, None]
    row = shapes.row_px[at, None, None] + distance * np.sin(angle)[None, :, None]
    value, label = _sampled(light, spots.labels, row, col)
    lit = value / spots.ground[at, None, None] - 1.0
    lit = np.where(label > 0, 0.0, np.clip(lit, -0.15, 0.5)).mean(axis=2)
    pull = (lit * np.exp(1j * angle)).mean(axis=1) * 2
    mean = pull.mean()
    error = np.sqrt(np.mean(np.abs(pull - mean) ** 2) / len(at))
    if not (np.abs(mean) > _LEAST_PULL and np.abs(mean) > _SURE_SIGMAS * error):
        return None
    return float(np.angle(-mean))


def join_lit(
    light: NDArray[np.float32],
    spots: Spots,
    shapes: Shapes,
    towards_rad: float,
) -> Spots:
    """Add to each dark spot the lit part of its pit, up to the far rim.

    Along rays away from the lamp the pit ends where the light last differs from
    the ground; rays of one spot are judged together.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    spots : Spots
    shapes : Shapes
        Of the spots.
    towards_rad : float
        Direction towards the lamp.

    Returns
    -------
    Spots
        With labels and areas grown; never into another spot.
    """
    thin = np.pi / 4 * shapes.feret_max_px**2 / spots.area_px
    chosen = np.flatnonzero((spots.area_px >= _LEAST_AREA_PX) & (thin < _THINNEST))
    labels = spots.labels.copy()
    area = spots.area_px.copy()
    for first in range(0, len(chosen), _CHUNK):
        at = chosen[first : first + _CHUNK]
        rays = _cast(light, spots, shapes, at, towards_rad)
        _grow(labels, area, at, *rays)
    return replace(spots, labels=labels, area_px=area)


def _sampled(light, labels, row, col):
    rows, cols = light.shape
    r = np.clip(row, 0, rows - 1.001); c = np.clip(col, 0, cols - 1.001)
    r0 = r.astype(np.intp); c0 = c.astype(np.intp)
    fr = (r - r0).astype(np.float32); fc = (c - c0).astype(np.float32)
    base = r0 * cols + c0
    flat = light.ravel()
    top = flat[base] * (1 - fc) + flat[base + 1] * fc
    low = flat[base + cols] * (1 - fc) + flat[base + cols + 1] * fc
    near = labels.ravel()[np.rint(r).astype(np.intp) * cols + np.rint(c).astype(np.intp)]
    outside = (row < 0) | (row > rows - 1) | (col < 0) | (col > cols - 1)
    return top * (1 - fr) + low * fr, np.where(outside, -1, near)


P = dict(gap=0.12, ctrl=1.5, least=0.02, sig=2.0, reach=1.0, frac=.4)


def _cast(light, spots, shapes, at, towards):
    away = towards + np.pi
    turns = len(shapes.support_px)

    def support(angle):
        return shapes.support_px[int(round(angle / (2 * np.pi) * turns)) % turns, at]

    across_a, across_b = support(away + np.pi / 2), support(away - np.pi / 2)
    ahead, behind = support(away), support(towards)
    wide = across_a + across_b
    reach = P['reach'] * np.maximum(wide, ahead + behind) + 2.0
    t = -across_b[:, None] + wide[:, None] * (np.arange(_RAYS) + 0.5) / _RAYS
    start, stop = -behind - reach * 0.5, ahead + reach
    step = (stop - start) / (_SAMPLES - 1)
    s = start[:, None] + step[:, None] * np.arange(_SAMPLES)
    ca, sa = np.cos(away), np.sin(away)
    col = shapes.col_px[at, None, None] + s[:, None, :] * ca - t[:, :, None] * sa
    row = shapes.row_px[at, None, None] + s[:, None, :] * sa + t[:, :, None] * ca
    value, label = _sampled(light, spots.labels, row, col)
    dev = value / spots.ground[at, None, None] - 1.0
    own = label == (at + 1)[:, None, None]
    other = ((label > 0) & ~own) | (label < 0)
    index = np.arange(_SAMPLES)
    has = own.any(axis=2)
    last = np.where(has, _SAMPLES - 1 - np.argmax(own[:, :, ::-1], axis=2), -1)
    first = np.where(has, np.argmax(own, axis=2), _SAMPLES)
    skip = np.ceil(1.2 / step)[:, None, None]
    after = (index > last[:, :, None] + 0) & has[:, :, None] & ~other
    before = (index < first[:, :, None] - skip) & has[:, :, None] & ~other
    calm = (dev[:, [0, *range(_RAYS - 1)]] + 2 * dev + dev[:, [*range(1, _RAYS), _RAYS - 1]]) / 4
    big = np.where(after, calm, -1).max(axis=2)
    ctrl = np.where(before, calm, -1).max(axis=2)
    mid = slice(_RAYS // 5, _RAYS - _RAYS // 5)
    lit = _middle(np.where(has, big, np.nan)[:, mid])
    dull = np.maximum(_middle(np.where(has, ctrl, np.nan)[:, mid]), 0)
    sure = (lit > np.maximum(P['least'], P['sig'] * spots.noise[at])) & (lit > P['ctrl'] * dull)
    part = calm / np.maximum(lit, 1e-6)[:, None, None]
    gain = np.where(part > 0.5, np.minimum(part, 1.5) - 0.45, -P['gap']) * step[:, None, None]
    gain = np.where(after, gain, 0.0)
    gain = np.where(other & (index > last[:, :, None]), -5.0, gain)
    total = np.cumsum(gain, axis=2)
    best = np.argmax(total, axis=2)
    won = np.take_along_axis(total, best[:, :, None], axis=2)[:, :, 0] > 0
    far = np.where(won & has & sure[:, None], best, last)
    length = np.maximum(far - last, 0) * step[:, None]
    # One ray alone is no rim: the middle of three neighbours counts.
    trio = np.stack([length[:, [0, *range(_RAYS - 1)]], length, length[:, [*range(1, _RAYS), _RAYS - 1]]])
    length = np.where(has, np.median(trio, axis=0), 0.0)
    grown = (length > 1.0).sum(axis=1) >= P['frac'] * has.sum(axis=1)
    length = np.where(grown[:, None], length, 0.0)
    end = start[:, None] + (last + 0.5) * step[:, None]
    return shapes.row_px[at], shapes.col_px[at], t, end, length, wide / _RAYS, (ca, sa)


def _middle(values):
    ok = np.isfinite(values).any(axis=1)
    out = np.zeros(len(values))
    out[ok] = np.nanmedian(values[ok], axis=1)
    return out


def _grow(labels, area, at, row0, col0, t, end, length, dt, direction):
    ca, sa = direction
    for i in np.flatnonzero((length > 0).any(axis=1)):
        on = np.flatnonzero(length[i] > 0)
        tt = t[i, on]; half = dt[i] / 2
        near = end[i, on] - 1.0; far = end[i, on] + length[i, on]
        tt = np.r_[tt[0] - half, tt, tt[-1] + half]; near = np.r_[near[0], near, near[-1]]; far = np.r_[(near[0]+far[0])/2, far, (near[-1]+far[-1])/2]
        s = np.r_[near, far[::-1]]; t2 = np.r_[tt, tt[::-1]]
        c = col0[i] + s * ca - t2 * sa; r = row0[i] + s * sa + t2 * ca
        r_lo, c_lo = max(int(r.min()) - 1, 0), max(int(c.min()) - 1, 0)
        r_hi, c_hi = min(int(r.max()) + 2, labels.shape[0]), min(int(c.max()) + 2, labels.shape[1])
        if r_hi <= r_lo or c_hi <= c_lo:
            continue
        patch = np.zeros((r_hi - r_lo, c_hi - c_lo), np.uint8)
        cv2.fillPoly(patch, [np.round(np.stack([c - c_lo, r - r_lo], 1)*16).astype(np.int32)], 1, shift=4)
        view = labels[r_lo:r_hi, c_lo:c_hi]
        new = (patch > 0) & (view == 0)
        view[new] = at[i] + 1
        area[at[i]] += length[i].sum() * dt[i]
