"""Lamps, sky and gloss on a drawn face: the light that leaves it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch

from analysis.training.random_fields import (
    Dice,
    Tensor,
    blurred,
    cloud,
    clouds,
    shifted,
    wide,
)
from analysis.training.relief import SIDE, DrawnRelief, off_line

_SHADOW_STEPS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 19, 22, 26, 31, 37, 44, 52)
_SKY_STEPS = (1, 2, 4, 8, 15, 27)
_SKY_DIRECTIONS = 6
# Part of the faces whose holes are evenly dark, and of those lit from beside the lens.
_EVENLY_DARK, _FLASH = 0.16, 0.04


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scenes:
    """A batch of scenes.

    Attributes
    ----------
    light : Tensor, (n, side, side)
        Linear light that leaves the face.
    height : Tensor, (n, side, side)
        Of the relief over the plane of the face, px.
    opening : Tensor of bool, (n, side, side)
        Openings of the pits in the plane of the face.
    lamp : Tensor, (n, 2)
        Direction towards the lamp (col, row) times its share of the light.
    """

    light: Tensor
    height: Tensor
    opening: Tensor
    lamp: Tensor


def _sky(dice: Dice, height: Tensor) -> Tensor:
    """Part of an even sky that each point sees, from the horizon's height."""
    count = len(height)
    seen = torch.zeros_like(height)
    for number in range(_SKY_DIRECTIONS):
        turn = 2 * math.pi * (number + dice.one(0.0, 1.0)) / _SKY_DIRECTIONS
        steepest = torch.zeros_like(height)
        for step in _SKY_STEPS:
            col = torch.full((count,), math.cos(turn) * step, device=dice.device)
            row = torch.full((count,), math.sin(turn) * step, device=dice.device)
            steepest = torch.maximum(
                steepest, (shifted(height, col, row) - height) / step
            )
        seen = seen + 1 / (1 + steepest**2)
    return seen / _SKY_DIRECTIONS


def _lamp(
    dice: Dice, height: Tensor, slope: tuple[Tensor, Tensor], high: Tensor, turn: Tensor
) -> Tensor:
    """Light of one lamp with its cast shadows, 1 on an even face."""
    count = len(height)
    across, down = slope
    x = torch.cos(turn) * torch.cos(high)
    y = torch.sin(turn) * torch.cos(high)
    z = torch.sin(high)
    upright = torch.rsqrt(across**2 + down**2 + 1)
    facing = ((wide(z) - across * wide(x) - down * wide(y)) * upright).clamp(
        0.0
    ) / wide(z)
    steep = torch.tan(high)
    soft = dice.ratio(count, 0.3, 5.0)
    shade = torch.zeros_like(height)
    for step in _SHADOW_STEPS:
        there = shifted(height, torch.cos(turn) * step, torch.sin(turn) * step)
        over = (there - height - wide(step * steep)) / wide(soft * (0.5 + 0.03 * step))
        shade = torch.maximum(shade, (over + 0.5).clamp(0.0, 1.0))
    return facing * (1 - shade)


def lit(dice: Dice, face: DrawnRelief) -> Scenes:
    """Light the faces: sky, one or two lamps, bounce, gloss, a shade edge."""
    count, height = len(face.height), face.height
    one = torch.ones(count, device=dice.device)
    across = (shifted(height, one, 0 * one) - shifted(height, -one, 0 * one)) / 2
    down = (shifted(height, 0 * one, one) - shifted(height, 0 * one, -one)) / 2
    even = torch.where(
        dice.coin(count, 0.45),
        dice.uniform(count, 0.75, 1.0),
        dice.uniform(count, 0.1, 0.75),
    )
    turn = dice.uniform(count, 0.0, 2 * math.pi)
    high = dice.uniform(count, 8.0, 85.0)
    # A flash beside the lens: hardly a shadow, and the walls are what tells a pit.
    flash = dice.coin(count, _FLASH)
    even = torch.where(flash, dice.uniform(count, 0.02, 0.3), even)
    high = torch.where(flash, dice.uniform(count, 72.0, 88.0), high)
    high = torch.deg2rad(high)
    direct = _lamp(dice, height, (across, down), high, turn)
    lamp = torch.stack([torch.cos(turn), torch.sin(turn)], 1) * (1 - even)[:, None]
    if dice.one(0.0, 1.0) < 0.3:  # a second lamp for the whole batch of scenes
        part = dice.uniform(count, 0.0, 0.6)
        turn_2 = dice.uniform(count, 0.0, 2 * math.pi)
        other = _lamp(
            dice,
            height,
            (across, down),
            torch.deg2rad(dice.uniform(count, 15.0, 80.0)),
            turn_2,
        )
        direct = torch.lerp(direct, other, wide(part))
        towards = torch.stack([torch.cos(turn_2), torch.sin(turn_2)], 1)
        lamp = lamp * (1 - part)[:, None] + towards * (part * (1 - even))[:, None]
    upright = torch.rsqrt(across**2 + down**2 + 1)
    # Real pits are darker than an even sky makes them: most skies are no half globe.
    sky = _sky(dice, height) ** wide(dice.ratio(count, 0.9, 2.6))
    sky = sky * (0.5 + 0.5 * upright)
    light = wide(even) * sky + wide(1 - even) * direct
    light = face.colour * (light + passed_on(dice, light, sky))
    light = light + _gloss(dice, (across, down), face.opening)
    black = dice.coin(count, _EVENLY_DARK)
    light = torch.where(wide(black), _evenly_dark(dice, face), light)
    lamp = torch.where(black[:, None], torch.zeros_like(lamp), lamp)
    light = light * _falling_off(dice, count)
    return Scenes(
        light=light.clamp(min=0.0), height=height, opening=face.opening, lamp=lamp
    )


