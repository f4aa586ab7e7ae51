"""Photos of the log."""

import pytest

from analysis.errors import NotInLogError
from analysis.storage.photo_store import path_of
from tests.support.crowd import photo_for, save_one
from tests.support.stored_readings import photo_of


def test_a_photo_of_no_piece_leaves_nothing(log):
    with pytest.raises(NotInLogError, match="no piece 9"):
        save_one(log, 9, "t")
    assert not path_of(log, photo_of(photo_for("t")).sha256).exists()
