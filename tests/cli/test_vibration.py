"""`vibration`: fixed keys, a text, one sentence for what cannot be done."""

import json

import numpy as np
import pytest

from analysis.cli import main
from tests.benchmarks import vibration_shops

KEYS = {
    "decision",
    "dose",
    "current_dose",
    "suggested_dose",
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


@pytest.fixture(scope="module")
def rodded(tmp_path_factory):
    """Pieces rodded with 25 or 50 strokes in one pour; seconds are blank."""
    random = np.random.default_rng(7)
    heading = (
        "piece,pour,cast_on,form_type,vibration_method,vibration_s,strokes,"
        "void_area_percent"
    )
    lines = [heading]
    for pour in range(10):
        shift = random.normal(0, 0.25)
        for piece in range(4):
            strokes = (25, 50)[piece % 2]
            share = 1.6 * (25 / strokes) ** 1.1
            share *= np.exp(shift + random.normal(0, 0.25))
            lines.append(
                f"{pour}-{piece},{pour},2026-03-{pour + 1:02d},pot,rodding,,{strokes},"
                f"{share:.4f}"
            )
    path = tmp_path_factory.mktemp("rodded") / "pieces.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return [
        "vibration",
        f"--table={path}",
        "--form-type=pot",
        "--method=rodding",
        "--dose=strokes",
        "--target-low=0",
        "--target-high=0.9",
    ]


def test_strokes_have_an_answer_of_their_own(rodded, capsys):
    assert main([*rodded, "--current=25", "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)

    assert set(found) == KEYS
    assert (found["dose"], found["decision"]) == ("strokes", "more")
    assert (found["current_s"], found["suggested_s"]) == (None, None)
    assert found["current_dose"] == 25
    assert found["suggested_dose"] == int(found["suggested_dose"]) > 25
    assert "seconds" not in found["why"] + found["next_trial"]

    assert main([*rodded, "--current=25"]) == 0
    assert capsys.readouterr().out.startswith("Rod with more strokes: ")


def test_seconds_of_strokes_are_refused(rodded, capsys):
    assert main([*rodded, "--current-s=20"]) == 2
    assert "--current-s is seconds used now" in capsys.readouterr().err
    assert main([*rodded, "--current=-2"]) == 2
    assert "Strokes used now" in capsys.readouterr().err


def test_a_blank_column_of_passes_is_refused(rodded, capsys):
    asked = [one.replace("--dose=strokes", "--dose=passes") for one in rodded]
    assert main(asked) == 2
    assert "passes" in capsys.readouterr().err
