"""How photos are handed out."""

import os
from concurrent.futures import Future

from analysis.model.folder import AskedOfPhoto, FolderFile, FolderReading
from analysis.services.folders.hands import Hands, Job, processes, worked_through

READS_BY = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


class AtOnce:
    """An executor that is through with everything as it comes."""

    def __init__(self):
        self.given = []

    def submit(self, _work, where, *_rest):
        self.given.append(where)
        done = Future()
        done.set_result(FolderReading(problem=where))
        return done


def jobs(*names):
    for name in names:
        yield Job(
            file=FolderFile(path=name, byte_count=1, changed_ns=0),
            where=name,
            name=name,
            sha256="",
            megapixels=1.0,
            asked=AskedOfPhoto(),
        )


def handed_before_the_first_is_saved(**told):
    executor = AtOnce()
    hands = Hands(begin=lambda: executor, end=lambda _: None, count=1, **told)
    through = worked_through(jobs("a", "b", "c", "d"), hands)
    next(through)
    given = tuple(executor.given)
    assert {job.name for job, _ in through} | {"a", "b"} == {"a", "b", "c", "d"}
    assert sorted(executor.given) == ["a", "b", "c", "d"]
    return given


def test_the_next_photo_lies_ready_while_one_is_saved():
    assert handed_before_the_first_is_saved() == ("a",)
    assert handed_before_the_first_is_saved(ahead=1) == ("a", "b")
    assert handed_before_the_first_is_saved(ahead=1, megapixels=1.5) == ("a",)


def test_processes_do_their_algebra_in_one_thread(monkeypatch):
    for name in READS_BY:
        monkeypatch.setenv(name, "8")  # so that it is put back afterwards
        monkeypatch.delenv(name)
    hands = processes(1)
    executor = hands.begin()
    try:
        told = [executor.submit(os.getenv, name).result() for name in READS_BY]
    finally:
        hands.end(executor)
    assert told == ["1", "1", "1"]
