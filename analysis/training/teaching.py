"""Train the opening network on patches drawn as it goes."""

from __future__ import annotations

import copy
import math
import sys
import time
from collections import deque
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import torch
from torch.nn import functional

from analysis.training.averaging import follow
from analysis.training.camera import photograph
from analysis.training.opening_network import OpeningNet
from analysis.training.pacing import steps_of
from analysis.training.proposals import DrawnPatches, propose
from analysis.training.random_fields import Dice, Tensor
from analysis.training.scenes import draw_scenes
from analysis.voids.opening.planes import SEED_PLANE

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

_WARM_STEPS, _DECAY = 200, 1e-3
_TOLD_STEPS, _KEPT_STEPS = 100, 1000
_AVERAGE = 0.999
_NOTHING_WEIGHT = 0.3
_KNOWN = 7
_ALIKE = 0.5
_STEEP = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainingPlan:
    """How long and how broad to train.

    Attributes
    ----------
    steps : int or None
        None: as many as fit into `seconds`, by the pace of the first 300; with the
        steps of its record the same run can be made again.
    seconds : float
        Of learning, where no steps are told.
    turns : int
        Steps for each drawing; drawing costs far more than a step.
    kept : int
        Drawings a step's patches are taken from, the newest ones.
    scenes : int
        Of each drawing.
    photos : int
        Of each scene, at different resolutions.
    each : int
        Candidates of a photo at most.
    seed : int
    device : str
    rate : float
        Of learning, at its highest.
    area : float
        Weight of the area within the cut.
    """

    steps: int | None
    seconds: float = 450.0
    turns: int = 4
    kept: int = 8
    scenes: int = 64
    photos: int = 6
    each: int = 12
    seed: int = 0
    device: str = "cpu"
    rate: float = 2e-3
    area: float = 0.3


def patches(dice: Dice, plan: TrainingPlan) -> DrawnPatches:
    """Draw scenes, photograph them and cut patches about the candidates."""
    with torch.no_grad():
        scenes = draw_scenes(dice, plan.scenes)
        drawn = [
            propose(dice, photograph(dice, scenes), plan.each)
            for _ in range(plan.photos)
        ]
    return _joined(drawn)


def _some_patches(dice: Dice, plan: TrainingPlan) -> DrawnPatches:
    """Draw until there is a candidate; a small plan may draw none."""
    drawn = patches(dice, plan)
    while len(drawn.planes) == 0:
        drawn = patches(dice, plan)
    return drawn


