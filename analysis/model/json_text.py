"""Answers as JSON text, each entry on a line of its own."""

from __future__ import annotations

import json
from functools import cache


def json_text(answer: dict[str, object]) -> str:
    """Return an answer as JSON, indented by one blank a level.

    The text is that of ``json.dumps`` with an indent of 1. That encoder goes through
    every entry in Python; here what holds nothing nested, as the figures of a void do,
    is left to the encoder in C, several times as fast.

    Parameters
    ----------
    answer : dict
        Keys are text at every level.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        A number is not finite: JSON has no word for it.

    Examples
    --------
    >>> print(json_text({"count": 2, "sizes": [1.5, 0.7], "flags": []}))
    {
     "count": 2,
     "sizes": [
      1.5,
      0.7
     ],
     "flags": []
    }
    """
    return _indented(answer, 0)


def _indented(value: object, level: int) -> str:
    if not isinstance(value, (dict, list, tuple)) or not value:
        return _encoder(level).encode(value)
    opened, closed = "{}" if isinstance(value, dict) else "[]"
    line = "\n" + " " * (level + 1)
    items = value.values() if isinstance(value, dict) else value
    if not any(isinstance(item, (dict, list, tuple)) and item for item in items):
        # Empty ones stand on the line of their key, as the encoder writes them.
        parts = _encoder(level).encode(value)[1:-1]
    elif isinstance(value, dict):
        parts = f",{line}".join(
            f"{json.dumps(key)}: {_indented(item, level + 1)}"
            for key, item in value.items()
        )
    else:
        parts = f",{line}".join(_indented(item, level + 1) for item in value)
    return f"{opened}{line}{parts}\n{' ' * level}{closed}"


@cache
def _encoder(level: int) -> json.JSONEncoder:
    """Encode what holds nothing nested, its entries on lines of the next level."""
    return json.JSONEncoder(
        separators=(f",\n{' ' * (level + 1)}", ": "), allow_nan=False
    )
