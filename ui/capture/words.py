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
        "Dry and brushed",
        (
            "Damp patches look like voids. Take the photo before you fill or grind, or "
            "say at saving that you did."
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
LAST = (
    "Tap the face to focus. Send the photo as the phone took it: messengers shrink "
    "pictures."
)
