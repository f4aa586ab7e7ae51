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
    GLARE = "glare"
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
    DAMAGED = "damaged"
    PARTLY_PAIRED = "partly_paired"
    # result
    NOTHING_FOUND = "nothing_found"
    UNRELIABLE_FINISH = "unreliable_finish"
    DAMP_LOOKING = "damp_looking"
    HONEYCOMB_PRESENT = "honeycomb_present"
    BY_DARKNESS = "by_darkness"
    FLUTES_FOUND = "flutes_found"
    FLUTES_NOT_FOUND = "flutes_not_found"
    SLOPES_NOT_CORRECTED = "slopes_not_corrected"
    FACETS_NOT_LEVELLED = "facets_not_levelled"
    # one void
    TOUCHES_EDGE = "touches_edge"
    SPLIT = "split"
    NEAR_LIMIT = "near_limit"
    SHALLOW = "shallow"
    LIT_INSIDE = "lit_inside"
    BY_HAND = "by_hand"


# What the photo says of its light without looking at the voids: these tell whether two
# photos were taken alike. Flat and grazing light show in the voids only, and a face
# with fewer voids must not pass for one in another light.
LIGHT_FLAGS = frozenset(
    {
        Flag.UNEVEN_LIGHT,
        Flag.GLARE,
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
            "Light it from one side, about half way up.",
        ),
        Flag.FLAT_LIGHT: (
            "The light is too flat to tell a dark grain from a pit.",
            "Light it from one side and take the photo again.",
        ),
        Flag.UNEVEN_LIGHT: (
            "One part of the face is much darker than another.",
            "Move out of the shadow, or outline the evenly lit part only.",
        ),
        Flag.GLARE: (
            "The lamp mirrors on the face; rims of voids in the shine are not sure.",
            "Move the lamp or the phone until the shine is gone.",
        ),
        Flag.TOO_DARK: (
            "The photo is very dark.",
            "Use more light or a longer exposure.",
        ),
        Flag.CLIPPED_DARK: (
            "Parts of the face are pure black, so edges there are lost.",
            "Take it a little brighter.",
        ),
        Flag.CLIPPED_BRIGHT: (
            "Parts of the face are pure white: glare or over-exposure.",
            "Move the lamp, or take it a little darker.",
        ),
        Flag.BLURRED: (
            "The photo is not sharp, so small voids and edges are less sure.",
            "Hold still, tap the face to focus, and take it again.",
        ),
        Flag.NOISY: (
            "The photo is grainy, so small voids are less sure.",
            "Use more light, or rest the phone on something.",
        ),
        Flag.NO_SCALE: (
            "There is no scale, so there is nothing in mm.",
            "Mark two points on a ruler in the photo and type how far apart they are.",
        ),
        Flag.LOW_RESOLUTION: (
            "The photo was taken from too far away to show the smallest voids.",
            "Go closer, or take the face in several photos.",
        ),
        Flag.WHOLE_PHOTO: (
            "No outline was drawn, so the whole photo counts as face.",
            "Outline the face if anything else is in the photo.",
        ),
        Flag.SMALL_FACE: (
            "The face is small: one void more or less would change the figure a lot.",
            "Measure a larger part, or several parts of the piece.",
        ),
        Flag.DAMAGED: (
            "The file looks damaged: parts of the picture are not as they were.",
            "Copy the photo again, or photograph again.",
        ),
        Flag.PARTLY_PAIRED: (
            "The second photo shows a part of the face only; that part was measured.",
            "Photograph from one place, so that both photos show the whole face.",
        ),
        Flag.NOTHING_FOUND: (
            "No void of the smallest counted size or larger was found.",
            "The upper figure says how much could still be hiding below that size.",
        ),
        Flag.UNRELIABLE_FINISH: (
            "A photo cannot tell voids from this finish (stone, speckle, board grain).",
            "Take a second photo lit from the other side, or count by eye.",
        ),
        Flag.DAMP_LOOKING: (
            "The face looks damp: it has broad, soft, dark patches.",
            "Let it dry and take the photo again before you compare.",
        ),
        Flag.HONEYCOMB_PRESENT: (
            "There is a rough patch that looks like honeycomb; its size is given too.",
            "Look whether a joint leaked or mix did not reach the spot.",
        ),
        Flag.BY_DARKNESS: (
            "The part of the program that draws whole openings could not be loaded.",
            "Lit floors may be left out: compare with readings made the same way only.",
        ),
        Flag.FLUTES_FOUND: (
            "The photo shows flutes or ribs, and the light was levelled along them.",
            "If the face is flat, give its kind as flat and measure again.",
        ),
        Flag.FLUTES_NOT_FOUND: (
            "The face is ribbed, but no flutes show; it was measured as a flat one.",
            "Light it from across the flutes, or give their pitch.",
        ),
        Flag.SLOPES_NOT_CORRECTED: (
            "The slopes of this face were not corrected, so its figures are less sure.",
            "Give pitch and depth of flutes; unroll a round piece by its edges.",
        ),
        Flag.FACETS_NOT_LEVELLED: (
            "The light was not levelled facet by facet, so edges may pass for voids.",
            "Outline one facet and measure it as a flat face.",
        ),
        Flag.TOUCHES_EDGE: (
            "This void is cut by the edge of the area measured.",
            "Only the part inside is counted.",
        ),
        Flag.SPLIT: (
            "This void was cut apart from one it touches.",
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
            "The bottom of this void is lit, so its rim was found from both sides.",
            "Check its outline.",
        ),
        Flag.BY_HAND: (
            "A person decided on this one.",
            "The automatic reading is kept beside the review.",
        ),
    }
)
