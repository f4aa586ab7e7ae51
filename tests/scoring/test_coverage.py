"""Intervals by renderer and light, on rows made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks import coverage, lights
from tests.support.scores import face_score


def row(renderer="second", light="flat", found=1.0, true=1.0, **given):
    usual = {"kind": "k", "tier": "easy", "low_percent": 0.9, "high_percent": 1.2}
    return coverage.ShareRow(
        renderer=renderer,
        light=light,
        found_percent=found,
        true_percent=true,
        **(usual | given),
    )


def test_coverage_is_counted_with_the_side_it_fails_on():
    rows = [row(), row(true=1.3), row(true=0.8), row(true=1.2)]
    figures = coverage.summary(rows)
    assert figures["faces"] == 4
    assert figures["held"] == 0.5
    assert figures["truth above"] == 0.25
    assert figures["truth below"] == 0.25
    assert figures["median high/low"] == pytest.approx(1.2 / 0.9)


def test_clean_faces_do_not_widen_the_median():
    clean = row(tier="clean", found=0.0, true=0.0, low_percent=0.0)
    assert coverage.summary([row(), clean])["median high/low"] < 2
    assert np.isnan(coverage.summary([clean])["median high/low"])
    assert np.isnan(coverage.summary([])["held"])


def test_every_renderer_and_light_has_its_line():
    rows = [row(), row(light="lamp"), row(renderer="third", tier="hard")]
    lines = list(coverage.report(rows))
    assert [line.split("|")[1:4] for line in lines[2:]] == [
        [" **second** ", " **all easy** ", " 2 "],
        [" second ", " flat ", " 1 "],
        [" second ", " lamp ", " 1 "],
        [" **third** ", " **all hard** ", " 1 "],
        [" third ", " flat ", " 1 "],
    ]


def test_rows_follow_the_scores():
    (one,) = coverage.rows_of([face_score(renderer="third", light="flash")])
    assert (one.renderer, one.light, one.found_percent) == ("third", "flash", 1.1)


def many(renderer, shift, rng, faces=400, spread=0.1):
    errors = shift + spread * rng.standard_normal(faces)
    return [
        row(
            renderer=renderer, light=f"l{n % 4}", true=float(np.exp(e)), terms=(spread,)
        )
        for n, e in enumerate(errors)
    ]


def test_a_fit_holds_what_it_was_made_for_on_a_renderer_like_the_others():
    rng = np.random.default_rng(1)
    rows = [one for name in ("a", "b", "c") for one in many(name, 0.2, rng)]
    left_out = coverage.leave_one_renderer_out(rows)
    assert coverage.summary(left_out)["held"] == pytest.approx(0.95, abs=0.02)
    assert left_out[0].low_percent == pytest.approx(np.exp(0.2 - 0.196), rel=0.05)


def test_a_renderer_unlike_the_others_shows():
    rng = np.random.default_rng(1)
    rows = many("a", 0.0, rng) + many("b", 0.0, rng) + many("odd", 0.3, rng)
    left_out = coverage.leave_one_renderer_out(rows)
    odd = [one for one in left_out if one.renderer == "odd"]
    assert coverage.summary(odd)["held"] < 0.3
    assert coverage.summary(odd)["truth above"] > 0.7


def test_lights_weigh_the_same_however_many_faces_they_have():
    crowd = [row(light="flat", true=1.0, terms=(1.0,))] * 96
    rare = [row(light="lamp", true=2.0, terms=(1.0,))] * 4
    low, high = coverage.quantile_fit(crowd + rare, (0.25, 0.75))(crowd[0])
    assert (low, high) == pytest.approx((1.0, 2.0), rel=1e-3)


def test_what_cannot_be_fitted_keeps_its_ends():
    rows = [row(), row(renderer="third", found=0.0)]
    assert coverage.leave_one_renderer_out(rows) == rows


def test_first_recipes_have_names_of_their_own():
    recipes = list(coverage.first_recipes())
    assert len({name for name, *_ in recipes}) == len(recipes) >= 24
    assert len({light for _, light, *_ in recipes}) >= 4


# -- one face in many lights


def lit(light, found, face="grey ply, small"):
    return lights.Lit(
        face=face, seed=0, light=light, true_percent=1.0, found_percent=found,
        low_percent=0.8 * found, high_percent=1.2 * found,
    )  # fmt: skip


def test_spread_over_lights():
    apart, deviation = lights.spread([0.8, 1.0, 1.2])
    assert apart == pytest.approx(1.5)
    assert deviation == pytest.approx(0.2)
    assert np.isinf(lights.spread([0.0, 1.0])[0])


def test_the_report_of_lights_judges_small_and_large_voids():
    seen = [lit("a", 1.0), lit("b", 1.1)]
    seen += [lit(name, v, "grey ply, large") for name, v in (("a", 0.5), ("b", 1.0))]
    lines = list(lights.report(seen))
    assert any("small voids" in line and "| met |" in line for line in lines)
    assert any("large voids" in line and "NOT met" in line for line in lines)
    assert lines[-1].endswith("on 0.75 of 4 photos.")


def test_every_face_of_lights_has_a_kind():
    sizes = {lights.kind_of(face).voids.median_mm for face in lights.FACES}
    assert sizes == {1.3, 4.0}
