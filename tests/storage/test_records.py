from dataclasses import replace
from datetime import UTC, date, datetime, time

import numpy as np
import pytest
import sqlalchemy as sa

from analysis.errors import ConflictError, InputError, NotInLogError
from analysis.model.afterwards import HandFigures, Outcome, Repair, Verdict
from analysis.model.batch_marks import BatchMark
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import (
    FinishTarget,
    Form,
    FormJoint,
    Mix,
    MixPart,
    ProductLine,
)
from analysis.storage.engine import reading, writing
from analysis.storage.records import (
    add,
    bring_back,
    change,
    hide,
    history,
    list_all,
    load,
    write_all,
)
from analysis.storage.tables import FORM, PIECE, PIECE_JOINT
from analysis.vocabulary import NONE, NOT_APPLICABLE


def stored(log, record, token="t"):
    return load(log, type(record), add(log, record, save_token=token).id)


EVERY_KIND = [
    BatchMark(
        kind="baseline", from_day=date(2026, 1, 5), to_day=date(2026, 3, 2), note=""
    ),
    BatchMark(kind="change", from_day=date(2026, 3, 9), note="new mix = less water"),
    ProductLine(name="rough on purpose", note="=1+1"),
    Form(
        name="Bench/A: [60 s] long name over 31 chars",
        form_type="bench leg",
        face_material="rubber",
        gloss="matt",
        face_kind="ribbed",
        pitch_mm=30.0,
        depth_mm=4.5,
        texture="smooth",
        storage="indoors",
        release_agent="none",
        joints=(
            FormJoint(name="left", default_sealing="tape"),
            FormJoint(name="right", default_sealing=None),
        ),
        starting_use_count=12,
        made_on=date(2024, 2, 29),
        volume_l=22.5,
    ),
    Mix(
        name="grey",
        basis="by_feel",
        proportions="1:2:3",
        parts=(
            MixPart(kind="cement", name="white cement", amount="1 bag"),
            MixPart(kind="fibre", name="glass fibre"),
        ),
    ),
    Pour(
        name="007",
        cast_on=date(2026, 3, 31),
        cast_at=time(23, 30),
        zone="Europe/Oslo",
        water_added_l=0.8,
        consistency="not applicable",
        slump_mm=120.0,
        flow_mm=450.0,
        cement_lot="12E5",
        air_c=-3.5,
        mix_c=18.0,
        humidity_share=0.65,
        crew="two",
        note="x\ty\nz",
    ),
]


@pytest.mark.parametrize("record", EVERY_KIND, ids=lambda record: type(record).__name__)
def test_a_record_comes_back_as_it_was(log, record):
    back = stored(log, record)
    assert replace(back, id=None, version=0) == record
    assert back.version == 1
    assert list_all(log, type(record)) == (back,)


def test_a_whole_piece_comes_back_as_it_was(log):
    pour = add(log, Pour(name="1", cast_on=date(2026, 1, 2)), save_token="1")
    line = add(log, ProductLine(name="line"), save_token="2")
    piece = Piece(
        name="1/3",
        pour_id=pour.id,
        product_line_id=line.id,
        joints=(
            JointState(joint="left", sealing="tape", leak=NONE),
            JointState(joint="right", sealing=NONE, leak="strong"),
            JointState(joint="base", sealing=NOT_APPLICABLE),
        ),
        release_agent="oil",
        release_application="wiped off",
        steps=(
            Step(
                method="poker",
                seconds=12.5,
                tool="poker 25 mm",
                applied_to="corners",
                speed="II",
                fill_share=0.5,
                people=2,
                certainty="guessed",
                stop_rule="bubbles stopped",
            ),
            Step(method="rodding", strokes=25),
        ),
        casting_process="wet cast",
        orientation="face down",
        curing="tarpaulin",
        lifts=2,
        fill_s=90.0,
        strike_after_h=24.0,
        sealing_min=6.0,
        sealing_cost=1.25,
        show_faces="front, top",
        note="@mix",
    )
    back = stored(log, piece)
    assert replace(back, id=None, version=0) == piece
    assert back.joint_sealing == "mixed"
    assert back.vibration_method == "poker then rodding"
    assert (back.vibration_s, back.strokes) == (12.5, 25)


def test_unknown_none_and_not_applicable_stay_three_things(log):
    given = (None, NONE, NOT_APPLICABLE)
    for position, value in enumerate(given):
        form = Form(name=str(position), release_agent=value)
        add(log, form, save_token=str(position))
    assert tuple(form.release_agent for form in list_all(log, Form)) == given
    with reading(log) as connection:
        nulls = connection.scalar(
            sa.select(sa.func.count())
            .select_from(FORM)
            .where(FORM.c.release_agent_id.is_(None))
        )
    assert nulls == 1


