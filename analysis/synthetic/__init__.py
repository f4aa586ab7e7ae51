"""Draws faces whose truth is known."""

from analysis.synthetic.face import DrawnFace, draw_face, encode, encode_pixels
from analysis.synthetic.recipe import (
    BLACK,
    BUFF,
    GREY,
    TERRACOTTA,
    WHITE,
    Aggregate,
    Camera,
    FaceRecipe,
    Honeycomb,
    Joint,
    Lamp,
    Pit,
    PitPopulation,
    Surface,
)

__all__ = [
    "BLACK",
    "BUFF",
    "GREY",
    "TERRACOTTA",
    "WHITE",
    "Aggregate",
    "Camera",
    "DrawnFace",
    "FaceRecipe",
    "Honeycomb",
    "Joint",
    "Lamp",
    "Pit",
    "PitPopulation",
    "Surface",
    "draw_face",
    "encode",
    "encode_pixels",
]
