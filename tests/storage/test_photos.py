import pytest

from analysis.errors import InputError, NotInLogError
from analysis.model.log import PhotoUse
from analysis.storage.photo_store import path_of, photo_bytes
from analysis.storage.photos import save_photo
from analysis.storage.piece_table import piece_table
from analysis.storage.reading_lines import list_readings
from tests.support.crowd import save_one
from tests.support.stored_readings import photo_of

SHOW = PhotoUse(purpose="show", stage="as_struck")


def keep(log, piece_id, data, token="t", photo=None, use=SHOW):
    return save_photo(
        log,
        photo_bytes=data,
        photo=photo or photo_of(data),
        piece_id=piece_id,
        save_token=token,
        use=use,
    )


def test_a_photo_for_show_is_kept_and_never_pooled(log, piece_id):
    saved = keep(log, piece_id, b"show")
    assert keep(log, piece_id, b"show").already_saved
    assert keep(log, piece_id, b"show", "again").id == saved.id
    save_one(log, piece_id, "t2")
    assert photo_bytes(log, photo_of(b"show").sha256) == b"show"
    assert [line.use.purpose for line in list_readings(log)] == ["representative"]
    assert piece_table(log)[0].void_count == 5


def test_a_photo_of_no_piece_leaves_nothing(log):
    with pytest.raises(NotInLogError, match="no piece 9"):
        keep(log, 9, b"show")
    assert not path_of(log, photo_of(b"show").sha256).exists()


def test_a_photo_that_is_another_file_is_refused(log, piece_id):
    with pytest.raises(InputError, match="not the file it was read from"):
        keep(log, piece_id, b"show", photo=photo_of(b"other"))
