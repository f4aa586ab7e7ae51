"""Steps that follow one another: kept, compared as sequences, followed per step."""

import json
from datetime import date, timedelta

import numpy as np
import pytest

from analysis.cli import main
from analysis.compare.compare import compare
from analysis.model.comparison import CompareOptions
from analysis.model.log import Piece, Step, steps_of
from analysis.model.plan import PlanQuestion
from analysis.services import log as log_service
from analysis.services import planner_shop, plans
from analysis.services.tables import trials_of_log
from analysis.services.vibration_questions import doses, usual_question
from analysis.storage.exchange import export_csv, import_pieces, preview_import
from analysis.storage.records import list_all

BOTH = "rodding then table"


def rows():
    """Rodded troughs, and rodded then vibrated ones: the table halves the voids.

    More strokes help, too; both vary inside each pour.
    """
    random = np.random.default_rng(3)
    columns = ("piece", "pour", "cast_on", "form", "form_type", "vibration_method",
               "vibration_s", "strokes", "passes", "void_area_percent",
               "face_area_mm2")  # fmt: skip
    lines = [",".join(columns)]
    for pour in range(14):
        day = (date(2026, 3, 2) + timedelta(days=7 * pour)).isoformat()
        strokes = random.permutation([25, 50, 25, 50])
        for at in range(4):
            table = (at + pour) % 2 == 0
            share = 2.0 * (25 / strokes[at]) ** 0.8 * (0.5 if table else 1.0)
            share *= np.exp(random.normal(0, 0.12))
            lines.append(
                f"{pour}-{at},P{pour:02d},{day},T{at},trough,"
                f"{BOTH if table else 'rodding'},{40 if table else ''},{strokes[at]},"
                f"{1.5 if at == 0 else ''},{share:.3f},20000"
            )
    return "\n".join(lines).encode()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("rodded")
    log = log_service.open_log(made)
    import_pieces(log, preview_import(log, rows()), save_token="rows")
    return made


@pytest.fixture(scope="module")
def log(folder):
    return log_service.open_log(folder)


def test_each_step_keeps_its_own_amount(log):
    pieces = {piece.name: piece for piece in list_all(log, Piece)}
    both = pieces["0-0"]

    assert both.vibration_method == BOTH
    assert [step.method for step in both.steps] == ["rodding", "table"]
    assert both.steps[0].strokes in {25, 50}
    assert (both.steps[0].passes, both.steps[1].seconds) == (1.5, 40.0)
    assert (both.vibration_s, both.passes) == (40.0, 1.5)
    assert pieces["0-1"].vibration_method == "rodding"


def test_a_sequence_goes_round(log, tmp_path):
    data = export_csv(log)
    other = log_service.open_log(tmp_path)
    import_pieces(other, preview_import(other, data), save_token="back")

    assert export_csv(other) == data


def test_amounts_of_two_timed_methods_do_not_add_up():
    steps = (Step(method="table", seconds=9), Step(method="poker", seconds=9))
    piece = Piece(name="1", pour_id=1, steps=steps)

    assert piece.vibration_method == "table then poker"
    assert piece.vibration_s is None
    twice = (Step(method="table", seconds=9), Step(method="table", seconds=8))
    again = Piece(name="1", pour_id=1, steps=twice)
    assert (again.vibration_method, again.vibration_s) == ("table", 17.0)
    half = (Step(method="table", seconds=9), Step(method="table"))
    assert Piece(name="1", pour_id=1, steps=half).vibration_s is None


def test_sequences_are_compared(log):
    found = compare(trials_of_log(log), CompareOptions(by="vibration_method")).head

    assert set(found.levels) == {BOTH, "rodding"}
    assert found.verdict == ("lower" if found.levels[0] == BOTH else "higher")
    ratio = found.ratio if found.levels[0] == BOTH else 1 / found.ratio
    assert ratio == pytest.approx(0.5, rel=0.15)


@pytest.mark.parametrize("method", ["rodding", BOTH])
def test_strokes_of_a_step_are_followed_from_the_log(folder, method, capsys):
    high = "1.3" if method == "rodding" else "0.7"
    words = [
        *("vibration", "--log", str(folder), "--form-type", "trough"),
        *("--method", method, "--dose", "strokes", "--current", "25"),
        *("--target-low", "0", "--target-high", high, "--json", "-"),
    ]
    assert main(words) == 0
    found = json.loads(capsys.readouterr().out)

    assert (found["dose"], found["decision"]) == ("strokes", "more")
    assert found["suggested_dose"] > 25
    assert found["current_s"] is None


def test_what_was_counted_is_asked_of(log):
    table = trials_of_log(log)

    assert doses(table, "trough", "rodding")[0] == "strokes"
    assert set(doses(table, "trough", BOTH)) == {"seconds", "strokes", "passes"}
    assert usual_question(log, table, "trough").dose in {"strokes", "seconds"}


def test_a_plan_sets_the_step_that_counts(log):
    shop = planner_shop.shop_of_log(log)
    for by, levels in (
        ("strokes", ("25", "50")),
        ("passes", ("1", "2")),
        ("vibration_method", (BOTH, "rodding")),
    ):
        made = plans.plan_of_log(log, PlanQuestion(by=by, levels=levels), shop.table)
        kept = plans.KeptPlan(key="plan x", made_on="2026-07-01", plan=made, cast={})
        _, pieces = plans.pour_of_plan(log, kept, 1)
        column = {"vibration_method": "vibration_method"}.get(by, by)
        given = {getattr(piece, column) for piece in pieces}
        wanted = set(levels) if by == "vibration_method" else {int(x) for x in levels}
        assert given == wanted


def test_steps_of_a_line():
    assert steps_of("table", seconds=30.0) == (Step(method="table", seconds=30.0),)
    assert steps_of("rodding", seconds=30.0, strokes=25) == (
        Step(method="rodding", seconds=30.0, strokes=25),
    )
    assert steps_of(None, strokes=25) == (Step(strokes=25),)
