from dataclasses import replace

import pytest

from analysis.model.workshop import Form
from analysis.storage.records import add, change, hide, list_all
from analysis.storage.stamp import stamp


@pytest.mark.of_sqlite
def test_every_change_of_the_log_changes_the_stamp(log):
    seen = [stamp(log)]
    add(log, Form(name="A"), save_token="a")
    seen.append(stamp(log))
    (form,) = list_all(log, Form)
    change(log, replace(form, note="new"))
    seen.append(stamp(log))
    hide(log, Form, form.id)
    seen.append(stamp(log))

    assert len(set(seen)) == 4


def test_looking_does_not_change_the_stamp(log):
    before = stamp(log)
    list_all(log, Form)

    assert stamp(log) == before


def test_a_server_has_no_stamp(log):
    assert stamp(replace(log, url="postgresql+psycopg://localhost/finish")) is None
