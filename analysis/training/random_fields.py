"""Random numbers and smooth random pictures, a batch at a time.

Every picture is a tensor of (batch, rows, cols); a figure of each picture of a batch
is a tensor of (batch,).
"""

from __future__ import annotations

import math
from typing import TypeAlias

import torch
from torch.nn import functional

Tensor: TypeAlias = torch.Tensor


class Dice:
    """Random figures on one device, all from one generator.

    Parameters
    ----------
    seed : int
    device : str

    Examples
    --------
    >>> Dice(1, "cpu").uniform(3, 0.0, 1.0).shape
    torch.Size([3])
    """

    def __init__(self, seed: int, device: str) -> None:
        self.device = device
        self._source = torch.Generator(device=device).manual_seed(seed)
        self._host = torch.Generator().manual_seed(seed + 1)

    def uniform(self, count: int, low: float, high: float) -> Tensor:
        """Uniform figures, (count,)."""
        drawn = torch.rand(count, generator=self._source, device=self.device)
        return drawn * (high - low) + low

    def ratio(self, count: int, low: float, high: float) -> Tensor:
        """Figures whose logarithm is uniform, (count,)."""
        return torch.exp(self.uniform(count, math.log(low), math.log(high)))

    def coin(self, count: int, chance: float) -> Tensor:
        """Return True with a chance, (count,)."""
        return self.uniform(count, 0.0, 1.0) < chance

    def normal(self, *shape: int) -> Tensor:
        """Figures of a standard normal."""
        return torch.randn(*shape, generator=self._source, device=self.device)

    def noise(self, *shape: int) -> Tensor:
        """Figures uniform in 0..1."""
        return torch.rand(*shape, generator=self._source, device=self.device)

    def one(self, low: float, high: float) -> float:
        """One uniform figure on the host."""
        return low + (high - low) * float(torch.rand(1, generator=self._host))

    def whole(self, low: int, high: int) -> int:
        """One whole number, `high` left out."""
        return int(torch.randint(low, high, (1,), generator=self._host))


def wide(figure: Tensor) -> Tensor:
    """Figures of pictures, shaped to multiply pictures."""
    return figure.view(-1, 1, 1)


def grid(side: int, device: str) -> tuple[Tensor, Tensor]:
    """Columns and rows of a square picture, each (1, side, side)."""
    at = torch.arange(side, device=device, dtype=torch.float32)
    row, col = torch.meshgrid(at, at, indexing="ij")
    return col[None], row[None]


def resized(picture: Tensor, side: int, mode: str) -> Tensor:
    """Resize square pictures."""
    corners = {} if mode in {"area", "nearest"} else {"align_corners": False}
    return functional.interpolate(picture[:, None], (side, side), mode=mode, **corners)[
        :, 0
    ]


def cloud(dice: Dice, count: int, side: int, size_px: float) -> Tensor:
    """Smooth random picture whose features are about `size_px` wide."""
    cells = max(2, int(side / size_px) + 2)
    return resized(dice.normal(count, cells, cells), side, "bicubic")


def clouds(
    dice: Dice, count: int, side: int, sizes_px: list[float], gains: list[float]
) -> Tensor:
    """Sum of clouds of several sizes."""
    total = torch.zeros(count, side, side, device=dice.device)
    for size, gain in zip(sizes_px, gains, strict=True):
        total += gain * cloud(dice, count, side, size)
    return total


def streaks(
    dice: Dice, count: int, side: int, long_px: float, thin_px: float
) -> Tensor:
    """Random picture drawn out along the rows or the columns."""
    tall = max(2, int(side / long_px) + 2)
    broad = max(2, int(side / thin_px) + 2)
    drawn = dice.normal(count, 1, tall, broad)
    picture = functional.interpolate(
        drawn, (side, side), mode="bicubic", align_corners=False
    )[:, 0]
    turned = dice.coin(count, 0.5)
    return torch.where(wide(turned), picture.transpose(1, 2), picture)


def blurred(picture: Tensor, sigma_px: Tensor) -> Tensor:
    """Gaussian blur, each picture by its own width (0 leaves it)."""
    reach = int(3 * float(sigma_px.max())) + 1
    reach = min(reach, picture.shape[-1] - 1)
    at = torch.arange(-reach, reach + 1, device=picture.device, dtype=torch.float32)
    weight = torch.exp(-0.5 * (at[None] / sigma_px.clamp(min=0.05)[:, None]) ** 2)
    weight = weight / weight.sum(1, keepdim=True)
    count = len(picture)
    padded = functional.pad(
        picture[None], (reach, reach, reach, reach), mode="replicate"
    )
    across = functional.conv2d(padded, weight.view(count, 1, 1, -1), groups=count)
    return functional.conv2d(across, weight.view(count, 1, -1, 1), groups=count)[0]


def shifted(picture: Tensor, col: Tensor, row: Tensor) -> Tensor:
    """Pictures read at (x + col, y + row); edges are continued."""
    return shifted_by(picture, wide(col), wide(row))


def shifted_by(picture: Tensor, col: Tensor, row: Tensor) -> Tensor:
    """Pictures read at (x + col, y + row), each place by its own; edges are continued.

    `col` and `row` are (n, side, side), or what spreads to it.
    """
    side = picture.shape[-1]
    x, y = grid(side, str(picture.device))
    scale = 2.0 / (side - 1)
    at = torch.stack([(x + col) * scale - 1, (y + row) * scale - 1], dim=-1)
    return functional.grid_sample(
        picture[:, None], at, padding_mode="border", align_corners=True
    )[:, 0]