def passed_on(dice: Dice, light: Tensor, sky: Tensor) -> Tensor:
    """Light that the walls pass on to each other.

    What a point does not see of the sky it sees of the walls about it, which are as
    bright as what falls on them near by: a lit wall brightens the shade across a pit.
    """
    count = len(light)
    white = wide(dice.uniform(count, 0.0, 0.75))
    near = blurred(light, dice.ratio(count, 2.5, 9.0))
    walls = (1 - sky).clamp(0.0, 1.0)
    return near * white * walls / (1 - white * walls)


def _evenly_dark(dice: Dice, face: DrawnRelief) -> Tensor:
    """Light of a face whose holes are deep and all of one darkness, rim to rim."""
    count = len(face.colour)
    floor = wide(dice.ratio(count, 0.03, 0.7))
    # Holes of one face may differ, so the darkness drifts from place to place.
    drift = 0.15 * cloud(dice, count, SIDE, 60.0)
    dark = (floor * torch.exp(drift)).clamp(max=0.85)
    plain = face.colour ** wide(dice.noise(count))
    return torch.where(face.opening, dark, plain)


def _gloss(dice: Dice, slope: tuple[Tensor, Tensor], opening: Tensor) -> Tensor:
    """Sky and lamps mirrored by polished faces, and glints on rims."""
    count = len(opening)
    across, down = slope
    polished = dice.coin(count, 0.2)
    mirrored = (1 + 0.6 * clouds(dice, count, SIDE, [120.0, 50.0], [1.0, 0.5])).clamp(
        0.05
    )
    flat = torch.exp(-(across**2 + down**2) / wide(dice.ratio(count, 0.02, 0.3)))
    flat = torch.where(opening, flat * wide(dice.uniform(count, 0.0, 0.6)), flat)
    towards_col, towards_row = (
        dice.uniform(count, -1.0, 1.0),
        dice.uniform(count, -1.0, 1.0),
    )
    glint = torch.exp(
        -((across - wide(towards_col)) ** 2 + (down - wide(towards_row)) ** 2) / 0.03
    )
    strength = dice.ratio(count, 0.1, 2.5)
    shine = dice.ratio(count, 0.1, 3.0) * dice.coin(count, 0.5)
    return wide(polished.float()) * (
        wide(strength) * mirrored * flat + wide(shine) * glint
    )


def _falling_off(dice: Dice, count: int) -> Tensor:
    """Slow fall of the light, and at times the edge of a shade or an arris."""
    broad = cloud(dice, count, SIDE, 200.0)
    slow = torch.exp(wide(dice.ratio(count, 0.02, 0.35)) * broad)
    off = off_line(dice, count, 10.0)
    soft = wide(dice.ratio(count, 0.6, 25.0))
    gain = dice.uniform(count, -0.7, 0.5) * dice.coin(count, 0.22)
    edge = 1 + wide(gain) * torch.sigmoid(off / soft)
    line = dice.uniform(count, -0.6, 0.5) * dice.coin(count, 0.1)
    dim = 1 + wide(line) * torch.exp(-((off / wide(dice.ratio(count, 1.5, 14.0))) ** 2))
    return slow * edge * dim
