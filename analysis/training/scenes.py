"""Pieces of faces drawn as relief, colour and light; the openings are known.

All lengths are px of the scene, which is finer than the photo made of it. Figures are
chosen wide on purpose: the network has to meet more than any one yard shows.
"""

from __future__ import annotations

import torch

from analysis.training.lighting import Scenes, lit
from analysis.training.random_fields import (
    Dice,
    Tensor,
    blurred,
    clouds,
    streaks,
    wide,
)
from analysis.training.relief import (
    SIDE,
    DrawnRelief,
    bumps_and_sand,
    distance_in,
    in_cells,
    lines,
    pits_in_cells,
    roughness,
    single_pits,
)

# Part of the faces that are nearly even in colour, but for stains.
_CALM = 0.1


def draw_scenes(dice: Dice, count: int) -> Scenes:
    """Draw a batch of scenes."""
    face = DrawnRelief(
        height=torch.zeros(count, SIDE, SIDE, device=dice.device),
        opening=torch.zeros(count, SIDE, SIDE, device=dice.device, dtype=torch.bool),
        colour=torch.ones(count, SIDE, SIDE, device=dice.device),
    )
    single_pits(dice, face)
    for _ in range(2):
        pits_in_cells(dice, face)
    lines(dice, face)
    bumps_and_sand(dice, face)
    face.height = blurred(face.height, dice.uniform(count, 0.0, 1.0) ** 2 * 2.2)
    roughness(dice, face)
    _colours(dice, face)
    return lit(dice, face)


def _colours(dice: Dice, face: DrawnRelief) -> None:
    """Mottling, specks, stains, bloom, aggregate and shade edges; all flush."""
    face.colour = _mottled(dice, face.colour)
    face.colour = _stained(dice, face.colour)
    _floors(dice, face)


def _mottled(dice: Dice, colour: Tensor) -> Tensor:
    """Mottling of every scale, streaks and specks; some faces have hardly any."""
    count = len(colour)
    plain = colour
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
        radial, draw = in_cells(dice, count, cell, size, dice.uniform(count, 0.1, 0.8))
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
    # On an even face a pit may be told by less, and a stain must still be none.
    calm = wide(dice.uniform(count, 0.0, 0.35))
    return torch.where(wide(dice.coin(count, _CALM)), plain * colour**calm, colour)


def _stained(dice: Dice, colour: Tensor) -> Tensor:
    """Stains, damp and bloom."""
    count = len(colour)
    for _ in range(3):
        there = dice.coin(count, 0.3)
        size = dice.ratio(count, 5.0, 110.0)
        radial = distance_in(
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
    return colour


def _floors(dice: Dice, face: DrawnRelief) -> None:
    """Dust, laitance or dirt gives the floors of pits another tone."""
    count, colour = len(face.height), face.colour
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
