"""Norms taken out of convolutions again, so that a written network can learn on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import torch

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from torch import nn

    from analysis.training.random_fields import Tensor

# A layer that answers the same everywhere has no spread to divide by.
_LEAST_SPREAD = 1e-8


@torch.no_grad()
def part_norms(
    norms: Sequence[nn.BatchNorm2d], shifts: Sequence[Tensor], run: Callable[[], object]
) -> None:
    """Give norms the statistics of what flows through; the answers stay as they are.

    A written network has its norms folded into the convolutions before them. Each norm
    gets the mean and spread that it sees as its own, and a scale and shift that undo
    them: learning goes on as if from the weights that were once saved.

    Parameters
    ----------
    norms : sequence of BatchNorm2d
    shifts : sequence of Tensor, (channels,)
        What each norm adds: the bias of its written convolution.
    run : callable
        Runs the network, ready to be used, on what it shall see.

    Examples
    --------
    >>> norm = torch.nn.BatchNorm2d(2).eval()
    >>> seen = torch.randn(4, 2, 8, 8)
    >>> part_norms([norm], [torch.tensor([1.0, 2.0])], lambda: norm(seen))
    >>> bool(torch.allclose(norm(seen)[:, 1], seen[:, 1] + 2, atol=1e-5))
    True
    """
    for norm, shift in zip(norms, shifts, strict=True):
        norm.running_mean = torch.zeros_like(shift)
        norm.running_var = torch.full_like(shift, 1 - norm.eps)
        norm.weight.data, norm.bias.data = torch.ones_like(shift), shift.clone()
    seen: dict[nn.Module, Tensor] = {}
    hooks = [
        norm.register_forward_pre_hook(lambda at, given: seen.update({at: given[0]}))
        for norm in norms
    ]
    run()
    for hook in hooks:
        hook.remove()
    for norm, shift in zip(norms, shifts, strict=True):
        spread, mean = torch.var_mean(seen[norm], (0, 2, 3))
        norm.running_mean, norm.running_var = mean, spread.clamp(min=_LEAST_SPREAD)
        norm.weight.data = (norm.running_var + norm.eps).sqrt()
        norm.bias.data = mean + shift
