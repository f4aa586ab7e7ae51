"""Readings kept in a log, and compared with what was given."""

from __future__ import annotations

from dataclasses import fields, is_dataclass

import numpy as np

from analysis.storage.readings import (
    save_reading,
)
from tests.support.stored_readings import photo_of, reading_of

DATA = b"not decoded here"


def same(left, right):
    """Compare values field by field, arrays by content."""
    if is_dataclass(left):
        return type(left) is type(right) and all(
            same(getattr(left, field.name), getattr(right, field.name))
            for field in fields(left)
        )
    if isinstance(left, np.ndarray):
        return left.shape == right.shape and np.array_equal(left, right)
    if isinstance(left, tuple):
        return len(left) == len(right) and all(map(same, left, right))
    return type(left) is type(right) and left == right


def keep(log, piece_id, *, token="t", data=DATA, reading=None, use=None, name="a.jpg"):
    return save_reading(
        log,
        photo_bytes=data,
        photo=photo_of(data, name),
        reading=reading or reading_of(data),
        piece_id=piece_id,
        save_token=token,
        use=use,
    )
