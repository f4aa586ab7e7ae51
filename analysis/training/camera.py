"""From a scene to the photo a phone would make of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import torch
from torch.nn import functional

from analysis.training.random_fields import (
    Dice,
    Tensor,
    blurred,
    resized,
    shifted,
    shifted_by,
    wide,
)
from analysis.training.relief import SIDE

if TYPE_CHECKING:
    from analysis.training.lighting import Scenes

# Photo px for one px of the scene.
_COARSEST, _FINEST = 0.27, 1.0
_BLOCK = 8
_MOVES = 7
# Px of the scene along the sight, at which it is looked up what it meets.
_SIGHT_STEPS = (1, 2, 3, 4, 6, 8, 11, 15, 20, 27, 36, 48)
# Luminance table of the JPEG standard (ITU-T T.81, table K.1).
_QUANTA = (
    (16, 11, 10, 16, 24, 40, 51, 61),
    (12, 12, 14, 19, 26, 58, 60, 55),
    (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62),
    (18, 22, 37, 56, 68, 109, 103, 77),
    (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101),
    (72, 92, 95, 98, 112, 100, 103, 99),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photos:
    """Photos of a batch of scenes, all of one size.

    Attributes
    ----------
    light : Tensor, (n, side, side)
        Linear light as read back from the coded photo.
    opening : Tensor, (n, side, side)
        Part of each px that lies in an opening, 0..1.
    lamp : Tensor, (n, 2)
        As in the scenes.
    blur_px : Tensor, (n,)
        Standard deviation of all blur between face and photo, px.
    """

    light: Tensor
    opening: Tensor
    lamp: Tensor
    blur_px: Tensor


def photograph(dice: Dice, scenes: Scenes) -> Photos:
    """Photograph scenes at one random resolution."""
    count = len(scenes.light)
    zoom = math.exp(dice.one(math.log(_COARSEST), math.log(_FINEST)))
    side = max(64, round(SIDE * zoom))
    seen, open_seen, lamp = _at_an_angle(dice, scenes)
    light = resized(seen, side, "area")
    opening = resized(open_seen, side, "area")
    lens = dice.uniform(count, 0.0, 1.0) ** 1.6 * 2.4
    light, moved = _moved(dice, blurred(light, lens))
    light = _smeared(dice, light)
    exposed = light * wide(
        dice.ratio(count, 0.04, 0.75)
        / light.flatten(1).median(1).values.clamp(min=1e-3)
    )
    level = dice.ratio(count, 0.001, 0.03)
    noise = dice.normal(count, side, side)
    grainy = dice.coin(count, 0.35)
    noise = torch.where(
        wide(grainy), 1.8 * blurred(noise, 0.7 * torch.ones_like(lens)), noise
    )
    exposed = exposed + noise * wide(level) * torch.sqrt(exposed.clamp(min=0.005))
    code = exposed.clamp(0.0, 1.0) ** (1 / 2.2)
    code = code + wide(dice.uniform(count, -0.3, 0.3)) * code * (1 - code)
    code, sharper = _sharpened(dice, code)
    code = _jpeg(dice, code) if dice.one(0.0, 1.0) < 0.75 else code
    code = torch.round(code.clamp(0.0, 1.0) * 255) / 255
    linear = torch.where(
        code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055).clamp(min=0) ** 2.4
    )
    return Photos(
        light=linear,
        opening=opening,
        lamp=lamp,
        blur_px=torch.sqrt(lens**2 * sharper + moved**2 + 0.3**2),
    )


def _at_an_angle(dice: Dice, scenes: Scenes) -> tuple[Tensor, Tensor, Tensor]:
    """See some faces at a grazing angle: squeezed along one direction.

    The near wall of a pit hides behind its rim, and the far one shows all its height.
    """
    count, device = len(scenes.light), scenes.light.device
    one = torch.ones(count, device=device)
    grazing = dice.coin(count, 0.35)
    part = torch.where(grazing, dice.uniform(count, 0.22, 0.95), one)
    turn = dice.uniform(count, 0.0, 2 * math.pi)
    cos, sin = torch.cos(turn), torch.sin(turn)
    light = scenes.light.clone()
    light[grazing] = met_by_the_sight(
        light[grazing],
        scenes.height[grazing],
        torch.stack([-sin, cos], 1)[grazing],
        part[grazing],
    )
    # R diag(1, 1/part) R^T reads the scene; R diag(1, part) R^T turns the lamp.
    wider = 1 / part - 1
    rows = [
        torch.stack([1 + wider * sin**2, -wider * sin * cos, 0 * one], 1),
        torch.stack([-wider * sin * cos, 1 + wider * cos**2, 0 * one], 1),
    ]
    at = functional.affine_grid(
        torch.stack(rows, 1), [count, 1, SIDE, SIDE], align_corners=False
    )
    both = torch.stack([light, scenes.opening.float()], 1)
    read = functional.grid_sample(
        both, at, padding_mode="reflection", align_corners=False
    )
    across = scenes.lamp[:, 0] * -sin + scenes.lamp[:, 1] * cos
    lost = (1 - part) * across
    lamp = scenes.lamp - torch.stack([-sin * lost, cos * lost], 1)
    return read[:, 0], read[:, 1], lamp


def met_by_the_sight(
    light: Tensor, height: Tensor, away: Tensor, part: Tensor
) -> Tensor:
    """Find the light of what the sight through each place of the face's plane meets.

    Parameters
    ----------
    light, height : Tensor, (n, side, side)
    away : Tensor, (n, 2)
        Direction of the sight along the face (col, row).
    part : Tensor, (n,)
        Sine of the angle between sight and face: what a length along it shrinks to.
    """
    steep = part / torch.sqrt((1 - part**2).clamp(min=1e-3))  # sunk a px along it
    over = -height  # of the sight over the relief
    far = torch.zeros_like(height)
    open_yet = over > 0
    before, at = over, 0
    for step in _SIGHT_STEPS:
        here = shifted(height, away[:, 0] * step, away[:, 1] * step)
        over = -wide(steep * step) - here
        meets = open_yet & (over <= 0)
        # Between two looks the gap shrinks evenly.
        share = before / (before - over).clamp(min=1e-3)
        far = torch.where(meets, at + share.clamp(0.0, 1.0) * (step - at), far)
        open_yet = open_yet & ~meets
        before, at = over, step
    far = torch.where(open_yet, torch.full_like(far, float(at)), far)
    return shifted_by(light, far * wide(away[:, 0]), far * wide(away[:, 1]))


def _moved(dice: Dice, light: Tensor) -> tuple[Tensor, Tensor]:
    """Move some cameras while they look; also the spread this adds, px."""
    count = len(light)
    length = dice.uniform(count, 1.5, 8.0) * dice.coin(count, 0.12)
    turn = dice.uniform(count, 0.0, math.pi)
    total = torch.zeros_like(light)
    for number in range(_MOVES):
        part = number / (_MOVES - 1) - 0.5
        total = total + shifted(
            light, part * length * torch.cos(turn), part * length * torch.sin(turn)
        )
    return total / _MOVES, length / math.sqrt(12)


def _smeared(dice: Dice, light: Tensor) -> Tensor:
    """Lose fine texture as a phone's noise reduction does, edges kept."""
    count = len(light)
    soft = blurred(light, torch.full((count,), 1.0, device=light.device))
    change = (light - soft).abs() / soft.clamp(min=1e-4)
    kept = torch.sigmoid((change - wide(dice.ratio(count, 0.01, 0.12))) * 60)
    smooth = torch.lerp(soft, light, kept)
    return torch.where(wide(dice.coin(count, 0.25)), smooth, light)


