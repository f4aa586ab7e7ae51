"""`compare`: fixed keys, a sentence, one sentence for anything that cannot be done."""

import json
import re

import numpy as np
import pytest

from analysis.cli import main
from analysis.services.log import open_log
from analysis.storage.exchange import import_pieces, preview_import

BY = ("--by", "joint_sealing")
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
    "verdict_unadjusted",
    "adjusted_for",
    "dealt",
    "ratio_of_geometric_means",
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
def verb():
    return "compare"


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
    assert set(answer) == KEYS
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


def test_the_sentence_says_ratio_interval_counts_and_verdict(run, table):
    _, out, _ = run("--table", table, "--by", "joints_sealed")

    assert re.fullmatch(
        r"Sealed joints had \d\d % less void area than open ones "
        r"\(\d\d to \d\d % less\), from 12 pours: clear, with form taken out\. "
        r"It is not noted whether they were dealt by lot, so what else differed may be "
        r"the cause\. Sealed joints: 0\.\d\d times the void area of open joints, "
        r"95 % 0\.\d\d to 0\.\d\d; 24 pieces in 6 pours against 24 in 6\.\n",
        out,
    )


def test_every_pair_of_levels_has_its_keys_and_its_line(run, tmp_path):
    path = tmp_path / "three.csv"
    lines = csv_text(pours=18).splitlines()
    third = [
        line.replace(",none,", ",wax,") if ",P" in line and n % 3 == 0 else line
        for n, line in enumerate(lines)
    ]
    path.write_text("\n".join(third), encoding="utf-8")

    code, out, _ = run("--table", path, "--by", "joint_sealing", "--json", "-")
    answer = json.loads(out, parse_constant=pytest.fail)

    assert code == 0
    assert answer["levels"] == ["tape", "wax", "none"]
    assert [pair["levels"] for pair in answer["pairs"]] == [
        ["tape", "wax"],
        ["tape", "none"],
        ["wax", "none"],
    ]
    assert all(set(pair) == KEYS - {"pairs"} for pair in answer["pairs"])
    assert len(run("--table", path, "--by", "joint_sealing")[1].splitlines()) == 3


def test_the_answer_turns_round_with_the_levels(run, table):
    def ratio(*levels):
        options = [word for level in levels for word in ("--level", level)]
        out = run("--table", table, "--by", "joint_sealing", *options, "--json", "-")[1]
        return json.loads(out)

    there, back = ratio("tape", "none"), ratio("none", "tape")

    assert there["estimate_ratio"] * back["estimate_ratio"] == pytest.approx(1)
    assert (there["verdict"], back["verdict"]) == ("lower", "higher")
    assert there["p_value"] == pytest.approx(back["p_value"])


def test_a_log_is_compared_like_a_table(run, table, tmp_path):
    log = open_log(tmp_path / "log")
    import_pieces(log, preview_import(log, table.read_bytes()), save_token="all")

    of_log, of_table = (
        json.loads(run(*source, "--by", "joint_sealing", "--json", "-")[1])
        for source in (("--log", tmp_path / "log"), ("--table", table))
    )

    assert of_log["estimate_ratio"] == pytest.approx(of_table["estimate_ratio"])
    assert of_log["groups"] == [
        group | {"geometric_mean_percent": pytest.approx(mean)}
        for group in of_table["groups"]
        for mean in [group["geometric_mean_percent"]]
    ]
    assert of_log["verdict"] == of_table["verdict"] == "lower"


def test_an_empty_log_is_refused(refused, tmp_path):
    open_log(tmp_path / "log")

    assert "no piece to compare yet" in refused("--log", tmp_path / "log", *BY)


