"""The network that tells face from all else, and the file OpenCV reads it from."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

import torch
from torch import nn
from torch.nn import functional

if TYPE_CHECKING:
    from pathlib import Path

SIDE_PX = 256
WIDTHS = (16, 24, 40, 64, 96, 96)
KINDS = 3


class FaceNetwork(nn.Module):  # type: ignore[misc,unused-ignore]  # torch is untyped
    """A U-Net (Ronneberger, Fischer and Brox 2015), narrow and deep.

    Parameters
    ----------
    context : bool
        Every place is told the mean of the whole photo, where the net is deepest.

    Examples
    --------
    >>> FaceNetwork()(torch.zeros(1, 3, 64, 64)).shape
    torch.Size([1, 3, 64, 64])
    """

    def __init__(self, *, context: bool = False) -> None:
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
        self.context: nn.Conv2d | None = None
        if context:
            self.context = nn.Conv2d(WIDTHS[-1], WIDTHS[-1], 1)
            nn.init.zeros_(self.context.weight)
            nn.init.zeros_(self.context.bias)

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
        if self.context is not None:
            # Spread before it is weighed: OpenCV adds only what has the same shape.
            mean = here.mean((2, 3), keepdim=True).expand_as(here)
            here = here + self.context(mean)
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


def write_onnx(network: FaceNetwork, path: Path) -> None:
    """Write the network in the format that OpenCV reads."""
    with warnings.catch_warnings():
        # The older way of writing needs no further package and gives a plainer file.
        warnings.simplefilter("ignore", DeprecationWarning)
        torch.onnx.export(
            network.to(memory_format=torch.contiguous_format).eval(),
            (torch.zeros(1, 3, SIDE_PX, SIDE_PX),),
            str(path),
            input_names=["photo"],
            output_names=["kinds"],
            dynamic_axes={"photo": {0: "n"}, "kinds": {0: "n"}},
            opset_version=13,
            dynamo=False,
        )
