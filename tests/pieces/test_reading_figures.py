"""Readings of many pieces at once, held against the same rules piece by piece."""

import math
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np

from analysis.model.log import PhotoUse
from analysis.pieces.columns import alike, coded
from analysis.pieces.pooling import by_area
from analysis.pieces.reading_figures import (
    NUMBERS,
    WORDS,
    ReadingFigures,
    counted_from,
    pooled_figures,
)
from analysis.pieces.standing import WET, age_of, standing_readings

SHARES = {
    "joint_band_percent": "joint_band_share",
    "open_face_percent": "open_face_share",
    "honeycomb_percent": "honeycomb_share",
}
LENGTHS = ("joint_length_mm", "sand_length_mm", "fin_length_mm")


@dataclass
class Measured:
    id: int
    piece_id: int
    photo_sha256: str
    use: PhotoUse
    reviews_id: int | None
    measured_at: datetime
    smallest_counted_mm: float | None
    number: dict = field(default_factory=dict)


def drawn(count=600, pieces=250):
    """Readings in which each rule has something to decide."""
    rng = np.random.default_rng(20261127)
    made = []
    for n in rng.permutation(count).tolist():
        unknown = rng.random(len(NUMBERS)) < 0.2
        values = rng.uniform(0.5, 2, len(NUMBERS)).round(3)
        number = {
            name: None if none else value
            for name, none, value in zip(
                NUMBERS, unknown.tolist(), values.tolist(), strict=True
            )
        }
        number["face_area_px"] = float(rng.choice([0, 900, 1300]))
        number["void_area_px"] = values[0]
        made.append(
            Measured(
                id=n + 1,
                piece_id=int(rng.integers(pieces)),
                photo_sha256=str(rng.integers(4)),
                use=PhotoUse(
                    purpose=str(rng.choice(["representative", "worst_spot"])),
                    stage=[None, "as_struck", "filled"][int(rng.integers(3))],
                    surface_state=[None, "dry", "wet", "damp"][int(rng.integers(4))],
                ),
                reviews_id=[None, None, 1][int(rng.integers(3))],
                # Moments come again, so that keys have to decide.
                measured_at=datetime(2026, 1, 1, tzinfo=UTC)
                + timedelta(hours=int(rng.integers(5))),
                smallest_counted_mm=number["smallest_counted_mm"],
                number=number,
            )
        )
    return made


def plainly_standing(readings, stage):
    """The readings of a piece that stand, one by one."""
    of_photo = defaultdict(list)
    for one in readings:
        if one.use.purpose == "representative":
            of_photo[one.photo_sha256, one.use.stage].append(one)
    best = [
        max(its, key=lambda one: (one.reviews_id is not None, one.measured_at, one.id))
        for its in of_photo.values()
    ]
    if not best:
        return ()
    wanted = stage or min((one.use.stage for one in best), key=age_of)
    kept = [one for one in best if one.use.stage == wanted]
    kept.sort(key=lambda one: (one.measured_at, one.id), reverse=True)
    sized = [one for one in kept if one.smallest_counted_mm is not None] or kept
    return tuple([one for one in sized if one.use.surface_state not in WET] or sized)


def test_readings_stand_as_they_do_piece_by_piece():
    readings = drawn()
    of_piece = defaultdict(list)
    for one in readings:
        of_piece[one.piece_id].append(one)
    for stage in (None, "as_struck", "filled"):
        found = standing_readings(readings, stage=stage)
        plainly = {key: plainly_standing(its, stage) for key, its in of_piece.items()}
        assert found == {key: its for key, its in plainly.items() if its}


def figures_of(readings):
    readings = sorted(readings, key=lambda one: (one.piece_id, one.id))
    words = dict.fromkeys(WORDS, alike("x", len(readings)))
    return ReadingFigures(
        piece_id=np.array([one.piece_id for one in readings]),
        number={
            name: np.array([one.number[name] for one in readings], dtype=float)
            for name in NUMBERS
        },
        void_count=np.array([one.id for one in readings]),
        words=words | {"stage": coded([one.use.stage for one in readings])},
    )


def in_all(amounts):
    return None if None in amounts else sum(amounts)


def plainly_pooled(readings):
    """The figures of a piece, one by one."""
    its = [one.number for one in sorted(readings, key=lambda one: one.id)]
    weights = [
        one["face_area_px"] if one["face_area_mm2"] is None else one["face_area_mm2"]
        for one in its
    ]
    shares = {name: [one[kept] for one in its] for name, kept in SHARES.items()}
    shares["void_area_percent"] = [
        one["void_area_px"] / one["face_area_px"] if one["face_area_px"] else None
        for one in its
    ]
    found = {name: by_area(given, weights) for name, given in shares.items()}
    found = {
        name: None if share is None else 100 * share for name, share in found.items()
    }
    found["face_area_mm2"] = in_all([one["face_area_mm2"] for one in its])
    for name in ("smallest_counted_mm", "largest_void_mm"):
        sizes = [one[name] for one in its]
        found[name] = None if None in sizes else max(sizes)
    jointed = [one for one in its if one["joint_length_mm"] is not None]
    for name in LENGTHS:
        total = in_all([one[name] for one in jointed])
        found[name] = total if jointed else None
    found["arris_loss_mm2_per_m"] = by_area(
        [one["arris_loss_mm2_per_m"] for one in jointed],
        [one["joint_length_mm"] for one in jointed],
    )
    found["void_count"] = sum(one.id for one in readings)
    stages = {one.use.stage for one in readings}
    found["stage"] = stages.pop() if len(stages) == 1 else "mixed"
    return found


def same(cell, other):
    # Python from 3.12 on adds with more digits than an array does.
    if isinstance(cell, float) and other is not None:
        return math.isclose(cell, other, rel_tol=1e-12)
    return cell == other


def test_figures_are_pooled_as_they_are_piece_by_piece():
    readings = drawn()
    pieces, found = pooled_figures(figures_of(readings))
    assert pieces.tolist() == sorted({one.piece_id for one in readings})
    for row, key in enumerate(pieces.tolist()):
        plainly = plainly_pooled([one for one in readings if one.piece_id == key])
        mine = {name: found[name][row] for name in plainly}
        for name, cell in mine.items():
            assert same(cell, plainly[name])
    assert None in found["void_area_percent"] or None in found["joint_band_percent"]


def test_nothing_measured_pools_to_nothing():
    pieces, found = pooled_figures(figures_of([]))
    assert (len(pieces), found) == (0, {})


def test_readings_counted_from_a_larger_size_lose_what_needs_the_face():
    before = figures_of(drawn(4, pieces=1))
    rows = np.array([1, 2])
    found = counted_from(before, 3.0, rows, np.array([7, 8]), np.array([70.0, 80.0]))
    assert found.void_count.tolist()[1:3] == [7, 8]
    assert found.number["void_area_px"].tolist()[1:3] == [70, 80]
    assert found.number["smallest_counted_mm"].tolist()[1:3] == [3, 3]
    assert np.isnan(found.number["joint_band_share"][rows]).all()
    assert np.isnan(found.number["open_face_share"][rows]).all()
    assert found.void_count[[0, 3]].tolist() == before.void_count[[0, 3]].tolist()
