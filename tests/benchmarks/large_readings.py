"""Three readings of each piece of a large log, with their voids, as many saves leave.

The voids are drawn by lot from those that the product measures on the sample photos,
so that a pack takes what packs take. `PACKS` faces are laid together and packed once;
each reading takes one whose void area fits its share, and so packs come again: what
they take on disk and what it costs to read them is as if each were its own.
"""

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import sqlalchemy as sa

from analysis.model.reading import VoidCatalog
from analysis.services.measuring import measure
from analysis.services.photos import read_photo
from analysis.storage import packing
from analysis.storage.engine import writing
from analysis.storage.tables import (
    BROUGHT_FIGURE,
    PHOTO,
    PHOTO_USE,
    READING,
    VOID_PACK,
)
from analysis.storage.void_packs import packed
from analysis.vocabulary import STAGES

ROOT = Path(__file__).parents[2]
PACKS = 1000
AT_ONCE = 5000  # readings written at a time, so that memory does not follow the log
# Shop's set-ups: mm per px of each, and how far single photos lie from it.
MM_PER_PX, MM_SPREAD = (0.12, 0.15, 0.18, 0.2, 0.22), 0.02
SMALLEST_MM, SMALLEST_PX = 0.5, 4
# How far photos of one piece lie from it; one in so many is of a later stage.
PHOTO_SPREAD, LATER = 0.1, 30
REJECTED = 0.2  # turned down, for each void counted
FIRST_AT = datetime(2020, 1, 6, 16, tzinfo=UTC)
_COLUMNS = tuple(VoidCatalog.__dataclass_fields__)


def taken(voids, at):
    """Return some voids of a catalogue, one of them as often as it is named."""
    columns = {name: getattr(voids, name) for name in _COLUMNS}
    return VoidCatalog(
        **{
            name: its[at]
            if isinstance(its, np.ndarray)
            else tuple(its[n] for n in at.tolist())
            for name, its in columns.items()
        }
    )


def drawn(among, size, rng):
    """Return places drawn by lot, in order: neighbours in a face pack alike."""
    again = size > among
    return np.sort(rng.choice(among, size if among else 0, replace=again))


def measured_samples():
    """Return readings of the sample photos that have most voids."""
    paths = sorted((ROOT / "sample_images").glob("*.jpg"))[:3]
    return [measure(read_photo(path.read_bytes(), path.name))[0] for path in paths]


def packs_of(samples, voids, rng):
    """Return packed faces of some `voids` voids on average, by void area, and areas."""
    made = []
    # From faces with a tenth of the usual number of voids to some with three times it.
    for n in np.linspace(0.1, 3.0, PACKS):
        one = samples[int(rng.integers(len(samples)))]
        counted = 1 + int(rng.poisson(n * voids))
        both = (
            taken(its, drawn(len(its), size, rng))
            for its, size in (
                (one.voids, counted),
                (one.rejected, int(rng.poisson(REJECTED * n * voids))),
            )
        )
        pack = packed(*both)
        area = float(np.frombuffer(pack["areas"], dtype="<f8").sum())
        made.append((area, pack))
    made.sort(key=lambda one: one[0])
    return [pack for _, pack in made], np.array([area for area, _ in made])


def chosen_packs(share, packs, areas, voids, rng):
    """Return the pack of each reading, so that faces are alike in size on average."""
    count = np.array([pack["counted"] for pack in packs])
    jitter = rng.integers(-5, 6, len(share))

    def on(face_px):
        at = np.searchsorted(areas, share * face_px)
        return np.clip(at + jitter, 0, len(packs) - 1)

    # Larger faces hold more voids at one share: the size that gives the number asked.
    sizes = np.geomspace(areas[0], areas[-1], 100) / share.mean()
    return on(min(sizes, key=lambda one: abs(count[on(one)].mean() - voids)))


