"""Draw photos of cards with random marks and poses; count those left unread.

Run: python tests/benchmarks/card_codes.py [--photos 1500] [--seed 0] [--out FILE]
A photo with a whole code and a marker in sight must give the card's code: 0 unread.
"""

import argparse
import sys
from collections import Counter
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.imaging.card import find_cards
from analysis.imaging.markers import find_markers
from analysis.model.card import EDGE_MM, KINDS, LAYOUTS, MARK_LENGTH, MARK_SIGNS, PLAN
from tests.support.cameras import face_to_photo, moved, pasted, seen
from tests.support.cards import code, paper_card

PX_PER_MM = 3.0
FACE_MM = (340.0, 240.0)
PHOTO_PX = (750, 1000)
FOCAL_PX = 1100.0
MOST_TILT_DEG = 25.0
NEAR_FAR_MM = (320.0, 560.0)


def drawn_code(rng):
    """Draw what one card says: any layout, kind, number and mark."""
    kind = KINDS[rng.integers(len(KINDS))]
    number = str(rng.integers(1, 10_000))
    if kind == PLAN:
        key = "".join(rng.choice([*"0123456789ABCDEF"], 12))
        number = f"{key}.{rng.integers(1, 25)}"
    mark = "".join(rng.choice([*MARK_SIGNS], MARK_LENGTH))
    return code("ABC"[rng.integers(len(LAYOUTS))], kind, number, mark)


def drawn_photo(card, rng, *, hide=(), harm="none"):
    """Photograph a face with this card; tell whether all of its code is in frame."""
    rows, cols = (round(side * PX_PER_MM) for side in FACE_MM[::-1])
    grain = rng.normal(150, 4, (rows, cols, 1)).clip(0, 255).astype(np.uint8)
    paper = paper_card(PX_PER_MM, card, hide=hide)
    top, left = (
        rng.integers(0, room - used)
        for room, used in zip((rows, cols), paper.shape, strict=False)
    )
    face = pasted(np.repeat(grain, 3, axis=2), paper, top, left)
    tilt, turn = rng.uniform(-MOST_TILT_DEG, MOST_TILT_DEG, 2)
    pose = face_to_photo(
        FACE_MM,
        far_mm=rng.uniform(*NEAR_FAR_MM),
        photo_px=PHOTO_PX,
        focal_px=FOCAL_PX,
        tilt_deg=tilt,
        turn_deg=turn,
        roll_deg=rng.uniform(-180, 180),
    )
    photo = seen(face, PX_PER_MM, pose, PHOTO_PX)
    x, y = moved(pose, code_corners_mm(card, left, top)).T
    whole = ((x > 0) & (y > 0) & (x < PHOTO_PX[1] - 1) & (y < PHOTO_PX[0] - 1)).all()
    if harm == "blur":
        photo = cv2.GaussianBlur(photo, (0, 0), 1.0)
    elif harm == "noise":
        noise = rng.normal(0, 15, photo.shape)
        photo = (photo + noise).clip(0, 255).astype(np.uint8)
    quality = 25 if harm == "jpeg" else 92
    packed = cv2.imencode(".jpg", photo, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR), bool(whole)


def code_corners_mm(card, left, top):
    """Return (x, y) of the corners of a card's code on the face."""
    layout = LAYOUTS[card.layout]
    # As `paper_card` lays it: the white edge and two mm round the block.
    edge = EDGE_MM + 2
    first = np.array(layout.code_at) - layout.block[:2] + edge
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * layout.code_mm
    return square + first + np.array([left, top]) / PX_PER_MM


def tried(photos, seed, **drawn):
    """Return counts of photos: due, read, misread; and the unread codes."""
    counts, unread = Counter(), []
    for number in range(photos):
        rng = np.random.default_rng((seed, number))
        card = drawn_code(rng)
        hide = LAYOUTS[card.layout].markers if drawn.get("hidden") else ()
        photo, whole = drawn_photo(card, rng, hide=hide, harm=drawn.get("harm", "none"))
        own = set(LAYOUTS[card.layout].markers)
        shown = any(one.number in own for one in find_markers(photo))
        due = whole and (shown or bool(drawn.get("hidden")))
        counts["due"] += due
        codes = {one.code for one in find_cards(photo)} - {None}
        counts["misread"] += bool(codes - {card})
        counts["read"] += due and card in codes
        if due and card not in codes:
            unread.append(f"{card.text} ({number})")
    return counts, unread


def main():
    """Print a table, or write it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--photos", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    few = max(asked.photos // 5, 1)
    rows = [
        ("sharp, a marker in sight", asked.photos, {}),
        ("blurred by 1 px", few, {"harm": "blur"}),
        ("noise of 15 grey levels", few, {"harm": "noise"}),
        ("JPEG of quality 25", few, {"harm": "jpeg"}),
        ("markers covered", few, {"hidden": True}),
    ]
    said = (
        f"`python tests/benchmarks/card_codes.py --photos {asked.photos} "
        f"--seed {asked.seed}`: random marks, numbers, layouts and places; tilts to "
        f"{MOST_TILT_DEG:.0f} degrees, any roll, {NEAR_FAR_MM[0]:.0f} to "
        f"{NEAR_FAR_MM[1]:.0f} mm away. Target: no sharp photo with a marker in sight "
        "unread, none misread."
    )
    lines = ["# Codes of cards in drawn photos", "", said, ""]
    lines.append("| Photos | tried | whole code, in sight | read | unread | misread |")
    lines.append("|---|---|---|---|---|---|")
    left = []
    for name, photos, drawn in rows:
        counts, unread = tried(photos, asked.seed, **drawn)
        lines.append(
            f"| {name} | {photos} | {counts['due']} | {counts['read']} "
            f"| {len(unread)} | {counts['misread']} |"
        )
        left += [f"- unread, {name}: {text}" for text in unread]
    text = "\n".join([*lines, "", *left]).rstrip() + "\n"
    sys.stdout.write(text)
    if asked.out:
        asked.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
