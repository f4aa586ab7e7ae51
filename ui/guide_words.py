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
    (
        "Before you pour",
        """
- **Wet cement burns**, and for hours without pain. Its pH is 12 to 13. Keep it out of
  gloves and boots, wash it off at once with clean water; eyes: rinse and get help. It
  can also bring on a lasting skin allergy.
- **Silica dust** from dry grinding, sanding and cutting harms lungs. In the US the
  limit is 50 µg/m³ of air over 8 hours. Work wet or with extraction, and wear a
  fitted mask.
- **Lifting**: 10 litres of concrete weigh about 24 kg, which is already more than the
  23 kg that one person may lift at best. Use two people or a hoist.
- **Vibrating tools**: a tool of 5 m/s² reaches the daily action value of 2.5 m/s² in
  2 hours. Above 85 dB over 8 hours, protect your ears.
- **Local codes and licensed practice come first.** Forms, lifting points and
  anything that carries load are for those who are licensed for it.

Sources: pH and burns, precast.org 2010; allergy, HSE CIS26; silica, OSHA 29 CFR
1926.1153; lifting, NIOSH load constant; vibration, hozir.org, introduction to health
and safety at work; noise, NIOSH and OSHA.
""",
    ),
)
