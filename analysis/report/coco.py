"""Voids and faces as annotations in the COCO layout, which many tools read.

Layout: cocodataset.org, "Data format", object detection. Its x and y count from the
picture's upper left corner, so the centre of the first pixel is (0.5, 0.5).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.viewing import to_photo

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from analysis.model.reading import Reading

TURNED_DOWN = "turned down"
CATEGORIES = ("void", "honeycomb", "face", "left-out area", TURNED_DOWN)
_HALF_PX = 0.5
_DECIMALS = 2
_CORNERS = 16
_MOST_WIDENED = 4.0


def coco_annotations(
    named: Sequence[tuple[str, Reading]], *, turned_down: bool = False
) -> dict[str, object]:
    """Lay out readings as one annotation file.

    Parameters
    ----------
    named : sequence of (str, Reading)
        File name of the photo, and its reading.
    turned_down : bool
        Whether what a person turned down is told too, as a category of its own with
        the reason.

    Returns
    -------
    dict
        Ready for JSON. All outlines lie on the photo itself, also where a straightened
        or unrolled view of it was measured. ``area`` is the measured area in px²,
        sub-pixel, of a view that of its outline on the photo; sizes in mm stand under
        ``attributes`` where the scale is known.

    Examples
    --------
    >>> sorted(coco_annotations([]))
    ['annotations', 'categories', 'images']
    """
    images: list[dict[str, object]] = []
    annotations: list[dict[str, object]] = []
    names = _file_names(named)
    for image_id, (_, reading) in enumerate(named, start=1):
        scale = reading.scale
        images.append(
            {
                "id": image_id,
                "file_name": names[image_id - 1],
                "width": reading.photo_px[1],
                "height": reading.photo_px[0],
                "sha256": reading.photo_sha256,
                "mm_per_px": None if scale is None else scale.mm_per_px,
                "method_version": reading.method_version,
            }
        )
        spots = [*_of_reading(reading)]
        spots += _turned_down(reading) if turned_down else []
        for one in spots:
            annotations.append(
                {"id": len(annotations) + 1, "image_id": image_id, "iscrowd": 0, **one}
            )
    categories = [
        {"id": number, "name": name, "supercategory": "surface"}
        for number, name in enumerate(CATEGORIES, start=1)
        if turned_down or name != TURNED_DOWN
    ]
    return {"images": images, "categories": categories, "annotations": annotations}


def _file_names(named: Sequence[tuple[str, Reading]]) -> list[str]:
    """Return a name for each photo that leads to no other folder and to no other photo.

    Examples
    --------
    >>> _file_names([])
    []
    """
    plain = []
    for name, reading in named:
        last = re.split(r"[/\\\\]", name)[-1]
        shown = "".join(sign for sign in last if sign.isprintable()).strip(" .")
        plain.append((shown or "photo", reading.photo_sha256))
    photos: dict[str, set[str]] = {}
    for shown, sha256 in plain:
        photos.setdefault(shown.casefold(), set()).add(sha256)
    return [
        shown if len(photos[shown.casefold()]) == 1 else f"{sha256[:12]}_{shown}"
        for shown, sha256 in plain
    ]


def _of_reading(reading: Reading) -> Iterator[dict[str, object]]:
    voids = reading.voids
    scale = None if reading.scale is None else reading.scale.mm_per_px
    for at, outline in enumerate(voids.outline_px):
        area = float(voids.area_px[at])
        centre = np.array([voids.row_px[at], voids.col_px[at]])
        wide = _of_area(outline, centre, area)
        if reading.face.view is not None:
            wide = to_photo(reading.face.view, wide)
            area = polygon_area(wide)
        found = _annotation("void", [wide], area)
        found["attributes"] = {
            "kind": str(voids.kind[at]),
            "area_mm2": _times(voids.area_px[at], scale, 2),
            "feret_max_mm": _times(voids.feret_max_px[at], scale, 1),
        }
        yield found
    face = reading.face
    lines = (
        ("honeycomb", reading.honeycomb_px),
        ("face", () if face.outline_px is None else (face.outline_px,)),
        ("left-out area", face.left_out_px),
    )
    for name, outlines in lines:
        for seen in outlines:
            outline = to_photo(face.view, seen)
            yield _annotation(name, [outline], polygon_area(outline))


def _turned_down(reading: Reading) -> Iterator[dict[str, object]]:
    """Tell the spots that a person turned down, but none that was only drawn anew."""
    spots = reading.rejected
    for at, outline in enumerate(spots.outline_px):
        reason = spots.reason[at]
        if not reason.startswith("by hand: ") or reason == "by hand: drawn anew":
            continue
        if len(outline) < 3:  # noqa: PLR2004  a polygon
            continue
        wide = to_photo(reading.face.view, outline)
        found = _annotation(TURNED_DOWN, [wide], polygon_area(wide))
        found["attributes"] = {"reason": reason.removeprefix("by hand: ")}
        yield found


def polygon_area(outline_px: NDArray[np.float64]) -> float:
    """Return the area inside a closed outline, px².

    Parameters
    ----------
    outline_px : ndarray of float64, (n, 2)

    Examples
    --------
    >>> polygon_area(np.array([[0.0, 0.0], [0.0, 4.0], [2.0, 4.0], [2.0, 0.0]]))
    8.0
    """
    # The shoelace formula.
    row, col = outline_px.T
    return abs(float(row @ np.roll(col, 1) - col @ np.roll(row, 1))) / 2


def _of_area(
    outline_px: NDArray[np.float64], centre_px: NDArray[np.float64], area: float
) -> NDArray[np.float64]:
    """Widen an outline, which runs through the outermost pixels, to the area measured.

    Where it is no more than a line, a circle stands for it.
    """
    inside = polygon_area(outline_px) if len(outline_px) > 2 else 0.0  # noqa: PLR2004
    if inside < area / _MOST_WIDENED:
        turn = np.linspace(0, 2 * np.pi, _CORNERS, endpoint=False)
        circle = np.column_stack([np.sin(turn), np.cos(turn)])
        area_of_unit = polygon_area(circle)
        return np.asarray(centre_px + circle * np.sqrt(area / area_of_unit))
    middle = outline_px.mean(axis=0)
    # Areas grow as the square of lengths.
    return np.asarray(middle + (outline_px - middle) * np.sqrt(area / inside))


def _annotation(
    name: str, outlines: Iterable[NDArray[np.float64]], area: float
) -> dict[str, object]:
    xy = [np.round(line[:, ::-1] + _HALF_PX, _DECIMALS) for line in outlines]
    low = np.min([line.min(axis=0) for line in xy], axis=0)
    size = np.max([line.max(axis=0) for line in xy], axis=0) - low
    return {
        "category_id": CATEGORIES.index(name) + 1,
        "segmentation": [line.reshape(-1).tolist() for line in xy],
        "area": area,
        "bbox": np.round([*low, *size], _DECIMALS).tolist(),
    }


def _times(value: float, scale: float | None, power: int) -> float | None:
    return None if scale is None else float(value) * scale**power
