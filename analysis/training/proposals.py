"""From photos to patches: dark candidates found as the product finds them.

The product's own detection pass works on whole photos with OpenCV. Here it is
imitated on batches: the background by medians of cells, its noise by the median
absolute deviation, a peak of depth, and what is connected with it at a part of its
depth. Whatever passes is a proposal, right or wrong; both are what the network must
answer.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import torch
from torch.nn import functional

from analysis.training.random_fields import Dice, Tensor, blurred, grid, resized, wide
from analysis.voids.opening.planes import LEVELS, PATCH_PX, level_of
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from analysis.training.camera import Photos

_PATCHES = SETTINGS.patches
_CELLS_PX = 12
_REACH_PX = 48
_WINDOW_PX = 2 * _REACH_PX + 1
_FLOOD_STEPS = 17
_VOID_FROM, _NOT_VOID_TO = 0.5, 0.12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnPatches:
    """What the network is given and what it should answer.

    Attributes
    ----------
    planes : Tensor, (n, planes, 32, 32)
    opening : Tensor, (n, 32, 32)
        Part of each px in the opening that the candidate belongs to, 0..1.
    is_void : Tensor, (n,)
        1 for a void, 0 for none.
    told : Tensor, (n,)
        1 where `is_void` is sure, 0 where a candidate is part of both.
    lamp : Tensor, (n, 2)
        Direction towards the lamp (col, row) times its share of the light.
    """

    planes: Tensor
    opening: Tensor
    is_void: Tensor
    told: Tensor
    lamp: Tensor

    def where(self, chosen: Tensor) -> DrawnPatches:
        """Return some of the patches."""
        return DrawnPatches(
            **{field.name: getattr(self, field.name)[chosen] for field in fields(self)}
        )


def propose(dice: Dice, photos: Photos, each: int) -> DrawnPatches:
    """Find candidates in photos and cut a patch about each.

    Parameters
    ----------
    dice : Dice
    photos : Photos
    each : int
        Candidates of a photo, half of them voids where there are as many.

    Returns
    -------
    DrawnPatches
        Only of photos that have any.
    """
    count = len(photos.light)
    smooth = blurred(
        photos.light, _PATCHES.smoothing_px * torch.ones(count, device=dice.device)
    )
    ratio = smooth / _background(smooth).clamp(min=1e-4)
    noise = _noise(1 - ratio)
    flat, good = _peaks(dice, 1 - ratio, noise, photos.opening, each)
    seed, opening = _grown(dice, 1 - ratio, photos.opening, flat, each)
    return _patches(dice, photos, ratio, noise, flat, good, seed, opening, each)


def _background(light: Tensor) -> Tensor:
    """Median over 5 x 5 cells of the mean light of each cell."""
    side = light.shape[-1]
    cells = resized(light, max(4, -(-side // _CELLS_PX)), "area")
    edged = functional.pad(cells[:, None], (2, 2, 2, 2), mode="replicate")
    near = edged.unfold(2, 5, 1).unfold(3, 5, 1).flatten(4)[:, 0]
    calm = near.median(-1).values
    calm = blurred(calm, torch.ones(len(light), device=light.device))
    return resized(calm, side, "bilinear")


def _noise(depth: Tensor) -> Tensor:
    """Return the noise of each photo by the median absolute deviation."""
    some = depth[:, ::2, ::2].flatten(1)
    middle = some.median(1, keepdim=True).values
    return (1.4826 * (some - middle).abs().median(1).values).clamp(min=0.004)


def _peaks(
    dice: Dice, depth: Tensor, noise: Tensor, opening: Tensor, each: int
) -> tuple[Tensor, Tensor]:
    """Choose peaks of depth: flat index and whether it is one, (n, each)."""
    count, side = len(depth), depth.shape[-1]
    highest = functional.max_pool2d(depth[:, None], 5, 1, 2)[:, 0]
    least = torch.maximum(
        dice.uniform(count, 0.09, 0.28), dice.uniform(count, 2.2, 5.5) * noise
    )
    peak = (depth >= highest) & (depth > wide(least))
    inner = torch.zeros_like(peak)
    inner[:, 3:-3, 3:-3] = True
    peak &= inner
    over = functional.max_pool2d(opening[:, None], 3, 1, 1)[:, 0] > 0.5
    chance = dice.noise(count, side, side)
    halves = []
    for wanted in (peak & over, peak & ~over):
        score = torch.where(wanted, chance, torch.full_like(chance, -1.0)).flatten(1)
        best = score.topk(each // 2, dim=1)
        halves.append((best.indices, best.values >= 0))
    flat = torch.cat([half[0] for half in halves], 1)
    return flat, torch.cat([half[1] for half in halves], 1)


def _window(picture: Tensor, flat: Tensor, each: int, outside: float) -> Tensor:
    """Cut a window about each peak, (n * each, window, window)."""
    count, side = len(picture), picture.shape[-1]
    pad = (_REACH_PX,) * 4
    padded = functional.pad(picture, pad, value=outside).flatten(1)
    broad = side + 2 * _REACH_PX
    row, col = flat // side, flat % side
    x, y = grid(_WINDOW_PX, str(picture.device))
    offset = (y[0] * broad + x[0]).long().view(1, 1, -1)
    at = (row * broad + col).unsqueeze(-1) + offset
    cut = padded.gather(1, at.view(count, -1))
    return cut.view(count * each, _WINDOW_PX, _WINDOW_PX)


def _flooded(start: Tensor, allowed: Tensor) -> Tensor:
    """Return what is connected with the start within the allowed px."""
    reached = start & allowed
    for _ in range(_FLOOD_STEPS):
        grown = functional.max_pool2d(reached[:, None].float(), 5, 1, 2)[:, 0] > 0
        reached = grown & allowed
    return reached


def _grown(
    dice: Dice, depth: Tensor, opening: Tensor, flat: Tensor, each: int
) -> tuple[Tensor, Tensor]:
    """Dark part of each candidate and the opening it belongs to, in its window."""
    deep = _window(depth, flat, each, -1.0)
    peak = deep[:, _REACH_PX, _REACH_PX]
    cut = peak * dice.uniform(len(peak), 0.35, 0.62)
    start = torch.zeros_like(deep, dtype=torch.bool)
    start[:, _REACH_PX, _REACH_PX] = True
    seed = _flooded(start, deep > wide(cut))
    cover = _window(opening, flat, each, 0.0)
    whole = _flooded(seed & (cover > 0.5), cover > 0.5)
    rim = functional.max_pool2d(whole[:, None].float(), 3, 1, 1)[:, 0]
    return seed, cover * rim


def _boxes(mask: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Middle column, middle row and longest side of masks, px of the window."""
    at = torch.arange(mask.shape[-1], device=mask.device, dtype=torch.float32)
    ends = []
    for along in (1, 2):
        hit = mask.any(along)
        first = torch.where(hit, at, torch.full_like(at, 1e4)).min(1).values
        last = torch.where(hit, at, torch.full_like(at, -1.0)).max(1).values
        ends.append((first, last))
    (left, right), (top, bottom) = ends
    side = torch.maximum(right - left, bottom - top) + 1
    return (left + right) / 2, (top + bottom) / 2, side


