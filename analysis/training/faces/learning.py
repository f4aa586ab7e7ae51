"""How the network that tells face from all else learns.

Drawn photos come from processes of their own and stay on the GPU; each is learned from
many times, turned, mirrored and in other colours. No real photo is used. With the same
plan, steps told, the same card and versions, the same weights come out: photos join in
an order of their own, so many a step, however fast they are drawn.
"""

from __future__ import annotations

import copy
import multiprocessing
import os
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
import torch
from torch import nn
from torch.nn import functional

from analysis.training.averaging import follow
from analysis.training.faces.face_network import SIDE_PX, FaceNetwork
from analysis.training.faces.scene import draw_scene
from analysis.training.pacing import steps_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

_TOLD_STEPS = 500
_CHUNK = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class FacePlan:
    """How to train.

    Attributes
    ----------
    seconds : float
        Of learning; sets the number of steps by the pace of the first 300.
    steps : int, optional
        Exactly so many in place of `seconds`: the run can be made again.
    drawers : int
        Processes that draw.
    seed : int
        Of the drawing and of the order of learning.
    rate : float
        Highest learning rate; it rises over the first hundredth and falls to 0.
    batch, pool, checked : int
        Photos a step, on the GPU, and kept to check by.
    drawn_a_step : int
        New photos a step, a multiple of 16.
    edge : float
        Extra weight of places within three of an edge between kinds.
    hard : float
        Extra weight of photos by what their overlap lacks.
    blend : float
        Share of the average of weights that each step leaves; 0 takes the last ones.
    context : bool
        Every place is told the mean of the whole photo.
    start_from : Path, optional
        Weights to go on from.
    """

    seconds: float = 450
    steps: int | None = None
    drawers: int = 15
    seed: int = 1
    rate: float = 3e-3
    batch: int = 96
    pool: int = 90_000
    checked: int = 512
    drawn_a_step: int = 16
    edge: float = 0.0
    hard: float = 0.0
    blend: float = 0.999
    context: bool = False
    start_from: Path | None = None


def _draw_on(seed: int, drawn: Any) -> None:  # noqa: ANN401 - a queue of another process
    """Draw photos until stopped."""
    os.nice(5)  # the process that learns goes first
    cv2.setNumThreads(1)  # there are as many drawers as cores
    rng = np.random.default_rng(seed)
    while True:
        drawn.put(drawn_photos(rng, _CHUNK))


def drawn_photos(rng: np.random.Generator, count: int) -> NDArray[np.uint8]:
    """Return photos with their kinds as a fourth plane, (count, rows, cols, 4).

    Examples
    --------
    >>> drawn_photos(np.random.default_rng(1), 1).shape
    (1, 256, 256, 4)
    """
    pairs = [draw_scene(rng, SIDE_PX) for _ in range(count)]
    return np.stack([np.dstack(pair) for pair in pairs])


