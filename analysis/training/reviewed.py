"""Reviewed photographs that somebody handed over, as pictures and masks.

Read from the zip that the product makes on the page 'Second opinion'. Only what was
agreed to is read: a file without a consent in it is refused.
"""

from __future__ import annotations

import json
import zipfile
from typing import TYPE_CHECKING, Any, NamedTuple

import cv2
import numpy as np

from analysis.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray


class ReviewedPhoto(NamedTuple):
    """One photo with what a person decided.

    Attributes
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    voids, face, turned_down : ndarray of bool, (rows, cols)
        Px of voids; measured px (all of them where no outline was drawn, without the
        left-out areas); px of what a person said is no void.
    mm_per_px : float or None
    whole_face_seen : bool
        Only then does the rest of the face hold no void for sure.
    """

    pixels: NDArray[np.uint8]
    voids: NDArray[np.bool_]
    face: NDArray[np.bool_]
    turned_down: NDArray[np.bool_]
    mm_per_px: float | None
    whole_face_seen: bool


def reviewed_photos(path: Path) -> Iterator[ReviewedPhoto]:
    """Read a training set photo by photo.

    Parameters
    ----------
    path : Path
        The zip.

    Yields
    ------
    ReviewedPhoto

    Raises
    ------
    InputError
        No training set, or one without consent.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            if not {"CONSENT.txt", "annotations.json"} <= names:
                msg = f"{path} holds no consent and outlines: it is no training set."
                raise InputError(msg)
            coco = json.loads(archive.read("annotations.json"))
            category = {one["id"]: one["name"] for one in coco["categories"]}
            for image in coco["images"]:
                of_image = [
                    (category[one["category_id"]], one["segmentation"])
                    for one in coco["annotations"]
                    if one["image_id"] == image["id"]
                ]
                data = archive.read(f"images/{image['file_name']}")
                yield _photo(data, image, of_image)
    except zipfile.BadZipFile:
        msg = f"{path} is no zip: name the file as it was made."
        raise InputError(msg) from None


def _photo(
    data: bytes, image: dict[str, Any], outlines: list[tuple[str, list[list[float]]]]
) -> ReviewedPhoto:
    blue_first = None
    if data:
        blue_first = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    if blue_first is None:
        msg = f"The picture {image['file_name']} of the training set cannot be read."
        raise InputError(msg)
    pixels = np.asarray(blue_first[..., ::-1], dtype=np.uint8)
    masks = {
        name: np.zeros(pixels.shape[:2], np.uint8)
        for name in ("void", "face", "left-out area", "turned down")
    }
    for name, polygons in outlines:
        if name not in masks:
            continue
        for flat in polygons:
            # The layout's origin is the corner of the first px, OpenCV's its centre.
            xy = np.array(flat).reshape(-1, 2) - 0.5
            cv2.fillPoly(masks[name], [np.rint(xy).astype(np.int32)], 1)
    face = masks["face"] > 0 if masks["face"].any() else np.ones(pixels.shape[:2], bool)
    return ReviewedPhoto(
        pixels=np.ascontiguousarray(pixels),
        voids=masks["void"] > 0,
        face=face & (masks["left-out area"] == 0),
        turned_down=masks["turned down"] > 0,
        mm_per_px=image["mm_per_px"],
        whole_face_seen=bool(image.get("whole_face_seen", False)),
    )