class TestRefusals:
    @pytest.mark.parametrize(
        ("options", "says"),
        [
            ((), "required: --by"),
            (("--by",), "expected one argument"),
            (("--by", " "), "--by is blank"),
            (("--by", "sky"), "There is no factor 'sky'"),
            (("--by", "void_area_percent"), "is no setting that was chosen"),
            (("--by", "piece"), "is no setting that was chosen"),
            (("--by", "pour"), "is no setting that was chosen"),
            (("--by", "form_type"), "nothing but form type trough was tried"),
            ((*BY, "--within", "mood"), "There is no factor 'mood'"),
            ((*BY, "--within", ""), "--within is blank"),
            ((*BY, "--within", "joint_sealing"), "is what is compared"),
            ((*BY, "--within", "void_area_percent"), "is no setting"),
            ((*BY, "--level", "tape"), "two different ones or more"),
            ((*BY, "--level", "tape", "--level", "tape"), "name each once"),
            ((*BY, "--level", "tape", "--level", "TAPE"), "is named twice"),
            ((*BY, "--level", "tape", "--level", "x"), "No piece has"),
            ((*BY, "--level", "", "--level", "x"), "--level is blank"),
            ((*BY, "--loud"), "Unrecognized arguments"),
            ((*BY, "--log", "here"), "not allowed with"),
        ],
    )
    def test_options(self, refused, table, options, says):
        assert says in refused("--table", table, *options)

    def test_files(self, refused, table, tmp_path):
        assert "--table --log" in refused(*BY)
        assert "There is no file" in refused("--table", tmp_path / "none.csv", *BY)
        assert "is a folder: name one table" in refused("--table", tmp_path, *BY)
        assert "The name of the log is blank" in refused("--log", " ", *BY)
        assert "no log" in refused("--log", tmp_path / "nothing", *BY).lower()
        assert "named twice" in refused("--table", table, *BY, "--json", table)
        nowhere = tmp_path / "no" / "where.json"
        assert "cannot be written" in refused("--table", table, *BY, "--json", nowhere)

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            (b"", "The table is empty"),
            (b"piece,pour,joint_sealing\n", "no row"),
            (b"piece,pour,joint_sealing\n1,A,tape\n", "void_area_percent"),
            (b"piece,joint_sealing\n1,tape\n", "no column 'pour'"),
            (b"piece,pour,pour\n1,A,B\n", "stands twice"),
            (b"piece,pour,joint_sealing\n1,A,tape,x\n", "4 cells"),
            (b'piece,pour,joint_sealing\n1,A,"tape\n', "cannot be read"),
            (b"\x00\x01\x02", "column"),
            (b"\xff\xd8\xff\xe0", "column"),
        ],
    )
    def test_tables(self, refused, tmp_path, text, says):
        path = tmp_path / "bad.csv"
        path.write_bytes(text)

        assert says in refused("--table", path, *BY)

    @pytest.mark.parametrize(
        "share", ["nan", "inf", "-3", "250", "1e308", "9e999", "1,2,3", "1_0", "many"]
    )
    def test_shares(self, refused, tmp_path, share):
        path = tmp_path / "bad.csv"
        path.write_text(
            f'piece,pour,joint_sealing,void_area_percent\n1,A,tape,"{share}"\n'
        )

        assert "Line 2: void_area_percent (void area) must be a number" in refused(
            "--table", path, *BY
        )


def test_a_share_too_small_for_any_face_is_a_zero(run, table):
    lines = table.read_text(encoding="utf-8").splitlines()
    answers = []
    for share in ("0", "1e-320"):
        changed = [*lines[:-1], ",".join([*lines[-1].split(",")[:-1], share])]
        table.write_text("\n".join(changed), encoding="utf-8")
        answers.append(json.loads(run("--table", table, *BY, "--json", "-")[1]))

    assert answers[0]["estimate_ratio"] == answers[1]["estimate_ratio"]


def with_columns(text, **columns):
    """Return the table with columns of one word each."""
    lines = text.splitlines()
    head = ",".join([lines[0], *columns])
    return "\n".join(
        [head, *(",".join([line, *columns.values()]) for line in lines[1:])]
    )


def answer_of(run, path, text, *options):
    path.write_text(text + "\n", encoding="utf-8")
    code, out, _ = run(
        "--table", path, "--by", "joint_sealing", "--json", "-", *options
    )
    assert code == 0
    return json.loads(out)


