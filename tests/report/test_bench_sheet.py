"""The bench sheet holds every planned piece, with a box to tick."""

from __future__ import annotations

import pytest

from analysis.errors import InputError
from analysis.model.plan import OwnedForm, PlanQuestion
from analysis.pieces.table import piece_table
from analysis.planning.pour_plan import plan
from analysis.report.bench_sheet import BOX, bench_sheet
from tests.support.pages import margins_are_clear, page_sizes_mm, rendered, words_of


def made(levels=("tape", "none"), forms=("Trough A", "Trough B")):
    owned = [OwnedForm(name=name, form_type="trough") for name in forms]
    asked = PlanQuestion(by="joint_sealing", levels=levels)
    return plan(piece_table([]), asked, owned)


def test_every_piece_has_its_box():
    found = made()

    text = words_of(bench_sheet(found, "Cast.", made_on="2026-03-31"))

    assert text.count(BOX) == len(found.assignments)
    assert text.count("Trough A") == found.pours
    for pour in range(1, found.pours + 1):
        assert f"Pour {pour}" in text
    assert "2026-03-31" in text


def test_words_are_printed_as_written():
    found = made(levels=("**oil** <b>", "wax; ä"))

    text = words_of(bench_sheet(found, "Cast.", made_on="2026-03-31"))

    assert "**oil** <b>" in text
    assert "wax; ä" in text


def test_letter_paper_too():
    pdf = bench_sheet(made(), "Cast.", made_on="2026-03-31", page="Letter")
    assert page_sizes_mm(pdf)[0] == (215.9, 279.4)
    assert margins_are_clear(rendered(pdf, "bench-sheet"))


def test_no_such_paper():
    with pytest.raises(InputError, match="Page"):
        bench_sheet(made(), "Cast.", made_on="2026-03-31", page="A0")
