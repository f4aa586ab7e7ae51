"""Set once: the workshop's name on sheets, units, one way to write days."""

from __future__ import annotations

from contextvars import copy_context
from datetime import date

import pytest

from analysis.errors import InputError
from analysis.model.settings import Settings
from analysis.model.writing import day, workshop_name
from analysis.report.paper import finished, lines, new_paper
from analysis.services.log import open_log
from analysis.services.workshop_settings import apply_settings, keep_settings, settings
from analysis.storage.drafts import save_draft
from tests.support.pages import words_of

OURS = Settings(workshop="Yard Three", unit="inch", day_style="month day, year")


def test_what_is_set_is_kept_with_the_log(tmp_path):
    log = open_log(tmp_path)
    assert settings(log) == Settings()

    keep_settings(log, OURS)

    assert settings(open_log(tmp_path)) == OURS


def test_a_value_of_another_version_is_passed_over(tmp_path):
    log = open_log(tmp_path)
    kept = {"workshop": "Yard", "unit": "ell", "day_style": 7, "colour": "blue"}
    save_draft(log, "settings", kept)

    assert settings(log) == Settings(workshop="Yard")


def test_days_and_sheets_follow_it_in_this_run_only(tmp_path):
    log = open_log(tmp_path)
    keep_settings(log, OURS)

    def said():
        apply_settings(log)
        paper = new_paper("Piece 7")
        lines(paper, [day(date(2026, 3, 14))])
        return words_of(finished(paper))

    text = copy_context().run(said)

    assert text.splitlines()[0].strip() == "Yard Three"
    assert "March 14, 2026" in text
    assert "Yard Three, Piece 7" in text  # at the foot
    assert workshop_name() == ""
    assert day(date(2026, 3, 14)) == "14 March 2026"


def test_without_a_name_a_sheet_begins_with_its_title():
    paper = new_paper("Piece 7")

    assert words_of(finished(paper)).splitlines()[0].strip() == "Piece 7"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"unit": "ell"}, "Unit must be one of"),
        ({"day_style": "week"}, "Date style must be one of"),
        ({"workshop": "x" * 81}, "name has 81 characters"),
    ],
)
def test_what_is_not_offered_is_refused(given, said):
    with pytest.raises(InputError, match=said):
        Settings(**given)
