"""The face network in 8 bits."""

from pathlib import Path

import numpy as np
import pytest

from analysis.imaging.face_finding import packed
from analysis.imaging.face_finding.network import FACE, looks_like
from analysis.imaging.face_finding.packed import pack, unpack

KEPT = Path(packed.__file__).with_name("face.w8").read_bytes()


def message(number, body):
    """A field of bytes of a protocol-buffer message."""
    size, length = len(body), b""
    while size > 127:
        length += bytes([size & 127 | 128])
        size >>= 7
    return bytes([number << 3 | 2]) + length + bytes([size]) + body


def tensor(weights):
    """An initializer as ONNX writes it: two dimensions, type float, raw floats."""
    shape = b"".join(bytes([8, side]) for side in weights.shape)
    return shape + bytes([16, 1]) + message(9, weights.astype("<f4").tobytes())


def model(*tensors):
    graph = b"".join(message(5, one) for one in tensors)
    return bytes([8, 7]) + message(7, graph)


def test_weights_are_rounded_to_steps_of_each_output():
    weights = np.random.default_rng(1).normal(size=(100, 60))
    weights *= np.geomspace(0.01, 10, 100)[:, None]
    onnx = model(tensor(weights))
    back = unpack(pack(onnx))
    assert len(back) == len(onnx)
    found = np.frombuffer(back[-weights.size * 4 :], "<f4").reshape(weights.shape)
    step = np.abs(weights).max(axis=1, keepdims=True) / 127
    assert (np.abs(found - weights) <= 0.501 * step).all()
    assert back[: -weights.size * 4] == onnx[: -weights.size * 4]


def test_few_weights_and_empty_outputs_stay():
    few = np.arange(12.0).reshape(3, 4)
    none = np.zeros((20, 40))
    onnx = model(tensor(few), tensor(none))
    assert unpack(pack(onnx)) == onnx


def test_packing_again_changes_nothing():
    assert pack(unpack(KEPT)) == KEPT


def test_the_network_in_use_is_small():
    assert len(KEPT) < 1_000_000


def test_other_bytes_are_refused():
    with pytest.raises(ValueError, match="no packed network"):
        unpack(b"ONNX")


def test_it_runs():
    flat = np.full((80, 120, 3), 150, np.uint8)
    shares = looks_like(flat)
    assert shares.shape == (4, 256, 256, 3)
    assert np.allclose(shares.sum(axis=-1), 1, atol=1e-5)
    assert 0 <= shares[..., FACE].mean() <= 1