def _varied(photos: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Turn, mirror, zoom and colour a batch (n, rows, cols, 4)."""
    n = len(photos)
    device = photos.device
    both = photos.permute(0, 3, 1, 2)
    colours, kinds = both[:, :3].float() / 127.5 - 1, both[:, 3:].float()
    turn = torch.randint(0, 4, (n,), device=device) * (np.pi / 2)
    turn = turn + 0.12 * torch.randn(n, device=device)
    mirror = torch.where(torch.rand(n, device=device) < 0.5, 1.0, -1.0)
    zoom = torch.exp(torch.empty(n, device=device).uniform_(-0.5, 0.08))
    stretch = torch.exp(0.12 * torch.randn(n, device=device))
    cos, sin = torch.cos(turn) * zoom, torch.sin(turn) * zoom
    room = (1 - zoom).clamp(0)
    move = (2 * torch.rand(n, 2, device=device) - 1) * room[:, None]
    matrix = torch.stack(
        [
            torch.stack([cos * mirror * stretch, -sin, move[:, 0]], 1),
            torch.stack([sin * mirror * stretch, cos, move[:, 1]], 1),
        ],
        1,
    )
    grid = functional.affine_grid(matrix, list(colours.shape), align_corners=False)
    way = {"padding_mode": "reflection", "align_corners": False}
    colours = functional.grid_sample(colours, grid, **way)
    kinds = functional.grid_sample(kinds, grid, mode="nearest", **way)
    light = (colours + 1) / 2
    gamma = torch.exp(0.25 * torch.randn(n, 1, 1, 1, device=device))
    gain = torch.exp(0.15 * torch.randn(n, 3, 1, 1, device=device))
    light = (light.clamp(1e-4) ** gamma * gain).clamp(0, 1)
    grey = light.mean(1, keepdim=True)
    pale = torch.rand(n, 1, 1, 1, device=device) ** 2
    light = light + (grey - light) * pale
    return light * 2 - 1, kinds[:, 0].round().long()


def loss_of(logits: torch.Tensor, kinds: torch.Tensor, plan: FacePlan) -> torch.Tensor:
    """Cross-entropy, and what is lost of the overlap of the face.

    Parameters
    ----------
    logits : Tensor, (n, 3, rows, cols)
    kinds : Tensor of int64, (n, rows, cols)
    plan : FacePlan

    Examples
    --------
    >>> kinds = torch.ones((1, 8, 8), dtype=torch.long)
    >>> sure = torch.zeros((1, 3, 8, 8))
    >>> sure[:, 1] = 40
    >>> round(float(loss_of(sure, kinds, FacePlan())), 3)
    0.0
    """
    # Written out: the library's own cross-entropy of pictures sums in chance order.
    true_of = functional.one_hot(kinds, 3).permute(0, 3, 1, 2).float()
    entropy = -(logits.log_softmax(1) * true_of).sum(1)
    if plan.edge > 0:
        least = -functional.max_pool2d(-true_of, 7, 1, 3)
        most = functional.max_pool2d(true_of, 7, 1, 3)
        band = (most - least).amax(1)
        entropy = entropy * (1 + plan.edge * band) / (1 + plan.edge * band.mean())
    share, true = logits.softmax(1)[:, 1], true_of[:, 1]
    both = (share * true).sum((1, 2))
    either = (share + true - share * true).sum((1, 2))
    lacks = 1 - (both + 20) / (either + 20)
    weight = 1 + plan.hard * lacks.detach().clamp(0, 0.5)
    each = entropy.mean((1, 2)) + lacks
    return (each * weight).sum() / weight.sum()


def _overlaps(network: nn.Module, photos: torch.Tensor) -> NDArray[np.float64]:
    """Return the IoU of the face on each photo."""
    network.eval()
    found = []
    with torch.no_grad():
        for some in photos.split(64):
            both = some.permute(0, 3, 1, 2)
            kinds = network(both[:, :3].float() / 127.5 - 1).argmax(1)
            a, b = kinds == 1, both[:, 3] == 1
            in_both = (a & b).sum((1, 2)).float()
            found.append((in_both + 1) / ((a | b).sum((1, 2)) + 1))
    network.train()
    return np.asarray(torch.cat(found).cpu().numpy(), np.float64)


class _Pool:
    """Photos on the GPU that are learned from; new ones take the place of the oldest.

    Each drawer has its own queue and they are asked in turn: the order of photos does
    not hang on which process is the fastest.
    """

    def __init__(self, plan: FacePlan, device: torch.device) -> None:
        context = multiprocessing.get_context("spawn")
        # Short: what waits there when learning begins would flatter the pace.
        self._queues: list[Any] = [context.Queue(2) for _ in range(plan.drawers)]
        self._workers = [
            context.Process(
                target=_draw_on, args=(plan.seed * 1000 + k, drawn), daemon=True
            )
            for k, drawn in enumerate(self._queues)
        ]
        for worker in self._workers:
            worker.start()
        self._device, self._taken, self.held = device, 0, 0
        shape = (plan.pool, SIDE_PX, SIDE_PX, 4)
        self._photos = torch.empty(shape, dtype=torch.uint8, device=device)

    def next_chunk(self) -> torch.Tensor:
        drawn = self._queues[self._taken % len(self._queues)].get()
        self._taken += 1
        return torch.from_numpy(drawn).to(self._device)

    def take(self, count: int) -> None:
        for _ in range(count // _CHUNK):
            some = self.next_chunk()
            at = self.held % len(self._photos)
            some = some[: len(self._photos) - at]
            self._photos[at : at + len(some)] = some
            self.held += len(some)

    def lot(self, count: int) -> torch.Tensor:
        top = min(self.held, len(self._photos))
        return self._photos[torch.randint(0, top, (count,), device=self._device)]

    def stop(self) -> None:
        for worker in self._workers:
            worker.terminate()


def train(
    plan: FacePlan, out: Path | None = None
) -> tuple[FaceNetwork, dict[str, Any]]:
    """Draw and learn side by side.

    Parameters
    ----------
    plan : FacePlan
    out : Path, optional
        Weights (.pt) are written there as it goes, should it be cut short.

    Returns
    -------
    network : FaceNetwork
        In the state to be used.
    record : dict
        What the run was: steps, photos, losses and overlaps on the photos kept aside.

    Examples
    --------
    >>> train.__name__
    'train'
    """
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(plan.seed)
    torch.backends.cudnn.deterministic = True
    torch.backends.cudnn.benchmark = False
    pool = _Pool(plan, device)
    checked = torch.cat([pool.next_chunk() for _ in range(-(-plan.checked // _CHUNK))])
    pool.take(-(-4 * plan.batch // _CHUNK) * _CHUNK)
    network = FaceNetwork(context=plan.context)
    if plan.start_from is not None:
        begun = torch.load(plan.start_from, map_location="cpu")
        # An older network has no context: that part begins at nothing.
        network.load_state_dict(begun, strict=not plan.context)
    network = network.to(device, memory_format=torch.channels_last)
    average = copy.deepcopy(network).eval()
    learn = torch.optim.AdamW(network.parameters(), lr=plan.rate, weight_decay=1e-4)
    start = time.monotonic()
    losses: list[torch.Tensor] = []
    record: dict[str, Any] = {"told": []}
    for step, (part, steps) in enumerate(steps_of(plan.steps, plan.seconds), start=1):
        pool.take(plan.drawn_a_step)
        rate = plan.rate * min(1.0, step / 200) * 0.5 * (1 + np.cos(np.pi * part))
        for group in learn.param_groups:
            group["lr"] = rate
        photos, kinds = _varied(pool.lot(plan.batch))
        with torch.autocast(device.type, torch.bfloat16):
            logits = network(photos.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits.float(), kinds, plan)
        learn.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        learn.step()
        # Early on the average follows closely.
        follow(average, network, min(plan.blend, step / (step + 10)))
        losses.append(loss.detach())
        if step % _TOLD_STEPS == 0:
            iou = _overlaps(average, checked)
            told = {
                "step": step,
                "of": steps,
                "seconds": round(time.monotonic() - start),
                "drawn": pool.held,
                "loss": round(float(torch.stack(losses[-_TOLD_STEPS:]).mean()), 4),
                "iou": round(float(iou.mean()), 4),
                "iou_under_0.93": round(float(np.mean(iou < 0.93)), 4),
            }
            record["told"].append(told)
            print(told, flush=True)  # noqa: T201
            if out is not None:
                torch.save(average.state_dict(), out.with_suffix(".part.pt"))
    pool.stop()
    record["plan"] = {
        name: str(value) if isinstance(value, Path) else value
        for name, value in (
            (name, getattr(replace(plan, steps=len(losses)), name))
            for name in FacePlan.__dataclass_fields__
        )
    }
    record["loss"] = [
        round(float(some), 4) for some in losses[:: max(1, len(losses) // 200)]
    ]
    record["drawn"] = pool.held
    record["seconds"] = round(time.monotonic() - start)
    trained: FaceNetwork = average.cpu().float().eval()
    return trained, record
