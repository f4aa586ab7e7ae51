"""Columns and codes of the log reach no sentence, wherever it is read."""

from __future__ import annotations

import json
from datetime import date, timedelta

import numpy as np
import pytest

from analysis.cli import main
from analysis.services import log as log_service
from analysis.storage.exchange import import_pieces, preview_import
from tests.support.screens import ran, start, texts
from tests.support.wording import codes_in, sentences_of

POURS, EACH = 24, 3


def rows(**changed):
    """Pieces with every kind of column; `changed` gives a column by pour and piece."""
    random = np.random.default_rng(11)
    for pour in range(POURS):
        for number in range(EACH):
            yield {
                "piece": f"{pour}-{number}",
                "pour": f"P{pour}",
                "cast_on": f"{date(2026, 1, 5) + timedelta(days=3 * pour)}",
                "form": f"Trough {'ABC'[number]}",
                "form_type": "trough",
                "form_use": pour + 1,
                "product_line": "planter" if number else "bench",
                "joint_sealing": "tape" if (pour + number) % 2 else "none",
                "release_agent": "wax" if pour % 4 < 2 else "oil",
                "release_application": "wiped on" if pour % 3 else "sprayed",
                "vibration_method": "table",
                "vibration_s": 30 if (pour + number) % 2 else 60,
                "strokes": 25 if pour % 2 else 50,
                "casting_process": "wet cast" if pour % 5 else "sprayed",
                "air_c": 12 + pour % 7,
                "humidity_percent": 50 + pour % 5,
                "cement_lot": f"lot {pour // 12}",
                "stage": "as_struck",
                "method_version": "3.1",
                "smallest_counted_mm": 0.5,
                "light": "plain",
                "void_area_percent": f"{np.exp(random.normal(-0.5, 0.2)):.4f}",
                "void_count": 40,
                "face_area_mm2": 120000,
                "joint_band_percent": f"{np.exp(random.normal(0.5, 0.1)):.4f}",
                "open_face_percent": f"{np.exp(random.normal(-0.9, 0.1)):.4f}",
                "honeycomb_percent": 0.9,
                "consistency": "stiff",
            } | {name: give(pour, number) for name, give in changed.items()}


def csv_of(given):
    given = list(given)
    lines = [",".join(given[0])]
    lines += [",".join(map(str, row.values())) for row in given]
    return "\n".join(lines) + "\n"


# What makes a sentence about a column appear.
SHOPS = {
    "plain": {},
    "one went along": {
        "release_application": lambda p, n: "wiped on" if (p + n) % 2 else "sprayed"
    },
    "two went along": {
        "joint_sealing": lambda p, _: "tape" if p % 4 == 0 else "none",
        "release_agent": lambda p, _: "wax" if p % 2 else "oil",
        "release_application": lambda p, _: "wiped on" if p // 2 % 2 else "sprayed",
    },
    "not alike": {
        "smallest_counted_mm": lambda p, _: 0.5 if p % 4 < 2 else 2.0,
        "light": lambda p, _: "uneven_light+too_dark" if p % 4 < 2 else "plain",
        "stage": lambda p, _: "surface_sealed" if p > 20 else "as_struck",
        "method_version": lambda p, _: "2.9" if p < 2 else "3.1",
    },
    "unknown and zero": {
        "joint_sealing": lambda p, n: ("", "tape", "none")[(p + n) % 3],
        "void_area_percent": lambda p, n: ("", 0, 0.5 + p % 4 / 9)[(p + 2 * n) % 3],
        "void_count": lambda p, n: ("", 0, 40)[(p + 2 * n) % 3],
        "vibration_s": lambda p, n: "" if p == n else 30 + 10 * (p % 3),
    },
    "in turn": {
        "joint_sealing": lambda p, _: "tape" if p < 12 else "none",
        "vibration_s": lambda p, _: 30 if p < 12 else 60,
        "release_agent": lambda p, _: "wax" if p < 12 else "oil",
        "void_area_percent": lambda p, n: f"{(1 + p // 12) * (0.5 + n / 40):.3f}",
    },
}
TARGETS = ["--target-low", "0.1", "--target-high", "0.4"]
VERBS = {
    "sealing": ["compare", "--by", "joint_sealing"],
    "inside": ["compare", "--by", "joints_sealed", "--within", "product_line"],
    "adjusted": ["compare", "--by", "vibration_s", "--adjust-for", "humidity_percent"],
    "several": ["compare", "--by", "release_agent", "--by", "release_application"],
    "track": ["track"],
    "track of a line": ["track", "--product-line", "planter"],
    "vibration": ["vibration", "--form-type", "trough", "--method", "table", *TARGETS],
}
VERBS["strokes"] = [*VERBS["vibration"], "--dose", "strokes"]


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("shop", SHOPS)
def test_command_line_says_no_column(shop, verb, tmp_path, capsys):
    table = tmp_path / "pieces.csv"
    table.write_text(csv_of(rows(**SHOPS[shop])), encoding="utf-8")
    asked = [*VERBS[verb], "--table", str(table)]

    assert main(asked) == 0
    said = capsys.readouterr().out
    assert main([*asked, "--json", "-"]) == 0
    told = sentences_of(json.loads(capsys.readouterr().out))

    assert len(said) > 60
    assert told
    assert codes_in("\n".join([said, *told])) == []


def test_checker_finds_what_it_looks_for():
    assert codes_in("Beware of product_line: as_struck, and too_dark.") == [
        "product_line",
        "as_struck",
        "too_dark",
    ]
    assert codes_in("Pour form_A of 3 March, C25_own") == []


@pytest.mark.parametrize("shop", ["one went along", "not alike"])
def test_screens_say_no_column(shop, tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    log = log_service.open_log(tmp_path)
    made = [
        {name: cell for name, cell in row.items() if name != "light"}
        for row in rows(**SHOPS[shop])
    ]
    data = csv_of(made).encode()
    preview = preview_import(log, data)
    import_pieces(log, preview, save_token="wording")

    for view in ("compare", "vibration", "batches", "plan"):
        app = start(view)
        read = texts(app)
        for box in app.expander:
            read += "\n".join(part.value for part in box.markdown)
        assert codes_in(read) == [], view
    assert ran(start("compare")).selectbox[0].value == "joints_sealed"
