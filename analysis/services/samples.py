"""The drawn sample photos that come with the project."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.points import Points


_FOLDER = Path(__file__).resolve().parents[2] / "sample_images"


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplePhoto:
    """A drawn photo and the marks that go with it. Points are (x, y) px.

    Attributes
    ----------
    file, title : str
        File name, and what it shows.
    ruler_xy : tuple
        Two ends of the ruler.
    ruler_mm : float
        Their distance.
    outline_xy : tuple
        Face outline.
    joints_xy : tuple
        Joint lines.
    """

    file: str
    title: str
    ruler_xy: Points
    ruler_mm: float
    outline_xy: Points
    joints_xy: tuple[Points, ...]


@lru_cache(maxsize=1)
def samples() -> tuple[SamplePhoto, ...]:
    """Return the samples in the order of their list.

    Examples
    --------
    >>> samples()[0].file
    'trough_joints_sealed.jpg'
    """
    listed = tomllib.loads((_FOLDER / "MANIFEST.toml").read_text(encoding="utf-8"))
    return tuple(
        SamplePhoto(
            file=entry["file"],
            title=entry["title"],
            ruler_xy=_points(entry["ruler_xy"]),
            ruler_mm=entry["ruler_mm"],
            outline_xy=_points(entry["outline_xy"]),
            joints_xy=tuple(_points(line) for line in entry["joint_xy"]),
        )
        for entry in listed["sample"]
    )


def sample_bytes(sample: SamplePhoto) -> bytes:
    """Return the sample's file."""
    return (_FOLDER / sample.file).read_bytes()


def _points(given: list[list[float]]) -> Points:
    return tuple((float(x), float(y)) for x, y in given)
