"""What the opening network is told of a candidate: ten planes of 32 x 32 px.

The training room lays the same planes from drawn patches; both follow the numbers
here and in the settings, and a test holds the two against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from analysis.robust import row_medians
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    _Floats = NDArray[np.float64]
    _Picture = NDArray[np.float32]

PATCH_PX: Final = 32
PLANES: Final = 10
SEED_PLANE: Final = 2
# Patches of large openings are read from halved photos, so that nothing is skipped.
LEVELS: Final = 4
# A step blurred by a Gaussian has its depth over its slope at sqrt(2 pi) sigma.
EDGE_OF_BLUR: Final = 2.5
_SET = SETTINGS.patches


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frames:
    """Squares of the photo that patches are read from.

    Attributes
    ----------
    row_px, col_px : ndarray of float64, (n,)
        Middle.
    half_px : ndarray of float64, (n,)
        Half of the side.
    label : ndarray of int64, (n,)
        Label of each candidate's dark part in the label image.
    """

    row_px: _Floats
    col_px: _Floats
    half_px: _Floats
    label: NDArray[np.int64]

    def __getitem__(self, chosen: Any) -> Frames:  # noqa: ANN401  as arrays take it
        """Return some of the frames."""
        return Frames(
            row_px=self.row_px[chosen],
            col_px=self.col_px[chosen],
            half_px=self.half_px[chosen],
            label=self.label[chosen],
        )

    def __len__(self) -> int:
        """How many frames."""
        return len(self.label)

    def reduced(self, step: float) -> Frames:
        """Return the frames in px of the photo reduced by `step`."""
        return Frames(
            row_px=(self.row_px + 0.5) / step - 0.5,
            col_px=(self.col_px + 0.5) / step - 0.5,
            half_px=self.half_px / step,
            label=self.label,
        )

    @property
    def patch_px(self) -> _Floats:
        """Px of the photo for one px of the patch."""
        return self.half_px / (PATCH_PX / 2)


def level_of(half_px: Any) -> Any:  # noqa: ANN401  arrays of numpy and torch alike
    """Which halving of the photo suits a frame: about one px for one of the patch.

    Examples
    --------
    >>> level_of(np.array([8.0, 20.0, 40.0, 300.0])).tolist()
    [0, 0, 1, 3]
    """
    ratio = half_px / (PATCH_PX / 2)
    first = _SET.halved_from_ratio
    return (ratio > first) * 1 + (ratio > 2 * first) * 1 + (ratio > 4 * first) * 1


def pyramid(picture: _Picture) -> list[_Picture]:
    """Return a picture and its halvings.

    Examples
    --------
    >>> [level.shape for level in pyramid(np.ones((40, 60), np.float32))]
    [(40, 60), (20, 30), (10, 15), (5, 8)]
    """
    levels = [picture]
    for _ in range(LEVELS - 1):
        last = levels[-1]
        rows, cols = last.shape
        # An odd edge is continued, so that each level lies exactly on the one below.
        odd = (rows % 2, cols % 2)
        if any(odd):
            edged = cv2.copyMakeBorder(last, 0, odd[0], 0, odd[1], cv2.BORDER_REPLICATE)
            last = np.asarray(edged, dtype=np.float32)
        size = (last.shape[1] // 2, last.shape[0] // 2)
        halved = cv2.resize(last, size, interpolation=cv2.INTER_AREA)
        levels.append(np.asarray(halved, dtype=np.float32))
    return levels


def _positions(
    frames: Frames, wide: float, side: int = PATCH_PX
) -> tuple[_Picture, _Picture]:
    """Column of each column and row of each row of patches, photo px, (n, side)."""
    # Middles of the patch's px, -1 to 1 across the frame.
    at = (np.arange(side) + 0.5) / side * 2 - 1
    reach = wide * frames.half_px[:, None]
    col = frames.col_px[:, None] + reach * at
    row = frames.row_px[:, None] + reach * at
    return col.astype(np.float32), row.astype(np.float32)


def _maps(col: _Picture, row: _Picture) -> tuple[_Picture, _Picture]:
    """Lay columns and rows out over all px, patch below patch, as OpenCV reads them."""
    count, side = col.shape
    shape = (count, side, side)
    return (
        np.broadcast_to(col[:, None, :], shape).reshape(-1, side),
        np.broadcast_to(row[:, :, None], shape).reshape(-1, side),
    )


def read_patches(levels: list[_Picture], frames: Frames, wide: float = 1.0) -> _Picture:
    """Read a patch for each frame, from the halving that suits its size.

    Parameters
    ----------
    levels : list of ndarray of float32
        A picture and its halvings.
    frames : Frames
    wide : float
        How much wider than the frame to read.

    Returns
    -------
    ndarray of float32, (n, 32, 32)

    Examples
    --------
    >>> ramp = np.tile(np.arange(64, dtype=np.float32), (64, 1))
    >>> one = np.array([32.0])
    >>> frame = Frames(row_px=one, col_px=one, half_px=one / 2, label=one.astype(int))
    >>> float(read_patches(pyramid(ramp), frame).mean())
    32.0
    """
    patches = np.empty((len(frames), PATCH_PX, PATCH_PX), dtype=np.float32)
    wanted = level_of(frames.half_px)
    for level, picture in enumerate(levels):
        chosen = np.flatnonzero(wanted == level)
        if len(chosen) == 0:
            continue
        col, row = _positions(frames[chosen], wide)
        # Px are counted by their middles, but it is edges that scale: hence the halves.
        step = 2.0**level
        read = cv2.remap(
            picture,
            *_maps((col + 0.5) / step - 0.5, (row + 0.5) / step - 0.5),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        patches[chosen] = np.asarray(read).reshape(-1, PATCH_PX, PATCH_PX)
    return patches


def read_seeds(
    labels: NDArray[np.int32], frames: Frames, step: float = 1.0
) -> _Picture:
    """Read the dark part of each candidate: how much of each px of the patch it is.

    Parameters
    ----------
    labels : ndarray of int32, (rows, cols)
        Of the whole photo.
    frames : Frames
        In px of the photo reduced by `step`.
    step : float
        Photo px for one px of the frames.

    Returns
    -------
    ndarray of float32, (n, 32, 32)
        0..1.
    """
    # Four nearest readings for each px of the patch, averaged.
    col, row = _positions(frames, 1.0, 2 * PATCH_PX)
    # OpenCV reads no whole numbers of four bytes, but the nearest is only copied: seen
    # as floats and back they stay what they are.
    read = cv2.remap(
        labels.view(np.float32),
        *_maps((col + 0.5) * step - 0.5, (row + 0.5) * step - 0.5),
        cv2.INTER_NEAREST,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=0,
    )
    quarters = np.asarray(read, dtype=np.float32).view(np.int32)
    quarters = quarters.reshape(-1, PATCH_PX, 2, PATCH_PX, 2)
    own = quarters == frames.label[:, None, None, None, None].astype(np.int32)
    own = own.view(np.uint8)
    # Four views added: a sum over two axes as short takes several times as long.
    met = own[:, :, 0, :, 0] + own[:, :, 0, :, 1]
    met += own[:, :, 1, :, 0]
    met += own[:, :, 1, :, 1]
    share: _Picture = met.astype(np.float32) / 4
    return share


def lay_planes(
    near: _Picture,
    far: _Picture,
    seed: _Picture,
    frames: Frames,
    blur_px: float,
    noise: _Floats,
    light: NDArray[np.float64] | None,
) -> _Picture:
    """Lay the ten planes of each candidate.

    Parameters
    ----------
    near, far : ndarray of float32, (n, 32, 32)
        Light over background in the frame, and `wide_ratio` times as wide.
    seed : ndarray of float32, (n, 32, 32)
        Dark part of the candidate, 0..1.
    frames : Frames
    blur_px : float
        Standard deviation of the photo's blur, px of the frames.
    noise : ndarray of float64, (n,)
        Noise of the background as a share of it.
    light : ndarray of float64, (n, 2), or None
        Direction towards the lamp (col, row) times its share of the light; None
        where it is not known.

    Returns
    -------
    ndarray of float32, (n, 10, 32, 32)
    """
    count = len(frames)
    level = np.maximum(row_medians(near.reshape(count, -1)), 1e-3)[:, None, None]
    contrast, around = near / level - 1.0, far / level - 1.0
    deep = (-contrast * seed).reshape(count, -1).max(axis=1, initial=_SET.least_depth)
    depth = deep[:, None, None]
    planes = np.empty((count, PLANES, PATCH_PX, PATCH_PX), dtype=np.float32)
    np.clip(contrast, -1.0, 1.5, out=planes[:, 0])
    np.clip(np.divide(contrast, depth, out=contrast), -2.0, 2.0, out=planes[:, 1])
    planes[:, SEED_PLANE] = seed
    np.clip(np.divide(around, depth, out=around), -2.0, 2.0, out=planes[:, 3])
    patch_px = frames.patch_px
    # One number each, spread over a whole plane, since convolutions see planes only;
    # sizes as logs of ratios, all brought to about -2 to 2.
    even = (
        np.clip(np.log2(blur_px / patch_px), -4.0, 4.0) / 2,
        np.clip(np.log2(deep / noise), -2.0, 8.0) / 4,
        np.clip(np.log2(patch_px), -3.0, 4.0) / 2,
        np.full(count, 0.0 if light is None else 1.0),
        np.zeros(count) if light is None else light[:, 0],
        np.zeros(count) if light is None else light[:, 1],
    )
    planes[:, 4:] = np.stack(even, axis=1).astype(np.float32)[:, :, None, None]
    return planes
