"""Draws the sample photos: ``python -m analysis.synthetic.samples OUTDIR``.

Each is a face with a strip of bench and a ruler beside it, as a maker would take
it, with its truth written to MANIFEST.toml.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.synthetic.face import draw_face, encode_pixels
from analysis.synthetic.filters import softened
from analysis.synthetic.recipe import FaceRecipe
from analysis.synthetic.sample_set import (
    FACE_HEIGHT_PX,
    FACE_WIDTH_PX,
    samples,
)
from analysis.synthetic.scene import Surface

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.synthetic.face import DrawnFace
    from analysis.synthetic.recipe import Joint
    from analysis.synthetic.sample_set import Sample

WIDTH_PX, HEIGHT_PX = 1600, 1200
FACE_TOP_PX, FACE_LEFT_PX = 60, 80
RULER_TOP_PX, RULER_HEIGHT_PX = 1070, 90
RULER_LEFT_PX, RULER_ROOM_PX = 120, 1300
RULER_LONG_MM, RULER_SHORT_MM = 200.0, 150.0
INK = (25, 25, 28)
QUALITY = 90
CONTACT_SHADOW, CONTACT_SOFTNESS_PX = 0.75, 9.0
BENCH_SEED = 77
USAGE_CODE = 2


def outline_xy() -> list[list[int]]:
    """Return the face outline in the photo as x, y in px, clockwise.

    Examples
    --------
    >>> outline_xy()[0]
    [80, 60]
    """
    right, bottom = FACE_LEFT_PX + FACE_WIDTH_PX - 1, FACE_TOP_PX + FACE_HEIGHT_PX - 1
    return [
        [FACE_LEFT_PX, FACE_TOP_PX],
        [right, FACE_TOP_PX],
        [right, bottom],
        [FACE_LEFT_PX, bottom],
    ]


def ruler(mm_per_px: float) -> tuple[list[list[int]], float]:
    """Return the two scale marks as x, y in px and their distance in mm.

    Examples
    --------
    >>> ruler(0.2)
    ([[160, 1080], [1160, 1080]], 200.0)
    """
    long_fits = RULER_LONG_MM / mm_per_px <= RULER_ROOM_PX
    distance_mm = RULER_LONG_MM if long_fits else RULER_SHORT_MM
    left = RULER_LEFT_PX + 40
    y = RULER_TOP_PX + 10
    return [[left, y], [round(left + distance_mm / mm_per_px), y]], distance_mm


def draw_sample(sample: Sample) -> tuple[NDArray[np.uint8], DrawnFace]:
    """Return the photo with bench and ruler, and the face on it with its truth."""
    face = draw_face(sample.recipe, seed=sample.seed)
    scale = sample.recipe.mm_per_px
    bench = FaceRecipe(
        height_px=HEIGHT_PX,
        width_px=WIDTH_PX,
        mm_per_px=scale,
        surface=Surface(
            reflectance=(0.16, 0.105, 0.065), board_contrast=0.12, board_mm=4.0
        ),
        supersample=1,
    )
    photo = np.array(draw_face(bench, seed=BENCH_SEED).pixels)
    _draw_ruler(photo, scale)
    rows = slice(FACE_TOP_PX, FACE_TOP_PX + FACE_HEIGHT_PX)
    cols = slice(FACE_LEFT_PX, FACE_LEFT_PX + FACE_WIDTH_PX)
    under = np.zeros(photo.shape[:2], np.float32)
    under[rows, cols] = CONTACT_SHADOW
    shade = 1 - softened(under, CONTACT_SOFTNESS_PX)
    photo = np.rint(photo * shade[..., None]).astype(np.uint8)
    photo[rows, cols] = face.pixels
    return photo, face


def _draw_ruler(photo: NDArray[np.uint8], mm_per_px: float) -> None:
    """Draw a steel ruler with mm, 5 mm and 10 mm ticks and its two long marks."""
    (start, end), distance_mm = ruler(mm_per_px)
    top, bottom = RULER_TOP_PX, RULER_TOP_PX + RULER_HEIGHT_PX
    right = end[0] + 40
    photo[top:bottom, RULER_LEFT_PX:right] = (205, 207, 208)
    photo[top : top + 1, RULER_LEFT_PX:right] = (240, 240, 240)
    for mm in range(int(distance_mm) + 1):
        x = start[0] + mm / mm_per_px
        long = {0: 34, 5: 25}.get(mm % 10, 17)
        _tick(photo, x, top + 2, top + 2 + long, 1.4)
        if mm % 50 == 0:
            _number(photo, mm, x, bottom - 18)
    for x, _ in (start, end):
        _tick(photo, x, top + 2, top + 44, 3.0)


def _number(photo: NDArray[np.uint8], value: int, x: float, y: int) -> None:
    font, size, weight = cv2.FONT_HERSHEY_SIMPLEX, 0.75, 2
    (width, _), _ = cv2.getTextSize(str(value), font, size, weight)
    at = (round(x - width / 2), y)
    cv2.putText(photo, str(value), at, font, size, INK, weight, cv2.LINE_AA)


def _tick(
    photo: NDArray[np.uint8], x: float, top: int, bottom: int, width_px: float
) -> None:
    """Draw an upright line centred on x (px centres at whole numbers), sub-pixel."""
    first = int(np.floor(x - width_px))
    cols = np.arange(first, first + int(2 * width_px) + 3)
    # Share of each px that the line, wider than one, covers.
    cover = np.clip(width_px / 2 + 0.5 - np.abs(cols - x), 0, 1)[None, :, None]
    part = photo[top:bottom, cols[0] : cols[-1] + 1]
    part[:] = np.rint(part * (1 - cover) + 25 * cover).astype(np.uint8)


def _joint_xy(joint: Joint, mm_per_px: float) -> list[list[int]]:
    return [
        [
            round(FACE_LEFT_PX + col_mm / mm_per_px),
            round(FACE_TOP_PX + row_mm / mm_per_px),
        ]
        for row_mm, col_mm in (joint.start_mm, joint.end_mm)
    ]


def entry(sample: Sample, face: DrawnFace) -> dict[str, object]:
    """Return what the manifest says of a sample."""
    smallest = face.smallest_counted_mm
    scale = sample.recipe.mm_per_px
    marks, distance_mm = ruler(scale)
    return {
        "file": sample.file,
        "title": sample.title,
        "form_type": sample.form_type,
        "joint_sealing": sample.joint_sealing,
        "vibration_method": sample.vibration_method,
        "vibration_s": sample.vibration_s,
        "stage": sample.stage,
        "mm_per_px": scale,
        "outline_xy": outline_xy(),
        "ruler_xy": marks,
        "ruler_mm": distance_mm,
        "joint_xy": [_joint_xy(joint, scale) for joint in sample.recipe.joints],
        "smallest_counted_mm": round(smallest, 4),
        "void_area_percent": round(100 * face.share_of(smallest), 4),
        "void_area_percent_all": round(100 * face.true_void_share, 4),
        "void_count": face.count_of(smallest),
        "void_count_all": face.count_of(),
        "honeycomb_percent": round(100 * float(face.honeycomb.mean()), 3),
        "seed": sample.seed,
        "made": (
            "Drawn, not photographed: height field lit by lamp and sky, JPEG quality "
            f"{QUALITY}, by python -m analysis.synthetic.samples."
        ),
    }


def _toml(value: object) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    return str(value)


def manifest(entries: list[dict[str, object]]) -> str:
    """Return MANIFEST.toml: truth of the face outline, percent of its area.

    Examples
    --------
    >>> print(manifest([{"file": "a.jpg", "seed": 1}]).splitlines()[-2])
    file = "a.jpg"
    """
    lines = [
        "# Drawn faces of an invented workshop. Truth is the opening of each pit in",
        "# the face plane, inside outline_xy (x to the right, y down, px).",
        "# void_area_percent and void_count are of voids of smallest_counted_mm and",
        "# more; the _all figures are of every void drawn. Touching voids count",
        "# one by one.",
    ]
    for item in entries:
        lines += ["", "[[sample]]", *(f"{key} = {_toml(v)}" for key, v in item.items())]
    return "\n".join(lines) + "\n"


def write_samples(folder: Path) -> list[Path]:
    """Draw all samples into `folder` and return the files written."""
    folder.mkdir(parents=True, exist_ok=True)
    written, entries = [], []
    for sample in samples():
        photo, face = draw_sample(sample)
        path = folder / sample.file
        path.write_bytes(encode_pixels(photo, "JPEG", quality=QUALITY))
        entries.append(entry(sample, face))
        written.append(path)
    listing = folder / "MANIFEST.toml"
    listing.write_text(manifest(entries), encoding="utf-8")
    return [*written, listing]


def main(argv: list[str]) -> int:
    """Write the samples into the folder named; 0 when done, 2 for a bad request.

    Examples
    --------
    >>> main([])
    2
    """
    if len(argv) != 1:
        sys.stderr.write("Name one folder for the sample photos.\n")
        return USAGE_CODE
    for path in write_samples(Path(argv[0])):
        sys.stdout.write(f"{path.name}  {path.stat().st_size / 1024:.0f} kB\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
