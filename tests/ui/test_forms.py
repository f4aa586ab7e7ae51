"""Forms: each with what its uses did to its face."""

from __future__ import annotations

import json
from datetime import date

import numpy as np
import pytest

from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form
from analysis.services import batch_marks, records
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.storage.exchange import import_pieces, preview_import
from tests.support.screens import HOSTILE, face_png, press, ran, start, texts
from tests.support.shop_log import shop_log
from tests.support.track_tables import csv_of, shares_of

pytestmark = pytest.mark.usefixtures("data")


@pytest.fixture
def wearing(data):
    """The first trough wears; the other does not."""
    shares = shares_of(30, per_pour=2, seed=5)
    shares[:, 0] *= 1.05 ** np.arange(30)
    return shop_log(data, shares, high_share=0.03)


def test_empty_log_says_what_to_do_next():
    app = start("forms")

    assert "No form is logged yet." in texts(app)
    assert "After 8 castings" in texts(app)
    ways = [link.label for link in app.get("page_link")]
    assert ways == ["Add a form in Records", "Measure a face"]


@pytest.mark.parametrize(
    ("litres", "heavy"), [(None, False), (9.5, False), (9.6, True)]
)
def test_form_too_heavy_for_one_says_so(data, litres, heavy):
    # 9.6 l x 2.4 kg/l = 23.04 kg, over the NIOSH load constant of 23 kg.
    log = log_service.open_log(data)
    records.add(log, Form(name="Urn", volume_l=litres), save_token="urn")
    said = texts(start("forms", form="1"))

    assert ("two people or a hoist" in said) is heavy


@pytest.mark.usefixtures("wearing")
def test_worn_form_stands_first_with_its_suggestion():
    app = start("forms")
    said = texts(app)

    assert app.get("page_link")[-1].label == "Add a form in Records"
    assert said.index("Trough A") < said.index("Trough B")
    assert "Refinish its face" in said
    assert "No sign of wear" in said
    assert "trough, 30 uses" in said
    assert "Trough: their faces wear with use" in said


@pytest.mark.usefixtures("wearing")
def test_form_shows_evidence_trend_and_what_is_left():
    app = press_first(start("forms"))
    said = texts(app)

    assert "Voids rise with use" in said
    assert "castings until it leaves the target" in said
    assert len(app.get("vega_lite_chart")) == 1
    assert "Last castings" in said
    assert len([x for x in app.get("page_link") if x.label == "Open"]) == 4

    press(app, "All forms")
    assert "Trough B" in texts(app)


def press_first(app):
    return ran(next(one for one in app.button if one.label == "Open").click().run())


def test_few_uses_are_too_early(data):
    shop_log(data, shares_of(4))
    app = start("forms")
    assert "Too early to tell" in texts(app)

    assert "too early to tell. It takes 8 at different uses" in texts(press_first(app))


def test_refinished_form_starts_anew_and_can_be_taken_back(wearing):
    app = press_first(start("forms"))
    app.date_input[0].set_value(date(2026, 6, 1))
    ran(app.run())

    press(app, "Keep this")

    assert "Only castings since the face was last refinished are judged." in texts(app)
    assert list(batch_marks.refinished_marks(wearing)) == ["Trough A"]
    press(app, "Undo")
    assert "Refinish its face" in texts(app)


def test_form_without_a_casting_says_so(data):
    log = shop_log(data, shares_of(2))
    pour = Pour(name="next", cast_on=date(2026, 9, 1))
    photo = read_photo(face_png(), "face.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    log_service.save_with_new_piece(
        log,
        piece=Piece(name="new", pour_id=0),
        pour=pour,
        form=Form(name=HOSTILE, form_type=None),
        photo_bytes=face_png(),
        photo=photo,
        reading=reading,
        save_token="new",
    )
    app = start("forms", form="3")

    assert HOSTILE in texts(app).replace("\u2060", "")
    assert "1 use" in texts(app)


def test_joint_band_is_drawn_beside_the_open_face(data):
    log = log_service.open_log(data)
    lines = csv_of(shares_of(12)).splitlines()
    text = [f"{lines[0]},joint_band_percent,open_face_percent"]
    text += [f"{one},{0.5 + k / 10},0.4" for k, one in enumerate(lines[1:])]
    csv = "\n".join(text).encode()
    import_pieces(log, preview_import(log, csv), save_token="shop")

    app = press_first(start("forms"))

    spec = json.dumps(json.loads(app.get("vega_lite_chart")[0].proto.spec))
    assert "joint band" in spec
    assert "Reseal its joints" in texts(app)


@pytest.mark.parametrize("given", ["", "x", "-1", "9" * 30])
@pytest.mark.usefixtures("wearing")
def test_address_that_names_no_form_shows_all(given):
    assert "Trough B" in texts(start("forms", form=given))


@pytest.mark.usefixtures("wearing")
def test_form_that_is_not_there_is_told():
    app = start("forms", form="99")

    assert len(app.error) == 1
    press(app, "All forms")
    assert "Trough A" in texts(app)
