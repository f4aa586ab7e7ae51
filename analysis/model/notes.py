"""What a reader must know, as a code with its values; the words of its room say it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something to know of an answer.

    Attributes
    ----------
    code : str
        Which note it is, among the notes of its room.
    values : tuple of (str, object)
        What its sentence is made of, by name.
    """

    code: str
    values: tuple[tuple[str, object], ...] = ()


def note(code: str, **values: object) -> Note:
    """Make a note of a code and its values.

    Examples
    --------
    >>> note("long_gap", days=40).values
    (('days', 40),)
    """
    return Note(code=code, values=tuple(values.items()))


def say(one: Note, words: Mapping[str, str | Callable[..., str]]) -> str:
    """Turn a note into its sentence.

    Parameters
    ----------
    one : Note
        The note.
    words : mapping of str to str or callable
        By code: a sentence with the names of the values in braces, or what makes
        one of the values.

    Examples
    --------
    >>> say(note("long_gap", days=40), {"long_gap": "No pour for {days} days."})
    'No pour for 40 days.'
    """
    values = dict(one.values)
    made = words[one.code]
    return made.format(**values) if isinstance(made, str) else made(**values)
