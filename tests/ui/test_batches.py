"""Batches: the answer above the chart, what differs, and what the maker decides."""

from __future__ import annotations

import json
from datetime import date

import pytest

from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form
from analysis.services import batch_marks
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.storage.exchange import import_pieces, preview_import
from tests.support.screens import HOSTILE, button, face_png, press, ran, start, texts
from tests.support.shop_log import shop_log
from tests.support.track_tables import csv_of, shares_of

LINE = "smooth troughs"
SHOP = {"gap_at": 12, "late_agent": "wax"}


pytestmark = pytest.mark.usefixtures("data")


@pytest.fixture
def drifting(data):
    return shop_log(data, shares_of(24, late_factor=2.5), **SHOP)


def charts(app):
    return [json.loads(one.proto.spec) for one in app.get("vega_lite_chart")]


def chosen(app, label):
    (found,) = (one for one in app.selectbox if one.label == label)
    return found


def test_empty_log_says_what_to_do_next():
    app = start("batches")

    assert "No measured piece is logged yet." in texts(app)
    assert "After 8 pours" in texts(app)
    assert [link.label for link in app.get("page_link")] == ["Measure a face"]


def test_steady_shop_is_told_in_one_sentence(data):
    shop_log(data)
    app = start("batches")

    assert app.header[0].value == r"No drift\: none of 24 pours stands out\."
    assert len(charts(app)) == 1
    assert "What differs" not in texts(app)
    assert "2 in 100" not in texts(app)


@pytest.mark.usefixtures("drifting")
def test_drift_is_told_with_what_differs():
    said = texts(start("batches"))

    assert "Drifting to more voids: at pour B024" in said
    assert "1. release agent: wax (4 of 4)" in said
    assert "Why it stands out:" in said
    assert "No pour for 63 days before B013" in said


@pytest.mark.usefixtures("drifting")
def test_chart_table_and_sheet_are_on_offer():
    offered = [one.label for one in start("batches").get("download_button")]

    assert offered[0].startswith("Sheet of pour ")
    assert offered[1:] == ["Chart (SVG)", "Chart (PNG)", "Table (CSV)", "Table (xlsx)"]


@pytest.mark.usefixtures("drifting")
def test_pieces_of_the_signal_are_one_press_away():
    app = start("batches")

    links = [link for link in app.get("page_link") if link.label == "Open"]
    assert len(links) == 2
    assert "0047" in texts(app)
    assert "Form use 24" in texts(app)


@pytest.mark.usefixtures("drifting")
def test_another_pour_can_be_looked_at():
    app = start("batches")
    ran(chosen(app, "Look at a pour").select_index(10).run())

    assert "What differs" not in texts(app)


def test_few_pours_are_too_early_and_have_no_band(data):
    shop_log(data, shares_of(3), high_share=None)
    said = texts(start("batches"))

    assert "Too early to tell: 3 pours so far, 8 are needed." in said
    assert "No band yet" in said


@pytest.mark.usefixtures("drifting")
def test_bugholes_can_be_drawn_instead():
    app = start("batches")
    before = charts(app)
    ran(app.button_group(key="batches drawn").set_value("count").run())

    assert "Bugholes per m" in json.dumps(charts(app))
    assert charts(app) != before


@pytest.mark.usefixtures("drifting")
def test_air_temperature_is_an_extra_strip():
    app = start("batches")
    assert len(charts(app)) == 1

    ran(app.toggle[0].set_value(True).run())

    assert len(charts(app)) == 2
    assert "Air, " in json.dumps(charts(app)[1])


@pytest.mark.usefixtures("drifting")
def test_chance_uses_the_target_of_the_log():
    said = texts(start("batches"))

    assert "Finish target: up to 0.60 % void area." in said
    assert "in 100 will meet the target" in said
    assert "What holds it back:" in said
    assert "The newest pours stand out" in said


def test_target_can_be_typed_where_none_is_logged(data):
    shop_log(data, high_share=None)
    app = start("batches")
    assert "Type a finish target" in texts(app)

    ran(app.text_input(key="target high").set_value("0.6").run())
    assert "in 100 will meet the target" in texts(app)

    ran(app.text_input(key="target low").set_value("0.7").run())
    assert "is not below the upper" in texts(app)


def test_baseline_is_frozen_and_taken_back(drifting):
    app = start("batches")
    assert "Your usual comes from 20 pours, B001 to B020." in texts(app)
    chosen(app, "First pour").select_index(23 - 2)
    chosen(app, "Last pour").select_index(23 - 11)
    ran(app.run())

    press(app, "Fix these pours as usual")

    assert "Your usual comes from 10 pours, B003 to B012." in texts(app)
    (mark,) = batch_marks.marks(drifting, product_line=LINE)
    assert mark.kind == "baseline"
    press(app, "Undo")
    assert "B001 to B020" in texts(app)