def _pyramid(picture: Tensor) -> list[Tensor]:
    """Pictures (n, c, rows, cols) halved again and again."""
    levels = [picture]
    for _ in range(LEVELS - 1):
        levels.append(functional.avg_pool2d(levels[-1], 2, ceil_mode=True))
    return levels


def _sampled(
    levels: list[Tensor], col: Tensor, row: Tensor, half: Tensor, mode: str
) -> Tensor:
    """Read a patch about each frame from the level that suits its size.

    `levels` hold (n, c, rows, cols), frames are (n, k); returns (n, k, c, 32, 32).
    """
    count, each = col.shape
    at = (torch.arange(PATCH_PX, device=col.device) + 0.5) / PATCH_PX * 2 - 1
    x = col[:, :, None] + half[:, :, None] * at
    y = row[:, :, None] + half[:, :, None] * at
    wanted = level_of(half)
    chosen = None
    for level, picture in enumerate(levels):
        tall, broad = picture.shape[-2:]
        step = 2**level
        u = ((x + 0.5) / step * 2 / broad - 1)[:, :, None, :].expand(
            -1, -1, PATCH_PX, -1
        )
        v = ((y + 0.5) / step * 2 / tall - 1)[:, :, :, None].expand(
            -1, -1, -1, PATCH_PX
        )
        spots = torch.stack([u, v], -1).reshape(count, each * PATCH_PX, PATCH_PX, 2)
        read = (
            functional.grid_sample(
                picture, spots, padding_mode=mode, align_corners=False
            )
            .view(count, -1, each, PATCH_PX, PATCH_PX)
            .transpose(1, 2)
        )
        here = (wanted == level)[:, :, None, None, None]
        chosen = read if chosen is None else torch.where(here, read, chosen)
    assert chosen is not None  # noqa: S101  there is at least one level
    return chosen


