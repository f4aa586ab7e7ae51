"""All readers of the log take the same reading, pool it and order it the same way."""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pytest

from analysis.compare.compare import compare
from analysis.model.comparison import CompareOptions
from analysis.model.vibration import VibrationQuestion
from analysis.monitoring.pours import log_shares
from analysis.pieces.order import casting_order
from analysis.pieces.zeros import zero_of
from analysis.services import (
    batch_marks,
    batches,
    comparisons,
    forms,
    records,
    report_sheets,
)
from analysis.services import log as log_service
from analysis.services import reports as piece_reports
from analysis.services.pieces import standing_lines
from analysis.services.tables import table_from_csv, trials_of_log
from analysis.vibration.dose_rows import gather
from tests.support.log_of_everything import (
    N_PHOTOS,
    ORDER,
    TRUE,
    USES,
    of_everything,
)
from tests.support.screens import start, texts

TO_SHOWN = 0.006  # figures on a screen or sheet have three digits


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("log")


@pytest.fixture(scope="module")
def made(folder):
    return of_everything(folder)


@pytest.fixture(scope="module")
def log(made):
    return made.log


@pytest.fixture(scope="module")
def screens(made, folder):
    del made  # it is in the folder now
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STRUCKFACE_DATA", str(folder))
        yield start


def castings(log):
    return {one.piece.name: one for one in log_service.list_castings(log)}


def percent_in(text):
    """The first figure in front of a percent sign; none is no void."""
    if "No voids" in text:
        return 0.0
    words = text.partition(" %")[0].split()
    return 0.0 if words[-2:-1] == ["under"] else float(words[-1])


def as_shown(percent):
    """A figure within what its digits tell."""
    return pytest.approx(percent, rel=TO_SHOWN, abs=0.01)


# which reading, pooled how


def test_the_table_for_comparing(log):
    table = trials_of_log(log)
    found = dict(
        zip(
            table.text["piece"].tolist(),
            table.number["void_area_percent"].tolist(),
            strict=True,
        )
    )
    assert found == pytest.approx(TRUE)


def test_the_export(log):
    rows = list(csv.DictReader(io.StringIO(records.export_csv(log).decode())))
    found = {row["piece"]: float(row["void_area_percent"]) for row in rows}
    assert found == pytest.approx(TRUE)
    pours = list(dict.fromkeys(row["pour"] for row in rows))
    assert tuple(pours) == ORDER


def test_the_list_of_pieces(screens):
    app = screens("pieces")
    opened = [one.label for one in app.button if str(one.key).startswith("open ")]
    shown = re.findall(r".*% void area.*|No (?:voids|reading yet).*", texts(app))
    assert len(opened) == len(shown)
    for name, true in TRUE.items():
        at = next(n for n, label in enumerate(opened) if label.startswith(name))
        assert percent_in(shown[at]) == as_shown(true), name


@pytest.mark.parametrize("name", ["P1", "P2", "P3", "P4"])
def test_the_page_of_a_piece(screens, log, name):
    piece = castings(log)[name].piece
    said = texts(screens("pieces", piece=str(piece.id)))
    (line,) = [one for one in said.splitlines() if one.endswith("% void area")]
    if N_PHOTOS[name] > 1:
        (line,) = [one for one in said.splitlines() if "photos together" in one]
    assert percent_in(line) == as_shown(TRUE[name])


def test_the_sheet_of_a_pour(log, monkeypatch):
    found = {}
    monkeypatch.setattr(
        report_sheets.log_sheets,
        "pour_sheet",
        lambda **told: found.update(
            {row.piece: percent_in(row.void_area) for row in told["rows"]}
        ),
    )
    for pour in ORDER:
        report_sheets.pour_sheet(log, pour)
    assert found == {name: as_shown(true) for name, true in TRUE.items()}


def test_the_sheet_of_a_piece(log, monkeypatch):
    seen = []
    monkeypatch.setattr(
        piece_reports, "laid_out", lambda sheet, **_: seen.append(sheet)
    )
    for name in TRUE:
        piece_reports.piece_sheet(log, castings(log)[name])
    n = {sheet.name: len(sheet.readings) for sheet in seen}
    assert n == N_PHOTOS
    whole = {
        sheet.name: 100
        * sum(one.summary.void_area_mm2 for one in sheet.readings)
        / sum(one.summary.face_area_mm2 for one in sheet.readings)
        for sheet in seen
        if sheet.readings
    }
    assert whole == pytest.approx({name: TRUE[name] for name in whole})


def test_comparing(log):
    answer = compare(trials_of_log(log), CompareOptions(by="joint_sealing"))
    found = dict(
        zip(answer.pieces.piece.tolist(), answer.pieces.value.tolist(), strict=True)
    )
    assert found == pytest.approx({name: TRUE[name] for name in found})
    assert set(found) >= {"P1", "P3", "P5"}


def test_joints_of_one_piece_are_those_as_struck(log):
    table = comparisons.joints_of_log(log)
    assert table.text["piece"].tolist() == ["P2", "P2"]
    bands = table.number["joint_band_percent"].tolist()
    assert bands == pytest.approx([100 * 9 / 160, 100 * 4 / 160], rel=0.35)
    assert min(bands) > 0


