"""A folder of photos into the log: each once, whatever cuts it off."""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import ConflictError, InputError, NotInLogError
from analysis.imaging.photo import claimed_px
from analysis.model.folder import FAILED, MEASURED, SKIPPED, FolderOutcome
from analysis.services.folders.hands import Hands, Job, processes, worked_through
from analysis.services.folders.piece_named import new_pieces, piece_of
from analysis.services.folders.progress import FolderProgress, named
from analysis.services.folders.side_car import folders_named, lines_missed
from analysis.services.folders.walk import (
    USUAL_NAMES,
    FolderContent,
    checked_folder,
    name_pattern,
    photos_in,
)
from analysis.services.folders.wish import FolderWish, asked_of, mark_of, save_token
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

    from analysis.model.folder import AskedOfPhoto, FolderFile, FolderReading
    from analysis.model.workshop import Form
    from analysis.services.log import Log

# A file that was written to within this may still be growing.
STILL_S = 5.0
_OTHERWISE = "It is in the log, but was not asked for in this way before."


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
        try:
            run.look()
            while again is not None and again():
                run.look_again()
        except KeyboardInterrupt:
            if again is None:
                raise  # a folder that is followed ends so
        run.tell_at_the_end()
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
    found: frozenset[FolderFile] = frozenset()
    pieces: Mapping[str, int] = field(default_factory=dict)

    def look(self) -> None:
        """Measure what the folder holds."""
        self._measure(self._content().photos)

    def look_again(self) -> None:
        """Measure what is new in a folder that is followed, and whole by now."""
        before = self.found
        failed = {one.file for one in self.progress.failures}
        try:
            content = self._content()
        except InputError as error:
            # Unplugged, perhaps: what it took along is tried again once it is back.
            self.seen -= failed
            self._tell(f"{error} It is looked for until this is stopped.")
            return
        gone = failed - self.found
        self.seen -= gone
        self.progress.forget(one.path for one in gone)
        if self.pieces != piece_ids(self.log):
            self.seen -= failed  # one of them may be of a piece that came now
        now = time.time()
        still = [
            one
            for one in content.photos
            if one in before and not 0 <= now - one.changed_ns / 1e9 < STILL_S
        ]
        if any(one not in self.seen for one in still):
            self._measure(still)

    def _content(self) -> FolderContent:
        own = (self.log.photo_folder, backup_folder(self.log))
        content = photos_in(self.place, apart=own)
        self.found = frozenset(content.photos)
        self._tell_of_folders(content)
        return content

    def _measure(self, photos: Iterable[FolderFile]) -> None:
        new = [one for one in photos if one not in self.seen]
        self.seen.update(new)
        self.progress.take_up(new)
        count_photos(self.log, self.run_id, self.progress.photos)
        self.tell(self.progress, None)
        self.pieces = piece_ids(self.log)
        jobs = self._jobs(new, folders_named(one.path for one in self.found))
        for job, made in worked_through(jobs, self.hands):
            self._note(self._saved(job, made))

    def _tell_of_folders(self, content: FolderContent) -> None:
        """Tell what is missed; of a folder that is followed, as it is now."""
        self.progress.unread[:] = content.unread
        for path in content.links:
            self._tell(
                f"The link {path} leads to a folder and is not followed: measure that "
                "folder by itself."
            )

    def _tell(self, note: str) -> None:
        """Tell something once."""
        if note not in self.progress.notes:
            self.progress.notes.append(note)
            self.tell(self.progress, None)

    def tell_at_the_end(self) -> None:
        """Tell what was not obeyed: a line may be misspelt, a photo be known."""
        paths = (one.path for one in self.seen)
        missed = lines_missed(paths, self.wish.side_car.lines)
        if missed:
            self._tell(
                f"The side-car names photos that are not in the folder: "
                f"{named(missed)}. What it says of them was not used: check their "
                "names, and measure again what was measured without it."
            )
        known = self.progress.asked_otherwise
        if known:
            self._tell(
                f"The log has these photos already, but they were not asked for in "
                f"this way before (piece, scale, face, set-up or stage): "
                f"{named(known)}. They were not measured again: to have them measured "
                "as asked now, delete their readings and begin again."
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
        self, files: Iterable[FolderFile], names: Mapping[str, int]
    ) -> Iterator[Job]:
        """Yield what is to be measured; what is not is noted at once."""
        told = told_outcomes(self.log, self.run_id) if self.wish.resume else {}
        for file in files:
            asked = asked_of(file.path, self.wish, self.pattern, names, self.pieces)
            before = told.get(file.path)
            if before is not None and (before.file, before.asked) == (
                file,
                mark_of(asked),
            ):
                state = FAILED if before.state == FAILED else SKIPPED
                self._count(replace(before, state=state))
                continue
            found = self._job(file, asked)
            if isinstance(found, Job):
                yield found
            else:
                self._note(found)

    def _job(self, file: FolderFile, asked: AskedOfPhoto) -> Job | FolderOutcome:
        """Return the job that a file is, or why it is none."""
        if asked.problem:
            return _failed(file, asked, asked.problem)
        try:
            data = (self.place / file.path).read_bytes()
        except OSError as error:
            problem = f"The file cannot be read ({error.strerror}): look at it."
            return _failed(file, asked, problem)
        sha256 = digest(data)
        known = self._known(file, sha256, asked)
        if known is not None:
            return known
        return Job(
            file=file,
            where=data if self.hands.by_content else str(self.place / file.path),
            name=Path(file.path).name,
            sha256=sha256,
            megapixels=claimed_px(data) / 1e6,
            asked=replace(
                asked,
                form=self._form(self.pieces.get(asked.piece)),
                reads_set_up=self.reads_set_up,
            ),
        )

    def _known(
        self, file: FolderFile, sha256: str, asked: AskedOfPhoto
    ) -> FolderOutcome | None:
        """Pass over a photo that the log has, asked for in this way or another."""
        found, why = saved_id(self.log, save_token(sha256, asked)), ""
        if found is None:
            found, why = reading_of_photo(self.log, sha256), _OTHERWISE
        if found is None:
            return None
        return FolderOutcome(
            file=file,
            state=SKIPPED,
            problem=why,
            reading_id=found,
            asked=mark_of(asked),
        )

    def _form(self, piece_id: int | None) -> Form | None:
        return None if piece_id is None else form_of_piece(self.log, piece_id)

    def _saved(self, job: Job, made: FolderReading) -> FolderOutcome:
        """Save what was measured; refusals are of this photo only."""
        try:
            if made.reading is None or made.facts is None:
                return _failed(job.file, job.asked, made.problem)
            data = job.where
            if isinstance(data, str):
                data = Path(data).read_bytes()
            # A copy of it may have been saved since this one was handed out.
            known = self._known(job.file, job.sha256, job.asked)
            if known is not None:
                return known
            piece_id = piece_of(self.log, job, made, self.pieces)
            saved = save_reading(
                self.log,
                piece_id=piece_id,
                photo_bytes=data,
                photo=made.facts,
                reading=made.reading,
                save_token=save_token(job.sha256, job.asked),
                use=job.asked.use,
            )
            unlike = self._unlike(piece_id, job, made)
        except (InputError, NotInLogError) as error:
            return _failed(job.file, job.asked, str(error))
        except OSError as error:
            problem = f"The file is gone ({error.strerror}): look at the folder."
            return _failed(job.file, job.asked, problem)
        return FolderOutcome(
            file=job.file,
            state=SKIPPED if saved.already_saved else MEASURED,
            reading_id=saved.id,
            unlike_kept=unlike,
            asked=mark_of(job.asked),
        )

    def _unlike(self, piece_id: int, job: Job, made: FolderReading) -> str:
        """Say what differs from how the form's face is photographed."""
        if made.set_up is None:
            return ""
        form = self._form(piece_id)
        form_id = None if form is None else form.id
        return unlike_kept(self.log, form_id, job.asked.form_face, made.set_up)


def _failed(file: FolderFile, asked: AskedOfPhoto, problem: str) -> FolderOutcome:
    return FolderOutcome(file=file, state=FAILED, problem=problem, asked=mark_of(asked))
