"""Charts: what is joined, left out, set apart and told, in inks that can be read."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import altair as alt
import numpy as np
import pytest

from analysis.compare.compare import compare
from analysis.model.comparison import CompareOptions
from analysis.model.notes import note
from analysis.model.outlook import FormWear, Trend
from analysis.services.batches import batches, measured_pieces
from analysis.services.tables import table_from_csv
from tests.support.track_tables import csv_of, shares_of
from ui.batches.chart import share_chart, wear_chart
from ui.compare.chart import is_paired, piece_chart, points_drawn
from ui.vibration.dose_chart import _times
from ui.widgets import inks as inks_module
from ui.widgets.inks import BY_DAY, BY_NIGHT, screen_inks

CONFIG = Path(__file__).resolve().parents[2] / ".streamlit" / "config.toml"


def relative_luminance(colour):
    """WCAG 2.2, relative luminance (W3C Recommendation, 5 October 2023)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted(map(relative_luminance, (one, other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_as_the_standard_defines_it():
    # WCAG 2.2: from 1 to 21; #767676 on white is the best known 4.54.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


# WCAG 2.2 SC 1.4.3: 4.5 for text; SC 1.4.11: 3 for what a chart is read by.
@pytest.mark.parametrize(("inks", "theme"), [(BY_DAY, "light"), (BY_NIGHT, "dark")])
def test_inks_can_be_read_on_the_ground_of_their_theme(inks, theme):
    config = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["theme"][theme]

    assert inks.ground == config["backgroundColor"]
    assert inks.text == config["textColor"]
    assert contrast(inks.text, inks.ground) > 12
    assert contrast(inks.quiet, inks.ground) > 4.5
    assert all(contrast(colour, inks.ground) > 4.5 for colour in inks.pair)
    assert contrast(config["primaryColor"], config["backgroundColor"]) > 6.9
    for name in ("red", "yellow", "blue", "green"):
        ground = config[f"{name}BackgroundColor"]
        assert contrast(config[f"{name}TextColor"], ground) > 4.5


@pytest.mark.parametrize(
    ("told", "inks"), [("dark", BY_NIGHT), ("light", BY_DAY), (None, BY_DAY)]
)
def test_inks_follow_the_screen(told, inks, monkeypatch):
    shown = SimpleNamespace(context=SimpleNamespace(theme=SimpleNamespace(type=told)))
    monkeypatch.setattr(inks_module, "st", shown)

    assert screen_inks() is inks


def kinds(*, paired, pours=10):
    """Pieces cast both ways in each pour, or one way a pour; one more is left out."""
    lines = ["piece,pour,form,release_agent,void_area_percent"]
    rng = np.random.default_rng(5)
    for pour in range(pours):
        for place in range(2):
            first = place == 0 if paired else pour % 2 == 0
            agent, usual = ("wax", 0.4) if first else ("oil", 0.8)
            value = usual * np.exp(rng.normal(0, 0.1))
            lines.append(f"{pour}-{place},P{pour},F{place},{agent},{value:.4f}")
    lines.append("alone,P99,F0,wax,0.5")
    found = compare(
        table_from_csv("\n".join(lines)), CompareOptions(by="release_agent")
    )
    counted = found.pieces.used & (found.pieces.piece != "alone")
    return replace(found, pieces=replace(found.pieces, used=counted))


def spec_of(chart):
    return json.loads(chart.to_json())


def marks_of(spec):
    return [layer["mark"]["type"] for layer in spec["layer"]]


def test_pairs_are_joined_and_what_does_not_count_waits_to_be_asked_for():
    found = kinds(paired=True)
    assert is_paired(found)

    spec = spec_of(piece_chart(found))
    (joined,) = (
        rows for rows in spec["datasets"].values() if rows and "second" in rows[0]
    )
    points = max(spec["datasets"].values(), key=len)

    assert len(joined) == 10
    assert all(row["first"] != row["second"] for row in joined)
    assert len(points) == 20
    assert {row["used"] for row in points} == {"counted"}
    assert points_drawn(found) == (20, 20)

    asked = spec_of(piece_chart(found, left_out=True))
    shown = max(asked["datasets"].values(), key=len)
    assert len(shown) == 21
    (alone,) = (row for row in shown if row["used"] == "left out")
    assert alone["place"] > max(row["place"] for row in points)
    assert points_drawn(found, left_out=True) == (21, 21)


def test_words_of_two_times_hide_the_mark_that_they_reach_over():
    answer = SimpleNamespace(current_s=90.0, suggested_s=60.0)
    x = alt.X("seconds:Q")

    rule, edge, label = (one.to_dict()["mark"] for one in _times(answer, x, BY_DAY))

    assert (rule["type"], edge["type"], label["type"]) == ("rule", "text", "text")
    assert (edge["stroke"], label["color"]) == (BY_DAY.ground, BY_DAY.text)
    assert {key: edge[key] for key in ("dx", "fontSize")} == {"dx": 5, "fontSize": 13}


def test_levels_that_never_meet_keep_a_row_each():
    found = kinds(paired=False)

    spec = spec_of(piece_chart(found, BY_NIGHT))

    assert not is_paired(found)
    assert "text" in marks_of(spec)
    assert BY_NIGHT.first in json.dumps(spec)
    assert BY_DAY.first not in json.dumps(spec)


def test_many_pairs_are_thinned_by_whole_pours():
    found = kinds(paired=True, pours=120)

    drawn, count = points_drawn(found)

    assert (drawn, count) == (160, 240)
    points = max(spec_of(piece_chart(found))["datasets"].values(), key=len)
    assert len(points) == drawn


def test_pours_of_one_day_stand_apart_and_name_their_day():
    text = csv_of(shares_of(12)).replace("2026-01-12", "2026-01-05")
    found = batches(measured_pieces(table_from_csv(text)))

    spec = spec_of(share_chart(found))
    points = max(spec["datasets"].values(), key=len)
    axis = spec["layer"][-1]["encoding"]["x"]["axis"]

    assert [row["day"] for row in points[:2]] == ["5 Jan 2026"] * 2
    assert len({row["place"] for row in points}) == 12
    assert '"0": "5 Jan 2026"' in axis["labelExpr"]
    assert len(axis["values"]) == 4


def worn(shape, change=None):
    use = np.arange(1.0, 21.0)
    rise = {
        "none": 0 * use,
        "steady_rise": 0.05 * use,
        "rise_after": 0.1 * np.maximum(use - 10, 0),
        "step_at": np.log(2) * (use >= 10),
    }[shape]
    share = 0.004 * np.exp(rise)
    trend = Trend(
        n_castings=20,
        ratio_per_10_uses=float(np.exp(0.5)),
        ratio_low=1.0,
        ratio_high=2.0,
        p_value=0.01,
        shape=shape,
        change_at_use=change,
    )
    return FormWear(
        name="Trough A",
        of_type=False,
        uses=20,
        advice="no_sign",
        evidence=note("no_rise", face=trend),
        face=trend,
        joint_band=None,
        remaining_low=None,
        remaining=None,
        remaining_high=None,
        use=use,
        share=share,
        joint_use=np.array([]),
        joint_share=np.array([]),
        notes=(),
    )


@pytest.mark.parametrize(
    ("shape", "change"),
    [("none", None), ("steady_rise", None), ("rise_after", 10.0), ("step_at", 10.0)],
)
def test_wear_draws_what_fits_best_and_the_target(shape, change):
    found = worn(shape, change)

    spec = spec_of(wear_chart(found, (0.006,)))
    sets = spec["datasets"].values()
    (line,) = (rows for rows in sets if rows and "order" in rows[0])
    (limit,) = (rows for rows in sets if rows and "said" in rows[0])

    assert limit == [{"value": 0.6, "said": "target"}]
    for row in line:  # made without noise, so the line goes through every casting
        at = np.flatnonzero(found.use == row["use"])
        if at.size and not (shape == "step_at" and row["use"] == change):
            assert row["value"] == pytest.approx(100 * found.share[at[0]], rel=1e-6)
    if shape == "step_at":
        assert [row["value"] for row in line] == pytest.approx([0.4, 0.4, 0.8, 0.8])
