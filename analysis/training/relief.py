"""Pits, lines, bumps and roughness of a drawn face: heights and openings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch

from analysis.training.random_fields import (
    Dice,
    Tensor,
    cloud,
    clouds,
    grid,
    streaks,
    wide,
)

SIDE = 256
_SINGLE_PITS = 9


@dataclass(slots=True, kw_only=True, eq=False)
class DrawnRelief:
    """A face while it is drawn."""

    height: Tensor
    opening: Tensor
    colour: Tensor


def distance_in(
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


def single_pits(dice: Dice, face: DrawnRelief) -> None:
    """Sink some larger pits, each drawn by itself; they may touch."""
    count = len(face.height)
    busy = dice.uniform(count, -0.4, 1.0)
    for _ in range(_SINGLE_PITS):
        there = dice.uniform(count, 0.0, 1.0) < busy
        size = dice.ratio(count, 6.0, 62.0)
        col = dice.uniform(count, 10.0, SIDE - 10.0)
        row = dice.uniform(count, 10.0, SIDE - 10.0)
        radial = distance_in(dice, count, col, row, size, dice.uniform(count, 0.0, 0.4))
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


def in_cells(
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


def pits_in_cells(dice: Dice, face: DrawnRelief) -> None:
    """Many small pits."""
    count = len(face.height)
    cell = dice.whole(11, 56)
    largest = (cell - 2) * dice.uniform(count, 0.3, 0.8)
    radial, draw = in_cells(dice, count, cell, largest, dice.uniform(count, 0.1, 0.7))
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


def off_line(dice: Dice, count: int, bend: float) -> Tensor:
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


def lines(dice: Dice, face: DrawnRelief) -> None:
    """Cracks, scratches, joints with a step, fins, worm tracks: none is a void."""
    count = len(face.height)
    for chance in (0.4, 0.3, 0.2):
        there = dice.coin(count, chance)
        off = off_line(dice, count, 5.0)
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


def bumps_and_sand(dice: Dice, face: DrawnRelief) -> None:
    """Blisters and grains that stand out, and sandy strips at a leaking joint."""
    count = len(face.height)
    cell = dice.whole(8, 40)
    size = (cell - 2) * dice.uniform(count, 0.4, 0.95)
    radial, draw = in_cells(dice, count, cell, size, dice.uniform(count, 0.1, 0.6))
    chance = dice.uniform(count, 0.0, 0.25) * dice.coin(count, 0.35)
    high = wide(size * dice.ratio(count, 0.05, 0.5)) * (1 - radial**2).clamp(0.0)
    bump = torch.where(draw < wide(chance), high, torch.zeros_like(high))
    strip = torch.exp(
        -((off_line(dice, count, 8.0) / wide(dice.ratio(count, 6.0, 40.0))) ** 2)
    )
    grain = clouds(dice, count, SIDE, [2.5, 5.0], [0.7, 1.0])
    sand = wide(dice.ratio(count, 0.5, 4.0) * dice.coin(count, 0.15)) * strip * grain
    face.height = torch.where(face.opening, face.height, face.height + bump + sand)


def roughness(dice: Dice, face: DrawnRelief) -> None:
    """Fine relief everywhere: sand, film, boards, brush."""
    count = len(face.height)
    fine = clouds(dice, count, SIDE, [2.0, 4.0, 9.0, 20.0], [0.4, 0.5, 0.7, 0.8])
    face.height = face.height + wide(dice.ratio(count, 0.01, 0.6)) * fine
    grain = streaks(dice, count, SIDE, 120.0, 3.0) + streaks(
        dice, count, SIDE, 200.0, 9.0
    )
    gain = dice.ratio(count, 0.1, 1.2) * dice.coin(count, 0.2)
    face.height = face.height + wide(gain) * grain
