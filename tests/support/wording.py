"""Columns and codes of the log that have no place in a sentence."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import TYPE_CHECKING

from analysis import vocabulary
from analysis.fields import FIELDS
from analysis.flags import Flag
from analysis.monitoring.note_words import note_words

if TYPE_CHECKING:
    from types import ModuleType

_CODES = sorted(
    {name for one in FIELDS for name in (one.column, one.name) if "_" in name}
    | {word for word in vocabulary._FIXED if "_" in word}
    | {str(flag) for flag in Flag if "_" in flag},
    key=len,
    reverse=True,
)
_CODE = re.compile(rf"(?<![\w/.-])(?:{'|'.join(_CODES)})(?![\w/-])")

_NAME = re.compile(r"(?<![\w/.-])[a-z]+(?:_[a-z0-9]+)+(?![\w/-])")


def codes_made(room: ModuleType) -> set[str]:
    """Return the codes of every note that the files of a room make."""
    calls = (
        one
        for file in Path(str(room.__file__)).parent.glob("*.py")
        for one in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(one, ast.Call) and getattr(one.func, "id", "") == "note"
    )
    return {call.args[0].value for call in calls}


def said(found) -> tuple[str, ...]:
    """Return the notes of what was followed, as sentences."""
    return tuple(note_words(one) for one in found.notes)


def codes_in(text: str) -> list[str]:
    """Return the columns and codes that a text holds.

    Examples
    --------
    >>> codes_in("Left out: 2 pieces with joint_sealing not known.")
    ['joint_sealing']
    >>> codes_in("Left out: 2 pieces with joint sealing not known.")
    []
    """
    return _CODE.findall(text)


def names_in(text: str) -> list[str]:
    """Return every name with an underscore, also of tables and of the log's own fields.

    Examples
    --------
    >>> names_in("Row 3 of mix_part came out otherwise.")
    ['mix_part']
    """
    return _NAME.findall(text)


def sentences_of(found: object) -> list[str]:
    """Return the sentences in what JSON holds: strings with a space in them.

    Examples
    --------
    >>> sentences_of({"levels": ["as_struck"], "notes": ["No clear difference."]})
    ['No clear difference.']
    """
    if isinstance(found, str):
        return [found] if " " in found else []
    if isinstance(found, dict):
        found = list(found.values())
    if isinstance(found, list):
        return [said for one in found for said in sentences_of(one)]
    return []
