"""Compare: the answer first, what stands behind it, and nothing on an empty log."""

from __future__ import annotations

import re
from datetime import date

import pytest

from analysis.services import log as log_service
from tests.support.compare_log import fill, judge, photographed
from tests.support.screens import HOSTILE, ran, start, texts

pytestmark = pytest.mark.usefixtures("log")


def chosen(app, label, value):
    (box,) = (one for one in app.selectbox if one.label == label)
    return ran(box.set_value(value).run())


def answer(app):
    return app.header[0].value.replace("\\", "")


def test_empty_log_says_what_to_do_next():
    app = start("compare")

    assert "No measured piece is logged yet." in texts(app)
    assert "4 pours of each kind" in texts(app)
    assert [link.label for link in app.get("page_link")] == ["Measure a face"]


def test_page_opens_on_joint_sealing_with_the_answer_first(log):
    fill(log)

    app = start("compare")

    assert app.selectbox[0].value == "joints_sealed"
    said = answer(app)
    assert said.startswith("Sealed joints had 57 % less void area than open ones (")
    assert ", from 12 pours: clear" in said
    assert "not noted whether they were dealt by lot" in texts(app)
    (figures,) = (one for one in app.expander if one.label == "The figures")
    (line,) = (one.value.replace("\\", "") for one in figures.markdown)
    assert line.startswith("Sealed joints: 0.4")
    assert "times the void area of open joints, 95 % 0." in line
    assert line.endswith("24 pieces in 6 pours against 24 in 6.")
    assert [one.value for one in app.subheader[:3]] == [
        "What could be misleading",
        "What is still needed",
        "What this is based on",
    ]


def test_erased_effect_gives_no_verdict(log):
    fill(log, effect=1.0)

    said = texts(start("compare"))

    assert (
        "No clear difference between sealed joints and open ones in void area" in said
    )
    assert "does not mean no difference" in said


def test_one_level_says_to_cast_a_second(log):
    fill(log, kinds=1)

    app = start("compare")

    assert "nothing but sealed joints was tried: cast a second kind" in texts(app)
    assert not app.error


def test_too_few_pours_say_how_many_are_needed(log):
    fill(log, pours=4)

    said = texts(start("compare"))

    assert "Can't say yet whether sealed joints and open ones differ" in said
    assert "Only 2 pours with sealed joints and 2 with open joints" in said
    assert "Cast both in each pour" in said


def test_what_changed_along_with_it_is_named_with_the_casting_to_make(log):
    fill(log, aliased=True)

    said = texts(start("compare"))

    assert "all sealed joints had release agent wax; cast both ways" in said
    assert "had release agent wax" in said
    assert "So far the log cannot tell joint sealing from what went along" in said
    assert re.search(r"Cast \d+ pours", said)


def test_pieces_are_chosen_by_form_type_and_days(log):
    fill(log)
    app = chosen(start("compare"), "Form type", "pot")
    assert "12 pieces in 6 pours against 12 in 6" in texts(app)

    (first, _) = app.date_input
    ran(first.set_value(date(2026, 1, 9)).run())
    assert "8 pieces in 4 pours against 8 in 4" in texts(app)

    (first, _) = app.date_input
    ran(first.set_value(date(2030, 1, 1)).run())
    assert "No piece fits all of these: choose fewer." in texts(app)


def test_outcome_and_factor_are_chosen(log):
    fill(log)
    judge(log)
    app = chosen(start("compare"), "What should it change?", "repair_minutes")
    assert "of the repair time of open ones" in answer(app)

    chosen(app, "What did you do differently?", "joint_sealing")
    assert "Joints sealed with tape" in answer(app)

    chosen(app, "What did you do differently?", "form_type")
    assert "form type pot" in answer(app)


