"""Days and times are written as the workshop chose, wherever they are read."""

from __future__ import annotations

from contextvars import copy_context
from dataclasses import replace
from datetime import datetime

import pytest

from analysis.model.waiting import GIVEN, Asked, WaitingPhoto
from analysis.model.writing import DAY_STYLES, moment, write_for
from analysis.services import log as log_service
from analysis.storage.exchange import preview_import
from ui.photo_queue.words import taken

FIRST = ("31 March 2026", "2026-03-31", "March 31, 2026")
NEXT = ("1 April 2026", "2026-04-01", "April 1, 2026")


def written(style, say):
    def run():
        write_for(day_style=style, workshop="")
        return say()

    return copy_context().run(run)


@pytest.mark.parametrize(("style", "day"), list(zip(DAY_STYLES, FIRST, strict=True)))
def test_photo_queue_says_when_a_photo_was_taken(style, day):
    one = WaitingPhoto(
        id=1,
        sha256="0" * 64,
        name="a.jpg",
        taken_at="2026-03-31T14:05:09",
        piece_id=None,
        state=GIVEN,
        why="",
        asked=Asked(),
        problem="",
        reading_id=None,
    )

    assert written(style, lambda: taken(one)) == f"{day}, 14:05"
    assert taken(replace(one, taken_at=None)) == ""


@pytest.mark.parametrize(
    ("style", "day", "other"), list(zip(DAY_STYLES, FIRST, NEXT, strict=True))
)
def test_import_says_which_day_does_not_agree(style, day, other, tmp_path):
    log = log_service.open_log(tmp_path)
    table = b"piece,pour,cast_on\n1,12,2026-03-31\n2,12,2026-04-01\n"

    (clash,) = written(style, lambda: preview_import(log, table).problems)

    assert clash.sentence.endswith(f"another day than that of pour 12, {day}.")
    assert other in clash.sentence


def test_moment_keeps_its_own_clock():
    at = datetime.fromisoformat("2026-03-31T23:30:00+05:00")
    assert moment(at) == "31 March 2026, 23:30"