def test_too_short_a_baseline_is_refused(drifting):
    app = start("batches")
    chosen(app, "First pour").select_index(0)
    chosen(app, "Last pour").select_index(2)
    ran(app.run())

    press(app, "Fix these pours as usual")

    assert "The baseline has 3 pours: choose at least 8." in texts(app)
    assert batch_marks.marks(drifting, product_line=LINE) == ()


@pytest.mark.usefixtures("drifting")
def test_deliberate_change_shows_a_break():
    app = start("batches")
    chosen(app, "From pour").select_index(3)
    app.text_input[0].set_value("new mix *A*")
    ran(app.run())

    press(app, "Start a new baseline")

    assert "Too early to tell: 4 pours since the change" in texts(app)
    assert "new mix *A*, from" in texts(app)
    assert '"type": "rule"' in json.dumps(charts(app))


def test_change_taken_back_can_be_made_again_and_only_once(drifting):
    app = start("batches")
    chosen(app, "From pour").select_index(3)
    app.text_input[0].set_value("new mix")
    ran(app.run())
    for _ in range(2):
        press(app, "Start a new baseline")
    assert len(batch_marks.marks(drifting, product_line=LINE)) == 1

    press(app, "Undo")
    assert "Drifting to more voids" in texts(app)
    press(app, "Start a new baseline")

    assert len(batch_marks.marks(drifting, product_line=LINE)) == 1


def test_change_without_words_is_refused(drifting):
    app = start("batches")
    ran(chosen(app, "From pour").select_index(3).run())

    press(app, "Start a new baseline")

    assert len(app.error) == 1
    assert batch_marks.marks(drifting, product_line=LINE) == ()


@pytest.mark.usefixtures("drifting")
def test_rules_stand_with_source_and_false_alarms():
    said = texts(start("batches"))

    assert "Eight pours on one side of the centre" in said
    assert "Western Electric" in said
    assert "of steady pours are marked by chance" in said


@pytest.mark.usefixtures("drifting")
def test_form_can_be_followed_alone():
    app = start("batches")

    ran(chosen(app, "Form").select_index(1).run())

    assert "0.4" not in app.header[0].value
    assert "1 piece" in texts(app)


def test_new_reading_shows_at_once(data):
    log = shop_log(data, shares_of(3))
    assert "3 pours so far" in texts(start("batches"))

    photo = read_photo(face_png(), "face.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    log_service.save_with_new_piece(
        log,
        piece=Piece(name=HOSTILE, pour_id=0),
        pour=Pour(name=HOSTILE, cast_on=date(2026, 6, 1)),
        form=Form(name=HOSTILE, form_type="trough"),
        photo_bytes=face_png(),
        photo=photo,
        reading=reading,
        save_token="new",
    )
    app = start("batches")

    assert not app.error


def test_damaged_log_is_told_in_one_sentence(data, monkeypatch):
    (data / "other").mkdir()
    (data / "other" / "log.sqlite").write_bytes(b"no database" * 1000)
    monkeypatch.setenv("STRUCKFACE_DATA", str(data / "other"))

    assert "is damaged" in texts(start("batches"))


@pytest.mark.usefixtures("drifting")
def test_buttons_wait_for_a_choice():
    app = start("batches")

    assert button(app, "Fix these pours as usual").disabled
    assert button(app, "Start a new baseline").disabled


@pytest.fixture
def of_all_kinds(data):
    """Pours of sealed pieces with every third one open, and some ground ones."""
    log = log_service.open_log(data)
    head, *rows = csv_of(shares_of(30)).splitlines()
    kinds = [
        row.replace(",tape,", ",none,") if place % 6 > 3 else row
        for place, row in enumerate(rows)
    ]
    kinds[::5] = [row.replace("as_struck", "ground") for row in kinds[::5]]
    text = "\n".join([head, *kinds])
    import_pieces(log, preview_import(log, text.encode()), save_token="kinds")


@pytest.mark.usefixtures("of_all_kinds")
def test_joints_and_stage_are_never_mixed_but_can_be_chosen():
    app = start("batches")
    assert "Left out" in texts(app)

    ran(chosen(app, "Joints").select("open").run())
    assert "only 8 pours" in app.header[0].value

    ran(chosen(app, "Stage").select("ground").run())
    assert "Too early to tell" in app.header[0].value


@pytest.mark.usefixtures("drifting")
def test_rules_can_be_switched_and_are_never_all_off():
    app = start("batches")
    boxes = {box.label: box for box in app.checkbox}
    assert [box.value for box in boxes.values()] == [
        True,
        False,
        False,
        True,
        False,
        True,
    ]
    ran(
        boxes["Two of three pours in the outer third of the way to a limit"]
        .check()
        .run()
    )
    assert "How often a steady pour is marked by chance is not known for this" in texts(
        app
    )

    for box in app.checkbox:
        box.uncheck()
    ran(app.run())

    assert "Choose at least one." in texts(app)
    assert "Eight pours on one side of the centre" in texts(app)
