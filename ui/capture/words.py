"""Words of how to photograph a struck face."""

from __future__ import annotations

CAPTURE = "How to photograph a face"
# Drawing in ui/pictures, what to do, why or how.
STEPS = (
    (
        "photo_square",
        "Square on, and near",
        (
            "No more than half a metre of face across the photo. From farther away the "
            "small voids are lost."
        ),
    ),
    (
        "photo_light",
        "Light from one side",
        (
            "From half way round, in the shade or from one lamp. No flash, and no "
            "light along the face: it turns every grain into a void."
        ),
    ),
    (
        "photo_dry",
        "Dry, dust blown off, not wire-brushed",
        (
            "Damp patches look like voids. Brushing opens voids: it is a stage of its "
            "own, told at saving, as filling and grinding are."
        ),
    ),
    (
        "photo_sheet",
        "Something of known size",
        "The printed sheet, a card or a ruler, flat on the face and not shining.",
    ),
    (
        "photo_overlap",
        "A large face in parts",
        "Stay at one distance, overlap the photos a little, outline each part once.",
    ),
    (
        "photo_areas",
        "Two ordinary areas or more",
        (
            "One piece can be good here and poor there. Take the worst spot too, as a "
            "photo of its own."
        ),
    ),
)
FACES_TITLE = "Faces that are not flat"
# What kind of face, and how it is photographed.
FACES = (
    (
        "Fluted or ribbed",
        (
            "Square on, the lamp along the flutes: across them, each throws a shadow "
            "that is read as void. One photo for each half metre."
        ),
    ),
    (
        "Faceted",
        (
            "One photo for each facet, square on to it, the outline at its arrises. "
            "Give each facet a name when you mark it."
        ),
    ),
    (
        "Round",
        (
            "Level with its middle, from four sides, a quarter turn each. Choose "
            "'Round piece' for the scale: the strip that faces the camera is rolled "
            "out flat."
        ),
    ),
    (
        "Inside of a piece",
        (
            "Phone and lamp at the rim, the lamp on the other side than the phone, a "
            "card on the wall that is photographed. Outline that wall only."
        ),
    ),
)
SAME_TITLE = "The same every time"
SAME = (
    "A mark on the floor for your feet and one for the lamp make the next photo like "
    "the last. At the scale you are told whether it is the same set-up, or what "
    "differs: distance, brightness or the light's side."
)
LAST = (
    "Tap the face to focus. Send the photo as the phone took it: messengers shrink "
    "pictures."
)
