"""The verb `measure-folder`: the photos of a whole folder into a log."""

from __future__ import annotations

import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

from analysis.cli.files import (
    check_apart,
    check_targets,
    path_of,
    read_bytes,
    say,
    write_json,
)
from analysis.errors import InputError
from analysis.model.folder import FACES, WHOLE, AskedOfPhoto
from analysis.model.log import PhotoUse
from analysis.services.folders.cluster import SENDS, cluster
from analysis.services.folders.hands import processes
from analysis.services.folders.run import measure_folder
from analysis.services.folders.side_car import NO_SIDE_CAR, USUAL_FILES, read_side_car
from analysis.services.folders.walk import USUAL_NAMES, checked_folder
from analysis.services.folders.wish import FolderWish
from analysis.services.log import open_log
from analysis.services.photos import scale_typed

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator
    from pathlib import Path

    from analysis.model.folder import FolderOutcome
    from analysis.services.folders.hands import Hands
    from analysis.services.folders.progress import FolderProgress
    from analysis.services.folders.side_car import SideCar

_LOOK_S = 2.0
# A line of progress no more often than this, where it is not written over.
_TOLD_S = 10.0


def add_measure_folder(parser: argparse.ArgumentParser) -> None:
    """Add what `measure-folder` takes.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_measure_folder(parser)
    >>> parser.parse_args(["photos", "--log", "shop"]).resume
    False
    """
    parser.add_argument("folder", metavar="FOLDER")
    parser.add_argument("--log", metavar="URL", required=True)
    parser.add_argument(
        "--sheet",
        metavar="CSV",
        help="side-car with a line a photo: photo, piece, face, mm_per_px, set_up, "
        f"stage ...; without it {' or '.join(USUAL_FILES)} in the folder, if there",
    )
    parser.add_argument(
        "--names",
        metavar="PATTERN",
        default="",
        help=f"what the names of folders and files tell, '{USUAL_NAMES}' if not given",
    )
    parser.add_argument("--mm-per-px", type=float, help="of photos without a scale")
    parser.add_argument("--face", choices=FACES, default=WHOLE)
    parser.add_argument("--stage", default="as_struck")
    parser.add_argument("--set-up")
    parser.add_argument("--workers", type=int, metavar="N", help="one for each core")
    parser.add_argument(
        "--cluster", metavar="ADDRESS", help="a Dask cluster, tcp://host:8786"
    )
    parser.add_argument(
        "--send",
        choices=SENDS,
        default="auto",
        help="to a cluster: the photos' paths, or their content",
    )
    parser.add_argument(
        "--resume", action="store_true", help="pass over what the log was told of"
    )
    parser.add_argument("--watch", action="store_true", help="follow the folder")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_measure_folder)


def _measure_folder(options: argparse.Namespace) -> None:
    place = checked_folder(options.folder)
    side_car = _side_car(options, place)
    written = [] if options.json in {None, "-"} else [path_of(options.json)]
    check_targets(None, written)
    if not options.log.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    wish = FolderWish(
        side_car=side_car,
        usual=_usual(options),
        names=options.names,
        resume=options.resume,
    )
    told = _Telling(quiet=options.json == "-")
    try:
        with _hands(options, place) as hands:
            log = open_log(options.log)
            check_apart(log, written)
            progress = measure_folder(
                log,
                str(place),
                wish,
                hands=hands,
                tell=told.tell,
                again=_wait if options.watch else None,
            )
    except KeyboardInterrupt:
        told.end()
        if not options.watch or told.latest is None:
            msg = "Stopped: what was measured is in the log; go on with --resume."
            raise InputError(msg) from None
        progress = told.latest
    told.end()
    if options.json is not None:
        write_json(_answer(progress), options.json)
    if options.json != "-":
        told.notes(progress)
        for note in progress.unread:
            say(_one_line(note))
        say(_sentence(progress))
    if progress.failed:
        msg = (
            f"{progress.failed} of {progress.photos} photos could not be measured: "
            "each is named with its cause; the others are in the log."
        )
        raise InputError(msg)
    if progress.unread:
        msg = (
            f"Some folders could not be looked into ({len(progress.unread)}): each is "
            "named; the photos of the others are in the log."
        )
        raise InputError(msg)


