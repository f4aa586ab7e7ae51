"""Doubts a result carries: a word for machines, a sentence and a cure for people."""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType


class Flag(StrEnum):
    """A doubt about a reading or a void.

    Examples
    --------
    >>> str(Flag.BLURRED)
    'blurred'
    """

    # light
    GRAZING_LIGHT = "grazing_light"
    FLAT_LIGHT = "flat_light"
    UNEVEN_LIGHT = "uneven_light"
    TOO_DARK = "too_dark"
    CLIPPED_DARK = "clipped_dark"
    CLIPPED_BRIGHT = "clipped_bright"
    # photo and face
    BLURRED = "blurred"
    NOISY = "noisy"
    NO_SCALE = "no_scale"
    LOW_RESOLUTION = "low_resolution"
    WHOLE_PHOTO = "whole_photo"
    SMALL_FACE = "small_face"
    # result
    NOTHING_FOUND = "nothing_found"
    UNRELIABLE_FINISH = "unreliable_finish"
    DAMP_LOOKING = "damp_looking"
    HONEYCOMB_PRESENT = "honeycomb_present"
    # one void
    TOUCHES_EDGE = "touches_edge"
    SPLIT = "split"
    NEAR_LIMIT = "near_limit"
    SHALLOW = "shallow"
    LIT_INSIDE = "lit_inside"
    BY_HAND = "by_hand"


LIGHT_FLAGS = frozenset(
    {
        Flag.GRAZING_LIGHT,
        Flag.FLAT_LIGHT,
        Flag.UNEVEN_LIGHT,
        Flag.TOO_DARK,
        Flag.CLIPPED_DARK,
        Flag.CLIPPED_BRIGHT,
    }
)

# What it means, then what to do.
FLAG_WORDS = MappingProxyType(
    {
        Flag.GRAZING_LIGHT: (
            "The light grazes the face and makes every ripple look deep.",
            "Let the light come from one side, about half way up.",
        ),
        Flag.FLAT_LIGHT: (
            "The light is too flat to tell a dark grain from a pit.",
            "Let the light come from one side and photograph again.",
        ),
        Flag.UNEVEN_LIGHT: (
            "One part of the face is much darker than another.",
            "Move out of the shadow, or outline the evenly lit part only.",
        ),
        Flag.TOO_DARK: (
            "The photo is very dark.",
            "Give more light or a longer exposure.",
        ),
        Flag.CLIPPED_DARK: (
            "Parts of the face are pure black, so edges there are lost.",
            "Expose a little brighter.",
        ),
        Flag.CLIPPED_BRIGHT: (
            "Parts of the face are pure white: glare or over-exposure.",
            "Move the lamp or expose a little darker.",
        ),
        Flag.BLURRED: (
            "The photo is soft; small voids and edges are less sure.",
            "Hold still, tap to focus on the face, photograph again.",
        ),
        Flag.NOISY: (
            "The photo is grainy; small voids are less sure.",
            "Give more light, or rest the phone on something.",
        ),
        Flag.NO_SCALE: (
            "There is no scale, so nothing can be given in mm.",
            "Mark two points on a ruler in the photo and type their distance.",
        ),
        Flag.LOW_RESOLUTION: (
            "The photo shows too few pixels per mm for the smallest voids.",
            "Go closer, or photograph the face in parts.",
        ),
        Flag.WHOLE_PHOTO: (
            "No outline was drawn: the whole photo was taken as the face.",
            "Outline the face if anything else is in the photo.",
        ),
        Flag.SMALL_FACE: (
            "The face measured is small, so one more void would change much.",
            "Measure a larger part, or several parts of the piece.",
        ),
        Flag.NOTHING_FOUND: (
            "No void at or above the smallest counted size was found.",
            "The upper bound says how much could still hide below that size.",
        ),
        Flag.UNRELIABLE_FINISH: (
            "A photo cannot tell voids from this finish (stone, speckle, grain).",
            "Count by eye, or review every void by hand.",
        ),
        Flag.DAMP_LOOKING: (
            "The face looks damp: broad soft dark patches.",
            "Let it dry and photograph again before comparing.",
        ),
        Flag.HONEYCOMB_PRESENT: (
            "There is a honeycomb patch; its own extent is given beside the voids.",
            "Look for a leaking joint or mix that did not reach this place.",
        ),
        Flag.TOUCHES_EDGE: (
            "This void is cut by the edge of the measured area.",
            "Only its part inside is counted.",
        ),
        Flag.SPLIT: (
            "This void was parted from one it touches.",
            "Check the line between them.",
        ),
        Flag.NEAR_LIMIT: (
            "This void is close to the smallest counted size.",
            "Another photo may put it on the other side of the limit.",
        ),
        Flag.SHALLOW: (
            "This void is shallow or faint.",
            "Check that it is a void and not a mark.",
        ),
        Flag.LIT_INSIDE: (
            "The floor of this void is lit, so its rim was found from both sides.",
            "Check its outline.",
        ),
        Flag.BY_HAND: (
            "A person decided about this one.",
            "The automatic reading is kept beside the review.",
        ),
    }
)
