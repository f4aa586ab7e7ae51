"""Draws faces whose truth is known."""

from analysis.synthetic.face import DrawnFace, draw_face, encode, encode_pixels
from analysis.synthetic.recipe import FaceRecipe, Honeycomb, Joint, Pit, PitPopulation
from analysis.synthetic.scene import (
    BLACK,
    BUFF,
    GREY,
    TERRACOTTA,
    WHITE,
    Aggregate,
    Camera,
    Lamp,
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
