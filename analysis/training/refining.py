"""Second stage: train on with candidates that the product itself finds."""

from __future__ import annotations

import copy
import math
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import torch

from analysis.training.network import OpeningNet
from analysis.training.proposals import Patches
from analysis.training.teaching import average, figures_of, loss_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from analysis.training.fields import Tensor

_RATE, _AVERAGE = 6e-4, 0.998
_KNOWN, _TOLD_SHARE, _LAMP_NOISE = 7, 0.6, 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class Refining:
    """How to train on.

    Attributes
    ----------
    passes : float
        How often each patch is seen.
    batch : int
    seed : int
    """

    passes: float = 4.0
    batch: int = 256
    seed: int = 0


def read_shards(paths: Sequence[Path]) -> dict[str, Tensor]:
    """Read files written by `gather`; half precision, as they lie there."""
    parts: dict[str, list[np.ndarray]] = {}
    for path in paths:
        with np.load(path) as shard:
            for name in shard.files:
                parts.setdefault(name, []).append(shard[name])
    return {
        name: torch.from_numpy(np.concatenate(some)) for name, some in parts.items()
    }


def _batch(shards: dict[str, Tensor], at: Tensor, source: torch.Generator) -> Patches:
    """Assemble planes, turn and mirror them, tell the light to some."""
    near = shards["planes"][at].float()
    count = len(near)
    planes = torch.empty(count, 10, 32, 32)
    planes[:, :4] = near
    lamp = shards["lamp"][at].clone()
    opening = shards["opening"][at].float()
    flip, turn = torch.rand(2, generator=source) < 0.5  # noqa: PLR2004  a coin
    if flip:
        planes[:, :4], opening = planes[:, :4].flip(3), opening.flip(2)
        lamp[:, 0] = -lamp[:, 0]
    if turn:
        planes[:, :4] = planes[:, :4].transpose(2, 3).clone()
        opening, lamp = opening.transpose(1, 2), lamp[:, [1, 0]]
    known = (torch.rand(count, generator=source) < _TOLD_SHARE).float()
    told = (lamp + _LAMP_NOISE * torch.randn(count, 2, generator=source)) * known[
        :, None
    ]
    even = torch.cat([shards["const"][at, :3].float(), known[:, None], told], 1)
    planes[:, 4:] = even[:, :, None, None]
    return Patches(
        planes=planes,
        opening=opening,
        is_void=shards["is_void"][at],
        told=shards["told"][at],
        lamp=lamp,
    )


def refine(
    net: OpeningNet, shards: dict[str, Tensor], held: dict[str, Tensor], plan: Refining
) -> tuple[OpeningNet, list[float]]:
    """Train a network on with the product's candidates.

    Parameters
    ----------
    net : OpeningNet
    shards, held : dict of str to Tensor
        To train on; to look at.
    plan : Refining

    Returns
    -------
    net : OpeningNet
        Average of the weights of the last steps.
    losses : list of float
    """
    torch.manual_seed(plan.seed)
    source = torch.Generator().manual_seed(plan.seed)
    net.train()
    mean = copy.deepcopy(net).eval()
    total = len(shards["told"])
    steps = int(plan.passes * total / plan.batch)
    ways = torch.optim.AdamW(net.parameters(), _RATE, weight_decay=1e-3)
    losses: list[float] = []
    look = _batch(held, torch.arange(min(4000, len(held["told"]))), source)
    for step in range(steps):
        part = step / steps
        for group in ways.param_groups:
            warm = min(1.0, (step + 1) / 50)
            group["lr"] = _RATE * warm * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        at = torch.randint(0, total, (plan.batch,), generator=source)
        given = _batch(shards, at, source)
        drawn, judged = net(given.planes)
        loss = loss_of(drawn, judged, given)
        ways.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        ways.step()
        average(mean, net, min(_AVERAGE, (step + 1) / (step + 10)))
        losses.append(float(loss.detach()))
        if step % 200 == 0 or step == steps - 1:
            seen = figures_of(mean, look)
            words = " ".join(f"{name} {value:.3f}" for name, value in seen.items())
            sys.stdout.write(
                f"{step}/{steps} loss {np.mean(losses[-200:]):.3f} {words}\n"
            )
            sys.stdout.flush()
    return mean, losses
