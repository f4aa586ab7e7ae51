"""`compare`: fixed keys, a sentence, one sentence for anything that cannot be done."""

import json

import numpy as np
import pytest

from analysis.cli import main

KEYS = {
    "unit",
    "levels",
    "estimate_ratio",
    "ratio_low",
    "ratio_high",
    "p_value",
    "method",
    "groups",
    "verdict",
    "inseparable_from",
    "pieces_needed",
    "pours_needed",
    "pairs",
    "notes",
}


def csv_text(effect=0.45, pours=12, seed=3):
    """Half of the pours with taped joints, half with open ones, four pieces each."""
    rng = np.random.default_rng(seed)
    lines = ["piece,pour,cast_on,form,form_type,joint_sealing,void_area_percent"]
    for pour in range(pours):
        sealed = pour % 2 == 0
        level = rng.normal(0, 0.2) + (np.log(effect) if sealed else 0.0)
        for piece in range(4):
            share = np.exp(level + rng.normal(0, 0.25))
            kind = "tape" if sealed else "none"
            day = f"2026-03-{pour + 1:02d}"
            lines.append(
                f"{pour}-{piece},P{pour},{day},F{piece},trough,{kind},{share:.4f}"
            )
    return "\n".join(lines) + "\n"


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text(csv_text(), encoding="utf-8")
    return path


@pytest.fixture
def run(capsys):
    def compare(*options):
        code = main(["compare", *map(str, options)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return compare


def test_an_effect_is_found_with_the_fixed_keys(run, table):
    code, out, err = run(
        "--table",
        table,
        "--by",
        "joint_sealing",
        "--level",
        "tape",
        "--level",
        "none",
        "--json",
        "-",
    )
    answer = json.loads(out)
    assert (code, err) == (0, "")
    assert set(answer) >= KEYS
    assert answer["levels"] == ["tape", "none"]
    assert answer["ratio_low"] < 0.45 < answer["ratio_high"] < 1
    assert answer["verdict"] == "lower"
    assert answer["p_value"] <= 0.05
    assert {group["name"]: group["n_pours"] for group in answer["groups"]} == {
        "tape": 6,
        "none": 6,
    }


def test_the_effect_erased_leaves_no_verdict(run, tmp_path):
    path = tmp_path / "flat.csv"
    path.write_text(csv_text(effect=1.0), encoding="utf-8")
    code, out, _ = run("--table", path, "--by", "joint_sealing", "--json", "-")
    assert code == 0
    assert json.loads(out)["verdict"] == "no_clear_difference"


def test_three_pours_against_three_are_not_enough(run, tmp_path):
    path = tmp_path / "few.csv"
    path.write_text(csv_text(pours=6), encoding="utf-8")
    code, out, _ = run("--table", path, "--by", "joint_sealing", "--json", "-")
    answer = json.loads(out)
    assert code == 0
    assert answer["verdict"] == "not_enough_evidence"
    assert answer["pours_needed"] >= 4


def test_a_file_takes_the_answer_and_a_sentence_is_said_without_one(
    run, table, tmp_path
):
    target = tmp_path / "answer.json"
    code, out, _ = run("--table", table, "--by", "joint_sealing", "--json", target)
    assert (code, out) == (0, "")
    assert set(json.loads(target.read_text(encoding="utf-8"))) >= KEYS
    code, out, _ = run("--table", table, "--by", "joint_sealing")
    assert code == 0
    assert len(out.strip().splitlines()) == 1
    assert "pours" in out


def test_semicolons_commas_and_a_byte_order_mark_read_the_same(run, table, tmp_path):
    german = table.read_text(encoding="utf-8").replace(",", ";").replace(".", ",")
    other = tmp_path / "deutsch.csv"
    other.write_text(german, encoding="utf-8-sig")
    answers = [
        json.loads(run("--table", path, "--by", "joint_sealing", "--json", "-")[1])
        for path in (table, other)
    ]
    assert answers[0]["estimate_ratio"] == pytest.approx(answers[1]["estimate_ratio"])


@pytest.mark.parametrize(
    "options",
    [
        ("--by", "joint_sealing"),
        ("--table", "nowhere.csv", "--by", "joint_sealing"),
        ("--table", "TABLE"),
        ("--table", "TABLE", "--by", "colour_of_the_sky"),
        ("--table", "TABLE", "--by", "joint_sealing", "--level", "tape"),
        ("--table", "TABLE", "--by", "joint_sealing", "--level", "x", "--level", "y"),
        ("--table", "TABLE", "--by", "joint_sealing", "--within", "mood"),
        ("--table", "TABLE", "--log", "here", "--by", "joint_sealing"),
        ("--log", "no-such-log", "--by", "joint_sealing"),
    ],
)
def test_bad_requests_get_one_sentence(run, table, tmp_path, monkeypatch, options):
    monkeypatch.chdir(tmp_path)
    code, out, err = run(*(str(table) if o == "TABLE" else o for o in options))
    assert (code, out) == (2, "")
    assert len(err.strip().splitlines()) == 1
    assert "Something went wrong inside" not in err


@pytest.mark.parametrize("share", ["nan", "inf", "-3", "250", "1,2,3", "many"])
def test_bad_shares_name_their_line(run, tmp_path, share):
    path = tmp_path / "bad.csv"
    path.write_text(f'piece,pour,joint_sealing,void_area_percent\n1,A,tape,"{share}"\n')
    code, out, err = run("--table", path, "--by", "joint_sealing")
    assert (code, out) == (2, "")
    assert "2" in err
