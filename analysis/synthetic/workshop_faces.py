"""Drawn photos of the invented workshop's pieces."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.synthetic.face import draw_face, encode_pixels
from analysis.synthetic.recipe import FaceRecipe, Joint, PitPopulation
from analysis.synthetic.scene import BUFF, GREY, Camera, Lamp, Surface

WIDTH_PX, HEIGHT_PX, MM_PER_PX = 900, 600, 0.2
MARGIN_PX = 6
LEAK_SHARE = 0.35  # of the voids of an open joint's face
QUALITY = 88
JOINT_AT = 0.6  # of the width
_MEDIAN_MM, _SPREAD, _LARGEST_MM = 1.7, 0.4, 6.0
# Mean opening of such pits, with the irregularity drawn: found from 40 drawn faces.
_MEAN_MM2 = 3.1
_LEAK_MM2 = 5.1
_BOWL_FROM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPhoto:
    """A photo and its marks. Points are (row, col) px.

    Attributes
    ----------
    jpeg : bytes
        The file.
    mm_per_px : float
        Its scale.
    outline_px, joint_px : tuple
        Face outline; joint line, empty where the form has none.
    """

    jpeg: bytes
    mm_per_px: float
    outline_px: tuple[tuple[float, float], ...]
    joint_px: tuple[tuple[float, float], ...]


def draw_piece(void_share: float, *, seed: int, joint: str | None = None) -> DrawnPhoto:
    """Draw the face of a piece with about this void share.

    Parameters
    ----------
    void_share : float
        Wanted, 0..1.
    seed : int
        Of the face.
    joint : str, optional
        ``"sealed"`` or ``"open"``; without one no joint met the face.

    Examples
    --------
    >>> draw_piece(0.01, seed=3).jpeg[:2] == bytes([0xFF, 0xD8])
    True
    """
    col_mm = JOINT_AT * WIDTH_PX * MM_PER_PX
    height_mm = (HEIGHT_PX - 1) * MM_PER_PX
    leaks = joint == "open"
    leak_share = LEAK_SHARE * void_share if leaks else 0.0
    area_m2 = WIDTH_PX * HEIGHT_PX * MM_PER_PX**2 / 1e6
    leaked = Joint(
        start_mm=(0.0, col_mm),
        end_mm=(height_mm, col_mm),
        fin_height_mm=0.5 if leaks else 0.15,
        leak_width_mm=9.0 if leaks else 0.0,
        leak_pits_per_m=leak_share * area_m2 * 1e6 / _LEAK_MM2 / (height_mm / 1000),
        gap_mm=0.3 if leaks else 0.0,
    )
    recipe = FaceRecipe(
        height_px=HEIGHT_PX,
        width_px=WIDTH_PX,
        mm_per_px=MM_PER_PX,
        pits=(
            PitPopulation(
                per_m2=(void_share - leak_share) * 1e6 / _MEAN_MM2,
                median_mm=_MEDIAN_MM,
                spread=_SPREAD,
                smallest_mm=0.8,
                largest_mm=_LARGEST_MM,
            ),
        ),
        joints=() if joint is None else (leaked,),
        lamp=Lamp(azimuth_deg=215, elevation_deg=45),
        surface=Surface(reflectance=BUFF if void_share > _BOWL_FROM else GREY),
        camera=Camera(),
    )
    face = draw_face(recipe, seed=seed)
    low, bottom, right = MARGIN_PX, HEIGHT_PX - MARGIN_PX, WIDTH_PX - MARGIN_PX
    col = col_mm / MM_PER_PX
    return DrawnPhoto(
        jpeg=encode_pixels(face.pixels, "JPEG", quality=QUALITY),
        mm_per_px=MM_PER_PX,
        outline_px=((low, low), (low, right), (bottom, right), (bottom, low)),
        joint_px=() if joint is None else ((0.0, col), (HEIGHT_PX - 1.0, col)),
    )