def test_judging_again_adds(log, piece_id):
    first = Outcome(piece_id=piece_id, outcome="second", eye_score=4, stage="as_struck")
    later = Outcome(piece_id=piece_id, outcome="first_quality", stage="ground")
    add(log, first, save_token="1")
    add(log, later, save_token="2")
    add(log, Repair(piece_id=piece_id, minutes=12.5, filler="epoxy"), save_token="3")
    outcomes = list_all(log, Outcome, piece_id=piece_id)
    assert [outcome.outcome for outcome in outcomes] == ["second", "first_quality"]
    assert list_all(log, Repair, piece_id=piece_id)[0].filler == "epoxy"
    assert list_all(log, Outcome, piece_id=piece_id + 1) == ()


def test_figures_measured_by_hand_add(log, piece_id):
    first = HandFigures(piece_id=piece_id, joint="left", leak_width_mm=8.0, fin_mm=1.5)
    add(log, first, save_token="1")
    add(log, HandFigures(piece_id=piece_id, void_depth_mm=4.0), save_token="2")

    found = list_all(log, HandFigures, piece_id=piece_id)
    assert [one.known for one in found] == [
        {"leak_width_mm": 8.0, "fin_mm": 1.5},
        {"void_depth_mm": 4.0},
    ]


def test_a_new_target_leaves_the_old_one(log):
    line = add(log, ProductLine(name="line"), save_token="l").id
    old = FinishTarget(product_line_id=line, low_share=0.001, high_share=0.02)
    add(log, old, save_token="1")
    add(log, replace(old, high_share=0.01), save_token="2")
    targets = list_all(log, FinishTarget, product_line_id=line)
    assert [target.high_share for target in targets] == [0.01, 0.02]


def test_a_verdict_of_no_reading_is_refused(log):
    with pytest.raises(NotInLogError, match="refers to reading 9, finish target 9"):
        add(
            log,
            Verdict(reading_id=9, finish_target_id=9, verdict="within"),
            save_token="v",
        )


def test_a_reference_to_nothing_is_refused(log):
    with pytest.raises(NotInLogError, match="The piece refers to pour 999"):
        add(log, Piece(name="1", pour_id=999), save_token="1")
    assert list_all(log, Piece) == ()


def test_the_second_editor_is_told_and_shown_both(log, piece_id):
    mine = load(log, Piece, piece_id)
    theirs = load(log, Piece, piece_id)
    change(log, replace(theirs, release_agent="wax"))
    with pytest.raises(
        ConflictError, match=r"release agent: now 'wax', yours 'oil'.*curing: now blank"
    ) as caught:
        change(log, replace(mine, curing="tarpaulin"))
    assert caught.value.stored.release_agent == "wax"
    assert caught.value.given.curing == "tarpaulin"
    assert load(log, Piece, piece_id).curing is None
    merged = replace(caught.value.stored, curing="tarpaulin")
    change(log, merged)
    kept = load(log, Piece, piece_id)
    assert (kept.release_agent, kept.curing, kept.version) == ("wax", "tarpaulin", 3)


def test_an_edit_keeps_what_was_before(log, piece_id):
    before = load(log, Piece, piece_id)
    change(log, replace(before, joints=(), note="no joints after all"))
    assert load(log, Piece, piece_id).joints == ()
    kept = history(log, Piece, piece_id)
    assert kept[0]["joints"][0]["sealing"] == "tape"
    assert kept[0]["version"] == 1


def test_an_edit_that_changes_nothing_is_not_written(log, piece_id):
    opened = load(log, Piece, piece_id)
    change(log, opened)
    change(log, replace(opened))
    assert load(log, Piece, piece_id) == opened
    assert history(log, Piece, piece_id) == ()


def test_an_edit_to_a_name_in_use_changes_nothing(log):
    add(log, Form(name="A"), save_token="a")
    second = stored(log, Form(name="B"), "b")
    with pytest.raises(InputError, match="already a form named 'A'"):
        change(log, replace(second, name="A"))
    assert load(log, Form, second.id) == second
    assert history(log, Form, second.id) == ()


def test_an_edit_of_nothing_is_refused(log):
    with pytest.raises(NotInLogError, match="no form None"):
        change(log, Form(name="A"))


def test_two_forms_in_use_cannot_share_a_name(log):
    first = add(log, Form(name="A"), save_token="1")
    with pytest.raises(InputError, match="already a form named 'A'"):
        add(log, Form(name="A "), save_token="2")
    hide(log, Form, first.id)
    add(log, Form(name="A"), save_token="3")
    with pytest.raises(InputError, match="name is in use again"):
        bring_back(log, Form, first.id)


def test_a_hidden_form_stays_with_its_castings(log, piece_id):
    form_id = load(log, Piece, piece_id).form_id
    hide(log, Form, form_id)
    assert list_all(log, Form) == ()
    assert load(log, Form, load(log, Piece, piece_id).form_id).name == "Trough A"
    bring_back(log, Form, form_id)
    assert [form.id for form in list_all(log, Form)] == [form_id]


def test_hiding_nothing_is_refused(log):
    with pytest.raises(NotInLogError, match="no form 5"):
        hide(log, Form, 5)


