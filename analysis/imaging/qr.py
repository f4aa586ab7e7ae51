"""QR codes read by every way that OpenCV offers, since each misses crisp ones.

No way reads all codes: which one fails depends on the code's own pattern and on how it
lies in the picture. A code whose corners are known needs no finding at all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

# As text OpenCV hands over only what is UTF-8, and fails over any other code that
# lies about; so bytes are asked for.
_MAKERS: tuple[Callable[[], Any], ...] = (cv2.QRCodeDetector, cv2.QRCodeDetectorAruco)


def texts_at(
    picture: NDArray[np.uint8], corners_px: NDArray[np.float64]
) -> Iterator[str]:
    """Read one code, first at its known corners, then wherever it is found.

    Parameters
    ----------
    picture : ndarray of uint8, (rows, cols)
        Grey; holds one code.
    corners_px : ndarray of float64, (4, 2)
        (row, col) of its corners from its own top left clockwise.

    Yields
    ------
    str
        What each way reads; lazily, so that the first that convinces is the last.

    Examples
    --------
    >>> square = np.array([[9.0, 9.0], [9.0, 80.0], [80.0, 80.0], [80.0, 9.0]])
    >>> list(texts_at(np.full((90, 90), 200, np.uint8), square))
    []
    """
    corners = corners_px[None, :, ::-1].astype(np.float32)
    yield from _said(_tried(cv2.QRCodeDetector().decodeBytes, picture, corners))
    for maker in _MAKERS:
        yield from _said(_tried(maker().detectAndDecodeBytes, picture))


def codes_in(
    picture: NDArray[np.uint8],
) -> Iterator[tuple[str, NDArray[np.float64]]]:
    """Find and read all codes in a picture, each text once.

    Parameters
    ----------
    picture : ndarray of uint8, (rows, cols)
        Grey.

    Yields
    ------
    text : str
    corners_px : ndarray of float64, (4, 2)
        (row, col) from the code's own top left corner clockwise.

    Examples
    --------
    >>> list(codes_in(np.full((90, 90), 200, np.uint8)))
    []
    """
    seen = set()
    for maker in _MAKERS:
        one = _tried(maker().detectAndDecodeBytes, picture)
        many = _tried(maker().detectAndDecodeBytesMulti, picture)
        # One answer is (bytes, corners, picture); many are led by whether any was
        # found.
        single = ([one[0]], one[1]) if one else None
        for data, corners in (*_pairs(single), *_pairs(many[1:] if many else None)):
            text = _text(data)
            if text and text not in seen:
                seen.add(text)
                yield text, np.asarray(corners, np.float64)[:, ::-1]


def _pairs(answer: tuple[Any, ...] | None) -> Iterator[tuple[bytes, Any]]:
    """Pair what was read with where."""
    if answer is not None and answer[1] is not None:
        yield from zip(answer[0], np.reshape(answer[1], (-1, 4, 2)), strict=True)


def _said(answer: tuple[Any, ...] | None) -> Iterator[str]:
    text = _text(answer[0]) if answer else ""
    if text:
        yield text


def _tried(
    read: Callable[..., tuple[Any, ...]], *given: NDArray[Any]
) -> tuple[Any, ...] | None:
    """Read; where OpenCV stumbles over a pattern that is no code, nothing is read."""
    try:
        return read(*given)
    except cv2.error:
        return None


def _text(data: bytes) -> str:
    return data.decode("utf-8", "replace")
