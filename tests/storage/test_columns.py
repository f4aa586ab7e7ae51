from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from analysis.errors import InputError
from analysis.model.workshop import Form
from analysis.storage.columns import UtcTime, Words
from analysis.storage.readings import load_reading
from analysis.storage.records import add, list_all, load
from tests.support.kept_readings import DATA, keep
from tests.support.stored_readings import reading_of


def test_a_moment_is_stored_in_utc_and_comes_back_with_its_zone():
    local = datetime(2026, 3, 31, 23, 30, tzinfo=timezone(timedelta(hours=2)))
    stored = UtcTime().process_bind_param(local, None)
    assert stored == datetime(2026, 3, 31, 21, 30)  # noqa: DTZ001 - as stored
    assert UtcTime().process_result_value(stored, None) == local


def test_a_moment_without_a_zone_is_refused(log, piece_id):
    naive = datetime(2026, 3, 31, 21, 30)  # noqa: DTZ001 - what is refused
    with pytest.raises(InputError, match="needs its zone"):
        keep(log, piece_id, reading=reading_of(DATA, measured_at=naive))


def test_a_moment_of_another_zone_is_the_same_moment(log, piece_id):
    utc = datetime(2026, 3, 31, 21, 30, tzinfo=UTC)
    there = utc.astimezone(timezone(timedelta(hours=-7)))
    saved = keep(log, piece_id, reading=reading_of(DATA, measured_at=there))
    assert load_reading(log, saved.id).measured_at == utc


def test_text_is_composed(log):
    form = Form(name="Ku\u0308bel")
    back = load(log, Form, add(log, form, save_token="1").id)
    assert back.name == "K\u00fcbel"


def test_names_of_files_are_freed_of_what_no_database_keeps():
    assert Words().process_bind_param("a\x00b\ud800c", None) == "ab?c"


def test_what_is_no_text_is_refused(log):
    with pytest.raises(InputError, match="Note must be text, 5 was given"):
        add(log, Form(name="A", note=5), save_token="1")
    assert list_all(log, Form) == ()


def test_an_endless_text_is_refused(log):
    with pytest.raises(InputError, match="Note has 20001 characters"):
        add(log, replace(Form(name="A"), note="x" * 20_001), save_token="1")


def test_nothing_stays_nothing():
    assert Words().process_bind_param(None, None) is None
    assert UtcTime().process_bind_param(None, None) is None
    assert UtcTime().process_result_value(None, None) is None