def test_typical_pieces_are_shown_by_the_photo_that_counts(log, monkeypatch):
    taken = []
    load = comparisons.load_reading

    def loading(log, key):
        taken.append(load(log, key))
        return taken[-1]

    monkeypatch.setattr(comparisons, "load_reading", loading)
    answer = compare(
        trials_of_log(log),
        CompareOptions(by="joint_sealing", levels=("tape", "none")),
    )
    shown = comparisons.looks(log, answer)
    assert shown
    for look, reading in zip(shown, taken, strict=True):
        if N_PHOTOS[look.piece] == 1:
            share = 100 * reading.summary.void_share.value
            assert share == pytest.approx(TRUE[look.piece]), look.piece


def test_following(log):
    pieces = batches.pieces_of_log(log)
    found = sorted(100 * pieces.void_share)
    assert found == pytest.approx(sorted(TRUE.values()))


def test_vibration(log):
    asked = VibrationQuestion(
        form_type="trough", method="table", target_low=0.0, target_high=0.02
    )
    found = gather(trials_of_log(log), asked)
    shares = dict(
        zip(found.table.text["piece"].tolist(), found.share.tolist(), strict=True)
    )
    assert shares == pytest.approx({name: TRUE[name] for name in shares})


def test_grading(log):
    for name, casting in castings(log).items():
        lines = standing_lines(log, casting.piece.id)
        assert len(lines) == N_PHOTOS[name], name
        if len(lines) == 1:
            assert 100 * lines[0].void_share == pytest.approx(TRUE[name]), name


# in which order


def test_lists_go_by_the_order_cast(log):
    last_first = list(
        dict.fromkeys(one.pour.name for one in log_service.list_castings(log))
    )
    assert tuple(last_first[::-1]) == ORDER
    assert tuple(one.name for one in log_service.pours(log))[::-1] == ORDER


def test_charts_and_statistics_go_by_the_order_cast(log):
    pieces = batches.pieces_of_log(log)
    found = batches.batches(pieces, sealing="open")
    charted = found.track.points.pour.tolist()
    assert charted == [pour for pour in ORDER if pour in charted]
    table = trials_of_log(log)
    place = dict(
        zip(table.text["pour"].tolist(), casting_order(table).tolist(), strict=True)
    )
    assert place == {pour: n for n, pour in enumerate(ORDER)}


def test_form_uses_and_last_time(log, made):
    uses = {name: one.form_use for name, one in castings(log).items()}
    assert uses == USES
    assert records.last_casting(log, made.form["T1"]).piece.name == "P6"
    table = trials_of_log(log)
    told = dict(
        zip(
            table.text["piece"].tolist(), table.number["form_use"].tolist(), strict=True
        )
    )
    assert told == USES


def test_order_of_a_file_is_by_day_and_time():
    # A file as people keep it: rows in any order, the time behind the day.
    text = (
        "piece,pour,cast_on,form_type,vibration_method,vibration_s,void_area_percent\n"
        "1,late,2026-03-30 09:30,pot,table,30,0.4\n"
        "2,early,2026-03-30 07:15,pot,table,30,0.5\n"
        "3,first,2026-03-30,pot,table,30,0.6\n"
    )
    table = table_from_csv(text)
    assert casting_order(table).tolist() == [2, 1, 0]
    followed = batches.batches(batches.measured_pieces(table))
    assert followed.track.points.pour.tolist() == ["first", "early", "late"]


# what stands for zero, what is sealed, what is not known


def test_what_stands_for_zero(log):
    table = trials_of_log(log)
    asked = VibrationQuestion(
        form_type="trough", method="table", target_low=0.0, target_high=0.02
    )
    compared = zero_of(table, table.number["void_area_percent"], "void_area_percent")
    pieces = batches.pieces_of_log(log)
    followed = 100 * float(np.exp(log_shares(pieces)).min())
    dosed = gather(table, asked).zero
    assert followed == pytest.approx(compared)
    assert dosed == pytest.approx(compared)
    assert 0 < compared < 0.002


def test_form_without_joints_is_neither_sealed_nor_open(log):
    table = trials_of_log(log)
    of = dict(
        zip(
            table.text["piece"].tolist(),
            table.text["joints_sealed"].tolist(),
            strict=True,
        )
    )
    assert of["P4"] == ""
    pieces = batches.pieces_of_log(log)
    assert "sealed" in batches.sealings_of(pieces)
    only = pieces.take(pieces.form == "T2")
    assert batches.sealings_of(only) == ("no joints",)
    (worn,) = forms.wear(only).values()
    assert worn.advice == "too_early"


def test_count_is_not_known_where_a_part_of_it_is_not():
    text = (
        "piece,pour,mix,void_area_percent,face_area_mm2,void_count\n"
        "1,A,C25,0.2,1000,3\n1,A,C25,0.5,2000,\n2,B,C40,0.4,1000,5\n"
    )
    table = table_from_csv(text)
    answer = compare(table, CompareOptions(by="mix"))
    assert answer.pieces.value.tolist() == pytest.approx([0.4, 0.4])
    pieces = batches.measured_pieces(table)
    assert (100 * pieces.void_share).tolist() == pytest.approx([0.4, 0.4])
    assert np.isnan(pieces.void_count[0])
    counted = compare(table, CompareOptions(by="mix", outcome="voids_per_m2"))
    assert counted.pieces.piece.tolist() == ["2"]


def test_targets_are_those_of_the_line(log):
    assert set(batch_marks.targets_of_lines(log)) == {"troughs"}
