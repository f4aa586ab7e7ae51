"""The trade's words a maker picks from. Vocabularies grow; the fixed lists do not.

Everywhere None is 'not known', `NONE` is 'there was none' and `NOT_APPLICABLE` is 'the
question does not arise': three different things. A number is None when not known; the
word beside it (method, consistency) says whether there was none.
"""

from __future__ import annotations

from types import MappingProxyType

NONE = "none"
NOT_APPLICABLE = "not applicable"
MIXED = "mixed"
# Between the steps of a sequence: "rodding then table" is a way of its own.
THEN = " then "
# By hand there are strokes; seconds of strokes say little.
HAND_METHODS = frozenset({"rodding", "rod", "tapping", "tilting", "mallet", "spading"})
# How the joints of a piece were, all together.
SEALINGS = ("sealed", "open", MIXED, "no joints", "not recorded")
RESERVED = (NONE, NOT_APPLICABLE, MIXED)

STAGES = ("as_struck", "brushed", "ground", "polished", "filled", "surface_sealed")
PURPOSES = ("representative", "worst_spot", "show", "relief")
SURFACE_STATES = ("dry", "damp", "wet")
CERTAINTIES = ("measured", "guessed")
MIX_BASES = ("by_mass", "by_volume", "per_bag", "by_feel")
MIX_PARTS = ("cement", "aggregate", "admixture", "fibre", "pigment")
# What the face of a form is like; flutes, ribs and waves alike are ribbed, whatever is
# none of the others is free.
RIBBED = "ribbed"
FACE_KINDS = ("flat", "round", RIBBED, "faceted", "free")
OUTCOMES = ("first_quality", "second", "patched", "scrapped")
# What is done to a form between castings, or what happened to it.
CARES = (
    "cleaned",
    "waxed",
    "joint_re_sealed",
    "edge_repaired",
    "new_liner",
    "refinished",
    "storage_damage",
    "retired",
)

_FIXED = frozenset(
    {*STAGES, *PURPOSES, *SURFACE_STATES, *CERTAINTIES, *MIX_BASES, *MIX_PARTS}
    | {*OUTCOMES, *CARES}
)

# Marks of too much vibration: bleeding and segregation (ACI 309.2R, digest; common
# practice).
OVER_VIBRATION = frozenset({"bleed streaks", "paste-rich top", "stones sunk"})

# The mark by which the eye confirms a rough patch of a photo.
HONEYCOMB = "honeycomb"

# Words offered before the maker has added any; common practice.
VOCABULARIES = MappingProxyType(
    {
        "form_type": ("pot", "trough", "bench leg", "panel"),
        "face_material": (
            "coated plywood",
            "plastic sheet",
            "steel",
            "fibreglass",
            "rubber",
            "silicone rubber",
        ),
        "gloss": ("matt", "satin", "gloss"),
        "texture": ("smooth", "fine", "coarse", "relief"),
        "storage": ("indoors", "under cover", "outdoors"),
        "release_agent": ("oil", "water-based release", "wax"),
        "release_application": ("sprayed", "brushed on", "wiped on", "wiped off"),
        "joint_sealing": ("tape", "silicone", "foam strip"),
        "leak": ("slight", "strong"),
        "vibration_method": (
            "rodding",
            "tapping",
            "tilting",
            "table",
            "poker",
            "external vibrator",
        ),
        "tool": ("steel rod", "rubber mallet", "vibrating table", "poker 25 mm"),
        "applied_to": ("in the mix", "form sides", "table top", "corners"),
        "stop_rule": ("set time", "bubbles stopped", "paste risen"),
        "consistency": ("stiff", "plastic", "soft", "flowing"),
        "casting_process": ("wet cast", "self-compacting", "sprayed", "hand pressed"),
        "orientation": ("face down", "face up", "on edge", "upside down"),
        "curing": ("in the form", "plastic film", "wet cloth", "tarpaulin"),
        "set_up": ("light table", "yard in the shade", "lamp from the left"),
        "mark": (
            "leak streaks",
            "bleed streaks",
            "paste-rich top",
            "stones sunk",
            "layer line",
            "settlement cracks",
            HONEYCOMB,
            "torn arris",
            "torn skin",
            "hard to strike",
            "soft skin",
            "dirt marks",
        ),
        "filler": ("cement slurry", "epoxy"),
        "cement": ("grey cement", "white cement"),
        "aggregate": ("sand", "fine gravel"),
        "admixture": ("plasticiser", "defoamer", "retarder"),
        "fibre": ("glass fibre", "polypropylene fibre"),
        "pigment": ("iron oxide", "carbon black"),
    }
)


def spoken(word: str) -> str:
    """Write a word of a fixed list as it is said; a maker's own words stay.

    Examples
    --------
    >>> spoken("as_struck"), spoken("C25_own")
    ('as struck', 'C25_own')
    """
    return word.replace("_", " ") if word in _FIXED else word
