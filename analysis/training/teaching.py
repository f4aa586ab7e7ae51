"""Train the opening network on patches drawn as it goes."""

from __future__ import annotations

import copy
import math
import sys
import time
from dataclasses import dataclass

import torch
from torch.nn import functional

from analysis.training.camera import photograph
from analysis.training.opening_network import OpeningNet
from analysis.training.proposals import Patches, propose
from analysis.training.random_fields import Dice, Tensor
from analysis.training.scenes import draw_scenes

_RATE, _WARM_STEPS, _DECAY = 2e-3, 200, 1e-3
_AVERAGE = 0.999
_NOTHING_WEIGHT = 0.3
_KNOWN = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How long and how broad to train.

    Attributes
    ----------
    steps : int
    scenes : int
        Drawn for each step.
    photos : int
        Of each scene, at different resolutions.
    each : int
        Candidates of a photo at most.
    seed : int
    device : str
    """

    steps: int
    scenes: int = 64
    photos: int = 6
    each: int = 12
    seed: int = 0
    device: str = "cpu"


def patches(dice: Dice, plan: Plan) -> Patches:
    """Draw scenes, photograph them and cut patches about the candidates."""
    with torch.no_grad():
        scenes = draw_scenes(dice, plan.scenes)
        drawn = [
            propose(dice, photograph(dice, scenes), plan.each)
            for _ in range(plan.photos)
        ]
    return Patches(
        planes=torch.cat([some.planes for some in drawn]),
        opening=torch.cat([some.opening for some in drawn]),
        is_void=torch.cat([some.is_void for some in drawn]),
        told=torch.cat([some.told for some in drawn]),
        lamp=torch.cat([some.lamp for some in drawn]),
    )


def loss_of(drawn: Tensor, judged: Tensor, given: Patches) -> Tensor:
    """Cross-entropy and overlap of the opening, of the verdict; the light's side."""
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
        + 0.25 * (verdict * given.told).sum() / given.told.sum().clamp(min=1)
    )


@torch.no_grad()
def figures_of(net: torch.nn.Module, given: Patches) -> dict[str, float]:
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


def teach(plan: Plan, *, tell: bool = True) -> tuple[OpeningNet, list[float]]:
    """Train a network.

    Parameters
    ----------
    plan : Plan
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
    net = OpeningNet().to(plan.device)
    mean = copy.deepcopy(net).eval()
    steps = torch.optim.AdamW(net.parameters(), _RATE, weight_decay=_DECAY)
    cuda = plan.device.startswith("cuda")
    losses: list[float] = []
    began = time.monotonic()
    for step in range(plan.steps):
        part = step / plan.steps
        rate = (
            _RATE
            * min(1.0, (step + 1) / _WARM_STEPS)
            * (0.5 + 0.5 * math.cos(math.pi * part))
        )
        for group in steps.param_groups:
            group["lr"] = rate + 1e-6
        given = patches(dice, plan)
        while len(given.planes) == 0:  # a small plan may draw no candidate
            given = patches(dice, plan)
        with torch.autocast("cuda", dtype=torch.bfloat16, enabled=cuda):
            drawn, judged = net(given.planes)
        loss = loss_of(drawn, judged, given)
        steps.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        steps.step()
        average(mean, net, min(_AVERAGE, (step + 1) / (step + 10)))
        losses.append(float(loss.detach()))
        if tell and (step % 100 == 0 or step == plan.steps - 1):
            seen = figures_of(mean, given)
            words = " ".join(f"{name} {value:.3f}" for name, value in seen.items())
            spent = time.monotonic() - began
            sys.stdout.write(f"{step} {spent:.0f}s loss {losses[-1]:.3f} {words}\n")
            sys.stdout.flush()
    return mean.cpu().eval(), losses


@torch.no_grad()
def average(mean: torch.nn.Module, net: torch.nn.Module, keep: float) -> None:
    """Move the averaged weights towards the newest."""
    for kept, new in zip(
        mean.state_dict().values(), net.state_dict().values(), strict=True
    ):
        if kept.dtype.is_floating_point:
            kept.lerp_(new, 1 - keep)
        else:
            kept.copy_(new)
