"""Weights of a network in 8 bits, and the ONNX file they stand for.

Rounded to 127 steps of the largest weight of each output, the weights take a quarter
of their room; OpenCV runs them as the floats they are turned back into.
"""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

# Numbers of fields in the ONNX format's own description (onnx.proto).
_GRAPH, _INITIALIZER, _DIMS, _RAW = 7, 5, 1, 9
_VARINT, _FIXED_64, _BYTES, _FIXED_32 = 0, 1, 2, 5
_FLOAT_BYTES, _STEPS = 4, 127
# Fewer weights are kept as they are: biases and scales.
_LEAST_WEIGHTS = 256
_MARK = b"w8 1"


def pack(onnx: bytes) -> bytes:
    """Return an ONNX file with its weights in 8 bits.

    Parameters
    ----------
    onnx : bytes
        With its weights as raw 32-bit floats.

    Examples
    --------
    >>> from pathlib import Path
    >>> kept = Path(__file__).with_name("face.w8").read_bytes()
    >>> pack(unpack(kept)) == kept
    True
    """
    # The file as it is with zeros for weights, which deflate packs to almost nothing;
    # then for each block a step for each output and the codes. The head tells where
    # they go.
    bare = bytearray(onnx)
    places, parts = [], []
    for start, stop, outputs in _weights(onnx):
        # One step for each output: channels differ much in size, and one for all would
        # leave the small ones few levels.
        flat = np.frombuffer(onnx[start:stop], "<f4").reshape(outputs, -1)
        step = np.abs(flat).max(axis=1, keepdims=True) / _STEPS
        step = np.where(step > 0, step, 1.0).astype("<f4")
        parts += [step.tobytes(), np.rint(flat / step).astype("i1").tobytes()]
        places.append((start, stop, outputs))
        bare[start:stop] = bytes(stop - start)
    head = np.array([len(onnx), *np.ravel(places)], "<u4")
    count = np.array([len(places)], "<u4")
    plain = zlib.compress(bytes(bare), 9)
    size = np.array([len(plain)], "<u4")
    return b"".join(
        [_MARK, count.tobytes(), head.tobytes(), size.tobytes(), plain, *parts]
    )


def unpack(kept: bytes) -> bytes:
    """Return the ONNX file that was packed, its weights rounded.

    Raises
    ------
    ValueError
        The bytes are no packed network.
    """
    if kept[: len(_MARK)] != _MARK:
        msg = "These bytes are no packed network: write them with `pack`."
        raise ValueError(msg)
    at = len(_MARK)
    count = int(np.frombuffer(kept, "<u4", 1, at)[0])
    head = np.frombuffer(kept, "<u4", 1 + 3 * count, at + 4)
    at += 4 * (2 + 3 * count)
    size = int(np.frombuffer(kept, "<u4", 1, at)[0])
    bare = bytearray(zlib.decompress(kept[at + 4 : at + 4 + size]))
    at += 4 + size
    for start, stop, outputs in head[1:].reshape(-1, 3).tolist():
        number = (stop - start) // _FLOAT_BYTES
        step = np.frombuffer(kept, "<f4", outputs, at)[:, None]
        codes = np.frombuffer(kept, "i1", number, at + step.nbytes)
        bare[start:stop] = (codes.reshape(outputs, -1) * step).astype("<f4").tobytes()
        at += step.nbytes + number
    return bytes(bare)


def _weights(onnx: bytes) -> Iterator[tuple[int, int, int]]:
    """Yield where each large block of weights lies, and how many outputs it has."""
    for number, start, stop in _fields(onnx, 0, len(onnx)):
        if number != _GRAPH:
            continue
        for inner, first, last in _fields(onnx, start, stop):
            if inner != _INITIALIZER:
                continue
            parts = list(_fields(onnx, first, last))
            raw = [(a, b) for field, a, b in parts if field == _RAW]
            outputs = _outputs(onnx, parts)
            if raw and raw[0][1] - raw[0][0] >= _LEAST_WEIGHTS * _FLOAT_BYTES:
                yield (*raw[0], outputs)


def _outputs(onnx: bytes, parts: Sequence[tuple[int, int, int]]) -> int:
    """First dimension of a tensor, whether its dimensions are packed or not."""
    start = next(a for field, a, _ in parts if field == _DIMS)
    return _varint(onnx, start)[0]


def _fields(data: bytes, at: int, end: int) -> Iterator[tuple[int, int, int]]:
    """Yield number, start and stop of each field of a protocol-buffer message."""
    while at < end:
        key, at = _varint(data, at)
        # A key is the field's number times 8 plus its wire type (protocol buffers).
        kind = key & 7
        if kind == _VARINT:
            _, stop = _varint(data, at)
        elif kind == _BYTES:
            length, at = _varint(data, at)
            stop = at + length
        else:
            stop = at + {_FIXED_64: 8, _FIXED_32: 4}[kind]
        yield key >> 3, at, stop
        at = stop


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """Read a whole number of seven bits a byte; return it and where it ends."""
    value, shift = 0, 0
    while True:
        byte = data[at]
        value |= (byte & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if not byte & 0x80:
            return value, at


def network_bytes(kept: bytes) -> NDArray[np.uint8]:
    """Return the ONNX file as OpenCV reads it from memory."""
    return np.frombuffer(unpack(kept), np.uint8)
