"""Pieces of faces drawn as relief, colour and light; the openings are known.

All lengths are px of the scene, which is finer than the photo made of it. Figures are
chosen wide on purpose: the network has to meet more than any one yard shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch

from analysis.training.fields import (
    Dice,
    Tensor,
    blurred,
    cloud,
    clouds,
    grid,
    shifted,
    streaks,
    wide,
)

SIDE = 256
_SHADOW_STEPS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 19, 22, 26, 31, 37, 44, 52)
_SKY_STEPS = (1, 2, 4, 8, 15, 27)
_SKY_DIRECTIONS = 6
_SINGLE_PITS = 9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scenes:
    """A batch of scenes.

    Attributes
    ----------
    light : Tensor, (n, side, side)
        Linear light that leaves the face.
    opening : Tensor of bool, (n, side, side)
        Openings of the pits in the plane of the face.
    lamp : Tensor, (n, 2)
        Direction towards the lamp (col, row) times its share of the light.
    """

    light: Tensor
    opening: Tensor
    lamp: Tensor


@dataclass(slots=True, kw_only=True, eq=False)
class _Face:
    """A face while it is drawn."""

    height: Tensor
    opening: Tensor
    colour: Tensor


def draw_scenes(dice: Dice, count: int) -> Scenes:
    """Draw a batch of scenes."""
    face = _Face(
        height=torch.zeros(count, SIDE, SIDE, device=dice.device),
        opening=torch.zeros(count, SIDE, SIDE, device=dice.device, dtype=torch.bool),
        colour=torch.ones(count, SIDE, SIDE, device=dice.device),
    )
    _single_pits(dice, face)
    for _ in range(2):
        _pits_in_cells(dice, face)
    _lines(dice, face)
    _bumps_and_sand(dice, face)
    face.height = blurred(face.height, dice.uniform(count, 0.0, 1.0) ** 2 * 2.2)
    _roughness(dice, face)
    _colours(dice, face)
    return _lit(dice, face)


def _radial(
    dice: Dice, count: int, col: Tensor, row: Tensor, size: Tensor, wobble: Tensor
) -> Tensor:
    """Radial coordinate of an irregular closed line: 1 on it, less inside."""
    x, y = grid(SIDE, dice.device)
    dx, dy = x - wide(col), y - wide(row)
    turn = dice.uniform(count, 0.0, math.pi)
    squeeze = torch.where(
        dice.coin(count, 0.55),
        dice.uniform(count, 0.65, 1.0),
        dice.ratio(count, 0.25, 0.8),
    )
    along = dx * wide(torch.cos(turn)) + dy * wide(torch.sin(turn))
    across = (dy * wide(torch.cos(turn)) - dx * wide(torch.sin(turn))) / wide(squeeze)
    angle = torch.atan2(across, along)
    rim = torch.ones_like(along)
    for order in range(2, 6):
        gain = wobble * dice.normal(count) / order
        rim = rim + wide(gain) * torch.cos(
            order * angle + wide(dice.uniform(count, 0.0, 6.28))
        )
    radius = size / 2 / torch.sqrt(squeeze)
    return torch.hypot(along, across) / (wide(radius) * rim.clamp(0.45, 1.7))


def _profile(dice: Dice, radial: Tensor) -> Tensor:
    """Depth over the greatest depth: bowls, flat floors, cones."""
    count = len(radial)
    inside = radial.clamp(0.0, 1.0)
    bowl = torch.sqrt((1 - inside**2).clamp(0.0))
    flat = 1 - inside ** wide(dice.ratio(count, 1.5, 10.0))
    cone = 1 - inside
    soft = (1 - inside**2) ** wide(dice.ratio(count, 0.6, 2.2))
    kind = wide(dice.uniform(count, 0.0, 4.0))
    mixed = torch.where(kind < 3, 0.5 * cone + 0.5 * flat, soft)
    return torch.where(kind < 1, bowl, torch.where(kind < 2, flat, mixed))


def _single_pits(dice: Dice, face: _Face) -> None:
    """Sink some larger pits, each drawn by itself; they may touch."""
    count = len(face.height)
    busy = dice.uniform(count, -0.4, 1.0)
    for _ in range(_SINGLE_PITS):
        there = dice.uniform(count, 0.0, 1.0) < busy
        size = dice.ratio(count, 6.0, 62.0)
        col = dice.uniform(count, 10.0, SIDE - 10.0)
        row = dice.uniform(count, 10.0, SIDE - 10.0)
        radial = _radial(dice, count, col, row, size, dice.uniform(count, 0.0, 0.4))
        inside = (radial < 1) & wide(there)
        deep = size * dice.ratio(count, 0.12, 2.2)
        x, y = grid(SIDE, dice.device)
        tilt = (
            1
            + wide(dice.uniform(count, -0.4, 0.4) / size) * (x - wide(col))
            + wide(dice.uniform(count, -0.4, 0.4) / size) * (y - wide(row))
        ).clamp(0.3, 1.7)
        floor = -wide(deep) * _profile(dice, radial) * tilt
        floor = floor * (1 + 0.12 * clouds(dice, count, SIDE, [10.0, 4.0], [1.0, 0.5]))
        face.height = torch.where(
            inside, torch.minimum(face.height, floor), face.height
        )
        face.opening |= inside


def _in_cells(
    dice: Dice, count: int, cell_px: int, largest: Tensor, spread: Tensor
) -> tuple[Tensor, Tensor]:
    """Radial coordinate of one disc in each cell of a grid, and a draw per cell.

    Hundreds of small things cost as much as one this way. No disc leaves its cell.
    """
    x, y = grid(SIDE, dice.device)
    across = SIDE // cell_px + 1
    cell_col, cell_row = (x / cell_px).long(), (y / cell_px).long()
    number = (cell_row * across + cell_col)[0]

    def per_cell(values: Tensor) -> Tensor:
        return values[:, number.view(-1)].view(count, SIDE, SIDE)

    cells = across * across
    radius = (
        0.5
        * largest[:, None]
        * torch.exp(-spread[:, None] * dice.normal(count, cells).abs())
    )
    squeeze = 0.6 + 0.4 * dice.noise(count, cells)
    room = (cell_px / 2 - radius / squeeze - 0.5).clamp(min=0.0)
    off_col = per_cell((dice.noise(count, cells) * 2 - 1) * room)
    off_row = per_cell((dice.noise(count, cells) * 2 - 1) * room)
    dx = x - (cell_col + 0.5) * cell_px - off_col
    dy = y - (cell_row + 0.5) * cell_px - off_row
    turn = per_cell(dice.noise(count, cells) * math.pi)
    along = dx * torch.cos(turn) + dy * torch.sin(turn)
    beside = dy * torch.cos(turn) - dx * torch.sin(turn)
    angle = torch.atan2(beside, along)
    rim = (
        1
        + 0.16
        * per_cell(dice.normal(count, cells))
        * torch.cos(2 * angle + per_cell(dice.noise(count, cells) * 6.28))
        + 0.12
        * per_cell(dice.normal(count, cells))
        * torch.cos(3 * angle + per_cell(dice.noise(count, cells) * 6.28))
    )
    narrow = per_cell(squeeze)
    radial = torch.hypot(along * torch.sqrt(narrow), beside / torch.sqrt(narrow))
    radial = radial / (per_cell(radius) * rim.clamp(0.5, 1.5)).clamp(min=0.5)
    return radial, per_cell(dice.noise(count, cells))


def _pits_in_cells(dice: Dice, face: _Face) -> None:
    """Many small pits."""
    count = len(face.height)
    cell = dice.whole(11, 56)
    largest = (cell - 2) * dice.uniform(count, 0.3, 0.8)
    radial, draw = _in_cells(dice, count, cell, largest, dice.uniform(count, 0.1, 0.7))
    dense = torch.where(
        dice.coin(count, 0.4),
        dice.uniform(count, 0.0, 0.5) ** 2,
        torch.zeros(1, device=dice.device),
    )
    inside = (radial < 1) & (draw < wide(dense))
    deep = wide(largest * dice.ratio(count, 0.15, 1.8)) * (
        0.5 + draw / wide(dense).clamp(min=1e-3)
    )
    floor = -deep * _profile(dice, radial)
    face.height = torch.where(inside, torch.minimum(face.height, floor), face.height)
    face.opening |= inside


def _off_line(dice: Dice, count: int, bend: float) -> Tensor:
    """Signed distance from a random line through the picture, a little bent."""
    x, y = grid(SIDE, dice.device)
    turn = dice.uniform(count, 0.0, math.pi)
    off = dice.uniform(count, -0.45 * SIDE, 0.45 * SIDE)
    middle = SIDE / 2
    straight = (x - middle) * wide(torch.cos(turn)) + (y - middle) * wide(
        torch.sin(turn)
    )
    return (
        straight
        - wide(off)
        + wide(dice.uniform(count, 0.0, bend)) * cloud(dice, count, SIDE, 40.0)
    )


def _lines(dice: Dice, face: _Face) -> None:
    """Cracks, scratches, joints with a step, fins, worm tracks: none is a void."""
    count = len(face.height)
    for chance in (0.4, 0.3, 0.2):
        there = dice.coin(count, chance)
        off = _off_line(dice, count, 5.0)
        width = dice.ratio(count, 0.6, 5.0)
        trough = torch.exp(-((off / wide(width)) ** 2))
        fading = (0.4 + cloud(dice, count, SIDE, 30.0)).clamp(0.0, 1.0)
        trough = torch.where(wide(dice.coin(count, 0.5)), trough, trough * fading)
        deep = torch.where(
            dice.coin(count, 0.75),
            -dice.ratio(count, 0.5, 12.0),
            dice.ratio(count, 0.3, 4.0),
        )
        step = dice.uniform(count, -2.0, 2.0) * dice.coin(count, 0.3)
        added = wide(deep) * trough + wide(step) * torch.sigmoid(off / 1.5)
        added = added * wide(there)
        face.height = torch.where(face.opening, face.height, face.height + added)


def _bumps_and_sand(dice: Dice, face: _Face) -> None:
    """Blisters and grains that stand out, and sandy strips at a leaking joint."""
    count = len(face.height)
    cell = dice.whole(8, 40)
    size = (cell - 2) * dice.uniform(count, 0.4, 0.95)
    radial, draw = _in_cells(dice, count, cell, size, dice.uniform(count, 0.1, 0.6))
    chance = dice.uniform(count, 0.0, 0.25) * dice.coin(count, 0.35)
    high = wide(size * dice.ratio(count, 0.05, 0.5)) * (1 - radial**2).clamp(0.0)
    bump = torch.where(draw < wide(chance), high, torch.zeros_like(high))
    strip = torch.exp(
        -((_off_line(dice, count, 8.0) / wide(dice.ratio(count, 6.0, 40.0))) ** 2)
    )
    grain = clouds(dice, count, SIDE, [2.5, 5.0], [0.7, 1.0])
    sand = wide(dice.ratio(count, 0.5, 4.0) * dice.coin(count, 0.15)) * strip * grain
    face.height = torch.where(face.opening, face.height, face.height + bump + sand)


def _roughness(dice: Dice, face: _Face) -> None:
    """Fine relief everywhere: sand, film, boards, brush."""
    count = len(face.height)
    fine = clouds(dice, count, SIDE, [2.0, 4.0, 9.0, 20.0], [0.4, 0.5, 0.7, 0.8])
    face.height = face.height + wide(dice.ratio(count, 0.01, 0.6)) * fine
    grain = streaks(dice, count, SIDE, 120.0, 3.0) + streaks(
        dice, count, SIDE, 200.0, 9.0
    )
    gain = dice.ratio(count, 0.1, 1.2) * dice.coin(count, 0.2)
    face.height = face.height + wide(gain) * grain


def _colours(dice: Dice, face: _Face) -> None:
    """Mottling, specks, stains, bloom, aggregate and shade edges; all flush."""
    count = len(face.height)
    colour = face.colour
    broad = clouds(dice, count, SIDE, [90.0, 40.0, 18.0], [1.0, 0.8, 0.6])
    colour = colour * torch.exp(wide(dice.ratio(count, 0.01, 0.22)) * broad)
    close = clouds(dice, count, SIDE, [12.0, 7.0, 4.0], [0.8, 0.8, 0.6])
    colour = colour * torch.exp(wide(dice.ratio(count, 0.005, 0.16)) * close)
    fine = clouds(dice, count, SIDE, [1.5, 3.0], [1.0, 0.7])
    colour = colour * torch.exp(wide(dice.ratio(count, 0.005, 0.09)) * fine)
    drawn = streaks(dice, count, SIDE, 150.0, 8.0)
    colour = colour * torch.exp(
        wide(dice.ratio(count, 0.02, 0.2) * dice.coin(count, 0.2)) * drawn
    )
    for chance in (0.6, 0.5):  # specks: sand, aggregate, dirt, of one kind each
        cell = dice.whole(5, 34)
        size = (cell - 1) * dice.uniform(count, 0.25, 0.75)
        radial, draw = _in_cells(dice, count, cell, size, dice.uniform(count, 0.1, 0.8))
        dense = dice.uniform(count, 0.0, 1.0) ** 2 * dice.coin(count, chance)
        dark = torch.where(
            dice.coin(count, 0.7),
            -dice.ratio(count, 0.06, 0.75),
            dice.uniform(count, 0.05, 0.6),
        )
        edge = wide(dice.ratio(count, 0.04, 0.8))
        spot = torch.sigmoid((1 - radial) / edge * 4) * (draw < wide(dense))
        each = 0.4 + 0.6 * draw / wide(dense).clamp(min=1e-3)
        colour = colour * (1 + wide(dark) * each * spot)
    for _ in range(3):  # stains, damp, bloom
        there = dice.coin(count, 0.3)
        size = dice.ratio(count, 5.0, 110.0)
        radial = _radial(
            dice,
            count,
            dice.uniform(count, 0.0, SIDE),
            dice.uniform(count, 0.0, SIDE),
            size,
            dice.uniform(count, 0.05, 0.45),
        )
        edge = wide(dice.ratio(count, 0.03, 0.9))
        gain = torch.where(
            dice.coin(count, 0.7),
            dice.uniform(count, -0.75, -0.1),
            dice.uniform(count, 0.1, 0.6),
        )
        colour = colour * (
            1 + wide(gain * there) * torch.sigmoid((1 - radial) / edge * 4)
        )
    # Dust, laitance or dirt gives the floors of pits another tone.
    floors = wide(
        torch.where(
            dice.coin(count, 0.6),
            dice.uniform(count, 0.8, 1.1),
            dice.uniform(count, 0.4, 1.3),
        )
    )
    colour = torch.where(
        face.opening, torch.lerp(torch.ones_like(colour), colour, 0.5) * floors, colour
    )
    face.colour = colour.clamp(0.02, 4.0)


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


def _lit(dice: Dice, face: _Face) -> Scenes:
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
    high = torch.deg2rad(dice.uniform(count, 8.0, 85.0))
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
    bounce = wide(dice.uniform(count, 0.0, 0.45)) * (1 - sky)
    light = wide(even) * sky + wide(1 - even) * direct
    light = face.colour * (light + bounce * wide(0.6 + 0.4 * even))
    light = light + _gloss(dice, (across, down), face.opening)
    light = light * _falling_off(dice, count)
    return Scenes(light=light.clamp(min=0.0), opening=face.opening, lamp=lamp)


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
    off = _off_line(dice, count, 10.0)
    soft = wide(dice.ratio(count, 0.6, 25.0))
    gain = dice.uniform(count, -0.7, 0.5) * dice.coin(count, 0.22)
    edge = 1 + wide(gain) * torch.sigmoid(off / soft)
    line = dice.uniform(count, -0.6, 0.5) * dice.coin(count, 0.1)
    dim = 1 + wide(line) * torch.exp(-((off / wide(dice.ratio(count, 1.5, 14.0))) ** 2))
    return slow * edge * dim