def fill(log, *, per_piece, voids, seed):
    """Write readings of every piece; return how many, and how many voids.

    The share that a table brought is what the photos of the piece lie about; it is then
    taken out of the log, since those pieces have been measured.
    """
    rng = np.random.default_rng(seed)
    samples = measured_samples()
    packs, areas = packs_of(samples, voids, rng)
    figure = sa.select(BROUGHT_FIGURE.c.piece_id, BROUGHT_FIGURE.c.void_share)
    with writing(log) as connection:
        pieces = connection.execute(figure.order_by(BROUGHT_FIGURE.c.piece_id)).all()
    piece_id = np.repeat([row.piece_id for row in pieces], per_piece)
    share = np.repeat([row.void_share for row in pieces], per_piece)
    share = share * np.exp(rng.normal(0, PHOTO_SPREAD, len(share)))
    pack = chosen_packs(share, packs, areas, voids, rng)
    mm = rng.choice(MM_PER_PX, len(share)) * np.exp(
        rng.normal(0, MM_SPREAD, len(share))
    )
    columns = {
        "piece": piece_id,
        "share": share,
        "area": areas[pack],
        "pack": pack,
        "mm": mm,
        "later": rng.integers(LATER, size=len(share)) == 0,
    }
    model = packing.reading_values(samples[0])
    for start in range(0, len(share), AT_ONCE):
        part = {name: its[start : start + AT_ONCE] for name, its in columns.items()}
        with writing(log) as connection:
            _write(connection, part, packs, model, start + 1)
    with writing(log) as connection:
        connection.execute(sa.delete(BROUGHT_FIGURE))
    counted = np.array([one["counted"] for one in packs])[pack]
    rejected = np.array([one["rejected"] for one in packs])[pack]
    return len(share), int(counted.sum()), int(rejected.sum())


def _write(connection, part, packs, model, first):
    """Write photos, their uses, readings and packs of some pieces."""
    rows = list(zip(*(its.tolist() for its in part.values()), strict=True))
    photos, uses, readings = [], [], []
    for n, (piece, share, area, pack, mm, later) in enumerate(rows, first):
        at = FIRST_AT + timedelta(minutes=10 * n)
        face_px = area / share
        photos.append(
            {
                "id": n,
                "sha256": hashlib.sha256(str(n).encode()).hexdigest(),
                "name": f"{n}.jpg",
                "file_format": "JPEG",
                "byte_count": 4_000_000,
                "width_px": 4000,
                "height_px": 3000,
                "taken_at": at.replace(tzinfo=None).isoformat(),
                "created_at": at,
            }
        )
        uses.append(
            {
                "id": n,
                "piece_id": piece,
                "photo_id": n,
                "purpose": "representative",
                "stage": STAGES[1] if later else STAGES[0],
                "created_at": at,
                "version": 1,
            }
        )
        readings.append(
            model
            | {
                "id": n,
                "photo_use_id": n,
                "mm_per_px": mm,
                "scale_uncertainty": 0.01,
                "scale_method": "typed",
                "face_area_px": face_px,
                "face_area_mm2": face_px * mm**2,
                "void_area_px": area,
                "void_area_mm2": area * mm**2,
                "void_share": share,
                "void_share_low": 0.9 * share,
                "void_share_high": min(1.0, 1.15 * share),
                "sampled_share": share,
                "sampled_share_low": 0.8 * share,
                "sampled_share_high": min(1.0, 1.25 * share),
                "void_count": packs[pack]["counted"],
                "voids_per_m2": 1e6 * packs[pack]["counted"] / (face_px * mm**2),
                "largest_void_mm": 25 * mm,
                "smallest_counted_mm": max(SMALLEST_MM, SMALLEST_PX * mm),
                "honeycomb_px": [],
                "light_flags": [],
                "flags": [],
                "measured_at": at,
                "created_at": at,
                "version": 1,
            }
        )
    kept = [{"reading_id": n, **packs[row[3]]} for n, row in enumerate(rows, first)]
    for table, its in (
        (PHOTO, photos),
        (PHOTO_USE, uses),
        (READING, readings),
        (VOID_PACK, kept),
    ):
        connection.execute(sa.insert(table), its)
