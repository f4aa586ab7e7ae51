"""The network that tells face from all else, and how it learns.

Drawn photos come from processes of their own and stay on the GPU; each is learned from
many times, turned, mirrored and in other colours. No real photo is used.
"""

from __future__ import annotations

import multiprocessing
import queue
import time
from typing import TYPE_CHECKING, Any

import numpy as np
import torch
from torch import nn
from torch.nn import functional

from analysis.training.faces.scene import draw_scene

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

SIDE_PX = 256
WIDTHS = (16, 24, 40, 64, 96, 96)
KINDS = 3
_BATCH = 96
_POOL = 90_000
_CHECKED = 512
_CHUNK = 16


class FaceNetwork(nn.Module):  # type: ignore[misc,unused-ignore]  # torch is untyped
    """A U-Net (Ronneberger, Fischer and Brox 2015), narrow and deep.

    Examples
    --------
    >>> FaceNetwork()(torch.zeros(1, 3, 64, 64)).shape
    torch.Size([1, 3, 64, 64])
    """

    def __init__(self) -> None:
        super().__init__()
        self.down = nn.ModuleList()
        before = 3
        for width in WIDTHS:
            self.down.append(_twice(before, width))
            before = width
        self.up, self.join = nn.ModuleList(), nn.ModuleList()
        for width in WIDTHS[-2::-1]:
            self.up.append(nn.ConvTranspose2d(before, width, 2, 2))
            self.join.append(_once(2 * width, width))
            before = width
        self.last = nn.Conv2d(before, KINDS, 1)

    def forward(self, photo: torch.Tensor) -> torch.Tensor:
        """Return logits of each kind.

        Parameters
        ----------
        photo : Tensor, (n, 3, rows, cols)
            sRGB, -1 to 1; sides are multiples of 32.
        """
        kept = []
        here = photo
        for level, block in enumerate(self.down):
            here = block(here if level == 0 else functional.max_pool2d(here, 2))
            kept.append(here)
        for level, (up, join) in enumerate(zip(self.up, self.join, strict=True)):
            here = join(torch.cat([up(here), kept[-2 - level]], 1))
        return self.last(here)


def _once(before: int, after: int) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(before, after, 3, padding=1, bias=False),
        nn.BatchNorm2d(after),
        nn.ReLU(),
    )


def _twice(before: int, after: int) -> nn.Sequential:
    return nn.Sequential(_once(before, after), _once(after, after))


def _draw_on(seed: int, drawn: Any) -> None:  # noqa: ANN401 - a queue of another process
    """Draw photos until stopped."""
    rng = np.random.default_rng(seed)
    while True:
        pairs = [draw_scene(rng, SIDE_PX) for _ in range(_CHUNK)]
        drawn.put(np.stack([np.dstack(pair) for pair in pairs]))


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


def _loss(logits: torch.Tensor, kinds: torch.Tensor) -> torch.Tensor:
    """Cross-entropy, and what is lost of the overlap of the face."""
    entropy = functional.cross_entropy(logits, kinds)
    share = logits.softmax(1)[:, 1]
    true = (kinds == 1).float()
    both = (share * true).sum((1, 2))
    either = (share + true - share * true).sum((1, 2))
    return entropy + (1 - (both + 20) / (either + 20)).mean()


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


def train(
    seconds: float, drawers: int, seed: int, start_from: Path | None = None
) -> FaceNetwork:
    """Draw and learn side by side for a set time.

    Parameters
    ----------
    seconds : float
        Of learning, more than 0.
    drawers : int
        Processes that draw.
    seed : int
        Of the drawing; the order of learning is left to chance.
    start_from : Path, optional
        Weights to go on from.

    Returns
    -------
    FaceNetwork
        In the state to be used.

    Examples
    --------
    >>> train.__name__
    'train'
    """
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(seed)
    context = multiprocessing.get_context("spawn")
    drawn: Any = context.Queue(maxsize=64)
    workers = [
        context.Process(target=_draw_on, args=(seed * 1000 + k, drawn), daemon=True)
        for k in range(drawers)
    ]
    for worker in workers:
        worker.start()
    pool = torch.empty((_POOL, SIDE_PX, SIDE_PX, 4), dtype=torch.uint8, device=device)
    checked = torch.empty(
        (_CHECKED, SIDE_PX, SIDE_PX, 4), dtype=torch.uint8, device=device
    )
    held, set_aside, step = 0, 0, 0
    network = FaceNetwork().to(device, memory_format=torch.channels_last)
    if start_from is not None:
        network.load_state_dict(torch.load(start_from, map_location=device))
    learn = torch.optim.AdamW(network.parameters(), lr=3e-3, weight_decay=1e-4)
    start = time.monotonic()
    told = start
    while (passed := time.monotonic() - start) < seconds:
        try:
            for _ in range(8):
                some = torch.from_numpy(drawn.get(block=held == 0)).to(device)
                if set_aside < _CHECKED:
                    checked[set_aside : set_aside + len(some)] = some
                    set_aside += len(some)
                else:
                    at = held % _POOL
                    some = some[: _POOL - at]
                    pool[at : at + len(some)] = some
                    held += len(some)
        except queue.Empty:
            pass
        if held < 4 * _BATCH:
            continue
        part = passed / seconds
        rate = 3e-3 * min(1.0, part / 0.03) * 0.5 * (1 + np.cos(np.pi * part))
        for group in learn.param_groups:
            group["lr"] = max(rate, 1e-6)
        lot = torch.randint(0, min(held, _POOL), (_BATCH,), device=device)
        photos, kinds = _varied(pool[lot])
        with torch.autocast(device.type, torch.bfloat16):
            logits = network(photos.contiguous(memory_format=torch.channels_last))
        loss = _loss(logits.float(), kinds)
        learn.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        learn.step()
        step += 1
        if time.monotonic() - told > 30:
            told = time.monotonic()
            iou = _overlaps(network, checked[:set_aside])
            print(  # noqa: T201
                f"{passed:.0f} s, {step} steps, {held} drawn, loss {loss.item():.3f}, "
                f"IoU mean {iou.mean():.4f} median {np.median(iou):.4f} "
                f"under 0.93 {np.mean(iou < 0.93):.3f}",
                flush=True,
            )
    for worker in workers:
        worker.terminate()
    network.eval().cpu().float()
    trained: FaceNetwork = network
    return trained
