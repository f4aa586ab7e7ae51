"""A folder of photos into the log: each once, whatever cuts it off."""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import ConflictError, InputError, NotInLogError
from analysis.imaging.photo import claimed_px
from analysis.model.folder import FAILED, MEASURED, SKIPPED, AskedOfPhoto, FolderOutcome
from analysis.services.folders.hands import Hands, Job, processes, worked_through
from analysis.services.folders.piece_named import new_pieces, piece_of
from analysis.services.folders.side_car import (
    NO_SIDE_CAR,
    SideCar,
    folders_named,
    line_for,
    lines_missed,
)
from analysis.services.folders.walk import (
    USUAL_NAMES,
    FolderContent,
    checked_folder,
    name_pattern,
    photos_in,
    told_by_names,
)
from analysis.services.log import digest, form_of_piece, save_reading
from analysis.services.set_up import keeps_set_ups, unlike_kept
from analysis.storage.backup import backup_folder
from analysis.storage.castings import piece_ids
from analysis.storage.folder_runs import (
    begin_run,
    count_photos,
    end_run,
    reading_of_photo,
    tell_outcome,
    told_outcomes,
)
from analysis.storage.leases import claimed
from analysis.storage.saving import saved_id

if TYPE_CHECKING:
    import re
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from analysis.model.folder import FolderFile, FolderReading
    from analysis.model.workshop import Form
    from analysis.services.log import Log

# A file that was written to within this may still be growing.
STILL_S = 5.0
# Photos of one kind that a sentence names.
_NAMED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderWish:
    """How a folder is to be measured.

    Attributes
    ----------
    side_car : SideCar
        What it says of single photos.
    usual : AskedOfPhoto
        What holds for photos of which nothing else is said.
    names : str
        Pattern of the folders' names; empty takes the usual one.
    resume : bool
        Files that are as they were when the log was told of them are not read again;
        what failed is told again, not tried again.
    """

    side_car: SideCar = NO_SIDE_CAR
    usual: AskedOfPhoto = field(default_factory=AskedOfPhoto)
    names: str = ""
    resume: bool = False


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

    def add(self, outcome: FolderOutcome) -> None:
        """Count what came of a file."""
        setattr(self, outcome.state, getattr(self, outcome.state) + 1)
        if outcome.state == FAILED:
            self.failures.append(outcome)
        if outcome.unlike_kept:
            self.unlike_kept.append(outcome)


def measure_folder(
    log: Log,
    folder: str,
    wish: FolderWish | None = None,
    *,
    hands: Hands | None = None,
    tell: Callable[[FolderProgress, FolderOutcome | None], None] | None = None,
    again: Callable[[], bool] | None = None,
) -> FolderProgress:
    """Measure the photos of a folder into the log.

    Parameters
    ----------
    log : Log
    folder : str
        Its path.
    wish : FolderWish, optional
    hands : Hands, optional
        Who measures; a process for each core where it is not given.
    tell : callable, optional
        Told how far it is, and what came of a file, after each.
    again : callable, optional
        To follow the folder: asked after each look whether to look again; it may take
        its time. Without it the folder is looked at once.

    Returns
    -------
    FolderProgress
        How it ended.

    Raises
    ------
    InputError
        No folder, a pattern or a table of pieces that cannot be read, or the workers
        are gone.
    ConflictError
        Another process measures this folder.
    RecordError
        The log cannot be written to; what was saved stays.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as place:
    ...     measure_folder(open_log(f"{place}/log"), place).photos
    0
    """
    wish = wish or FolderWish()
    place = checked_folder(folder)
    pattern = name_pattern(wish.names or USUAL_NAMES)
    progress = FolderProgress()
    with claimed(log, f"folder {place}") as mine:
        if not mine:
            msg = f"Another process measures {place}: wait until it is through."
            raise ConflictError(msg)
        progress.notes += new_pieces(log, wish.side_car)
        run = _Run(
            log=log,
            place=place,
            wish=wish,
            pattern=pattern,
            hands=hands or processes(),
            progress=progress,
            tell=tell or _silent,
            run_id=begin_run(log, str(place)),
            reads_set_up=keeps_set_ups(log),
        )
        run.look(only_still=False)
        while again is not None and again():
            run.look(only_still=True)
        run.tell_of_lines()
        end_run(log, run.run_id)
    return progress


