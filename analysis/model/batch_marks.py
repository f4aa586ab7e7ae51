"""What the maker decided about following the finish over pours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import named, one_of
from analysis.errors import InputError

if TYPE_CHECKING:
    from datetime import date

BATCH_MARKS = ("change", "baseline", "refinished")


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchMark:
    """A deliberate change, pours frozen as the baseline, or a form refinished.

    Attributes
    ----------
    kind : str
        One of ``BATCH_MARKS``.
    from_day : datetime.date
        First day of casting after the change or the refinishing; first day of the
        baseline.
    to_day : datetime.date or None
        Last day of the baseline; None for anything else.
    product_line_id, form_id : int or None
        Whose pours; None is all of them.
    note : str
        What was changed, in the maker's words; a change needs one.

    Examples
    --------
    >>> from datetime import date
    >>> BatchMark(kind="change", from_day=date(2026, 3, 2), note="new mix").note
    'new mix'
    """

    kind: str
    from_day: date
    to_day: date | None = None
    product_line_id: int | None = None
    form_id: int | None = None
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a mark that does not say what, of what, or until when."""
        one_of(self.kind, "Kind of mark", BATCH_MARKS)
        if self.kind == "change":
            named(self.note, "The change")
        if self.kind == "refinished" and self.form_id is None:
            msg = "No form was named as refinished: choose the form."
            raise InputError(msg)
        if self.kind != "baseline":
            if self.to_day is not None:
                msg = f"Only a baseline has an end, {self.to_day} was given: leave it."
                raise InputError(msg)
        elif self.to_day is None or self.to_day < self.from_day:
            msg = (
                f"The baseline ends on {self.to_day} and begins on {self.from_day}: "
                "choose its first pour, then its last."
            )
            raise InputError(msg)