def test_a_form_with_castings_cannot_be_erased(log, piece_id):
    form_id = load(log, Piece, piece_id).form_id
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match=r"(?i)foreign key"),
    ):
        connection.execute(sa.delete(FORM).where(FORM.c.id == form_id))


# A check of ours, or the type of the column where the database has types.
REFUSED = r"(?i)check constraint|invalid input syntax|is of type|out of range"


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("step", "seconds", "'1,25'"),
        ("step", "seconds", "'60'||'x'"),
        ("step", "seconds", "''"),
        ("step", "seconds", "-3"),
        ("step", "seconds", "9e999"),
        ("step", "seconds", "x'05'"),
        ("pour", "humidity_share", "65"),
        ("pour", "name", "'  '"),
        ("piece", "lifts", "'two'"),
        ("form", "starting_use_count", "-1"),
        ("step", "certainty", "'perhaps'"),
    ],
)
def test_the_tables_themselves_refuse(log, piece_id, table, column, value):
    del piece_id
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.DBAPIError, match=REFUSED),
    ):
        connection.exec_driver_sql(f"UPDATE {table} SET {column} = {value}")


# PostgreSQL's own type rounds it.
@pytest.mark.of_sqlite
def test_the_tables_refuse_a_part_of_a_whole(log, piece_id):
    del piece_id
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE piece SET lifts = 1.5")


def test_numpy_values_become_plain_ones(log):
    pour = Pour(name="1", cast_on=date(2026, 1, 1), air_c=np.float32(2.5))
    kept = stored(log, pour, "p")
    step = Step(method="table", seconds=np.int64(5), strokes=np.int64(7))
    piece = stored(log, Piece(name="1", pour_id=kept.id, steps=(step,)))
    assert type(kept.air_c) is type(piece.steps[0].seconds) is float
    assert type(piece.steps[0].strokes) is int


def test_a_count_that_is_not_whole_is_refused(log):
    with pytest.raises(InputError, match="Starting use count must be a whole number"):
        add(log, Form(name="A", starting_use_count=1.5), save_token="1")


def test_a_moment_is_no_day(log):
    moment = datetime(2026, 3, 31, 23, 30, tzinfo=UTC)
    with pytest.raises(InputError, match="must be a date"):
        add(log, Pour(name="1", cast_on=moment), save_token="1")
    with pytest.raises(InputError, match="wall-clock"):
        add(
            log,
            Pour(name="1", cast_on=date(2026, 1, 1), cast_at=moment.timetz()),
            save_token="1",
        )


def test_joint_names_of_a_piece_are_kept_in_order(log, piece_id):
    piece = load(log, Piece, piece_id)
    names = ("z", "a", "m")
    change(log, replace(piece, joints=tuple(JointState(joint=n) for n in names)))
    assert tuple(s.joint for s in load(log, Piece, piece_id).joints) == names
    with reading(log) as connection:
        rows = connection.scalar(sa.select(sa.func.count()).select_from(PIECE_JOINT))
        pieces = connection.scalar(sa.select(sa.func.count()).select_from(PIECE))
    assert (rows, pieces) == (3, 1)


def many_pieces(pour_id):
    """Return pieces with parts, and with words that come again."""
    return [
        Piece(
            name=f"P-{n}",
            pour_id=pour_id,
            release_agent=("oil", "wax", None)[n % 3],
            joints=(JointState(sealing="tape"), JointState(joint="end"))[: n % 3],
            steps=(Step(method="table", seconds=20.0 + n), Step(method="poker"))[
                : n % 2 + 1
            ],
            note=f"number {n}",
        )
        for n in range(25)
    ]


def test_many_written_at_once_are_kept_as_one_by_one(log):
    pour_id = add(log, Pour(name="1", cast_on=date(2026, 3, 31)), save_token="p").id
    first = add(log, Piece(name="first", pour_id=pour_id), save_token="f").id
    given = many_pieces(pour_id)
    with writing(log) as connection:
        ids = write_all(connection, given)
        assert write_all(connection, ()) == ()
    assert min(ids) > first
    assert list(ids) == sorted(set(ids))
    for key, piece in zip(ids, given, strict=True):
        assert load(log, Piece, key) == replace(piece, id=key, version=1)
    later = add(log, Piece(name="later", pour_id=pour_id), save_token="l").id
    assert later > max(ids)


def test_one_refused_of_many_is_named_and_none_is_kept(log):
    pour_id = add(log, Pour(name="1", cast_on=date(2026, 3, 31)), save_token="p").id
    add(log, Piece(name="P-17", pour_id=pour_id), save_token="f")
    with (
        pytest.raises(InputError, match="already a piece named 'P-17'"),
        writing(log) as connection,
    ):
        write_all(connection, many_pieces(pour_id))
    with (
        pytest.raises(NotInLogError, match=f"pour {pour_id + 99}"),
        writing(log) as connection,
    ):
        write_all(connection, many_pieces(pour_id + 99))
    assert [piece.name for piece in list_all(log, Piece)] == ["P-17"]
