"""A log of an invented workshop, for the page that compares."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from analysis.model.afterwards import Outcome, Repair
from analysis.model.log import JointState, Piece, Pour
from analysis.model.workshop import Form
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.storage.exchange import import_pieces, preview_import
from analysis.storage.records import add
from tests.support.screens import face_png

HEADING = (
    "piece,pour,cast_on,form,form_type,joint_sealing,release_agent,void_area_percent,"
    "face_area_mm2,void_count,product_line,stage"
)
KINDS = ("tape", "none", "silicone")


def table_text(
    *, effect=0.45, pours=12, per_pour=4, kinds=2, zeros=False, aliased=False, seed=3
):
    random = np.random.default_rng(seed)
    lines = [HEADING]
    for pour in range(pours):
        kind = KINDS[pour % kinds]
        shift = random.normal(0, 0.2) + (np.log(effect) if kind != "none" else 0.0)
        day = date(2026, 1, 5) + timedelta(days=pour)
        agent = "wax" if aliased and kind == "tape" else "oil"
        for place in range(per_pour):
            share = 0.6 * np.exp(shift + random.normal(0, 0.25))
            if zeros and share < 0.25:
                share = 0.0
            form_type = ("trough", "pot")[place % 2]
            lines.append(
                f"{pour}-{place},P{pour:02d},{day},F{place},{form_type},{kind},{agent},"
                f"{share:.4f},60000,{round(share * 60)},smooth,as_struck"
            )
    return "\n".join(lines) + "\n"


def fill(log, **layout):
    """Bring such a table into a log."""
    text = table_text(**layout).encode()
    import_pieces(log, preview_import(log, text), save_token="shop")
    return log


def judge(log):
    """Note what became of each piece: open joints took longer to repair."""
    for n, casting in enumerate(log_service.list_castings(log)):
        piece = casting.piece
        sealed = piece.joint_sealing != "none"
        minutes = (2.0 if sealed else 14.0) + n % 5
        add(log, Repair(piece_id=piece.id, minutes=minutes), save_token=f"r{n}")
        outcome = "second" if not sealed and n % 3 == 0 else "first_quality"
        add(log, Outcome(piece_id=piece.id, outcome=outcome), save_token=f"o{n}")


def photographed(log, *, pours=8):
    """Measure one face a pour, sealed and open in turn."""
    for pour in range(pours):
        sealing = "tape" if pour % 2 else "none"
        data = face_png(1 + (pour % 3) + (0 if pour % 2 else 3))
        photo = read_photo(data, "face.png")
        reading, _ = measure(photo, scale=scale_typed(0.5))
        log_service.save_with_new_piece(
            log,
            piece=Piece(
                name=f"photo {pour}", pour_id=0, joints=(JointState(sealing=sealing),)
            ),
            pour=Pour(name=f"Q{pour}", cast_on=date(2026, 4, 1 + pour)),
            form=Form(name=f"Form {pour}", form_type="trough"),
            photo_bytes=data,
            photo=photo,
            reading=reading,
            save_token=f"photo {pour}",
        )
    return log
