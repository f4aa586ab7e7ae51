"""Every button that changes the log: pressed with its drawing cut short, then again.

The sites are found in the sources, so a new button needs a line here.
"""

from __future__ import annotations

import ast
import inspect
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from analysis.model.face_proposal import FaceProposal
from analysis.model.gauge import UsualSpread
from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form
from analysis.services import batch_marks, gauge, photo_queue, queue_opening, records
from analysis.services import log as log_service
from analysis.services import point_count as count_service
from tests.services.pair_photos import pair_of_photos
from tests.support.cast_pieces import filled, planned
from tests.support.log_of_everything import of_everything
from tests.support.queue_photos import photo, piece_card
from tests.support.screens import keep_face, press, ran, start, texts
from tests.support.shop_log import shop_log
from tests.support.small_workshop import workshop
from tests.support.track_tables import shares_of
from tests.ui import (
    test_measure,
    test_pours,
    test_presses,
    test_records,
    test_second_opinion,
)
from ui import cache
from ui.photo_queue import words as queue_words

ROOT = Path(__file__).parents[2]
# What changes although nothing is saved, or stands beside what is.
ASIDE = ("draft", "lease", "save")


@pytest.fixture(autouse=True)
def quiet(data, monkeypatch):
    monkeypatch.setattr(photo_queue, "start", lambda _log: None)
    return data


def rows(log):
    """Return every row that is kept, but for when it was written."""
    found = {}
    with closing(sqlite3.connect(log.file)) as raw:
        names = [name for (name,) in raw.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table'"
        )]  # fmt: skip
        for name in names:
            if name not in ASIDE:
                found[name] = raw.execute(f'SELECT * FROM "{name}"').fetchall()
    return found


# Each returns the log, a page and the key of the button on it.


def picked(app, label, value):
    (box,) = (one for one in app.selectbox if one.label == label)
    return ran(box.set_value(value).run())


def keyed(app, first):
    return next(one.key for one in app.button if (one.key or "").startswith(first))


def fresh_start(data):
    log = shop_log(data, shares_of(10))
    app = start("batches")
    box = next(one for one in app.selectbox if (one.key or "").startswith("rebase"))
    box.set_value(9)
    field = next(one for one in app.text_input if one.key.startswith("rebase what"))
    app = ran(field.set_value("new mixer").run())
    return log, app, keyed(app, "start anew")


def marked(data):
    log = shop_log(data, shares_of(10))
    batch_marks.add_refinished(log, "Trough A", date(2026, 6, 1), save_token="mark")
    app = start("forms", form="1")
    return log, app, keyed(app, "take back")


def refinished(data):
    log = shop_log(data, shares_of(10))
    return log, start("forms", form="1"), "refinished 1"


def photographed(data):
    log = of_everything(data).log
    return log, start("forms", form="1"), "take photographed 1"


