"""`vibration`: fixed keys, a text, one sentence for what cannot be done."""

import json

import numpy as np
import pytest

from analysis.cli import main
from tests.benchmarks import vibration_shops

KEYS = {
    "decision",
    "current_s",
    "suggested_s",
    "expected_percent",
    "expected_low",
    "expected_high",
    "why",
    "next_trial",
}


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    made = vibration_shops.shop("under_vibrated", np.random.default_rng([1, 77]))
    columns = list(made.rows[0])
    lines = [",".join(columns)]
    lines += [",".join(str(row[name]) for name in columns) for row in made.rows]
    path = tmp_path_factory.mktemp("vibration") / "pieces.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    question = made.question
    return [
        "vibration",
        f"--table={path}",
        "--form-type=trough",
        "--method=table",
        "--target-low=0",
        f"--target-high={100 * question.target_high}",
    ], question.current_s


def test_keys_are_the_fixed_ones(asked, capsys):
    options, current = asked
    assert main([*options, f"--current-s={current}", "--json", "-"]) == 0
    said = capsys.readouterr()
    found = json.loads(said.out, parse_constant=pytest.fail)

    assert said.err == ""
    assert set(found) == KEYS
    assert found["decision"] == "more"
    assert found["current_s"] == current
    assert found["expected_low"] < found["expected_percent"] < found["expected_high"]
    assert "in one pour" in found["next_trial"]


def test_text_gives_the_answer_first(asked, capsys):
    options, current = asked
    assert main([*options, f"--current-s={current}"]) == 0

    assert capsys.readouterr().out.startswith("Vibrate longer: ")


@pytest.mark.parametrize(
    ("option", "said"),
    [
        ("--target-high=nan", "Upper end of the target"),
        ("--target-low=101", "Lower end of the target"),
        ("--current-s=-3", "Seconds used now"),
        ("--form-type= ", "form type"),
    ],
)
def test_refusals_are_one_sentence(asked, capsys, option, said):
    options, _ = asked
    name = option.split("=")[0]
    kept = [one for one in options if not one.startswith(f"{name}=")]
    assert main([*kept, option]) == 2
    err = capsys.readouterr().err

    assert said in err
    assert err.count("\n") == 1
