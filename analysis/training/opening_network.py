"""The opening network: a small U-shaped net with three answers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import torch
from torch import nn
from torch.nn import functional

from analysis.voids.opening.planes import PLANES

if TYPE_CHECKING:
    from analysis.training.random_fields import Tensor


def _block(inner: int, outer: int, layers: int) -> nn.Sequential:
    parts: list[nn.Module] = []
    for number in range(layers):
        first = outer if number else inner
        parts.append(nn.Conv2d(first, outer, 3, padding=1, bias=False))
        parts += [nn.BatchNorm2d(outer), nn.ReLU()]
    return nn.Sequential(*parts)


class OpeningNet(nn.Module):
    """Draws the opening of a candidate, judges it, and guesses the light's side.

    The first layer halves the patch and most of the work is done at 16 x 16, which
    makes it twice as fast as a net that works at full size, at the same weights.

    Parameters
    ----------
    widths : tuple of int
        Channels at 16, 8 and 4 px.
    """

    def __init__(self, widths: tuple[int, int, int] = (24, 32, 48)) -> None:
        super().__init__()
        wide, wider, widest = widths
        self.stem = nn.Sequential(
            nn.Conv2d(PLANES, wide, 4, stride=2, padding=1, bias=False),
            nn.BatchNorm2d(wide),
            nn.ReLU(),
        )
        self.at_16 = _block(wide, wide, 1)
        self.at_8 = _block(wide, wider, 2)
        self.at_4 = _block(wider, widest, 2)
        self.back_8 = _block(widest + wider, wider, 1)
        self.back_16 = _block(wider + wide, wide, 1)
        # Four answers side by side are faster than a transposed convolution.
        self.draw = nn.Sequential(nn.Conv2d(wide, 4, 3, padding=1), nn.PixelShuffle(2))
        self.judge = nn.Sequential(
            nn.Conv2d(widest, 24, 4), nn.ReLU(), nn.Conv2d(24, 3, 1)
        )

    def forward(self, planes: Tensor) -> tuple[Tensor, Tensor]:
        """Logits of the opening, (n, 1, 32, 32); verdict and light, (n, 3).

        The first of the three is the logit of being a void, the others the direction
        towards the lamp (col, row) times its share of the light.
        """
        fine = self.at_16(self.stem(planes))
        middle = self.at_8(functional.max_pool2d(fine, 2))
        coarse = self.at_4(functional.max_pool2d(middle, 2))
        up = functional.interpolate(coarse, scale_factor=2.0, mode="nearest")
        back = self.back_8(torch.cat([up, middle], 1))
        up = functional.interpolate(back, scale_factor=2.0, mode="nearest")
        back = self.back_16(torch.cat([up, fine], 1))
        return self.draw(back), self.judge(coarse).flatten(1)


def weights_of(net: nn.Module) -> int:
    """Count the weights of a network."""
    return sum(weight.numel() for weight in net.parameters())
