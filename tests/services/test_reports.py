"""Sheets say what the log holds, on both papers, and print any text literally."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analysis.errors import InputError, NotInLogError, TableError
from analysis.model.afterwards import HandFigures, Outcome, Repair
from analysis.model.log import PhotoUse, Piece, Pour
from analysis.model.workshop import FinishTarget, Form, FormJoint, ProductLine
from analysis.model.writing import percent
from analysis.services import report_sheets, reports
from analysis.services.log import open_log, save_with_new_piece
from analysis.services.photos import read_photo
from analysis.services.pieces import figure_of_piece
from analysis.services.records import change
from analysis.storage.castings import list_castings
from analysis.storage.exchange import import_pieces, preview_import
from analysis.storage.records import add
from tests.support.compare_log import table_text
from tests.support.drawn_faces import drawn, reading_of
from tests.support.pages import (
    margins_are_clear,
    page_sizes_mm,
    rendered,
    run_on,
    words_of,
)
from tests.support.pictures import file_of

HOSTILE = "=1+1 <b>x</b> **y** \u05e9\u05dc\u05d5\u05dd \U0001f9f1 żółć Бетон"
STRENGTH = "says nothing about strength"


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    kept = open_log(tmp_path_factory.mktemp("log"))
    line = add(kept, ProductLine(name="pots"), save_token="line").id
    target = FinishTarget(product_line_id=line, low_share=0.0, high_share=0.05)
    add(kept, target, save_token="target")
    form = Form(name="Pot 1", form_type="pot", joints=(FormJoint(name="front"),))
    form_id = add(kept, form, save_token="form").id
    data = file_of(np.array(drawn().pixels))
    photo = read_photo(data, "face.png")
    found, _ = reading_of(photo)
    save_with_new_piece(
        kept,
        piece=Piece(
            name="7", pour_id=0, form_id=form_id, product_line_id=line, note=HOSTILE
        ),
        pour=Pour(name="P1", cast_on=date(2026, 3, 2), note=HOSTILE, air_c=11.0),
        photo_bytes=data,
        photo=photo,
        reading=found,
        save_token="piece",
        use=PhotoUse(stage="as_struck"),
    )
    add(kept, Outcome(piece_id=1, outcome="second"), save_token="outcome")
    add(kept, Repair(piece_id=1, minutes=12.0, filler="slurry"), save_token="repair")
    add(kept, HandFigures(piece_id=1, leak_width_mm=12.0), save_token="by hand")
    return kept


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    kept = open_log(tmp_path_factory.mktemp("shop"))
    import_pieces(kept, preview_import(kept, table_text().encode()), save_token="shop")
    return kept


@pytest.mark.parametrize(("page", "unit"), [("A4", "mm"), ("Letter", "inch")])
def test_piece_sheet_is_one_page_a_customer_reads(log, page, unit):
    pdf = reports.piece_sheet(log, list_castings(log)[0], page=page, unit=unit)
    text = words_of(pdf)

    assert page_sizes_mm(pdf) == [(210.0, 297.0) if page == "A4" else (215.9, 279.4)]
    assert margins_are_clear(rendered(pdf, f"piece-{page}"))
    assert "% void area" in text
    assert "95 % sure" in text
    assert "Within the target" in text
    assert "Limits:" in text
    assert "filled with slurry, 12 min" in text
    assert "as struck" in text
    assert STRENGTH in text
    assert (" in\n" in text or " in " in text) if unit == "inch" else "20 mm" in text


def test_published_limits_say_where_they_come_from(log):
    casting = list_castings(log)[0]
    codes = ("gost_13015", "oenorm_b2211_joints")
    text = words_of(reports.piece_sheet(log, casting, codes=codes)).replace("\n", " ")

    assert "From memory: check against the document" in text
    assert "Width of the joint leak: 12 mm" in text
    assert "Source:" in text


def test_hostile_text_prints_literally(log):
    pdf = reports.piece_sheet(log, list_castings(log)[0])
    text = run_on(pdf)

    for part in ("=1+1", "<b>x</b>", "**y**", "U+1F9F1", "żółć", "Бетон"):
        assert part in text


def test_ten_thousand_characters_are_not_clipped(log):
    casting = list_castings(log)[0]
    long = "w" * 9_990 + "theend"
    pdf = reports.piece_sheet(
        log, replace(casting, piece=replace(casting.piece, note=long))
    )

    assert run_on(pdf).count("w") >= 9_990
    assert "theend" in run_on(pdf)
    assert margins_are_clear(rendered(pdf))


def test_photo_that_cannot_be_read_leaves_the_figures(log, monkeypatch):
    def gone(*_):
        msg = "The photo is gone."
        raise NotInLogError(msg)

    monkeypatch.setattr(reports, "photo_bytes", gone)
    text = words_of(reports.piece_sheet(log, list_castings(log)[0]))

    assert "% void area" in text
    assert "cannot be read" in text


def test_piece_without_a_photo_has_a_sheet(shop):
    casting = reports.casting_named(shop, "0-0")
    text = words_of(reports.piece_sheet(shop, casting))

    assert "No face of this piece has been measured yet." in text
    share = figure_of_piece(shop, casting.piece.id).share
    assert f"{percent(share)} % void area" in text
    assert "Brought in with a table, without a photo: no interval." in text


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_trial_sheet_answers_the_question(shop, page):
    pdf = report_sheets.trial_sheet(shop, "joints_sealed", page=page)
    text = words_of(pdf).replace("\n", " ")

    assert "sealed joints or open joints?" in text
    assert "times the void area of open joints" in text
    assert "What could be misleading" in text
    assert "24" in text
    assert STRENGTH in text
    assert len(page_sizes_mm(pdf)) == 1
    assert margins_are_clear(rendered(pdf, f"trial-{page}"))


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_pour_sheet_lists_its_pieces_and_faces(log, page):
    pdf = report_sheets.pour_sheet(log, "P1", page=page)
    text = words_of(pdf)

    assert "Pour P1" in text
    assert "11 °C" in text
    assert "Pot 1 (1)" in text
    assert "second" in text
    assert "7: " in text
    assert "U+1F9F1" in run_on(pdf)
    assert margins_are_clear(rendered(pdf, f"pour-{page}"))


def test_pour_sheet_marks_the_pour_among_the_others(shop):
    pdf = report_sheets.pour_sheet(shop, "P03")
    text = words_of(pdf)

    assert "the filled mark is this one" in text
    assert "Followed: " in text
    assert "P01" in text
    assert margins_are_clear(rendered(pdf, "pour-chart"))


def test_form_sheet_shows_its_uses(log, shop):
    text = words_of(report_sheets.form_sheet(log, "Pot 1"))
    worn = report_sheets.form_sheet(shop, "F0")

    assert "front" in text
    assert "Last faces" in text
    assert "Castings in this form" in words_of(worn)
    assert margins_are_clear(rendered(worn, "form"))


def test_what_is_not_in_the_log_is_refused(log, shop):
    with pytest.raises(NotInLogError, match="no piece 'none' in the log"):
        reports.casting_named(log, "none")
    with pytest.raises(NotInLogError, match="no pour 'none' with pieces"):
        report_sheets.pour_sheet(log, "none")
    with pytest.raises(NotInLogError, match="no form 'none' in the log"):
        report_sheets.form_sheet(log, "none")
    with pytest.raises(TableError, match="no factor 'none'"):
        report_sheets.trial_sheet(shop, "none")
    with pytest.raises(InputError, match="Page"):
        reports.piece_sheet(log, list_castings(log)[0], page="A0")
    with pytest.raises(InputError, match="Unit"):
        reports.piece_sheet(log, list_castings(log)[0], unit="ell")


def test_piece_is_found_by_number_too(log):
    assert reports.casting_named(log, "1").piece.name == "7"


def test_sheet_follows_the_log(log):
    casting = list_castings(log)[0]
    change(log, replace(casting.piece, release_agent="wax"))

    assert "wax" in words_of(reports.piece_sheet(log, list_castings(log)[0]))
