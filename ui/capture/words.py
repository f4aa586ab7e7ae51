"""Words of how to photograph a struck face."""

from __future__ import annotations

CAPTURE = "How to photograph a face"
# Drawing in ui/pictures, what to do, why or how.
STEPS = (
    (
        "photo_square",
        "Square on, and near",
        (
            "Half a metre of face or less across the photo. Farther away the small "
            "voids are lost."
        ),
    ),
    (
        "photo_light",
        "Light from one side",
        (
            "Half way round, in shade or from one lamp. No flash; light along the face "
            "turns every grain into a void."
        ),
    ),
    (
        "photo_dry",
        "Dry and brushed",
        (
            "Damp patches look like voids. Photograph before filling or grinding, and "
            "say so when you save."
        ),
    ),
    (
        "photo_sheet",
        "Something of known size",
        "The printed sheet, a card or a ruler, flat on the face and out of glare.",
    ),
    (
        "photo_overlap",
        "A large face in parts",
        "Let parts overlap a little, outline each only once, and keep one distance.",
    ),
    (
        "photo_areas",
        "Two ordinary areas or more",
        (
            "Areas of one piece can differ by classes. Photograph the worst spot too, "
            "as a photo of its own."
        ),
    ),
)
LAST = (
    "Tap to focus on the face. Send the photo as the phone took it: messengers shrink "
    "pictures."
)