def _patches(
    dice: Dice,
    photos: Photos,
    ratio: Tensor,
    noise: Tensor,
    flat: Tensor,
    good: Tensor,
    seed: Tensor,
    opening: Tensor,
    each: int,
) -> DrawnPatches:
    """Frame the candidates, by their dark part or by their opening, and cut."""
    count, side = len(ratio), ratio.shape[-1]
    size = seed.flatten(1).sum(1).float()
    share = (seed * opening).flatten(1).sum(1) / size.clamp(min=1)
    has = opening.flatten(1).amax(1) > 0.5
    middle_col, middle_row, long = _boxes(seed)
    open_col, open_row, open_long = _boxes(opening > 0.5)
    total = len(long)
    half = 2 * long * dice.uniform(total, 0.8, 1.25)
    second = dice.coin(total, 0.5)
    shift = 0.12 * open_long
    open_half = open_long * dice.uniform(total, 0.85, 1.4)
    by_opening = second & has
    half = torch.where(by_opening, open_half, half)
    half = torch.where(second & ~has, long * dice.uniform(total, 0.85, 2.0), half)
    half = half.clamp(min=_PATCHES.least_half_px)
    col = torch.where(by_opening, open_col + shift * dice.normal(total), middle_col)
    row = torch.where(by_opening, open_row + shift * dice.normal(total), middle_row)
    edge = torch.zeros_like(seed)
    edge[:, [0, -1]] = True
    edge[:, :, [0, -1]] = True
    fits = ~((seed | (opening > 0.5)) & edge).flatten(1).any(1)
    keep = good.flatten() & (size >= _PATCHES.least_seed_px) & fits

    one = torch.stack([seed.float(), opening], 1)
    masks = _sampled(_pyramid(one), col[:, None], row[:, None], half[:, None], "zeros")
    seed_patch, open_patch = masks[:, 0, 0], masks[:, 0, 1]
    at = torch.div(flat, side, rounding_mode="floor").flatten(), (flat % side).flatten()
    photo_col = (at[1] - _REACH_PX + col).view(count, each)
    photo_row = (at[0] - _REACH_PX + row).view(count, each)
    frame = half.view(count, each)
    levels = _pyramid(ratio[:, None])
    near = _sampled(levels, photo_col, photo_row, frame, "border")[:, :, 0]
    far = _sampled(levels, photo_col, photo_row, _PATCHES.wide_ratio * frame, "border")[
        :, :, 0
    ]
    near, far = near.flatten(0, 1), far.flatten(0, 1)

    def per_candidate(figure: Tensor) -> Tensor:
        return figure[:, None].expand(-1, each).flatten()

    known = dice.coin(total, 0.6).float()
    true_lamp = photos.lamp[:, None].expand(-1, each, -1).flatten(0, 1)
    lamp = (true_lamp + 0.08 * dice.normal(total, 2)) * known[:, None]
    sigma = torch.sqrt(photos.blur_px**2 + _PATCHES.smoothing_px**2)
    sigma = per_candidate(sigma) * torch.exp(0.15 * dice.normal(total))
    planes = assemble(
        near, far, seed_patch, half, sigma, per_candidate(noise), known, lamp
    )
    void = (share > _VOID_FROM).float()
    told = ((share > _VOID_FROM) | (share < _NOT_VOID_TO)).float()
    open_patch = open_patch * (share >= _NOT_VOID_TO).float()[:, None, None]
    return DrawnPatches(
        planes=planes, opening=open_patch, is_void=void, told=told, lamp=true_lamp
    ).where(keep)


def assemble(
    near: Tensor,
    far: Tensor,
    seed: Tensor,
    half: Tensor,
    sigma: Tensor,
    noise: Tensor,
    known: Tensor,
    lamp: Tensor,
) -> Tensor:
    """Lay the planes of patches; the product does the same with numpy arrays."""
    level = near.flatten(1).median(1).values.clamp(min=1e-3)
    contrast = near / wide(level) - 1
    around = far / wide(level) - 1
    deep = (-contrast * seed).flatten(1).amax(1).clamp(min=_PATCHES.least_depth)
    patch_px = half / (PATCH_PX / 2)

    def even(figure: Tensor) -> Tensor:
        return wide(figure).expand_as(near)

    return torch.stack(
        [
            contrast.clamp(-1.0, 1.5),
            (contrast / wide(deep)).clamp(-2.0, 2.0),
            seed,
            (around / wide(deep)).clamp(-2.0, 2.0),
            even(torch.log2(sigma / patch_px).clamp(-4.0, 4.0) / 2),
            even(torch.log2(deep / noise).clamp(-2.0, 8.0) / 4),
            even(torch.log2(patch_px).clamp(-3.0, 4.0) / 2),
            even(known),
            even(lamp[:, 0]),
            even(lamp[:, 1]),
        ],
        dim=1,
    )
