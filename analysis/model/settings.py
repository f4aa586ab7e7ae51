"""What a workshop sets once: its name, its units, how it writes days."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.checks import one_of
from analysis.errors import InputError
from analysis.model.writing import DAY_STYLES

UNITS = ("mm", "inch")
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What holds on every screen and sheet.

    Attributes
    ----------
    workshop : str
        Printed at the head of sheets; empty prints nothing.
    unit : str
        Lengths are shown in ``"mm"`` or ``"inch"``; what is kept stays in mm.
    day_style : str
        One of ``DAY_STYLES``.

    Examples
    --------
    >>> Settings().day_style
    'day month year'
    """

    workshop: str = ""
    unit: str = UNITS[0]
    day_style: str = DAY_STYLES[0]

    def __post_init__(self) -> None:
        """Refuse what is not offered."""
        one_of(self.unit, "Unit", UNITS)
        one_of(self.day_style, "Date style", DAY_STYLES)
        if len(self.workshop) > LONGEST_NAME:
            msg = (
                f"The workshop's name has {len(self.workshop)} characters: "
                f"shorten it to {LONGEST_NAME}."
            )
            raise InputError(msg)
