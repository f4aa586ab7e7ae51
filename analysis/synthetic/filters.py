"""The few image filters the room needs, in float32."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# A blur narrower than this does not reach the next px.
SHARPEST_PX = 0.3


def softened(
    image: NDArray[np.float32], sigma_px: float, sigma_down_px: float | None = None
) -> NDArray[np.float32]:
    """Return a Gaussian blur; both axes alike unless two widths are given.

    Examples
    --------
    >>> image = np.zeros((9, 9), np.float32)
    >>> softened(image, 0.1) is image
    True
    """
    down = sigma_px if sigma_down_px is None else sigma_down_px
    if max(sigma_px, down) < SHARPEST_PX:
        return image
    blurred = cv2.GaussianBlur(
        image,
        (0, 0),
        max(sigma_px, SHARPEST_PX),
        sigmaY=max(down, SHARPEST_PX),
        borderType=cv2.BORDER_REFLECT_101,
    )
    return np.asarray(blurred, np.float32)


def resized(
    image: NDArray[np.float32], shape: tuple[int, ...], method: int
) -> NDArray[np.float32]:
    """Return the image at `shape` (rows, cols) by one of OpenCV's methods.

    Examples
    --------
    >>> resized(np.eye(4, dtype=np.float32), (2, 2), cv2.INTER_AREA)
    array([[0.5, 0. ],
           [0. , 0.5]], dtype=float32)
    """
    rows, cols = shape[:2]
    return np.asarray(cv2.resize(image, (cols, rows), interpolation=method), np.float32)
