"""Weights to go on from: read back from the file in use, and averaged.

    python -m analysis.training.weights OUT_DIR FILE=SHARE FILE=SHARE ...

averages networks (.pt, or .onnx as the product reads it) and writes the average as the
training does, without a record. Networks that began from the same weights lie close
enough for their average to be better than each (Wortsman et al. 2022, from memory).
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import nn

from analysis.training.averaging import mixed
from analysis.training.export import write_onnx
from analysis.training.norms import part_norms
from analysis.training.opening_network import OpeningNet
from analysis.training.random_fields import Dice
from analysis.training.teaching import TrainingPlan, patches

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.training.random_fields import Tensor

_SEED = 5


def read_weights(path: Path, *, device: str = "cpu", scenes: int = 96) -> OpeningNet:
    """Read a network to go on from.

    Parameters
    ----------
    path : Path
        `.pt` as the training writes it; or `.onnx`, in which the norms are one with
        the convolutions and are parted from them again.
    device : str
        That draws the patches by which norms are parted.
    scenes : int
        Of these patches.

    Returns
    -------
    OpeningNet
        On the CPU, ready to be used.

    Examples
    --------
    >>> from analysis.voids.opening.network import WEIGHTS
    >>> read_weights(WEIGHTS, scenes=2).training
    False
    """
    net = OpeningNet()
    if path.suffix == ".pt":
        net.load_state_dict(torch.load(path, map_location="cpu"))
        return net.eval()
    plan = TrainingPlan(steps=None, scenes=scenes, device=device)
    net = net.to(device).eval()
    _fill(net, path, patches(Dice(_SEED, device), plan).planes)
    return net.cpu().eval()


def _fill(net: OpeningNet, path: Path, planes: Tensor) -> None:
    """Take the file's convolutions over; norms see the planes flow through."""
    graph = onnx.load(str(path)).graph
    held = {part.name: numpy_helper.to_array(part) for part in graph.initializer}
    told = [
        [torch.from_numpy(np.array(held[name])) for name in node.input[1:]]
        for node in graph.node
        if node.op_type == "Conv"
    ]
    # In the order of the file, which is that of a pass.
    blocks = (net.stem, net.at_16, net.at_8, net.at_4, net.back_8, net.back_16)
    ends = [*net.draw, *net.judge]
    layers = [layer for block in blocks for layer in block]
    every = [part for part in (*layers, *ends) if isinstance(part, nn.Conv2d)]
    shifts = []
    with torch.no_grad():
        for layer, (weight, bias) in zip(every, told, strict=True):
            layer.weight.copy_(weight)
            if layer.bias is None:
                shifts.append(bias.to(planes.device))
            else:
                layer.bias.copy_(bias)
    norms = [layer for layer in layers if isinstance(layer, nn.BatchNorm2d)]
    part_norms(norms, shifts, lambda: net(planes))


def averaged(parts: Mapping[Path, float], *, scenes: int = 96) -> OpeningNet:
    """Average networks, each with its share.

    Parameters
    ----------
    parts : mapping of Path to float
        Shares above 0; only their ratios count.
    scenes : int
        As of `read_weights`.

    Returns
    -------
    OpeningNet
        Ready to be used.

    Raises
    ------
    ValueError
        No network, or a share that is not above 0.
    """
    if not parts or not all(share > 0 for share in parts.values()):
        message = (
            f"Networks are averaged by shares above 0, not {list(parts.values())}; "
            "name at least one network."
        )
        raise ValueError(message)
    whole = sum(parts.values())
    net = OpeningNet()
    net.load_state_dict(
        mixed(
            (read_weights(path, scenes=scenes).state_dict(), share / whole)
            for path, share in parts.items()
        )
    )
    return net.eval()


def main(argv: list[str]) -> int:
    """Average by the arguments given; 0 when the files are written."""
    out = Path(argv[0])
    parts = {Path(name): float(share) for name, _, share in map(_parted, argv[1:])}
    net = averaged(parts)
    out.mkdir(parents=True, exist_ok=True)
    write_onnx(net, out / "opening.onnx")
    torch.save(net.state_dict(), out / "opening.pt")
    return 0


def _parted(given: str) -> tuple[str, str, str]:
    return given.rpartition("=")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
