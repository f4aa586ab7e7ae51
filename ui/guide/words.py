"""The words of the guide: chapters with their drawings, and words of the trade."""

from __future__ import annotations

# Title, text, drawing in ui/pictures and what it shows, for those who cannot see it.
CHAPTERS = (
    (
        "What the number means",
        """
**Void area %** is the area of the voids' openings over the area of the face you
outlined, times 100. It counts voids of the size stated beside it and larger. Below
that size the photo cannot tell.

- It is a share of **this face in this photo**: not of the whole piece, not a depth, not
  a volume.
- It says **nothing about strength, cover or durability**. Honeycomb that runs deep or
  reaches steel is for an engineer.
- Compare only like with like: the same stage, dry, in like light, and counted from the
  same smallest size.
""",
        "",
        "",
    ),
    (
        "How sure it is",
        """
"95 % sure between 0.80 and 1.05 %" is about **this face**: blur, the edge of each
void, the scale, and voids too faint to find. If two faces are closer together than
that, do not call one better.

The second line is about **the rest of what you cast that way**: one photo is a sample,
and voids bunch together. More photos of the piece make it narrower.

"No voids of 0.5 mm or more" is a result too. The figure beside it says how much could
still be hiding below that size.
""",
        "",
        "",
    ),
    (
        "Two photos, two lights",
        """
From one photo nobody can tell a flush dark grain from a small void, or a stain from a
shallow one. Two photos can: the shade in a void changes sides with the lamp, colour
stays.

- Hold the torch **half way up and an arm's length away**, once to the left of the face
  and once to the right. Keep the phone where it is: a step aside is fine, another
  distance is not. To frame the second photo like the first, note what stands at the
  edges of the picture: an arris, the card, a corner of the form.
- The darker the place, the better. Daylight from all round weakens the shade.
- Wipe nothing, wet nothing, move nothing in between. A card or the sheet on the face
  may stay.
- **Worth it** on exposed sand, salt-and-pepper, terrazzo, stained, damp or rough faces,
  and wherever the tool says that it cannot trust the finish.
- **One photo will do** on a plain, even face: the second changes the figure little.

On **Measure a face**, open *Second light* below the first result and give the other
photo, in either order. Before both are measured, the edges of the first are drawn over
it: where the face is cut off or much smaller, photograph it again. What only one of
them shows is not measured. Readings of two photos are compared with each other, not
with readings of one.
""",
        "guide_second_light",
        "The torch to the left, then to the right; the phone stays where it is",
    ),
    (
        "Forms",
        """
The form face prints the show face: every scratch, grain and speck of old paste comes
back in every casting.

- Clean the form after each strike, while the paste is still soft.
- Wipe the release agent to a thin film, corners included. A puddle leaves bugholes.
- Give edges a chamfer and sides a little draft, and the piece comes out whole.
- Air leaves upwards. Cast with the show face down, or give air a way out under slopes
  and inserts.

Log each form once, by name, with its joints. The log then counts its castings, and
**Batches** tells you when a form is wearing out.
""",
        "guide_forms",
        "A form cut through: form face, joints, draft and chamfer",
    ),
    (
        "Sealing joints",
        """
At an open joint grout runs out and leaves sand, stones and voids behind. You see it as
a dark or sandy line along the joint, often with a fin.

- Seal with tape, a gasket or a bead of sealant, and clamp the joint evenly. Scrape off
  old sealant first.
- Note for every casting which joints were sealed, and which leaked all the same.
- Mark the joints on the photo: the voids along each one are then counted apart.

To know what sealing is worth **in your shop**, leave one joint of a form open and seal
the other. The two sides of one piece are the sharpest comparison there is.
""",
        "guide_sealing",
        "An open joint loses grout and leaves voids; a sealed one keeps it in",
    ),
    (
        "Vibration",
        """
Too little leaves large, odd-shaped holes and bare stones. Too much sinks the stones,
brings paste and water to the top and draws streaks up the face. In between is a time
that suits your mix and your form.

- Count the seconds. A poker works in 5 to 15 seconds at each place, a table may need
  minutes: never compare the seconds of one with the other.
- Fill in thin layers and work each one into the layer below. Draw a poker out slowly.
- Do not wait for the bubbles to stop: in a trial of 2024 they never did, and every
  specimen had segregated (Ahmed and Punkki, Materials 17:2306).
- A stiff mix has to be rodded or vibrated, a flowing one hardly at all.

**More vibration?** reads your own log: whether more time would help, how long, or
whether something else comes first.
""",
        "guide_vibration",
        "Too little, enough and too long vibration",
    ),
    (
        "Comparing",
        """
One good pour proves nothing: the weather, the mix and the day change too.

- Cast both ways **in the same pour**, and draw by lot which piece gets which. A few
  such pours tell more than many pieces cast on different days.
- Count pours, not photos. Ten photos of one pour are still one pour.
- Change one thing at a time.
- "No clear difference" and "not enough castings yet" are answers. Cast again before
  you spend money.

**Plan the next pour** works out how many castings you need and draws the lots.
""",
        "guide_comparing",
        "Two ways of casting side by side in each pour, not one a day",
    ),
    (
        "Following",
        """
Every shop wanders a little from pour to pour. The chart in **Batches** learns how much
from a steady start of 8 to 20 pours, and from then on shows what is out of the
ordinary.

- One pour outside the limits: look what was different that day.
- A slow rise in one form: it is wearing. Clean, reseal or refinish it.
- A rise in all forms at once: look at the mix, the release agent, the weather.
- After a change for the better, start a new baseline.
""",
        "guide_following",
        "A chart of pours: a steady start sets the limits, two later pours lie outside",
    ),
)
CAUTIONS = "Before you pour"
GLOSSARY = "Words of the trade"
GLOSSARY_HEAD = ("Here", "Also called", "What it means")
# The word used here; what others say, UK and US; what it means.
TERMS = (
    ("arris", "edge (US)", "the sharp edge where two faces meet"),
    ("bleeding", "", "water rising out of the fresh mix"),
    (
        "bughole",
        "blowhole (UK), surface void, pinhole if very small",
        "a small hole left by air at the form face",
    ),
    ("chamfer", "bevel, splay", "a slanted edge instead of a sharp one"),
    ("cold joint", "layer line, lift line", "a line where one layer set too soon"),
    ("consistency", "workability, slump, flow", "how stiff or wet the mix is"),
    ("consolidation", "compaction (UK)", "getting the air out of the fresh mix"),
    ("draft", "taper, lead", "the slight slope that lets a piece out of its form"),
    ("fin", "flash, feather", "the thin ridge where grout ran into a joint"),
    ("form", "mould (UK), mold (US), shutter for large work", "what you cast in"),
    ("form face", "form skin, face of the mould", "the side the concrete touches"),
    (
        "grout loss",
        "paste leak, joint leak, mortar loss",
        "cement paste and fine sand running out at a joint",
    ),
    ("honeycomb", "gravel nest, rock pocket (US)", "stones with no mortar between"),
    ("joint", "seam", "where two parts of the form meet"),
    ("lift", "layer", "concrete placed in one go"),
    ("piece", "unit, casting, element", "what comes out of one form"),
    (
        "poker",
        "pencil vibrator if thin, internal vibrator, spud (US)",
        "a vibrator put into the mix",
    ),
    ("pour", "batch, cast", "all that was cast from one mixing"),
    (
        "release agent",
        "mould oil (UK), form oil (US)",
        "what keeps concrete from sticking",
    ),
    ("rodding", "tamping, puddling", "working the mix with a rod by hand"),
    ("sand streak", "", "a streak washed out by bleed water"),
    ("show face", "fair face (UK), finished face", "the face people will see"),
    ("spading", "slicing", "working a flat tool between mix and form face"),
    ("strike", "strip (US), demould (UK), demold (US)", "taking the form off"),
    (
        "vibrating table",
        "shake table",
        "a table that shakes the whole form",
    ),
)
