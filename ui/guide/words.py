"""The words of the guide: title and text of each chapter."""

from __future__ import annotations

CHAPTERS = (
    (
        "What the number means",
        """
**Void area %** is the area of the voids' openings over the area of the face that was
outlined, times 100. It counts voids of the size stated beside it and larger; below
that size the photo does not tell.

- It is a share of **this face in this photo**: not of the whole piece, not a depth,
  not a volume.
- It says **nothing about strength, cover or durability**. Honeycomb that runs deep or
  reaches steel is for an engineer.
- Two readings compare only like with like: same stage, dry, like light, same smallest
  size.
""",
    ),
    (
        "How sure it is",
        """
"95 % sure between 0.80 and 1.05 %" is about **this face**: blur, the edge of each
void, the scale, and voids too faint to find. Take it seriously when two faces are
closer together than that.

The second line is about **other parts cast the same way**: one photo is a sample, and
voids cluster. More photos of the same piece make it narrower.

"No voids of 0.5 mm or more" is a result. The figure beside it says how much could
still hide below that size.
""",
    ),
)
CAUTIONS = "Before you pour"
