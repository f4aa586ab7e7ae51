"""Drawn faces as photos, and their measuring."""

import io

import numpy as np
from PIL import Image

from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.synthetic import FaceRecipe, PitPopulation, draw_face

MM_PER_PX = 0.15
HEIGHT, WIDTH = 300, 400
PITS = PitPopulation(
    per_m2=12_000,
    median_mm=2.0,
    spread=0.4,
    smallest_mm=1.2,
    largest_mm=5.0,
    touching_share=0.0,
)


def drawn(seed=4, **changes):
    """A face with some thirty pits, its truth with it."""
    usual = {
        "height_px": HEIGHT,
        "width_px": WIDTH,
        "mm_per_px": MM_PER_PX,
        "pits": (PITS,),
    }
    return draw_face(FaceRecipe(**(usual | changes)), seed=seed)


def photo_of(pixels, file_format="PNG", **options):
    picture = pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)
    file = io.BytesIO()
    picture.save(file, file_format, **options)
    return read_photo(file.getvalue())


def reading_of(
    pixels, *, mm_per_px=MM_PER_PX, smallest_mm=None, face=None, progress=None
):
    """Reading and mask of an array or a photo; `mm_per_px` None is without scale."""
    photo = photo_of(pixels) if isinstance(pixels, np.ndarray) else pixels
    return measure(
        photo,
        scale=None if mm_per_px is None else scale_typed(mm_per_px),
        face=face,
        settings=MeasureSettings(smallest_mm=smallest_mm),
        progress=progress,
    )


def percent_of(pixels, **options):
    reading, _ = reading_of(pixels, **options)
    return 100 * reading.summary.void_share.value


def box(top, left, height, width):
    """Outline along the outer edges of a block of pixels."""
    bottom, right = top + height - 0.5, left + width - 0.5
    top, left = top - 0.5, left - 0.5
    return np.array([[top, left], [top, right], [bottom, right], [bottom, left]])


def outlined(*block, **more):
    return Face(outline_px=box(*block), **more)