def _mixed(
    dice: Dice, pool: Sequence[DrawnPatches], plan: TrainingPlan
) -> DrawnPatches:
    """Take patches of all drawings in the pool, as many as a turn uses up."""
    sizes = torch.tensor([len(some.planes) for some in pool])
    wanted = max(1, int(sizes.float().mean()) // plan.turns)
    chosen = [dice.noise(len(some.planes)) < wanted / int(sizes.sum()) for some in pool]
    if not any(bool(some.any()) for some in chosen):
        return pool[-1]
    return _joined([some.where(here) for some, here in zip(pool, chosen, strict=True)])


def _joined(parts: Sequence[DrawnPatches]) -> DrawnPatches:
    return DrawnPatches(
        **{
            field.name: torch.cat([getattr(some, field.name) for some in parts])
            for field in fields(DrawnPatches)
        }
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One of the eight ways to lay a square on itself."""

    cols: bool
    rows: bool
    swap: bool

    def picture(self, given: Tensor) -> Tensor:
        """Turn pictures, (n, ..., rows, cols)."""
        given = given.flip(-1) if self.cols else given
        given = given.flip(-2) if self.rows else given
        return given.transpose(-1, -2) if self.swap else given

    def side(self, given: Tensor) -> Tensor:
        """Turn directions (col, row), (n, 2)."""
        col, row = given.T
        col, row = -col if self.cols else col, -row if self.rows else row
        return torch.stack([row, col] if self.swap else [col, row], 1)


def _any_turn(dice: Dice) -> Turn:
    cols, rows, swap = (bool(dice.whole(0, 2)) for _ in range(3))
    return Turn(cols=cols, rows=rows, swap=swap)


def turned(given: DrawnPatches, turn: Turn) -> DrawnPatches:
    """Turn patches with the light that falls on them."""
    planes = turn.picture(given.planes).clone()
    towards = slice(_KNOWN + 1, _KNOWN + 3)
    told = turn.side(given.planes[:, towards, 0, 0])
    planes[:, towards] = told[:, :, None, None]
    return replace(
        given,
        planes=planes,
        opening=turn.picture(given.opening),
        lamp=turn.side(given.lamp),
    )


def step_loss(
    net: torch.nn.Module, given: DrawnPatches, turn: Turn, *, area: float, cuda: bool
) -> Tensor:
    """Loss of patches and of the same patches turned, which must be answered alike."""
    other = turned(given, turn)
    with torch.autocast("cuda", dtype=torch.bfloat16, enabled=cuda):
        drawn, judged = net(torch.cat([given.planes, other.planes]))
    drawn, judged = drawn.float(), judged.float()
    half = len(given.planes)
    loss = loss_of(drawn, judged, _joined([given, other]), area)
    mine, its = torch.sigmoid(drawn[:half, 0]), torch.sigmoid(drawn[half:, 0])
    sides = turn.side(judged[:half, 1:]) - judged[half:, 1:]
    said = torch.sigmoid(judged[:half, 0]) - torch.sigmoid(judged[half:, 0])
    return (
        loss
        + _ALIKE * (turn.picture(mine) - its).square().mean()
        + _ALIKE * sides.square().mean()
        + _ALIKE * said.square().mean()
    )


def loss_of(
    drawn: Tensor, judged: Tensor, given: DrawnPatches, area: float = 0.0
) -> Tensor:
    """Cross-entropy, overlap and area of the opening, of the verdict; light's side."""
    logit = drawn[:, 0].float()
    here = given.opening.flatten(1).amax(1) > 0.5
    weight = torch.where(here, 1.0, _NOTHING_WEIGHT)
    each = (
        functional.binary_cross_entropy_with_logits(
            logit, given.opening, reduction="none"
        )
        .flatten(1)
        .mean(1)
    )
    shown = torch.sigmoid(logit)
    both = (shown * given.opening).flatten(1).sum(1)
    whole = shown.flatten(1).sum(1) + given.opening.flatten(1).sum(1)
    overlap = 1 - (2 * both + 4) / (whole + 4)
    # A cut at one half decides what is counted, so the area within it is compared;
    # the square has its least at the mean area, which the figure of a face adds up.
    # What it is divided by must not know the truth, else too small pays.
    true = given.opening.flatten(1).sum(1)
    cut = torch.sigmoid(_STEEP * logit).flatten(1).sum(1)
    size = given.planes[:, SEED_PLANE].flatten(1).sum(1) + 32
    off_area = ((cut - true) / size).clamp(-3.0, 3.0) ** 2
    verdict = functional.binary_cross_entropy_with_logits(
        judged[:, 0].float(), given.is_void, reduction="none"
    )
    # The light's side is to be guessed only where it was not told.
    blind = (given.is_void > 0.5) & (given.planes[:, _KNOWN, 0, 0] < 0.5)
    off = ((judged[:, 1:].float() - given.lamp) ** 2).sum(1)
    return (
        (weight * each).mean()
        + 0.3 * (off * blind).sum() / blind.sum().clamp(min=1)
        + 0.5 * (overlap * here).sum() / here.sum().clamp(min=1)
        + area * (off_area * here).sum() / here.sum().clamp(min=1)
        + 0.25 * (verdict * given.told).sum() / given.told.sum().clamp(min=1)
    )


@torch.no_grad()
def figures_of(net: torch.nn.Module, given: DrawnPatches) -> dict[str, float]:
    """IoU, area ratio and verdicts on patches."""
    drawn, judged = net(given.planes)
    shown = torch.sigmoid(drawn[:, 0].float())
    real = given.is_void > 0.5
    found, true = (shown > 0.5)[real], (given.opening > 0.5)[real]
    both = (found & true).flatten(1).sum(1).float()
    either = (found | true).flatten(1).sum(1).clamp(min=1)
    said = judged[:, 0] > 0
    sure = given.told > 0.5
    blind = real & (given.planes[:, _KNOWN, 0, 0] < 0.5)
    guess, lamp = judged[blind, 1:], given.lamp[blind]
    area = (
        shown.flatten(1).sum(1)[real].sum()
        / given.opening.flatten(1).sum(1)[real].sum()
    )
    return {
        "iou": float((both / either).mean()),
        "area": float(area),
        "voids_kept": float(said[real & sure].float().mean()),
        "others_kept": float(said[~real & sure].float().mean()),
        "lamp_gain": float((guess * lamp).sum() / (guess**2).sum().clamp(min=1e-6)),
        "lamp_rms": float((guess - lamp).square().sum(1).mean().sqrt()),
        "patches": float(len(real)),
    }


def teach(
    plan: TrainingPlan,
    *,
    begun: OpeningNet | None = None,
    out: Path | None = None,
    tell: bool = True,
) -> tuple[OpeningNet, list[float]]:
    """Train a network.

    Parameters
    ----------
    plan : TrainingPlan
    begun : OpeningNet or None
        One to go on with; a new one by default.
    out : Path or None
        Weights are written there (`opening.part.pt`) as it goes, should it be cut
        short.
    tell : bool
        Print progress.

    Returns
    -------
    net : OpeningNet
        Average of the weights of the last steps, ready to be used.
    losses : list of float
        Loss of each step.
    """
    torch.manual_seed(plan.seed)
    dice = Dice(plan.seed, plan.device)
    net = (begun or OpeningNet()).to(plan.device)
    mean = copy.deepcopy(net).eval()
    steps = torch.optim.AdamW(net.parameters(), plan.rate, weight_decay=_DECAY)
    cuda = plan.device.startswith("cuda")
    losses: list[float] = []
    pool: deque[DrawnPatches] = deque(maxlen=plan.kept)
    began = time.monotonic()
    for step, (part, in_all) in enumerate(steps_of(plan.steps, plan.seconds)):
        rate = (
            plan.rate
            * min(1.0, (step + 1) / _WARM_STEPS)
            * (0.5 + 0.5 * math.cos(math.pi * part))
        )
        for group in steps.param_groups:
            group["lr"] = rate + 1e-6
        if step % plan.turns == 0:
            pool.append(_some_patches(dice, plan))
        given = _mixed(dice, pool, plan)
        loss = step_loss(net, given, _any_turn(dice), area=plan.area, cuda=cuda)
        steps.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        steps.step()
        follow(mean, net, min(_AVERAGE, (step + 1) / (step + 10)))
        losses.append(float(loss.detach()))
        if out is not None and (step + 1) % _KEPT_STEPS == 0:
            out.mkdir(parents=True, exist_ok=True)
            torch.save(mean.state_dict(), out / "opening.part.pt")
        if tell and (step % _TOLD_STEPS == 0 or step + 1 == in_all):
            seen = figures_of(mean, given)
            words = " ".join(f"{name} {value:.3f}" for name, value in seen.items())
            spent = time.monotonic() - began
            sys.stdout.write(f"{step} {spent:.0f}s loss {losses[-1]:.3f} {words}\n")
            sys.stdout.flush()
    return mean.cpu().eval(), losses