def test_each_pair_of_three_levels_is_shown(log):
    fill(log, kinds=3, pours=18)
    app = chosen(start("compare"), "What did you do differently?", "joint_sealing")
    (box,) = (one for one in app.selectbox if one.label == "Which two")
    assert box.options == [
        "silicone against tape",
        "silicone against open joints",
        "tape against open joints",
    ]
    assert "Joints sealed with silicone had" in answer(app)
    assert "than open joints" in answer(app)

    ran(box.select_index(0).run())

    assert "joints sealed with tape" in answer(app)
    assert "p is adjusted for 3 pairs" in texts(app)


def test_band_of_the_user_decides_what_is_the_same(log):
    fill(log, effect=1.0, pours=24, per_pour=6)
    app = start("compare")
    assert "Too early to say that sealed joints" in texts(app)

    ran(app.text_input(key="compare band").set_value("2").run())

    assert "Sealed joints and open joints are the same within 0.50 to 2.00" in texts(
        app
    )


def test_worth_of_sealing_asks_for_costs_and_answers(log):
    fill(log)
    assert "Log the repair minutes" in texts(start("compare"))
    judge(log)
    app = start("compare")
    assert "Type the extra minutes" in texts(app)

    ran(app.text_input(key="worth minutes").set_value("5").run())
    ran(app.text_input(key="worth hour").set_value("30").run())

    said = texts(app)
    assert len(app.error) == 0
    # 11.96 repair minutes less 5 of sealing, at 0.50 a minute: 3.48 a piece
    assert "It pays: +3.48 a piece, 95 % +" in said
    assert "Repair: -12.0 minutes a piece." in said
    assert "Sold as seconds: -33 in 100 pieces." in said


def test_negative_cost_is_refused_in_a_sentence(log):
    fill(log)
    judge(log)
    app = start("compare")
    ran(app.text_input(key="worth minutes").set_value("-5").run())
    ran(app.text_input(key="worth hour").set_value("30").run())

    assert [one.value for one in app.error] != []


def test_typical_pieces_stand_side_by_side(log):
    photographed(log)

    app = start("compare")

    assert "Sealed joints had" in answer(app)
    assert len(app.get("image")) == 2
    assert "sealed joints: piece photo" in texts(app)
    assert "Each picture shows 80 x 80 mm of the face." in texts(app)


def test_lost_photo_is_told_and_the_answer_stays(log):
    photographed(log)
    for file in log.photo_folder.glob("*/*"):
        file.unlink()

    app = start("compare")

    assert "Sealed joints had" in answer(app)
    assert "restore it from a backup" in texts(app)


def test_joints_within_pieces_say_what_to_do_where_there_are_none(log):
    fill(log)
    app = start("compare")

    ran(app.toggle(key="compare joints").set_value(True).run())

    assert "Name the joints when you log" in texts(app)


def test_zeros_are_drawn_and_said(log):
    fill(log, zeros=True)

    said = texts(start("compare"))

    assert "had no voids" in said


def test_table_and_chart_can_be_taken(log):
    fill(log)

    app = start("compare")

    labels = [one.label for one in app.get("download_button")]
    assert labels == [
        "Sheet (PDF)",
        "Chart (SVG)",
        "Chart (PNG)",
        "Table (CSV)",
        "Table (xlsx)",
    ]


def test_what_the_user_wrote_is_shown_as_written(log):
    fill(log)
    for casting in log_service.list_castings(log):
        if casting.piece.joint_sealing == "tape":
            rename(log)
            break
    app = chosen(start("compare"), "What did you do differently?", "joint_sealing")

    assert f"Joints sealed with {HOSTILE}" in texts(app).replace("\u2060", "")


def rename(log):
    from analysis.storage.terms import list_terms, rename_term  # noqa: PLC0415

    (tape,) = (one for one in list_terms(log, "joint_sealing") if one.name == "tape")
    rename_term(log, "joint_sealing", tape.name, HOSTILE)


def test_damaged_log_is_told_in_one_sentence(tmp_path, monkeypatch):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "log.sqlite").write_bytes(b"no database" * 1000)
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path / "other"))

    assert "is damaged" in texts(start("compare"))