def all_with_a_card(data):
    log = log_service.open_log(data)
    _, pieces = filled(log, 1)
    photo_queue.give(log, photo(5, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.look(log)
    return log, start("photo_queue"), "photo queue all right"


def pair(data, monkeypatch):
    frame = np.array([[0.0, 0.0], [0.0, 479.0], [359.0, 479.0], [359.0, 0.0]])
    found = FaceProposal(
        outline_px=frame, left_out_px=(), sure=0.9, face_share=1.0, whole=True
    )
    for room in (photo_queue, queue_opening):
        monkeypatch.setattr(room, "find_face", lambda *_: found)
    log = log_service.open_log(data)
    filled(log, 1)
    for number, one in enumerate(pair_of_photos()):
        photo_queue.give(log, one, f"{number}.png")
    photo_queue.look(log)
    return log, start("photo_queue")


def both_right(data, monkeypatch):
    log, app = pair(data, monkeypatch)
    box = next(one for one in app.selectbox if one.label == queue_words.WHICH)
    return log, ran(box.set_value(box.options[0]).run()), "photo queue both right 1"


def no_pair(data, monkeypatch):
    return *pair(data, monkeypatch), "photo queue no pair 1"


def approved(data):
    log = log_service.open_log(data)
    keep_face(log)
    return log, start("pieces", piece="1"), "approve 1"


def verdict(data):
    log = of_everything(data).log
    return log, start("pieces", piece="1"), "keep verdict 1"


def mine(data):
    log = workshop(data)
    app = ran(test_records.page("forms").button(key="open form 1").click().run())
    app = press(app, "Correct")
    app = test_presses.written(app, "Name", "mine")
    records.change(log, replace(records.load(log, Form, 1), name="theirs"))
    app = press(app, "Save")
    return log, app, keyed(app, "mine ")


def word_chosen(data):
    log = workshop(data)
    records.add_term(log, "release_agent", "wax")
    app = picked(test_records.page("words"), "Which words", "release_agent")
    box = app.selectbox(key="word of release_agent")
    return log, ran(box.set_value("oil").run())


def renamed(data):
    log, app = word_chosen(data)
    app.text_input(key="rename release_agent oil").set_value("form oil")
    return log, ran(app.run()), "rename word release_agent oil"


def merged(data):
    log, app = word_chosen(data)
    app.selectbox(key="merge release_agent oil").set_value("wax")
    return log, ran(app.run()), "merge word release_agent oil"


def parted(data):
    log = workshop(data)
    records.add_term(log, "release_agent", "wax")
    records.merge_terms(log, "release_agent", "oil", "wax")
    app = picked(test_records.page("words"), "Which words", "release_agent")
    return log, app, "part release_agent oil"


def study(data, kind):
    log = log_service.open_log(data)
    keep_face(log)
    if kind == "again":
        test_second_opinion.save_another(log)
    else:
        for name in ("8", "9"):
            records.add(log, Piece(name=name, pour_id=1), save_token=name)
    app = test_second_opinion.page_of(kind)
    chosen = {"again": ("photos again", [1, 2]), "shop": ("faces shop", [1, 2, 3])}
    key, items = chosen[kind]
    app.multiselect(key=key).set_value(items)
    app.text_area(key=f"people {kind}").set_value("north\nsouth")
    if kind == "shop":
        app.text_area(key="lights shop").set_value("bench\nyard")
    return log, ran(app.run()), f"draw {kind}"


def drawn_again(data):
    return study(data, "again")


def drawn_shop(data):
    return study(data, "shop")


def cell(data):
    log, app, key = study(data, "again")
    app = ran(app.button(key=key).click().run())
    app.button_group(key="study scale way").set_value("typed").run()
    app.button_group(key="study outline way").set_value("whole").run()
    (field,) = (one for one in app.text_input if one.key.startswith("mm per px"))
    app = press(ran(field.set_value("0.5").run()), "Measure")
    return log, app, keyed(app, "keep ")


def shop_study(data):
    log = log_service.open_log(data)
    keep_face(log)
    plan = gauge.draw_study(
        "shop", [1, 2, 3], ["north", "south"], lights=["bench", "yard"], seed=1
    )
    gauge.begin_study(log, plan, save_token="s")
    test_second_opinion.keep_shares(log, plan)
    return log


def used(data):
    log = shop_study(data)
    app = test_second_opinion.page_of("shop")
    return log, app, keyed(app, "use ")


def study_finished(data):
    log = shop_study(data)
    return log, test_second_opinion.page_of("shop"), "finish 1"


def study_taken_out(data):
    log = shop_study(data)
    return log, test_second_opinion.page_of("shop"), "take out study 1"


def dropped(data):
    log = log_service.open_log(data)
    keep_face(log)
    spread = UsualSpread(
        set_up="bench", spread=0.06, degrees=14, basis="study", method_version="9"
    )
    gauge.keep_usual(log, spread, save_token="u")
    app = test_second_opinion.page_of("shop")
    return log, app, "drop usual 1"


def counted(data):
    log = log_service.open_log(data)
    keep_face(log)
    test_second_opinion.drawn(start("second_opinion"))
    (count,) = count_service.counts_of(log, 1)
    count_service.keep_answers(log, count, "s" * 100)
    return log, start("second_opinion"), "finish count"


def count_taken_out(data):
    log, app, key = counted(data)
    app = ran(app.button(key=key).click().run())
    return log, app, "take out 1"


WRITES = (
    fresh_start, marked, refinished, photographed, all_with_a_card, both_right,
    no_pair, approved, verdict, mine, renamed, merged, parted, drawn_again, drawn_shop,
    cell, used, study_finished, study_taken_out, dropped, counted, count_taken_out,
)  # fmt: skip


@pytest.mark.parametrize("opened", WRITES, ids=lambda one: one.__name__)
def test_it_is_saved_although_cut_short_and_once_although_tapped_twice(
    opened, data, cut, monkeypatch
):
    more = (monkeypatch,) if len(inspect.signature(opened).parameters) > 1 else ()
    log, app, key = opened(data, *more)
    before = rows(log)
    app = cut(app, key=key)
    after = rows(log)
    assert after != before
    if any(one.key == key and not one.disabled for one in app.button):
        ran(app.button(key=key).click().run())
        assert rows(log) == after


# What is begun and not yet saved.


def test_pour_is_begun_empty(data, cut):
    workshop(data)
    assert "Save the pour" in test_presses.labels(cut(start("pours"), key="empty pour"))


def test_pour_is_begun_as_its_form_was_cast_last(data, cut):
    workshop(data)
    app = start("pours")
    app = ran(app.button_group(key="last time in").set_value("2").run())
    app = cut(app, key="cast again")
    assert "Pieces (1)" in texts(app)


def test_pour_begun_elsewhere_is_gone_on_with(data, cut):
    test_pours.begun(data)
    app = start("pours")
    app = cut(app, key=keyed(app, "go on "))
    assert "Pieces (6)" in texts(app)
    assert len(records.list_drafts(log_service.open_log(data))) == 1


def test_pour_begun_elsewhere_is_thrown_away(data, cut):
    log, _ = test_pours.begun(data)
    app = start("pours")
    cut(app, key=keyed(app, "throw away "))
    assert records.list_drafts(log) == ()


def test_pour_of_a_plan_is_begun(data, cut):
    log = log_service.open_log(data)
    kept = planned(log)
    app = cut(start("plan"), key=f"log {kept.key}")
    assert app.title[0].value == "Log a pour"
    press(app.switch_page("pours/page.py").run(), "Save the pour")
    assert len(records.list_all(log, Pour)) == 1


def test_part_is_added_and_removed_once(data, cut):
    log = workshop(data)
    app = ran(test_records.page("forms").button(key="open form 1").click().run())
    app = press(app, "Correct")
    add = next(one.key for one in app.button if (one.key or "").endswith("add joints"))
    app = cut(app, key=add)
    app = cut(app, key=add.replace("add joints", "remove joints 0"))
    app = test_presses.written(app, "Name", "Trough C")
    assert [one.label for one in app.text_input].count("Joint") <= 2
    assert len(records.load(log, Form, 1).joints) == 2


def test_review_is_thrown_away(data, cut):
    log = log_service.open_log(data)
    keep_face(log)
    app = press(start("pieces", piece="1"), "Review void by void")
    app.session_state["review chosen"] = 0
    app = press(ran(app.run()), "Stain")
    app = cut(app, key="review discard")
    assert "review discard" not in [one.key for one in app.button]
    assert len(log_service.list_readings(log)) == 1


def test_last_good_state_is_restored(data, cut):
    log = test_records.damaged(data)
    cut(start("records"), key="last")
    assert len(records.list_castings(log)) == 6


def test_damaged_log_is_begun_anew(data, cut):
    test_records.damaged(data)
    app = ran(start("records").checkbox[-1].check().run())
    cut(app, key="begin anew")
    cache.reopen()
    assert records.list_castings(log_service.open_log(data)) == ()
    assert list(data.glob("replaced-*")) != []


# Where each button stands, what its key is made of, and what presses it.
PRESSED = {
    ("batches/baseline", "freeze {scope}"): (
        test_presses.test_baseline_is_frozen_once_and_again_after_another
    ),
    ("batches/baseline", "start anew {scope}"): fresh_start,
    ("batches/baseline", "take back {mark.id}"): marked,
    ("forms/form", "refinished {form.id}"): refinished,
    ("forms/passport_card", "save {key}"): test_presses.test_care_is_noted_once,
    ("forms/passport_card", "add reminder {form.id}"): (
        test_presses.test_reminder_recipe_and_photographing
    ),
    ("forms/passport_card", "save recipe {form.id}"): (
        test_presses.test_reminder_recipe_and_photographing
    ),
    ("forms/photographed", "save photographed {form.id}"): (
        test_presses.test_reminder_recipe_and_photographing
    ),
    ("forms/photographed", "take photographed {form.id}"): photographed,
    ("measure/bar", "save"): test_measure,
    ("photo_queue/check", "photo queue right {waiting.id}"): (
        test_presses.test_second_tap_on_right_says_nothing_of_the_next_photo
    ),
    ("photo_queue/check", "photo queue all right"): all_with_a_card,
    ("photo_queue/pair", "photo queue both right {pair[0].id}"): both_right,
    ("photo_queue/pair", "photo queue no pair {pair[0].id}"): no_pair,
    ("pieces/beside", "approve {piece_id}"): approved,
    ("pieces/kept", "take out piece {casting.piece.id}"): (
        test_presses.test_piece_taken_out
    ),
    ("pieces/review_screen", "review save"): test_presses.test_review,
    ("pieces/review_screen", "review discard"): test_review_is_thrown_away,
    ("plan/kept", "log {kept.key}"): test_pour_of_a_plan_is_begun,
    ("pours/begin", "like last"): (
        test_presses.test_pour_begun_thrown_away_and_brought_back
    ),
    ("pours/begin", "empty pour"): test_pour_is_begun_empty,
    ("pours/begin", "cast again"): test_pour_is_begun_as_its_form_was_cast_last,
    ("pours/begin", "go on {key}"): test_pour_begun_elsewhere_is_gone_on_with,
    ("pours/begin", "throw away {key}"): test_pour_begun_elsewhere_is_thrown_away,
    ("pours/ended", "bring back pour {thrown['token']}"): (
        test_presses.test_pour_begun_thrown_away_and_brought_back
    ),
    ("pours/new_form", "make form {token}"): test_presses.test_form_made_with_its_pour,
    ("pours/page", "save pour {token}"): test_presses.test_pour,
    ("pours/page", "throw away {token}"): (
        test_presses.test_pour_begun_thrown_away_and_brought_back
    ),
    ("records/backup", "back up"): test_presses.test_backup_made_and_restored,
    ("records/backup", "restore chosen"): test_presses.test_backup_made_and_restored,
    ("records/backup", "last"): test_last_good_state_is_restored,
    ("records/backup", "begin anew"): test_damaged_log_is_begun_anew,
    ("records/edit", "save {topic}"): test_presses.test_record_added_and_corrected,
    ("records/edit", "mine {topic}"): mine,
    ("records/importing", "import table"): test_presses.test_table_taken_in,
    ("records/terms", "add word {vocabulary} {count}"): test_presses.test_word,
    ("records/terms", "rename word {vocabulary} {word}"): renamed,
    ("records/terms", "merge word {vocabulary} {word}"): merged,
    ("records/terms", "part {vocabulary} {one.before}"): parted,
    ("records/workshop_settings", "save settings"): test_presses.test_settings,
    ("second_opinion/again", "draw again"): drawn_again,
    ("second_opinion/blind_reading", "keep {draft}"): cell,
    ("second_opinion/points", "draw points {reading_id}"): (
        test_presses.test_points_drawn_and_taken_out
    ),
    ("second_opinion/points", "take out count {size}"): (
        test_presses.test_points_drawn_and_taken_out
    ),
    ("second_opinion/points", "finish count"): counted,
    ("second_opinion/points", "take out {count.id}"): count_taken_out,
    ("second_opinion/shop", "draw shop"): drawn_shop,
    ("second_opinion/shop", "use {key}"): used,
    ("second_opinion/shop", "drop usual {one.id}"): dropped,
    ("second_opinion/studies", "finish {study.id}"): study_finished,
    ("second_opinion/studies", "take out study {study.id}"): study_taken_out,
    ("widgets/record_fields", "{key} add {field}"): test_part_is_added_and_removed_once,
    ("widgets/record_fields", "{key} remove {field} {place}"): (
        test_part_is_added_and_removed_once
    ),
}


def sites():
    """Return file and key of every button of `presses` in the screens' sources."""
    found = set()
    for path in (ROOT / "ui").rglob("*.py"):
        if path.name == "presses.py":
            continue
        tree = ast.parse(path.read_text("utf-8"))
        said = {
            node.targets[0].id: node.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }
        for node in ast.walk(tree):
            name = getattr(getattr(node, "func", None), "id", "")
            if name in {"act_button", "pressed"}:
                key = next(one.value for one in node.keywords if one.arg == "key")
                if isinstance(key, ast.Name):
                    key = said[key.id]
                text = ast.unparse(key).removeprefix("f")[1:-1]
                where = path.relative_to(ROOT / "ui").with_suffix("").as_posix()
                found.add((where, text))
    return found


def test_every_button_that_changes_the_log_is_pressed_here():
    assert sites() == set(PRESSED)
    for one in PRESSED.values():
        source = inspect.getsource(one)
        assert one in WRITES or "cut" in source