def _silent(_progress: FolderProgress, _outcome: FolderOutcome | None) -> None:
    pass


@dataclass(slots=True, kw_only=True)
class _Run:
    """One folder on its way into the log."""

    log: Log
    place: Path
    wish: FolderWish
    pattern: re.Pattern[str]
    hands: Hands
    progress: FolderProgress
    tell: Callable[[FolderProgress, FolderOutcome | None], None]
    run_id: int
    reads_set_up: bool
    seen: set[FolderFile] = field(default_factory=set)

    def look(self, *, only_still: bool) -> None:
        """Measure what is new in the folder."""
        own = (self.log.photo_folder, backup_folder(self.log))
        content = photos_in(self.place, apart=own)
        found = content.photos
        self._tell_of_folders(content)
        new = [one for one in found if one not in self.seen]
        if only_still:
            now = time.time()
            new = [one for one in new if not 0 <= now - one.changed_ns / 1e9 < STILL_S]
        if not new and only_still:
            return
        self.seen.update(new)
        self.progress.photos += len(new)
        count_photos(self.log, self.run_id, self.progress.photos)
        self.tell(self.progress, None)
        pieces = piece_ids(self.log)
        jobs = self._jobs(new, folders_named(one.path for one in found), pieces)
        for job, made in worked_through(jobs, self.hands):
            self._note(self._saved(job, made, pieces))

    def _tell_of_folders(self, content: FolderContent) -> None:
        """Tell what is missed; of a folder that is followed, once."""
        told = self.progress
        told.unread += [one for one in content.unread if one not in told.unread]
        links = (
            f"The link {path} leads to a folder and is not followed: measure that "
            "folder by itself."
            for path in content.links
        )
        told.notes += [one for one in links if one not in told.notes]

    def tell_of_lines(self) -> None:
        """Tell which lines were of no photo: one may be misspelt, and not obeyed."""
        paths = (one.path for one in self.seen)
        missed = lines_missed(paths, self.wish.side_car.lines)
        if not missed:
            return
        more = len(missed) - _NAMED
        named = ", ".join(missed[:_NAMED]) + (f" and {more} more" if more > 0 else "")
        self.progress.notes.append(
            f"The side-car names photos that are not in the folder: {named}. What it "
            "says of them was not used: check their names, and measure again what was "
            "measured without it."
        )

    def _note(self, outcome: FolderOutcome) -> None:
        try:
            tell_outcome(self.log, self.run_id, outcome)
        finally:
            # Whoever stops it now is told of this photo too.
            self._count(outcome)

    def _count(self, outcome: FolderOutcome) -> None:
        self.progress.add(outcome)
        self.tell(self.progress, outcome)

    def _jobs(
        self,
        files: Iterable[FolderFile],
        names: Mapping[str, int],
        pieces: Mapping[str, int],
    ) -> Iterator[Job]:
        """Yield what is to be measured; what is not is noted at once."""
        told = told_outcomes(self.log, self.run_id) if self.wish.resume else {}
        for file in files:
            before = told.get(file.path)
            if before is not None and before.file == file:
                state = FAILED if before.state == FAILED else SKIPPED
                self._count(replace(before, state=state))
                continue
            found = self._job(file, names, pieces)
            if isinstance(found, Job):
                yield found
            else:
                self._note(found)

    def _job(
        self,
        file: FolderFile,
        names: Mapping[str, int],
        pieces: Mapping[str, int],
    ) -> Job | FolderOutcome:
        """Return the job that a file is, or why it is none."""
        asked = self._asked(file.path, names, pieces)
        if asked.piece and asked.piece not in pieces and not asked.problem:
            problem = f"Piece {asked.piece} is not in the log: import the pieces first."
            asked = replace(asked, problem=problem)
        if asked.problem:
            return FolderOutcome(file=file, state=FAILED, problem=asked.problem)
        try:
            data = (self.place / file.path).read_bytes()
        except OSError as error:
            problem = f"The file cannot be read ({error.strerror}): look at it."
            return FolderOutcome(file=file, state=FAILED, problem=problem)
        sha256 = digest(data)
        known = reading_of_photo(self.log, sha256)
        if known is None:
            known = saved_id(self.log, _token(sha256, asked))
        if known is not None:
            return FolderOutcome(file=file, state=SKIPPED, reading_id=known)
        return Job(
            file=file,
            where=data if self.hands.by_content else str(self.place / file.path),
            name=Path(file.path).name,
            sha256=sha256,
            megapixels=claimed_px(data) / 1e6,
            asked=replace(
                asked,
                form=self._form(pieces.get(asked.piece)),
                reads_set_up=self.reads_set_up,
            ),
        )

    def _form(self, piece_id: int | None) -> Form | None:
        return None if piece_id is None else form_of_piece(self.log, piece_id)

    def _asked(
        self, path: str, names: Mapping[str, int], pieces: Mapping[str, int]
    ) -> AskedOfPhoto:
        """Put together what side-car, folder names and the usual say of a photo."""
        line = line_for(path, self.wish.side_car.lines, names)
        asked = line or self.wish.usual
        usual = self.wish.usual
        told = told_by_names(path, self.pattern)
        if not asked.piece and (self.wish.names or told.get("piece") in pieces):
            asked = replace(asked, piece=told.get("piece", ""), by_folder=True)
        use = asked.use
        if line is None and "stage" in told:
            use = replace(use, stage=told["stage"])
        set_up = use.set_up or told.get("set_up") or usual.use.set_up
        return replace(
            asked,
            mm_per_px=usual.mm_per_px if asked.mm_per_px is None else asked.mm_per_px,
            smallest_mm=asked.smallest_mm or usual.smallest_mm,
            form_face=asked.form_face or told.get("form_face", ""),
            use=replace(use, set_up=set_up),
        )

    def _saved(
        self, job: Job, made: FolderReading, pieces: Mapping[str, int]
    ) -> FolderOutcome:
        """Save what was measured; refusals are of this photo only."""
        try:
            if made.reading is None or made.facts is None:
                return FolderOutcome(file=job.file, state=FAILED, problem=made.problem)
            data = job.where
            if isinstance(data, str):
                data = Path(data).read_bytes()
            piece_id = piece_of(self.log, job, made, pieces)
            saved = save_reading(
                self.log,
                piece_id=piece_id,
                photo_bytes=data,
                photo=made.facts,
                reading=made.reading,
                save_token=_token(job.sha256, job.asked),
                use=job.asked.use,
            )
            unlike = self._unlike(piece_id, job, made)
        except (InputError, NotInLogError) as error:
            return FolderOutcome(file=job.file, state=FAILED, problem=str(error))
        except OSError as error:
            problem = f"The file is gone ({error.strerror}): look at the folder."
            return FolderOutcome(file=job.file, state=FAILED, problem=problem)
        state = SKIPPED if saved.already_saved else MEASURED
        return FolderOutcome(
            file=job.file, state=state, reading_id=saved.id, unlike_kept=unlike
        )

    def _unlike(self, piece_id: int, job: Job, made: FolderReading) -> str:
        """Say what differs from how the form's face is photographed."""
        if made.set_up is None:
            return ""
        form = self._form(piece_id)
        form_id = None if form is None else form.id
        return unlike_kept(self.log, form_id, job.asked.form_face, made.set_up)


def _token(sha256: str, asked: AskedOfPhoto) -> str:
    """Return the save's token: the same photo, asked alike, is saved once."""
    return f"folder {digest(repr((sha256, asked)).encode())}"
