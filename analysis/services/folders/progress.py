"""How far a folder is while it is being measured."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from analysis.model.folder import FAILED, SKIPPED

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from analysis.model.folder import FolderFile, FolderOutcome

# Photos of one kind that a sentence names.
_NAMED = 5


@dataclass(slots=True, kw_only=True)
class FolderProgress:
    """How far a folder is; changed while it goes on.

    Attributes
    ----------
    photos, measured, failed, skipped : int
        Photos found, and what came of them so far.
    began : float
        By `time.monotonic`.
    failures : list of FolderOutcome
        What could not be measured, with why.
    unlike_kept : list of FolderOutcome
        What was measured, but not taken as is kept with its form.
    asked_otherwise : list of str
        Paths of photos that the log holds, but that were not asked for in this way.
    notes : list of str
        What else is to be told, in sentences.
    unread : list of str
        Sentences about folders whose photos are missed.
    """

    photos: int = 0
    measured: int = 0
    failed: int = 0
    skipped: int = 0
    began: float = field(default_factory=time.monotonic)
    failures: list[FolderOutcome] = field(default_factory=list)
    unlike_kept: list[FolderOutcome] = field(default_factory=list)
    asked_otherwise: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)

    @property
    def seconds(self) -> float:
        """Since it began."""
        return time.monotonic() - self.began

    @property
    def photos_per_s(self) -> float:
        """Photos measured in a second."""
        return self.measured / max(self.seconds, 1e-9)

    @property
    def left_s(self) -> float | None:
        """Seconds that the rest will take; None before anything is measured."""
        left = self.photos - self.measured - self.failed - self.skipped
        done = self.measured + self.failed
        return left * self.seconds / done if done else None

    def take_up(self, files: Sequence[FolderFile]) -> None:
        """Count files that are to be measured; what failed before is tried anew."""
        self.forget({one.path for one in files})
        self.photos += len(files)

    def forget(self, paths: Iterable[str]) -> None:
        """Count failures of these paths no longer."""
        gone = set(paths)
        left = [one for one in self.failures if one.file.path not in gone]
        self.photos -= len(self.failures) - len(left)
        self.failed = len(left)
        self.failures = left

    def add(self, outcome: FolderOutcome) -> None:
        """Count what came of a file."""
        setattr(self, outcome.state, getattr(self, outcome.state) + 1)
        if outcome.state == FAILED:
            self.failures.append(outcome)
        if outcome.state == SKIPPED and outcome.problem:
            self.asked_otherwise.append(outcome.file.path)
        if outcome.unlike_kept:
            self.unlike_kept.append(outcome)


def named(paths: Sequence[str]) -> str:
    """Name the first few of many photos.

    Examples
    --------
    >>> named(["a", "b", "c", "d", "e", "f", "g"])
    'a, b, c, d, e and 2 more'
    """
    more = len(paths) - _NAMED
    return ", ".join(paths[:_NAMED]) + (f" and {more} more" if more > 0 else "")
