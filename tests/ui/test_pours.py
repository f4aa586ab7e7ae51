"""Logging a pour: like the last, as last time in a form, kept until it is saved."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from analysis.errors import InputError
from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form, FormJoint
from analysis.services import log as log_service
from analysis.services import records
from analysis.vocabulary import NONE, NOT_APPLICABLE
from tests.support.screens import HOSTILE, button, labels, press, ran, start, texts
from tests.support.small_workshop import workshop

LIKE_LAST = "Like pour 11 of 31 March 2026: 6 pieces"


pytestmark = pytest.mark.usefixtures("data")


def press_like(app, text=LIKE_LAST):
    (label,) = (one for one in labels(app) if one.replace("\\", "") == text)
    return press(app, label)


def begun(data):
    return workshop(data), press_like(start("pours"))


def choice(app, label):
    (found,) = (one for one in app.selectbox if one.label == label)
    return found


def field(app, label):
    (found,) = (one for one in app.text_input if one.label == label)
    return found


def of_all(app, label):
    """Return the taps that change all pieces of the pour at once."""
    return [one for one in app.button_group if one.label == label][-1]


def last_pour(log):
    castings = records.list_castings(log)
    pour = castings[0].pour
    return pour, [one.piece for one in castings if one.pour.id == pour.id][::-1]


def test_empty_log_says_what_to_do_next():
    app = start("pours")

    assert "Enter each form once, with its joints." in texts(app)
    assert "Wet cement burns" in texts(app)
    assert labels(app) == ["Start an empty pour"]


def test_heavy_forms_of_the_pour_are_told(data):
    log, app = begun(data)
    assert "hoist" not in texts(app)
    trough = next(one for one in log_service.forms(log) if one.name == "Trough B")
    records.change(log, replace(trough, volume_l=22.5))
    said = texts(ran(app.run()))
    assert "Concrete in Trough B: about 54 kg, form not counted." in said
    assert "two people or a hoist" in said


def test_pour_like_the_last_is_two_presses(data):
    log, app = begun(data)
    app = press(app, "Save the pour")

    pour, pieces = last_pour(log)
    assert "Saved: pour 12" in texts(app)
    assert abs(pour.cast_on - records.today()) <= timedelta(days=1)
    assert (pour.name, pour.mix_id, pour.air_c) == ("12", 1, None)
    assert [one.name for one in pieces] == [f"P-{k:03d}" for k in range(7, 13)]
    assert [one.form_id for one in pieces] == [1, 2, 1, 2, 1, 2]
    assert {one.joint_sealing for one in pieces} == {"tape"}
    assert {one.leak for one in pieces} == {None}
    assert {one.vibration_s for one in pieces} == {40.0}


def test_one_thing_is_changed_of_all_pieces(data):
    log, app = begun(data)
    ran(of_all(app, "Joint sealing").set_value("silicone").run())
    ran(field(app, "Seconds").set_value("1:10").run())
    assert "= 70 s" in texts(app)
    press(app, "Save the pour")

    _, pieces = last_pour(log)
    assert {one.joint_sealing for one in pieces} == {"silicone"}
    assert {one.vibration_s for one in pieces} == {70.0}


def test_one_piece_is_changed_and_the_rest_shown_as_differing(data):
    log, app = begun(data)
    ran(next(one for one in app.button if one.label == "Change").click().run())
    sealing = [one for one in app.selectbox if one.label == "Joint sealing"]
    ran(sealing[0].set_value(NONE).run())
    app = press(app, "Done")

    assert of_all(app, "Joint sealing").value is None
    assert "Sealing none, joints left open / tape" in texts(app)
    press(app, "Save the pour")
    _, pieces = last_pour(log)
    assert pieces[0].joint_sealing == "mixed"
    assert pieces[1].joint_sealing == "tape"


def test_unknown_none_and_not_applicable_stay_apart(data):
    log, app = begun(data)
    for given in ("", NONE, NOT_APPLICABLE):
        ran(of_all(app, "Release agent").set_value(given or None).run())
        press(app, "Save the pour")
        _, pieces = last_pour(log)
        assert {one.release_agent for one in pieces} == {given or None}
        latest = next(one for one in labels(app) if one.startswith("Like pour"))
        app = press(app, latest)


def test_piece_is_added_as_last_time_in_its_form(data):
    log = workshop(data)
    app = press(start("pours"), "Start an empty pour")
    app = press(press(app, "Trough B"), "Trough B")
    app = press(app, "Without a form")
    press(app, "Save the pour")

    _, pieces = last_pour(log)
    assert [one.form_id for one in pieces] == [2, 2, None]
    assert [one.joint_sealing for one in pieces] == ["tape", "tape", None]
    assert [one.name for one in pieces] == ["P-007", "P-008", "P-009"]


def test_second_piece_of_a_form_is_like_the_first_of_this_pour(data):
    log = workshop(data)
    app = press(press(start("pours"), "Start an empty pour"), "Trough B")
    ran(of_all(app, "Release agent").set_value("wax").run())
    press(press(app, "Trough B"), "Save the pour")

    assert [one.release_agent for one in last_pour(log)[1]] == ["wax", "wax"]


def test_piece_is_taken_off(data):
    log, app = begun(data)
    ran([one for one in app.button if one.label == "Change"][2].click().run())
    press(press(app, "Delete from this pour"), "Save the pour")

    names = [one.name for one in last_pour(log)[1]]
    assert names == ["P-007", "P-008", "P-010", "P-011", "P-012"]


def test_last_time_in_a_form_is_one_tap_away(data):
    workshop(data)
    app = start("pours")
    ran(app.button_group[0].set_value("1").run())

    said = texts(app)
    assert "31 March 2026: piece P-005, casting 3 in it" in said
    assert "Joint l: tape, no leak" in said
    assert "Consolidation: table 40 s" in said
    assert "Mix: grey" in said

    app = press(app, "Cast the same again")
    assert "Pieces (1)" in texts(app)


def test_form_named_in_the_address_begins_a_pour_with_it(data):
    workshop(data)
    app = start("pours", form="2")

    assert "P-007, Trough B" in texts(app)


@pytest.mark.parametrize("given", ["x", "-1", "9" * 30])
def test_address_that_names_no_form_begins_nothing(given, data):
    workshop(data)

    assert "What did I do last time?" in texts(start("pours", form=given))


def test_form_that_is_not_there_is_told_and_begins_nothing(data):
    workshop(data)
    app = start("pours", form="99")
    assert len(app.error) == 1

    assert "What did I do last time?" in texts(ran(app.run()))


def test_half_filled_pour_outlives_page_and_session(data):
    _, app = begun(data)
    ran(of_all(app, "Release agent").set_value("wax").run())
    app = ran(app.switch_page("guide/page.py").run())
    app = ran(app.switch_page("pours/page.py").run())
    assert of_all(app, "Release agent").value == "wax"

    other = start("pours", entry=app.session_state["entry"])
    assert of_all(other, "Release agent").value == "wax"
    assert "Pieces (6)" in texts(other)


def test_half_filled_pour_is_offered_in_another_browser(data):
    log, _ = begun(data)
    other = start("pours")
    assert "Begun and not saved: pour 12, 6 pieces." in texts(other)

    other = press(press(other, "Go on with it"), "Save the pour")
    assert last_pour(log)[0].name == "12"
    assert "Begun and not saved" not in texts(other)
    assert records.list_drafts(log) == ()


def test_same_pour_saved_from_two_browsers_counts_once(data):
    log, app = begun(data)
    press(press(start("pours"), "Go on with it"), "Save the pour")

    app = press(app, "Save the pour")

    assert "Already saved." in texts(app)
    assert len(records.list_all(log, Pour)) == 2


def test_thrown_away_pour_can_be_brought_back(data):
    _, app = begun(data)
    app = press(app, "Delete")
    assert "Pieces (6)" not in texts(app)

    assert "Pieces (6)" in texts(press(app, "Undo"))


def test_saved_pour_can_be_taken_back_and_brought_back(data):
    log, app = begun(data)
    app = press(press(app, "Save the pour"), "Undo")
    assert len(records.list_castings(log)) == 6
    assert "Undone: 12" in texts(app)

    press(app, "Undo")
    assert len(records.list_castings(log)) == 12


@pytest.mark.parametrize(
    ("label", "given", "refusal"),
    [
        ("Seconds", "forty", "'forty' is not a number"),
        ("Seconds", "1.200", "1.200"),
        ("Seconds", "-4", "Vibration"),
        ("Strokes", "2,5", "not a whole number"),
        ("Note", "wet\x07", "Note has a control character (U+0007) behind 'wet'"),
    ],
)
def test_wrong_entry_is_told_and_nothing_is_saved(label, given, refusal, data):
    log, app = begun(data)
    ran(field(app, label).set_value(given).run())
    press(app, "Save the pour")

    assert any(refusal in one.value.replace("\\", "") for one in app.error)
    assert len(records.list_all(log, Pour)) == 1
    assert field(app, label).value == given


def test_name_in_use_is_told_and_nothing_is_saved(data):
    log, app = begun(data)
    ran(next(one for one in app.button if one.label == "Change").click().run())
    name = [one for one in app.text_input if one.label == "Name or number"][1]
    ran(name.set_value("P-001").run())
    press(app, "Save the pour")

    assert "P-001" in app.error[0].value.replace("\\", "")
    assert len(records.list_castings(log)) == 6


def test_forms_of_equal_look_and_hostile_names_are_shown(data):
    log = log_service.open_log(data)
    for k, name in enumerate((HOSTILE, "Bank", "bank")):
        records.add(log, Form(name=name), save_token=str(k))
    app = press(start("pours"), "Start an empty pour")

    shown = [one.label.replace("\\", "").replace("\u2060", "") for one in app.button]
    assert {HOSTILE, "Bank", "bank"} <= set(shown)


def test_day_is_needed(data):
    _, app = begun(data)
    ran(app.date_input[0].set_value(None).run())
    press(app, "Save the pour")
    assert "Cast on is blank: choose the day." in texts(app)

    ran(app.date_input[0].set_value(date(2026, 4, 1)).run())
    assert "Saved: pour 12 (1 April 2026)" in texts(press(app, "Save the pour"))


def test_log_without_pieces_offers_its_forms(data):
    log = workshop(data, pieces=1)
    records.hide(log, Piece, 1)

    assert "Start an empty pour" in [one.label for one in start("pours").button]


def test_save_stands_last_but_for_throwing_away(data):
    _, app = begun(data)

    assert labels(app)[-2:] == ["Save the pour", "Delete"]
    assert button(app, "Save the pour").proto.type == "primary"


def ring_of_sixteen(data, sealings=()):
    """Begin a piece of a form with 16 joints, the first ones sealed by default."""
    log = log_service.open_log(data)
    by_default = [*sealings, *[None] * (16 - len(sealings))]
    joints = tuple(
        FormJoint(name=f"joint {n + 1}", default_sealing=sealing)
        for n, sealing in enumerate(by_default)
    )
    form = records.add(log, Form(name="Ring", joints=joints), save_token="ring").id
    return log, press(start("pours", form=str(form)), "Change")


def tapped(app, label, word):
    row = next(one for one in app.button_group if one.label == label)
    return ran(row.set_value(word).run())


def test_sixteen_joints_are_sealed_with_one_tap(data):
    log, app = ring_of_sixteen(data)
    press(tapped(app, "Joint sealing", "tape"), "Save the pour")

    _, (piece,) = last_pour(log)
    assert [one.sealing for one in piece.joints] == ["tape"] * 16


def test_every_second_joint_is_sealed_with_two_taps(data):
    log, app = ring_of_sixteen(data)
    app = tapped(app, "Joints, several at once", "Every second")
    press(tapped(app, "Joint sealing", "tape"), "Save the pour")

    _, (piece,) = last_pour(log)
    assert [one.sealing for one in piece.joints] == ["tape", None] * 8


def test_an_own_word_at_one_joint_is_a_tap_for_all(data):
    log, app = ring_of_sixteen(data, ["clay rope"])
    press(tapped(app, "Joint sealing", "clay rope"), "Save the pour")

    _, (piece,) = last_pour(log)
    assert [one.sealing for one in piece.joints] == ["clay rope"] * 16


def test_all_pieces_take_another_word_from_a_list(data):
    log, app = begun(data)
    assert "Another word" not in [one.label for one in app.selectbox]
    taps = of_all(app, "Release agent")
    app = ran(taps.set_value("another\n").run())
    (asked,) = (one for one in app.selectbox if one.label == "Another word")
    assert asked.proto.accept_new_options
    app = ran(asked.set_value("wax").run())
    assert of_all(app, "Release agent").value == "wax"
    press(app, "Save the pour")

    _, pieces = last_pour(log)
    assert {piece.release_agent for piece in pieces} == {"wax"}


def test_many_own_words_stand_in_a_list(data):
    log, app = ring_of_sixteen(data, [f"sealer {n}" for n in range(8)])
    together = next(one for one in app.selectbox if one.label == "Joint sealing")
    press(ran(together.set_value("sealer 7").run()), "Save the pour")

    _, (piece,) = last_pour(log)
    assert [one.sealing for one in piece.joints] == ["sealer 7"] * 16


def test_a_form_is_made_in_the_pour_in_progress(data):
    app = press(start("pours"), "Start an empty pour")
    field(app, "Form name").set_value("Trough Z")
    ran(field(app, "How many joints it has (blank: not known)").set_value("4").run())
    app = press(app, "Make the form and add a piece")
    assert "Trough Z" in texts(app)
    press(app, "Save the pour")

    log = log_service.open_log(data)
    _, (piece,) = last_pour(log)
    (form,) = log_service.forms(log)
    assert (piece.form_id, form.name, len(form.joints)) == (form.id, "Trough Z", 4)


@pytest.mark.parametrize("count", [-1.0, 2.5, 65.0, float("nan")])
def test_a_number_of_joints_that_cannot_be_is_refused(count):
    with pytest.raises(InputError, match="a whole number from 0 to 64"):
        records.joint_count(count)
