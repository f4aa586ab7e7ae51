"""Pictures with one dark dot, and files made of them."""

import io

import numpy as np
from PIL import Image

GREY, DARK = 160, 20
DOT_ROW, DOT_COL, DOT_RADIUS = 30, 40, 12
HEIGHT, WIDTH = 200, 300


def dotted(height=HEIGHT, width=WIDTH):
    """Grey picture with a dark dot near its top left, (rows, cols, 3)."""
    row, col = np.mgrid[:height, :width]
    pixels = np.full((height, width, 3), GREY, np.uint8)
    pixels[np.hypot(row - DOT_ROW, col - DOT_COL) < DOT_RADIUS] = DARK
    return pixels


def file_of(picture, file_format="PNG", **options):
    """Bytes of a file of a Pillow image or an array."""
    if isinstance(picture, np.ndarray):
        picture = Image.fromarray(picture)
    file = io.BytesIO()
    picture.save(file, file_format, **options)
    return file.getvalue()


def exif_of(**tags):
    """EXIF bytes: orientation, taken (0x9003) and zone (0x9011)."""
    exif = Image.Exif()
    if "orientation" in tags:
        exif[0x0112] = tags["orientation"]
    inner = exif.get_ifd(0x8769)
    if "taken" in tags:
        inner[0x9003] = tags["taken"]
    if "zone" in tags:
        inner[0x9011] = tags["zone"]
    return exif.tobytes()


def dot_centre(pixels):
    """(row, col) of the dark dot."""
    return np.argwhere(pixels[..., 0] < (GREY + DARK) / 2).mean(axis=0)
