import numpy as np
import pytest

from analysis.errors import InputError, RecordError
from analysis.storage.drafts import (
    PHOTOS_KEPT,
    draft_photo,
    drop_draft,
    keep_draft_photo,
    list_drafts,
    load_draft,
    save_draft,
)
from analysis.storage.store import open_log


def test_a_draft_outlives_the_program(log):
    save_draft(log, "piece 7", {"name": "007", "seconds": None})
    save_draft(log, "piece 7", {"name": "007", "seconds": 0.8})
    again = open_log(log.url)
    assert load_draft(again, "piece 7") == {"name": "007", "seconds": 0.8}


def test_drafts_are_found_by_how_they_begin_and_dropped(log):
    for key in ("piece 7", "piece_8", "pour"):
        save_draft(log, key, {})
    assert set(list_drafts(log, "piece")) == {"piece 7", "piece_8"}
    assert list_drafts(log, "piece_") == ("piece_8",)
    drop_draft(log, "pour")
    assert load_draft(log, "pour") is None


@pytest.mark.parametrize("value", [np.float64("nan"), object(), np.arange(3)])
def test_what_cannot_be_kept_is_refused(log, value):
    with pytest.raises(InputError, match="cannot be kept"):
        save_draft(log, "pour", {"x": value})


def test_an_endless_draft_is_refused(log):
    with pytest.raises(InputError, match="too long"):
        save_draft(log, "pour", {"note": "x" * 1_000_001})


def test_only_the_latest_photos_being_worked_on_are_kept(log):
    kept = [keep_draft_photo(log, bytes([k])) for k in range(PHOTOS_KEPT + 3)]
    found = [draft_photo(log, sha256) for sha256 in kept]
    assert found[:3] == [None] * 3
    assert found[3:] == [bytes([k]) for k in range(3, PHOTOS_KEPT + 3)]


def test_a_photo_being_worked_on_that_changed_is_not_given(log):
    sha256 = keep_draft_photo(log, b"photo")
    (log.photo_folder.parent / "drafts" / sha256).write_bytes(b"other")
    assert draft_photo(log, sha256) is None


def test_a_photo_that_cannot_be_kept_is_told(log):
    (log.photo_folder.parent / "drafts").write_bytes(b"a file")
    with pytest.raises(RecordError, match="cannot be used"):
        keep_draft_photo(log, b"photo")
