"""A log of many measured pieces, with the photos of the newest ones on disk."""

from __future__ import annotations

import hashlib
import io
from datetime import UTC, date, datetime, timedelta

import numpy as np
import sqlalchemy as sa
from PIL import Image

from analysis.model.workshop import FinishTarget, ProductLine
from analysis.storage import packing
from analysis.storage.engine import writing
from analysis.storage.exchange import import_pieces, preview_import
from analysis.storage.photo_store import path_of
from analysis.storage.records import add, list_all
from analysis.storage.saving import now
from analysis.storage.store import open_log
from analysis.storage.tables import PHOTO, PHOTO_USE, PIECE, READING, VOID_PACK
from analysis.storage.void_packs import packed
from tests.support.readings import reading

HEADING = (
    "piece,pour,cast_on,form,form_type,joint_sealing,vibration_method,vibration_s,"
    "product_line"
)
FORMS = tuple(
    (f"{kind} {letter}", kind)
    for kind in ("trough", "pot", "panel")
    for letter in "ABC"
)
PER_POUR = 8


def many_pieces(folder, count, *, on_disk=0, photo_px=(3000, 4000), seed=0):
    """Make a log of `count` measured pieces; the newest `on_disk` have their photos."""
    log = open_log(folder)
    text = "\n".join([HEADING, *map(_row, range(count))]) + "\n"
    import_pieces(log, preview_import(log, text.encode()), save_token="many")
    for line in list_all(log, ProductLine):
        target = FinishTarget(product_line_id=line.id, high_share=0.006)
        add(log, target, save_token=f"target {line.id}")
    _measure(log, count, on_disk, photo_px, np.random.default_rng(seed))
    return log


def _row(n):
    pour = n // PER_POUR
    form, kind = FORMS[n % len(FORMS)]
    cast_on = date(2020, 1, 6) + timedelta(days=pour)
    sealing = ("tape", "none", "silicone")[n % 3]
    method = ("table", "poker")[pour % 2]
    return (
        f"{n + 1},B{pour + 1:04d},{cast_on},{form},{kind},{sealing},{method},"
        f"{20 + n % 30},{kind}s"
    )


def _measure(log, count, on_disk, photo_px, rng):
    """Write a photo and a reading of each piece, as many saves would."""
    shares = 0.004 * np.exp(rng.normal(0, 0.5, count))
    model = packing.reading_values(reading())
    with writing(log) as connection:
        ids = list(connection.scalars(sa.select(PIECE.c.id).order_by(PIECE.c.id)))
        photos, uses, readings = [], [], []
        for n, (piece_id, share) in enumerate(zip(ids, shares.tolist(), strict=True)):
            data = b"" if n < count - on_disk else jpeg(n, photo_px)
            sha256 = hashlib.sha256(data or str(n).encode()).hexdigest()
            if data:
                path = path_of(log, sha256)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(data)
            photos.append(
                {
                    "id": n + 1,
                    "sha256": sha256,
                    "name": f"{n}.jpg",
                    "file_format": "JPEG",
                    "byte_count": max(1, len(data)),
                    "width_px": photo_px[1],
                    "height_px": photo_px[0],
                    "created_at": now(),
                }
            )
            uses.append(
                {
                    "id": n + 1,
                    "piece_id": piece_id,
                    "photo_id": n + 1,
                    "purpose": "representative",
                    "stage": "ground" if n % 50 == 49 else "as_struck",
                    "created_at": now(),
                    "version": 1,
                }
            )
            readings.append(
                model
                | {
                    "photo_use_id": n + 1,
                    "created_at": now(),
                    "measured_at": datetime(2026, 1, 1, tzinfo=UTC),
                    "void_area_px": share * model["face_area_px"],
                    "void_share": share,
                    "void_share_low": 0.9 * share,
                    "void_share_high": 1.15 * share,
                    "face": {
                        **model["face"],
                        "outline_px": [[9, 9], [9, 60], [40, 60], [40, 9]],
                    },
                }
            )
        connection.execute(sa.insert(PHOTO), photos)
        connection.execute(sa.insert(PHOTO_USE), uses)
        connection.execute(sa.insert(READING), readings)
        voids = packed(reading().voids, reading().rejected)
        packs = [{"reading_id": n + 1, **voids} for n in range(count)]
        connection.execute(sa.insert(VOID_PACK), packs)


def jpeg(seed, photo_px):
    """A grainy grey photo, as heavy as one of a phone."""
    rng = np.random.default_rng(seed)
    small = rng.integers(120, 190, (photo_px[0] // 4, photo_px[1] // 4), np.uint8)
    file = io.BytesIO()
    grey = Image.fromarray(small).resize(photo_px[::-1], Image.Resampling.BICUBIC)
    grey.convert("RGB").save(file, "JPEG", quality=90)
    return file.getvalue()
