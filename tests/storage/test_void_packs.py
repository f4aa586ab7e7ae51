"""Voids packed into one row come out bit for bit, and a broken pack is told."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
import sqlalchemy as sa

from analysis.errors import DamagedLogError, InputError
from analysis.flags import Flag
from analysis.model.reading import VoidCatalog
from analysis.storage.engine import writing
from analysis.storage.readings import load_reading
from analysis.storage.tables import VOID_PACK
from analysis.storage.void_packs import packed, recounts, unpacked
from tests.support.crowd import save_one
from tests.support.stored_readings import catalog


def drawn(count, seed=0, kind="pinhole"):
    """Draw voids with outlines of unlike length and awkward numbers."""
    rng = np.random.default_rng(seed)
    made = catalog(count)
    return replace(
        made,
        row_px=rng.normal(0, 1e5, count),
        contrast=np.where(np.arange(count) % 2, -0.0, 5e-324),
        kind=np.array([kind] * count, dtype=np.str_),
        reason=tuple(f"zu groß, {n}" for n in range(count)),
        flags=tuple(frozenset({Flag.BLURRED} if n % 3 else ()) for n in range(count)),
        outline_px=tuple(rng.normal(0, 50, (n % 7, 2)) for n in range(count)),
    )


def alike(one, other):
    """Tell whether two catalogues are the same, to the bit."""
    for field in fields(VoidCatalog):
        mine, its = getattr(one, field.name), getattr(other, field.name)
        if field.name in {"reason", "flags"}:
            assert mine == its
        elif field.name == "outline_px":
            assert [a.tobytes() for a in mine] == [b.tobytes() for b in its]
            assert all(len(b) == 0 or not b.flags.writeable for b in its)
        elif field.name == "kind":
            assert list(mine) == list(its)
        else:
            assert mine.tobytes() == its.tobytes()
    return True


@pytest.mark.parametrize(("counted", "rejected"), [(0, 0), (1, 0), (0, 3), (40, 7)])
def test_what_goes_in_comes_out_bit_for_bit(counted, rejected):
    voids, others = drawn(counted), drawn(rejected, seed=1, kind="crack")
    row = packed(voids, others)
    assert (row["layout"], row["counted"], row["rejected"]) == (1, counted, rejected)
    again = unpacked(1, counted, rejected, row["content"])
    assert alike(voids, again[0])
    assert alike(others, again[1])


def test_what_counts_from_another_size_needs_no_unpacking():
    voids = replace(catalog(3), area_px=np.array([1.0, 4.0, 9.0]))
    none, some = (packed(one, drawn(0))["areas"] for one in (drawn(0), voids))
    sizes = np.array([1.0, 4.0, 1.0, 10.0, 1.0])
    count, area_px = recounts([none, some, none, some, some], sizes)
    assert count.tolist() == [0, 2, 0, 0, 3]
    assert area_px.tolist() == [0, 13, 0, 0, 14]
    assert [len(one) for one in recounts([], np.zeros(0))] == [0, 0]


def test_counting_many_at_once_sums_as_counting_each_does():
    rng = np.random.default_rng(3)
    each = [rng.lognormal(2, 1, n) for n in rng.integers(0, 300, 50)]
    sizes = rng.uniform(1, 30, 50)
    count, area_px = recounts([one.tobytes() for one in each], sizes)
    left = [one[one >= size] for one, size in zip(each, sizes, strict=True)]
    assert count.tolist() == [len(one) for one in left]
    assert area_px.tolist() == [one.sum() for one in left]


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e13])
def test_a_figure_that_is_none_is_refused(bad):
    voids = replace(drawn(2), elongation=np.array([1.0, bad]))
    with pytest.raises(InputError, match="Elongation must be a finite number"):
        packed(voids, drawn(0))
    lines = replace(drawn(1), outline_px=(np.array([[0.0, bad]]),))
    with pytest.raises(InputError, match="Outline must be a finite number"):
        packed(lines, drawn(0))


def test_an_unknown_kind_is_refused():
    with pytest.raises(InputError, match="kind, 'hole': measure"):
        packed(drawn(1, kind="hole"), drawn(0))


def test_no_broken_pack_is_taken_for_a_reading():
    content = packed(drawn(5), drawn(2, kind="stain"))["content"]
    rng = np.random.default_rng(4)
    for _ in range(50):
        broken = bytearray(content)
        broken[rng.integers(len(broken))] ^= 1 << int(rng.integers(8))
        with pytest.raises(ValueError, match="voids of a reading cannot be read"):
            unpacked(1, 5, 2, bytes(broken))
    for layout, counted, rejected, data in (
        (2, 5, 2, content),
        (1, 4, 2, content),
        (1, 5, 3, content),
        (1, 5, 2, content[:-9]),
        (1, 5, 2, b""),
    ):
        with pytest.raises(ValueError, match="voids of a reading cannot be read"):
            unpacked(layout, counted, rejected, data)


def test_a_lost_pack_leads_to_the_rescue(log, piece_id):
    saved = save_one(log, piece_id, "t")
    with writing(log) as connection:
        connection.execute(sa.delete(VOID_PACK))
    with pytest.raises(DamagedLogError, match="restore the last backup"):
        load_reading(log, saved.id)
