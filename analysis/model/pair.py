"""The second photo of a face measured in two lights."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.checks import number
from analysis.errors import PairError

_MATRIX = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondLight:
    """How the second photo of a pair lies on the first, which the reading is of.

    Attributes
    ----------
    photo_sha256 : str
        Of the second file's bytes.
    to_second : tuple of float
        Homography from (x, y, 1) px of the picture measured to px of the second photo,
        row by row; empty where nothing on a clean face tells it, and so are the three
        that follow.
    shift_px : float or None
        How far the middle of the picture moves, px of the picture, 0 or more.
    rotation_deg : float or None
        How far directions turn there, from the column axis towards the row axis.
    registration_rms_px : float or None
        Root mean square by which parts of the face miss it, px of the picture.
    light_angle_deg : float or None
        Between the directions towards the two lamps as seen in the picture, 0 to 180;
        None where no relief tells it.
    """

    photo_sha256: str
    to_second: tuple[float, ...]
    shift_px: float | None
    rotation_deg: float | None
    registration_rms_px: float | None
    light_angle_deg: float | None

    def __post_init__(self) -> None:
        """Refuse figures that no pair can have."""
        lying = (self.shift_px, self.rotation_deg, self.registration_rms_px)
        if self.to_second or any(value is not None for value in lying):
            self._check_lying()
        if self.light_angle_deg is not None:
            number(
                self.light_angle_deg,
                "Angle between the lights",
                low=0,
                high=180,
                unit="°",
                error=PairError,
            )

    def _check_lying(self) -> None:
        if len(self.to_second) != _MATRIX:
            msg = (
                f"A pair needs a 3 x 3 matrix, {len(self.to_second)} numbers were "
                "given: measure both photos again."
            )
            raise PairError(msg)
        for value in self.to_second:
            number(value, "A number of the pair's matrix", error=PairError)
        for length, name in (
            (self.shift_px, "Shift of the second photo"),
            (self.registration_rms_px, "Misfit of the pair"),
        ):
            number(length, name, low=0, unit="px", error=PairError)
        number(
            self.rotation_deg,
            "Turn of the second photo",
            low=-180,
            high=180,
            unit="°",
            error=PairError,
        )