def _side_car(options: argparse.Namespace, place: Path) -> SideCar:
    if options.sheet is not None:
        return read_side_car(read_bytes(path_of(options.sheet), "side-car"))
    for name in USUAL_FILES:
        if (place / name).is_file():
            return read_side_car((place / name).read_bytes())
    return NO_SIDE_CAR


def _usual(options: argparse.Namespace) -> AskedOfPhoto:
    if options.mm_per_px is not None:
        scale_typed(options.mm_per_px)
    return AskedOfPhoto(
        mm_per_px=options.mm_per_px,
        face=options.face,
        use=PhotoUse(stage=options.stage, set_up=options.set_up),
    )


@contextmanager
def _hands(options: argparse.Namespace, place: Path) -> Iterator[Hands]:
    if options.cluster is None:
        yield processes(options.workers)
        return
    if options.workers is not None:
        msg = "--workers is of this machine, --cluster of another: give one of them."
        raise InputError(msg)
    with cluster(options.cluster, place, send=options.send) as hands:
        yield hands


def _wait() -> bool:
    time.sleep(_LOOK_S)
    return True


class _Telling:
    """Says how far it is: over and over in one line on a screen, else now and then."""

    def __init__(self, *, quiet: bool) -> None:
        self.quiet = quiet
        self.latest: FolderProgress | None = None
        self._open = False
        self._told = time.monotonic()
        self._notes = 0

    def tell(self, progress: FolderProgress, outcome: FolderOutcome | None) -> None:
        """Say what came of a file where it failed, and how far it is."""
        self.latest = progress
        if self.quiet:
            return
        self.notes(progress)
        if outcome is not None and outcome.state == "failed":
            self.end()
            say(_one_line(f"{outcome.file.path}: {outcome.problem}"))
        if outcome is not None and outcome.unlike_kept:
            self.end()
            say(_one_line(f"{outcome.file.path}: {outcome.unlike_kept}"))
        if sys.stdout.isatty():
            sys.stdout.write(f"\r\x1b[K{_how_far(progress)}")
            sys.stdout.flush()
            self._open = True
        elif time.monotonic() - self._told >= _TOLD_S:
            self._told = time.monotonic()
            say(_how_far(progress))

    def notes(self, progress: FolderProgress) -> None:
        """Say what was not said yet: who follows a folder may wait long for its end."""
        new, self._notes = progress.notes[self._notes :], len(progress.notes)
        if new:
            self.end()
        for note in new:
            say(_one_line(note))

    def end(self) -> None:
        """Close a line that was to be written over."""
        if self._open:
            say("")
            self._open = False


def _one_line(text: str) -> str:
    # A file's name may hold anything, even what would move the cursor.
    return " ".join("".join(s if s.isprintable() else " " for s in text).split())


def _how_far(progress: FolderProgress) -> str:
    """Say how far it is, how fast, and how long the rest will take.

    Examples
    --------
    >>> from analysis.services.folders.progress import FolderProgress
    >>> _how_far(FolderProgress(photos=3, skipped=1))
    '1 of 3 photos'
    """
    through = progress.measured + progress.failed + progress.skipped
    text = f"{through} of {progress.photos} photos"
    if progress.failed:
        text += f", {progress.failed} failed"
    if progress.left_s is None:
        return text
    return f"{text}, {progress.photos_per_s:.2f} a second, {_for(progress.left_s)} left"


def _for(seconds: float) -> str:
    if seconds < 90:  # noqa: PLR2004  a minute and a half
        return f"{seconds:.0f} s"
    if seconds < 90 * 60:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"


def _sentence(progress: FolderProgress) -> str:
    return (
        f"{progress.photos} photos: {progress.measured} measured, "
        f"{progress.skipped} skipped, {progress.failed} failed, in "
        f"{_for(progress.seconds)}."
    )


def _answer(progress: FolderProgress) -> dict[str, object]:
    return {
        "photos": progress.photos,
        "measured": progress.measured,
        "failed": progress.failed,
        "skipped": progress.skipped,
        "seconds": round(progress.seconds, 3),
        "photos_per_s": round(progress.photos_per_s, 4),
        "failures": [
            {"photo": one.file.path, "cause": one.problem} for one in progress.failures
        ],
        "unlike_kept": [
            {"photo": one.file.path, "differs": one.unlike_kept}
            for one in progress.unlike_kept
        ],
        "notes": [*progress.notes, *progress.unread],
    }
