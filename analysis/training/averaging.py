"""Averages of weights: of the steps of a training, and of networks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import torch

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from analysis.training.random_fields import Tensor


@torch.no_grad()
def follow(mean: torch.nn.Module, net: torch.nn.Module, keep: float) -> None:
    """Move an average of weights towards those of a step, in place."""
    for kept, new in zip(
        mean.state_dict().values(), net.state_dict().values(), strict=True
    ):
        if kept.dtype.is_floating_point:
            kept.lerp_(new.to(kept.dtype), 1 - keep)
        else:
            kept.copy_(new)


def mixed(parts: Iterable[tuple[Mapping[str, Tensor], float]]) -> dict[str, Tensor]:
    """Add weights up, each with its share; whole numbers are the last one's.

    Parameters
    ----------
    parts : iterable of (mapping of str to Tensor, float)
        Weights of networks of one kind, and shares that add up to 1.

    Examples
    --------
    >>> one, two = {"a": torch.tensor(1.0)}, {"a": torch.tensor(2.0)}
    >>> float(mixed([(one, 0.25), (two, 0.75)])["a"])
    1.75
    """
    total: dict[str, Tensor] = {}
    for weights, share in parts:
        for name, value in weights.items():
            if value.dtype.is_floating_point:
                total[name] = total.get(name, 0.0) + value * share
            else:
                total[name] = value
    return total