def _sharpened(dice: Dice, code: Tensor) -> tuple[Tensor, Tensor]:
    """Add a halo to edges; also what is left of the blur."""
    count = len(code)
    gain = dice.uniform(count, 0.0, 1.6) * dice.coin(count, 0.5)
    width = dice.uniform(count, 0.6, 1.6)
    sharp = code + wide(gain) * (code - blurred(code, width))
    return sharp, 1 / (1 + 0.5 * gain)


def _jpeg(dice: Dice, code: Tensor) -> Tensor:
    """Round the cosine coefficients of blocks of 8 x 8 px."""
    count, side = len(code), code.shape[-1]
    at = torch.arange(_BLOCK, device=code.device, dtype=torch.float32)
    turn = torch.cos((2 * at[None] + 1) * at[:, None] * math.pi / (2 * _BLOCK))
    turn = turn * math.sqrt(2 / _BLOCK)
    turn[0] *= math.sqrt(0.5)
    lead = dice.whole(0, _BLOCK)  # blocks need not start at the picture's edge
    tail = -(side + lead) % _BLOCK
    padded = functional.pad(code[:, None], (lead, tail, lead, tail), mode="replicate")
    blocks = padded.shape[-1] // _BLOCK
    tiles = padded.view(count, blocks, _BLOCK, blocks, _BLOCK).permute(0, 1, 3, 2, 4)
    quanta = torch.tensor(_QUANTA, device=code.device) / 255.0
    step = quanta * dice.ratio(count, 0.1, 1.6).view(-1, 1, 1, 1, 1)
    rounded = torch.round((turn @ tiles @ turn.T) / step) * step
    back = (turn.T @ rounded @ turn).permute(0, 1, 3, 2, 4)
    whole = back.reshape(count, blocks * _BLOCK, blocks * _BLOCK)
    return whole[:, lead : lead + side, lead : lead + side]