def test_what_was_dealt_changes_words_and_no_verdict(run, table, tmp_path):
    text = table.read_text(encoding="utf-8")
    path = tmp_path / "dealt.csv"
    plain = answer_of(run, path, text)
    by_lot = answer_of(run, path, with_columns(text, trial="seal", dealt="by_lot"))
    assert (plain["dealt"], by_lot["dealt"]) == ("unknown", "by_lot")
    assert plain["verdict"] == by_lot["verdict"] == "lower"
    assert plain["p_value"] == by_lot["p_value"]
    _, out, _ = run("--table", path, "--by", "joint_sealing")
    assert "dealt by lot, so this made the difference." in out


def test_results_never_rival_and_can_be_adjusted_for_only_if_settings(run, tmp_path):
    lines = csv_text().splitlines()
    path = tmp_path / "leaks.csv"
    marked = [lines[0] + ",leak"] + [
        line + (",none" if ",tape," in line else ",slight") for line in lines[1:]
    ]
    answer = answer_of(run, path, "\n".join(marked))
    assert (answer["verdict"], answer["inseparable_from"]) == ("lower", [])
    assert "leak" not in answer["adjusted_for"]


def test_a_setting_that_went_along_is_taken_out_by_itself_or_by_name(run, tmp_path):
    lines = csv_text(effect=1.0, pours=24, seed=8).splitlines()
    made = [lines[0] + ",oil"]
    for line in lines[1:]:
        number = int(line.split(",")[1][1:])
        thin = (number % 2 == 0) != (number % 7 == 0)
        cells = line.split(",")
        if thin:
            cells[-1] = f"{float(cells[-1]) * 0.4:.4f}"
        made.append(",".join([*cells, "thin" if thin else "thick"]))
    path = tmp_path / "oil.csv"
    text = "\n".join(made).replace("2026-03-", "2026-03-")
    path.write_text(text + "\n", encoding="utf-8")
    answer = answer_of(run, path, text)
    assert answer["verdict_unadjusted"] == "lower"
    assert "oil" in answer["adjusted_for"]
    assert answer["verdict"] not in {"lower", "higher"}
    named = answer_of(run, path, text, "--adjust-for", "oil")
    assert named["adjusted_for"][0] == "oil"
    assert named["verdict"] not in {"lower", "higher"}
    bare = answer_of(run, path, text, "--adjust-for", "none")
    assert bare["verdict"] == "lower"
    assert "oil" not in bare["adjusted_for"]


def test_many_questions_at_once_are_adjusted(tmp_path, capsys):
    random = np.random.default_rng(5)
    rows = ["piece,pour,mix,crew,agent,void_area_percent"]
    for n in range(48):
        pour = n // 2
        mix, crew = "ab"[pour % 2], "xy"[pour // 2 % 2]
        share = (0.5 if mix == "a" else 1.0) * np.exp(random.normal(0, 0.3))
        rows.append(f"{n},{pour},{mix},{crew},{'opq'[pour % 3]},{share:.4f}")
    table = tmp_path / "pieces.csv"
    table.write_text("\n".join(rows))
    asked = [word for by in ("mix", "crew", "agent") for word in ("--by", by)]
    assert main(["compare", "--table", str(table), *asked, "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    questions = {one["factor"]: one for one in found["questions"]}

    assert list(questions) == ["mix", "crew", "agent"]
    assert "3 questions at once" in found["notes"][0]
    assert questions["mix"]["verdict"] == "lower"
    assert questions["crew"]["verdict"] == "no_clear_difference"
    assert any("3 settings asked about (Holm)" in n for n in questions["mix"]["notes"])
    alone = ["compare", "--table", str(table), "--by", "mix", "--adjust-for", "crew"]
    assert main([*alone, "agent", "--json", "-"]) == 0
    single = json.loads(capsys.readouterr().out)
    assert questions["mix"]["p_value"] == pytest.approx(3 * single["p_value"])
    assert main(["compare", "--table", str(table), *asked]) == 0
    assert capsys.readouterr().out.startswith("3 questions at once")
    assert (
        main(["compare", "--table", str(table), *asked, "--no-worse-than", "1.2"]) == 2
    )
    assert "give --by once" in capsys.readouterr().err
