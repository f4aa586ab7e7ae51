"""Weights to go on from: those of the packed file in use, and averages of two."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import torch
from torch import nn

from analysis.imaging.face_finding.packed import unpack
from analysis.training.averaging import mixed
from analysis.training.faces.face_network import FaceNetwork
from analysis.training.norms import part_norms

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    Weights = Mapping[str, torch.Tensor]

_AT_ONCE = 32


def looks_of(photos: torch.Tensor) -> torch.Tensor:
    """Return drawn photos (n, rows, cols, 4) of uint8 as the network takes them.

    Examples
    --------
    >>> looks_of(torch.zeros((2, 32, 64, 4), dtype=torch.uint8)).shape
    torch.Size([2, 3, 32, 64])
    """
    return photos.permute(0, 3, 1, 2)[:, :3].float() / 127.5 - 1


def unfolded(kept: bytes, photos: torch.Tensor) -> FaceNetwork:
    """Return the network of a packed file, with norms of its own again.

    Parameters
    ----------
    kept : bytes
        As `pack` made them.
    photos : Tensor of uint8, (n, rows, cols, 4)
        As `drawn_photos` gives them.

    Raises
    ------
    ValueError
        The file holds another network.

    Examples
    --------
    >>> from pathlib import Path
    >>> from analysis.imaging.face_finding import packed
    >>> file = Path(packed.__file__).with_name("face.w8")
    >>> some = torch.randint(0, 256, (2, 64, 64, 4), dtype=torch.uint8)
    >>> unfolded(file.read_bytes(), some)(looks_of(some)).shape
    torch.Size([2, 3, 64, 64])
    """
    import onnx  # noqa: PLC0415  slow, and nothing else here reads such files
    from onnx import numpy_helper  # noqa: PLC0415

    graph: Any = onnx.load_from_string(unpack(kept)).graph
    known = {some.name: numpy_helper.to_array(some) for some in graph.initializer}
    # Weights that are alike are written once, and named anew for the others.
    for node in graph.node:
        if node.op_type == "Identity" and node.input[0] in known:
            known[node.output[0]] = known[node.input[0]]
    folded = iter(
        [
            [torch.from_numpy(known[name].copy()) for name in node.input[1:]]
            for node in graph.node
            if node.op_type in ("Conv", "ConvTranspose")
        ]
    )
    network = FaceNetwork(context=any(k.op_type == "ReduceMean" for k in graph.node))
    norms: list[nn.BatchNorm2d] = []
    shifts: list[torch.Tensor] = []
    for part in _in_order(network):
        if isinstance(part, nn.BatchNorm2d):
            norms.append(part)
            continue
        weight, bias = next(folded, (torch.zeros(0), torch.zeros(0)))
        if weight.shape != part.weight.shape:
            msg = (
                f"The packed file holds weights {tuple(weight.shape)} where this "
                f"network has {tuple(part.weight.shape)}: it is of another network."
            )
            raise ValueError(msg)
        part.weight.data = weight
        if part.bias is not None:
            part.bias.data = bias
        else:
            shifts.append(bias)  # of the norm that follows
    network.eval()
    part_norms(norms, shifts, lambda: network(looks_of(photos)))
    return network


def _in_order(network: FaceNetwork) -> Iterator[Any]:
    """Yield what holds weights, in the order in which a photo passes."""
    deep = [network.down, network.context] if network.context else [network.down]
    up = [part for pair in zip(network.up, network.join, strict=True) for part in pair]
    for block in [*deep, *up, network.last]:
        for part in block.modules():
            if isinstance(part, nn.Conv2d | nn.ConvTranspose2d | nn.BatchNorm2d):
                yield part


def averaged(
    one: Weights, other: Weights, share: float, photos: torch.Tensor
) -> FaceNetwork:
    """Return the network half-way, or `share` of the way, from one to the other.

    Of two networks of which one went on from the other, the mean keeps what both know:
    it is better than either where they fail on different photos. The norms' means and
    spreads are taken anew on drawn photos, as they are no mean of the two.

    Parameters
    ----------
    one, other : mapping of str to Tensor
        Weights.
    share : float
        0 gives the one, 1 the other.
    photos : Tensor of uint8, (n, rows, cols, 4)
        As `drawn_photos` gives them.

    Examples
    --------
    >>> some = torch.randint(0, 256, (2, 64, 64, 4), dtype=torch.uint8)
    >>> weights = FaceNetwork().state_dict()
    >>> averaged(weights, weights, 0.5, some).training
    False
    """
    network = FaceNetwork(context="context.weight" in one)
    network.load_state_dict(mixed([(one, 1 - share), (other, share)]))
    for norm in network.modules():
        if isinstance(norm, nn.BatchNorm2d):
            norm.reset_running_stats()
            norm.momentum = None  # the mean over all batches
    network.train()
    with torch.no_grad():
        for some in looks_of(photos).split(_AT_ONCE):
            network(some)
    return network.eval()
