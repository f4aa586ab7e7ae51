import numpy as np
import pytest

from analysis.errors import TableError
from analysis.model.comparison import PieceTable
from analysis.monitoring.intake import follow, take_in
from analysis.monitoring.note_words import setting_words
from analysis.monitoring.pours import OF_METHOD
from analysis.pieces.table import read_table
from tests.support.wording import said


def table(text, number):
    columns = {key: np.array(value) for key, value in text.items()}
    n = len(columns["pour"])
    return PieceTable(
        text={"piece": np.arange(n).astype(str)} | columns,
        number={key: np.array(value, dtype=float) for key, value in number.items()},
        line=np.arange(2, n + 2),
    )


def test_percent_becomes_shares_and_days_stay_days():
    taken = take_in(
        table(
            {"pour": ["A", "B"], "cast_on": ["2024-03-31T23:30:00+02:00", ""]},
            {"void_area_percent": [0.4, 1.0], "joint_band_percent": [2.0, np.nan]},
        )
    )
    assert taken.pieces.void_share == pytest.approx([0.004, 0.01])
    assert taken.pieces.joint_band_share == pytest.approx([0.02, np.nan], nan_ok=True)
    assert taken.pieces.cast_on.astype(str).tolist() == ["2024-03-31", "NaT"]


def test_photos_of_a_piece_are_pooled_by_area():
    taken = take_in(
        table(
            {"pour": ["A", "B", "A"], "piece": ["1", "1", "1"]},
            {
                "void_area_percent": [0.2, 9.0, 0.5],
                "face_area_mm2": [1000, 500, 2000],
                "void_count": [2, 7, 3],
                "smallest_counted_mm": [0.5, 0.5, 1.0],
            },
        )
    )
    assert taken.pieces.void_share == pytest.approx([0.004, 0.09])
    assert taken.pieces.void_count.tolist() == [5, 7]
    assert taken.pieces.face_area_mm2.tolist() == [3000, 500]
    assert taken.pieces.smallest_counted_mm.tolist() == [1.0, 0.5]
    assert taken.table_rows.tolist() == [0, 1]
    assert "3 photos were joined into 2 pieces" in said(taken)[0]


def test_rows_without_a_name_are_pieces_of_their_own():
    given = table(
        {"pour": ["A", "A"], "piece": ["", ""]}, {"void_area_percent": [1, 2]}
    )
    assert len(take_in(given).pieces) == 2


def test_rows_that_cannot_be_followed_are_counted():
    taken = take_in(
        table({"pour": ["A", "", "B"]}, {"void_area_percent": [1, 2, np.nan]})
    )
    assert len(taken.pieces) == 1
    assert said(taken) == (
        "Left out: 1 row with void area not known.",
        "Left out: 1 row with pour not known.",
    )


def test_seconds_of_different_methods_stay_apart():
    taken = take_in(
        table(
            {
                "pour": ["A", "B"],
                "vibration_method": ["table", "poker"],
                "release_agent": ["oil", "wax"],
                "mix": ["M1", "M1"],
            },
            {"void_area_percent": [1, 2], "vibration_s": [300, 12], "slump_mm": [1, 2]},
        )
    )
    amounts = dict(taken.pieces.amounts)
    assert set(amounts) == {
        f"vibration_s{OF_METHOD}poker",
        f"vibration_s{OF_METHOD}table",
        "slump_mm",
    }
    assert amounts[f"vibration_s{OF_METHOD}poker"] == pytest.approx(
        [np.nan, 12], nan_ok=True
    )
    names = [name for name, _ in taken.pieces.settings]
    assert names == ["vibration_method", "release_agent", "mix"]


def test_seconds_without_a_method_are_kept_as_they_are():
    taken = take_in(
        table({"pour": ["A"]}, {"void_area_percent": [1], "vibration_s": [30]})
    )
    assert dict(taken.pieces.amounts)["vibration_s"].tolist() == [30]


def test_followed_rows_are_rows_of_the_table():
    result = follow(
        table({"pour": ["", "B", "C"]}, {"void_area_percent": [1.0, 2.0, 3.0]})
    )
    assert result.piece_rows.tolist() == [1, 2]
    assert "pour not known" in said(result)[0]


def test_a_table_without_shares_is_refused():
    with pytest.raises(TableError, match="no column 'void_area_percent'"):
        take_in(table({"pour": ["A"]}, {}))
    with pytest.raises(TableError, match="No row of the table has both"):
        take_in(table({"pour": ["A"]}, {"void_area_percent": [np.nan]}))


def test_what_came_of_a_pour_is_no_setting_of_it():
    text = (
        "piece,pour,void_area_percent,mix,leak,fins,note,trial,weekday,light,air_c\n"
        "1,A,0.4,C25,yes,no,wet,T1,Monday,lamp,12\n"
    )
    pieces = take_in(read_table(text)).pieces
    assert {name for name, _ in pieces.settings} == {"mix", "weekday", "light"}
    assert "air_c" in {name for name, _ in pieces.amounts}


def test_settings_are_codes_and_said_in_words():
    keys = ("air_c", "vibration_method", f"vibration_s{OF_METHOD}poker", "form_use")
    assert [setting_words(key) for key in keys] == [
        "air temperature, °C",
        "vibration method",
        "vibration, seconds (poker)",
        "use of the form",
    ]
