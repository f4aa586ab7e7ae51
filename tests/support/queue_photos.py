"""Photos of the day with cards on them."""

from __future__ import annotations

import io
from datetime import datetime, timedelta

import numpy as np
from PIL import Image

from analysis.model.card import Code
from analysis.services import photo_queue
from analysis.storage.log_mark import log_mark
from tests.support.cameras import face_to_photo, pasted, seen
from tests.support.cards import paper_card

PX_PER_MM = 3.0


PHOTO_PX = (750, 1000)


FACE_MM = (340.0, 240.0)


NOON = datetime(2026, 5, 5, 12, 0)  # noqa: DTZ001  camera time has no zone


def face(seed, voids=6):
    rng = np.random.default_rng(seed)
    rows, cols = (round(side * PX_PER_MM) for side in FACE_MM[::-1])
    grey = rng.normal(150, 4, (rows, cols))
    y, x = np.mgrid[:rows, :cols]
    for row, col in rng.uniform(0.45, 0.9, (voids, 2)) * (rows, cols):
        grey[np.hypot(y - row, x - col) < 8] = 60
    return np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)


def photo(seed, code=None, minute=None, *, layout_px=(40, 30)):
    """Draw a face with a card on it, a little askew, and file it as JPEG."""
    drawn = face(seed)
    if code is not None:
        drawn = pasted(drawn, paper_card(PX_PER_MM, code), *layout_px)
    rng = np.random.default_rng(seed)
    tilt, turn, roll = rng.uniform(-8, 8, 3)
    to_photo = face_to_photo(
        FACE_MM,
        far_mm=380,
        photo_px=PHOTO_PX,
        focal_px=1100,
        tilt_deg=tilt,
        turn_deg=turn,
        roll_deg=roll,
    )
    image = Image.fromarray(seen(drawn, PX_PER_MM, to_photo, PHOTO_PX))
    exif = Image.Exif()
    if minute is not None:
        taken = (NOON + timedelta(minutes=minute)).strftime("%Y:%m:%d %H:%M:%S")
        exif.get_ifd(0x8769)[0x9003] = taken
    file = io.BytesIO()
    image.save(file, "JPEG", quality=92, exif=exif)
    return file.getvalue()


def piece_card(log, piece_id, layout="A"):
    return Code(
        layout=layout, kind="piece", number=str(piece_id), log_mark=log_mark(log)
    )


def by_name(log):
    return {one.name: one for one in photo_queue.list_waiting(log)}
