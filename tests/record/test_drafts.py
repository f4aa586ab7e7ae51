import numpy as np
import pytest

from analysis.errors import InputError
from analysis.record.drafts import drop_draft, list_drafts, load_draft, save_draft
from analysis.record.store import open_log


def test_a_draft_outlives_the_program(log):
    save_draft(log, "piece 7", {"name": "007", "seconds": None})
    save_draft(log, "piece 7", {"name": "007", "seconds": 0.8})
    again = open_log(log.file.parent)
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
