"""Pieces whose photos could mislead: every reader takes the same ones."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta

import numpy as np
import pytest

from analysis.compare.compare import compare
from analysis.grading.catalogue import OWN
from analysis.grading.wording import grade_sentence
from analysis.model.comparison import CompareOptions
from analysis.model.library import LibraryAsk
from analysis.model.log import JointState, PhotoUse, Piece, Pour
from analysis.model.review import Mark
from analysis.model.workshop import FinishTarget, Form, ProductLine
from analysis.services import batches, grading, records, report_sheets
from analysis.services import log as log_service
from analysis.services.piece_library import library_page
from analysis.services.pieces import figures_of_pieces
from analysis.services.strike import strike_card
from analysis.services.tables import trials_of_log
from analysis.storage.exchange import import_pieces, preview_import
from analysis.storage.reviews import save_review
from tests.support.photos import COLS, ROWS, measured, photo_of, png
from tests.support.screens import start, texts

FACE, DAY = ROWS * COLS, 24 * 60
MIDDLE, CORNER, LOW = (20, 25, 4), (5, 5, 5), (30, 30, 5)  # 16, 25 and 25 px
WORST = (0, 10, 15)
# By piece: void area, % of what counts; None where nothing does.
TRUE = {
    "on two days": 100 * (16 + 25) / (2 * FACE),  # the first reviewed, then automatic
    "filled first": 100 * (16 + 25) / FACE,  # photographed as struck only afterwards
    "worst spot": None,
    "worst reviewed": 100 * 16 / FACE,  # the worst spot was reviewed, the rest was not
    "scale and none": 100 * 16 / FACE,  # the photo without a scale cannot be weighed
    "none at all": 100 * (16 + 41) / (2 * FACE),  # two photos without a scale
    "two scales": 100 * (16 + 25 * 2.5**2) / (FACE * (1 + 2.5**2)),  # and a wet one
    "one photo twice": 100 * 41 / FACE,  # the same file, as struck and as filled
    "bare": 0.0,  # beside it a photo without a scale that holds a void
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("log")


@pytest.fixture(scope="module")
def log(folder):
    log = log_service.open_log(folder)
    line = records.add(log, ProductLine(name="troughs"), save_token="line").id
    target = FinishTarget(product_line_id=line, low_share=0.0, high_share=0.02)
    records.add(log, target, save_token="target")
    form = Form(name="T1", form_type="trough", product_line_id=line)
    form_id = records.add(log, form, save_token="form").id
    for n, name in enumerate(TRUE):
        piece = Piece(
            name=name,
            pour_id=0,
            form_id=form_id,
            product_line_id=line,
            joints=(JointState(sealing="none" if n % 2 else "tape"),),
        )
        pour = Pour(name=f"P{n}", cast_on=date(2026, 3, 1) + timedelta(days=n))
        log_service.add_pour_with_pieces(log, pour, [piece], save_token=name)
    photographed(log)
    return log


def photographed(log):
    piece = {one.piece.name: one.piece.id for one in log_service.list_castings(log)}
    taken = []

    def shoot(name, *places, at, of=None, shows="representative", state="dry", **more):
        """Keep a reading of a new photo, or of photo `of`; return both."""
        number = len(taken) + 1 if of is None else of
        taken.append(name)
        stage = more.pop("stage", "as_struck")
        data = png(number)
        saved = log_service.save_reading(
            log,
            photo_bytes=data,
            photo=photo_of(data, f"photo {number}.png"),
            reading=measured(data, list(places), minutes=at, **more),
            piece_id=piece[name],
            save_token=f"shot {len(taken)}",
            use=PhotoUse(stage=stage, purpose=shows, surface_state=state),
        )
        return saved.id, number

    def review(reading_id, number, *places, at):
        save_review(
            log,
            reviews_id=reading_id,
            reading=measured(png(number), list(places), minutes=at),
            marks=[Mark(action="reject", spot=0, reason="stain")],
            signed_by="M.",
            save_token=f"review {reading_id}",
        )

    first, number = shoot("on two days", MIDDLE, CORNER, at=1)
    review(first, number, MIDDLE, at=2)
    shoot("on two days", LOW, at=20 * DAY)
    shoot("on two days", MIDDLE, CORNER, LOW, at=30 * DAY, of=number)
    shoot("filled first", at=3, stage="filled")
    shoot("filled first", MIDDLE, LOW, at=10 * DAY)
    shoot("worst spot", WORST, at=4, shows="worst_spot")
    worst, number = shoot("worst reviewed", WORST, at=5, shows="worst_spot")
    review(worst, number, WORST, at=50)
    shoot("worst reviewed", MIDDLE, at=6)
    shoot("scale and none", MIDDLE, CORNER, at=8, mm_per_px=None)
    shoot("scale and none", MIDDLE, at=7)
    shoot("none at all", MIDDLE, at=9, mm_per_px=None)
    shoot("none at all", MIDDLE, CORNER, at=10, mm_per_px=None)
    shoot("two scales", MIDDLE, CORNER, LOW, at=13, state="wet")
    shoot("two scales", MIDDLE, at=11, mm_per_px=1.0)
    shoot("two scales", CORNER, at=12, mm_per_px=2.5)
    _, number = shoot("one photo twice", MIDDLE, CORNER, at=14)
    shoot("one photo twice", MIDDLE, at=15, stage="filled", of=number)
    shoot("bare", at=16)
    shoot("bare", MIDDLE, at=17, mm_per_px=None)


def known():
    return {name: pytest.approx(one) for name, one in TRUE.items() if one is not None}


def found_in(table):
    names, values = table.text["piece"], table.number["void_area_percent"]
    return {
        name: value
        for name, value in zip(names.tolist(), values.tolist(), strict=True)
        if not np.isnan(value)
    }


def casting(log, name):
    (one,) = (one for one in log_service.list_castings(log) if one.piece.name == name)
    return one


def test_tables_and_statistics(log):
    table = trials_of_log(log)
    assert found_in(table) == known()
    exported = csv.DictReader(io.StringIO(records.export_csv(log).decode()))
    cells = {row["piece"]: row["void_area_percent"] for row in exported}
    assert {name: float(cell) for name, cell in cells.items() if cell} == known()
    followed = batches.pieces_of_log(log)
    shares = dict(zip(followed.form_use, 100 * followed.void_share, strict=True))
    uses = dict(zip(TRUE, range(1, len(TRUE) + 1), strict=True))
    assert {name: shares[uses[name]] for name in known()} == known()
    assert len(shares) == len(known())


def test_comparing_takes_like_with_like_only(log):
    answer = compare(trials_of_log(log), CompareOptions(by="joint_sealing"))
    pieces = answer.pieces
    found = dict(zip(pieces.piece.tolist(), pieces.value.tolist(), strict=True))
    assert found == {name: known()[name] for name in found}
    assert set(found) >= {"on two days", "filled first", "two scales"}


def test_lists_and_sheets(log, monkeypatch):
    key = {one.piece.id: one.piece.name for one in log_service.list_castings(log)}
    figures = figures_of_pieces(log)
    assert {key[at]: 100 * one.share for at, one in figures.items()} == known()
    cards = library_page(log, LibraryAsk(), size=50).cards
    shares = {one.casting.piece.name: one.share for one in cards}
    assert shares.pop("worst spot") is None
    assert {name: 100 * share for name, share in shares.items()} == known()
    rows = {}
    monkeypatch.setattr(
        report_sheets.log_sheets,
        "pour_sheet",
        lambda **told: rows.update({row.piece: row.void_area for row in told["rows"]}),
    )
    for pour in log_service.pours(log):
        report_sheets.pour_sheet(log, pour.name)
    assert rows.pop("worst spot") == "not measured"
    near = {name: pytest.approx(TRUE[name], abs=0.006) for name in rows}
    assert {name: float(row.split(" ")[0]) for name, row in rows.items()} == near


@pytest.mark.parametrize("name", TRUE)
def test_grading_judges_what_stands_for_the_piece(log, name):
    said = grade_sentence(grading.judge_piece(log, casting(log, name), OWN))
    if TRUE[name] is None:
        assert said == "Not judged: no ordinary part was measured."
    else:
        assert "no ordinary part" not in said


def test_the_worst_spot_says_nothing_of_the_rest(log, folder, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(folder))
    said = texts(start("pieces", piece=str(casting(log, "worst spot").piece.id)))
    assert "the worst spot, as struck" in said
    assert "The rest of what you cast this way" not in said
    assert "No reading of an ordinary part yet." in said
    assert "needs a scale" not in said
    said = texts(start("pieces", piece=str(casting(log, "filled first").piece.id)))
    assert "The rest of what you cast this way" in said


def test_a_share_that_came_with_a_table_lies_to_its_target_alike(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    log = log_service.open_log(tmp_path)
    line = records.add(log, ProductLine(name="troughs"), save_token="line").id
    target = FinishTarget(product_line_id=line, low_share=0.0, high_share=0.006)
    records.add(log, target, save_token="target")
    names = "piece,pour,cast_on,product_line,void_area_percent"
    table = f"{names}\n7,1,2026-03-01,troughs,0.9\n".encode()
    import_pieces(log, preview_import(log, table), save_token="table")
    (card,) = library_page(log, LibraryAsk()).cards
    page = texts(start("pieces", piece=str(card.casting.piece.id)))

    assert card.place == strike_card(log, card.casting.piece).place == "above"
    assert "0.90 % void area, without a photo" in page
    assert "Out of its target (at most 0.60 %)" in page
    assert "No reading yet" not in page
