"""Who measures: processes of this machine, or whatever else takes work to do."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    ProcessPoolExecutor,
    wait,
)
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import number
from analysis.errors import InputError
from analysis.model.folder import FolderReading
from analysis.services.folders.work import begin_worker, measure_file
from analysis.services.turns import budget_megapixels

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from concurrent.futures import Executor, Future

    from analysis.model.folder import AskedOfPhoto, FolderFile

MOST_WORKERS = 64
_ALGEBRA_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def _ended(executor: Executor) -> None:
    executor.shutdown(cancel_futures=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """Who measures.

    Attributes
    ----------
    begin, end : callable
        Returns a fresh executor; ends one, with what is not begun left undone.
    count : int
        How many photos are measured at a time.
    ahead : int
        How many more are handed out, so that nobody waits while one is saved.
    by_content : bool
        Hand out the files' content, since who measures does not see the folder.
    megapixels : float
        How many megapixels may be handed out at a time; a larger photo goes alone.
    """

    begin: Callable[[], Executor]
    count: int
    ahead: int = 0
    end: Callable[[Executor], None] = _ended
    by_content: bool = False
    megapixels: float = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A photo to be measured.

    Attributes
    ----------
    file : FolderFile
    where : str or bytes
        Path of the file, or its content.
    name, sha256 : str
        Of the file.
    megapixels : float
        As its header claims.
    asked : AskedOfPhoto
    """

    file: FolderFile
    where: str | bytes
    name: str
    sha256: str
    megapixels: float
    asked: AskedOfPhoto


def processes(workers: int | None = None) -> Hands:
    """Return processes of this machine.

    Parameters
    ----------
    workers : int, optional
        How many, 1 to 64; one for each core where it is not given.

    Raises
    ------
    InputError
        Too few or too many.

    Examples
    --------
    >>> processes(2).count
    2
    """
    cores = os.cpu_count() or 1
    count = min(cores, MOST_WORKERS) if workers is None else workers
    number(count, "The number of workers", low=1, high=MOST_WORKERS)
    threads = max(1, cores // count)

    def begin() -> ProcessPoolExecutor:
        # Read by the processes as they start. Threads of linear algebra wait in a busy
        # loop between its small tasks: a quarter of all the processor's time.
        for name in _ALGEBRA_THREADS:
            os.environ.setdefault(name, "1")
        return ProcessPoolExecutor(
            count,
            # A process that shares nothing: threads and locks of this one stay here.
            mp_context=multiprocessing.get_context("spawn"),
            initializer=begin_worker,
            initargs=(threads,),
        )

    budget = budget_megapixels()
    return Hands(begin=begin, count=count, ahead=1, megapixels=budget)


def worked_through(
    jobs: Iterator[Job], hands: Hands
) -> Iterator[tuple[Job, FolderReading]]:
    """Hand jobs out and yield what came of each, as it comes.

    A process that ends in the middle of its work takes all of its executor with it:
    what was handed out is then done once more, each alone, so that the photo it ended
    at is known and costs no other.

    Raises
    ------
    InputError
        Who measures cannot be reached any more.
    """
    executor = hands.begin()
    at_work: dict[Future[FolderReading], Job] = {}
    try:
        following = next(jobs, None)
        while at_work or following is not None:
            while following is not None and _has_room(at_work, following, hands):
                at_work[_handed(executor, following)] = following
                following = next(jobs, None)
            ended, _ = wait(at_work, return_when=FIRST_COMPLETED)
            cut_off: list[Job] = []
            for future in ended:
                job = at_work.pop(future)
                made = _made(future, job)
                if made is None:
                    cut_off.append(job)
                else:
                    yield job, made
            if cut_off:
                cut_off += at_work.values()
                at_work.clear()
                hands.end(executor)
                for job in cut_off:
                    yield job, _alone(job, hands)
                executor = hands.begin()
    except CancelledError:
        msg = "The workers cannot be reached any more: begin again with --resume."
        raise InputError(msg) from None
    finally:
        hands.end(executor)


def _has_room(
    at_work: dict[Future[FolderReading], Job], job: Job, hands: Hands
) -> bool:
    # Alone any photo has room, or one above the budget would never be begun.
    if not at_work:
        return True
    taken = sum(one.megapixels for one in at_work.values())
    most = hands.count + hands.ahead
    return len(at_work) < most and taken + job.megapixels <= hands.megapixels


def _handed(executor: Executor, job: Job) -> Future[FolderReading]:
    return executor.submit(measure_file, job.where, job.name, job.sha256, job.asked)


def _made(future: Future[FolderReading], job: Job) -> FolderReading | None:
    """Return what came of a job; None where its process took others with it."""
    try:
        return future.result()
    except BrokenExecutor:
        return None
    except CancelledError:
        raise
    except Exception as error:  # noqa: BLE001  a worker fell, and others after it
        return _fallen(job, type(error).__name__)


def _alone(job: Job, hands: Hands) -> FolderReading:
    """Do one job in an executor of its own."""
    executor = hands.begin()
    try:
        return _handed(executor, job).result()
    except BrokenExecutor:
        return _fallen(job, "its process was ended")
    finally:
        hands.end(executor)


def _fallen(job: Job, why: str) -> FolderReading:
    """Say that whoever measured a photo fell at it."""
    problem = (
        f"Who measured {job.name} fell at it ({why}), perhaps for want of memory: "
        "measure it by hand."
    )
    return FolderReading(problem=problem)
