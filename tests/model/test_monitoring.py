import numpy as np
import pytest

from analysis.errors import InputError, TableError
from analysis.model.monitoring import TrackOptions
from analysis.monitoring.made_pieces import pieces


def test_columns_of_different_lengths_are_refused():
    with pytest.raises(TableError, match="columns must have one length"):
        pieces([0.01, 0.02], form=["F1"])


@pytest.mark.parametrize("share", [-0.1, 1.1, np.nan])
def test_a_share_that_is_none_is_refused(share):
    with pytest.raises(TableError, match="void share outside 0 to 1"):
        pieces([share])


def test_a_piece_without_a_pour_is_refused():
    with pytest.raises(TableError, match="piece without a pour"):
        pieces([0.01], pours=[""])


def test_a_setting_of_another_length_is_refused():
    table = pieces([0.01, 0.02])
    fields = {n: getattr(table, n) for n in table.__slots__ if n != "settings"}
    with pytest.raises(TableError, match="Column mix has shape"):
        type(table)(**fields, settings=(("mix", np.array(["M1"])),))


def test_columns_are_sealed_copies():
    share = np.array([0.01, 0.02])
    table = pieces(share)
    share[0] = 0.5
    assert table.void_share[0] == 0.01
    with pytest.raises(ValueError, match="read-only"):
        table.void_share[0] = 0.5


def test_words_not_known_are_refused():
    with pytest.raises(InputError, match="What may be mixed must be one of"):
        TrackOptions(together=("mix",))
    with pytest.raises(InputError, match="Joint sealing must be one of"):
        TrackOptions(sealing="tape")
