"""Where voids sit, on drawn truths, and beside published expectations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import analysis.diagnosis
from analysis.diagnosis.naming import name_patterns
from analysis.diagnosis.pattern_words import EVIDENCE_WORDS, evidence_words
from analysis.diagnosis.placement import place
from analysis.errors import InputError
from analysis.model.diagnosis import Placement, Zone
from analysis.model.notes import note
from tests.benchmarks import placement_faces
from tests.support.wording import codes_made

FACES = 5  # of each kind; the study names two hundred, of other seeds


def face(kind, seed=1, **options):
    return placement_faces.face(kind, np.random.default_rng([seed, 9]), **options)


def at_random(count, *, rows=120, cols=160, seed=1, **layers):
    random = np.random.default_rng(seed)
    grid = replace(
        face("random"),
        on_face=np.ones((rows, cols), bool),
        joint=np.zeros((rows, cols), np.int64),
        joint_names=(),
        sloped=np.zeros((rows, cols), bool),
        by_insert=np.zeros((rows, cols), bool),
        patch=np.zeros((rows, cols), bool),
        height=None,
        row=random.uniform(-0.5, rows - 0.5, count),
        col=random.uniform(-0.5, cols - 0.5, count),
        diameter_mm=np.full(count, 2.0),
    )
    return replace(grid, **layers)


@pytest.mark.parametrize("kind", placement_faces.KINDS)
def test_drawn_patterns_are_named(kind):
    found = [name_patterns(place([face(kind, seed)])) for seed in range(FACES)]
    names = [one[0].pattern if one else None for one in found]

    assert names.count(placement_faces.NAMES[kind]) >= FACES - 1


def test_distances_at_random_agree_with_donnelly():
    # Donnelly 1978, edge-corrected mean distance to the nearest of n points on area A
    # with perimeter P: 0.5 sqrt(A/n) + (0.0514 + 0.041 / sqrt(n)) P / n (from memory).
    count, rows, cols = 60, 120, 160
    expected = 0.5 * np.sqrt(rows * cols / count)
    expected += (0.0514 + 0.041 / np.sqrt(count)) * 2 * (rows + cols) / count
    ratios, distances = [], []
    for seed in range(20):
        grid = at_random(count, seed=seed)
        ratio = place([grid]).neighbour_ratio
        at = np.column_stack([grid.row, grid.col])
        gap = np.hypot(*(at[:, None] - at).transpose(2, 0, 1))
        distances.append(np.sort(gap, axis=1)[:, 1].mean())
        ratios.append(distances[-1] / ratio)  # what the simulations expect

    assert np.mean(ratios) == pytest.approx(expected, rel=0.02)


def test_chance_of_a_joint_is_that_of_the_binomial():
    # Voids of one size: as many in the band as a binomial allows.
    joint = np.zeros((120, 160), np.int64)
    joint[:, 40:56] = 1
    grid = at_random(50, joint=joint, joint_names=("left",))
    inside = int(((grid.col >= 39.5) & (grid.col < 55.5)).sum())
    (zone,) = place([grid]).joints
    from scipy import stats  # noqa: PLC0415  the reference

    assert zone.p_value == pytest.approx(
        stats.binom.sf(inside - 1, 50, 16 / 160), abs=0.03
    )
    assert zone.share == pytest.approx(inside * np.pi / (16 * 120 * 4))


def test_pooling_finds_what_one_face_cannot():
    weak = []
    for seed in range(12):
        random = np.random.default_rng(seed)
        grid = face("random", seed)
        cols = np.nonzero(grid.joint.any(axis=0))[0]
        at = random.choice(len(grid.col), len(grid.col) // 6, replace=False)
        col = grid.col.copy()
        col[at] = random.choice(cols, len(at))
        weak.append(replace(grid, col=col))
    pooled = place(weak)

    assert pooled.faces == 12
    assert pooled.joints[0].p_value == pytest.approx(0.001)
    assert "joint_leak" in [one.pattern for one in name_patterns(pooled)]


def test_cluster_beside_a_joint_is_no_leak():
    joint = np.zeros((120, 160), np.int64)
    joint[:, 40:56] = 1
    random = np.random.default_rng(3)
    centres = np.repeat([(60, 48), (30, 110), (100, 140)], [20, 10, 10], axis=0)
    near = random.normal(centres, 3)
    grid = at_random(40, joint=joint, joint_names=("left",))
    grid = replace(
        grid,
        row=np.concatenate([grid.row, near[:, 0]]),
        col=np.concatenate([grid.col, near[:, 1]]),
        diameter_mm=np.full(80, 2.0),
    )
    names = [one.pattern for one in name_patterns(place([grid]))]

    assert "joint_leak" not in names


def test_inserts_and_size_mix():
    by_insert = np.zeros((120, 160), bool)
    by_insert[50:70, 70:90] = True
    grid = at_random(60, by_insert=by_insert)
    random = np.random.default_rng(2)
    grid = replace(
        grid,
        row=np.concatenate([grid.row, random.uniform(50, 69, 20)]),
        col=np.concatenate([grid.col, random.uniform(70, 89, 20)]),
        diameter_mm=np.concatenate([np.full(60, 2.0), np.full(20, 12.0)]),
    )
    found = place([grid])

    assert found.fine_share == 0.75
    assert found.coarse_share > 0.9
    assert [one.pattern for one in name_patterns(found)] == ["beside_insert"]


def test_honeycomb_at_a_joint_names_the_joint():
    joint = np.zeros((120, 160), np.int64)
    joint[:, 40:56] = 1
    patch = np.zeros((120, 160), bool)
    patch[20:60, 42:52] = True
    found = place([at_random(20, joint=joint, joint_names=("left",), patch=patch)])

    assert found.honeycomb_at == "left"
    assert found.honeycomb_share == pytest.approx(400 / (120 * 160))
    assert "joint left" in evidence_words(name_patterns(found)[0].evidence)


def test_thirds_count_by_height():
    grid = at_random(0, height=np.linspace(1, 0, 120)[:, None] * np.ones(160))
    grid = replace(
        grid,
        row=np.array([5.0, 10.0, 60.0, 110.0]),
        col=np.full(4, 50.0),
        diameter_mm=np.full(4, 2.0),
    )
    low, middle, high = place([grid]).thirds_per_m2

    assert high == 2 * low == 2 * middle


def test_voids_in_the_band_of_a_joint_at_the_top_say_nothing_of_the_top():
    joint = np.zeros((120, 160), np.int64)
    joint[:12] = 1
    height = np.linspace(1, 0, 120)[:, None] * np.ones(160)
    grid = at_random(60, height=height, joint=joint, joint_names=("upper",))
    random = np.random.default_rng(4)
    leaked = replace(
        grid,
        row=np.concatenate([grid.row, random.uniform(0, 11, 60)]),
        col=np.concatenate([grid.col, random.uniform(0, 159, 60)]),
        diameter_mm=np.full(120, 2.0),
    )

    assert place([leaked]).top.p_value > 0.1
    assert place([replace(leaked, joint=0 * joint)]).top.p_value < 0.01


@pytest.mark.parametrize("count", [0, 1, 2])
def test_few_voids_name_nothing(count):
    found = place([at_random(count)])

    assert found.neighbour_ratio is None
    assert name_patterns(found) == ()


def test_no_face_is_refused():
    with pytest.raises(InputError, match="No measured face"):
        place([])
    with pytest.raises(InputError, match="No measured face"):
        place([at_random(3, on_face=np.zeros((120, 160), bool))])


@pytest.mark.parametrize(("voids", "part"), [(10, 0.9), (20, 0.95), (9, 0.8)])
def test_zone_that_takes_nearly_all_of_the_face_is_not_named_for_holding_all(
    voids, part
):
    # All voids inside is likely there: a tie with most simulations,
    # whatever the rounding.
    named = 0
    for seed in range(40):
        random = np.random.default_rng([seed, voids])
        sloped = np.zeros((60, 80), bool)
        sloped[: int(60 * part)] = True
        grid = at_random(voids, rows=60, cols=80, seed=seed, sloped=sloped)
        grid = replace(grid, diameter_mm=random.uniform(1, 6, voids))
        found = place([grid])
        assert found.slope is None or found.slope.p_value > 0.005
        named += "under_slope" in {one.pattern for one in name_patterns(found)}
    assert named == 0


def test_all_evidence_that_is_made_has_words_and_no_words_are_left_over():
    assert codes_made(analysis.diagnosis) == set(EVIDENCE_WORDS)


@pytest.mark.parametrize(
    ("evidence", "sentence"),
    [
        (
            note("honeycomb", share=0.0312, joint="left"),
            "About 3.1 % of the face looks like honeycomb, most of it at joint left.",
        ),
        (
            note("honeycomb", share=0.0312, joint=""),
            "About 3.1 % of the face looks like honeycomb.",
        ),
        (
            note("joint_above_face", joint="left", ratio=80.0, stretch=0.9),
            (
                "Joint left has many times the void area of the open face, along 90 % "
                "of its length."
            ),
        ),
        (
            note("zone_above_face", zone="more_at_top", ratio=1.84),
            (
                "In the top third as cast there is 1.8 times the void area of the rest "
                "of the face."
            ),
        ),
    ],
)
def test_evidence_is_said_with_its_values(evidence, sentence):
    assert evidence_words(evidence) == sentence


class TestBareSand:
    """Sand along a joint is a leak, whatever the voids beside it do."""

    nothing = Placement(
        voids=12, faces=1, joints=(), thirds_per_m2=None, top=None, slope=None,
        insert=None, neighbour_ratio=None, neighbour_p=None, fine_share=1.0,
        coarse_share=0.0, honeycomb_share=0.0, honeycomb_at="",
    )  # fmt: skip

    def test_a_fifth_of_the_joint_is_named(self):
        (named,) = name_patterns(self.nothing, sand_share=0.31, sand_at="left")
        assert (named.pattern, named.where) == ("joint_leak", "left")
        assert evidence_words(named.evidence) == (
            "Bare sand lies along 31 % of joint left: paste ran out there."
        )
        (several,) = name_patterns(self.nothing, sand_share=0.31)
        assert "31 % of the joints" in evidence_words(several.evidence)

    def test_less_is_not(self):
        assert name_patterns(self.nothing, sand_share=0.19, sand_at="left") == ()

    def test_a_joint_is_named_once(self):
        leak = Zone(
            name="left", share=0.02, rest_share=0.004, ratio=5.0, p_value=0.001,
            stretch=0.8,
        )  # fmt: skip
        seen = replace(self.nothing, joints=(leak,))
        assert len(name_patterns(seen, sand_share=0.5, sand_at="left")) == 1
