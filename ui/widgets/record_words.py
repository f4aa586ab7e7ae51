"""What the log's fields and answers are called, wherever they are asked or shown."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from analysis.errors import StruckfaceError
from analysis.fields import FIELDS
from analysis.model.writing import day
from analysis.services.entry import echo, parts_of, to_texts, unit_of
from analysis.services.set_up import lit_from
from analysis.vocabulary import NONE, NOT_APPLICABLE
from ui.words import BLANK, SEALING_NONE, STAGES

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from analysis.model.workshop import FormCare, FormReminder, PhotoRecipe
    from analysis.services.entry import Texts

UNKNOWN = "Not known"
NONE_WORD = "None"
NOT_APPLICABLE_WORD = "Not applicable"
JOINTS_TOGETHER = "Joints, several at once"
DIFFERS = "Differs"
ANOTHER = "Another word"
NAMES: Mapping[str, str] = {one.name: one.label for one in reversed(FIELDS)}
OUTCOMES = {
    "first_quality": "First quality",
    "second": "Second",
    "patched": "Patched",
    "scrapped": "Scrapped",
}
CHOICES: Mapping[str, Mapping[str, str]] = {
    "stage": STAGES,
    "outcome": OUTCOMES,
    "eye_score": {str(score): str(score) for score in range(1, 11)},
    "certainty": {"measured": "Measured", "guessed": "Guessed"},
    "face_kind": {
        "flat": "Flat",
        "round": "Round",
        "ribbed": "Ribbed or fluted",
        "faceted": "Faceted",
        "free": "Free form",
    },
    "basis": {
        "by_mass": "By mass",
        "by_volume": "By volume",
        "per_bag": "Per bag",
        "by_feel": "By feel",
    },
    "kind": {
        "cement": "Cement",
        "aggregate": "Aggregate",
        "admixture": "Admixture",
        "fibre": "Fibre",
        "pigment": "Pigment",
    },
}
CARES = {
    "cleaned": "Cleaned",
    "waxed": "Waxed",
    "joint_re_sealed": "Joint re-sealed",
    "edge_repaired": "Edge repaired",
    "new_liner": "New liner",
    "refinished": "Face refinished",
    "storage_damage": "Damaged in storage",
    "retired": "Taken out of use",
}
# Few enough to stand side by side, one tap each.
TAPPED = frozenset({"outcome", "eye_score", "certainty"})
PARTS = {"joints": "Joints", "steps": "Consolidation", "parts": "Parts of the mix"}
ADD_PART = {"joints": "Add a joint", "steps": "Add a step", "parts": "Add a part"}
PART = {"joints": "Joint", "steps": "Step", "parts": "Part"}
REMOVE = "Delete"
NAMED = {
    "Form": "Name",
    "FormJoint": "Joint",
    "Mix": "Name",
    "MixPart": "What it is",
    "ProductLine": "Name",
}
MORE_OF = {
    "Pour": "Mix, water, weather, crew",
    "Piece": "Process, times, cost, note",
    "Step": "Tool, place, speed, stop rule",
    "Form": "Face, volume, storage, age, note",
    "HandFigures": "Voids, edges, note",
}
FORM_FACTS = (
    "face_material",
    "face_kind",
    "pitch_mm",
    "depth_mm",
    "gloss",
    "texture",
    "storage",
    "release_agent",
    "starting_use_count",
    "made_on",
    "volume_l",
)
TIME_EXAMPLE = "14:30"


def of_figure(name: str, text: str) -> str:
    """Say a figure inside a sentence.

    Examples
    --------
    >>> of_figure("step_mm", "1.5")
    'step at the joint 1.5 mm'
    """
    said = NAMES[name]
    return f"{said[:1].lower()}{said[1:]} {answer(name, text)}"


def label(name: str, kind: type | None = None) -> str:
    """Return what a field is called, with its unit.

    Examples
    --------
    >>> label("water_added_l"), label("lifts")
    ('Water actually added, l', 'Lifts')
    """
    unit = unit_of(name)
    if name == "name" and kind is not None:
        return NAMED.get(kind.__name__, NAMES[name])
    said = NAMES[name]
    return f"{said}, {unit}" if unit and said.lower() != "seconds" else said


def answer(name: str, text: str, offered: Mapping[str, str] | None = None) -> str:
    """Write a field's text for reading: not known, none and not applicable apart.

    Examples
    --------
    >>> answer("sealing", "none"), answer("seconds", "12,5"), answer("leak", "")
    ('none, joints left open', '12.5 s', 'not known')
    >>> answer("made_on", "2026-03-31")
    '31 March 2026'
    """
    if name in CHOICES:
        known = {word: said.lower() for word, said in CHOICES[name].items()}
    else:
        none = SEALING_NONE.lower() if "sealing" in name else NONE
        known = {NONE: none, NOT_APPLICABLE: NOT_APPLICABLE, **(offered or {})}
    known[""] = BLANK
    if text.strip() in known:
        return known[text.strip()]
    try:
        if unit_of(name):
            return echo(name, text)
        if name.endswith("_on"):
            return day(date.fromisoformat(text))
    except (StruckfaceError, ValueError):
        pass
    return text


def in_brief(texts: Texts) -> str:
    """Say how a piece is made in one line.

    Examples
    --------
    >>> in_brief({"joints 0 sealing": "tape", "release_agent": "",
    ...           "steps 0 method": "table", "steps 0 seconds": "40"})
    'Sealing tape; release not known; table 40 s'
    """
    sealings = [part.get("sealing", "") for part in parts_of(texts, "joints")] or [""]
    sealing = " / ".join(dict.fromkeys(answer("sealing", one) for one in sealings))
    release = answer("release_agent", texts.get("release_agent", ""))
    steps = parts_of(texts, "steps") or ({},)
    return (
        f"Sealing {sealing}; release {release}; {', then '.join(map(step_line, steps))}"
    )


def step_line(step: Mapping[str, str]) -> str:
    """Say one step of consolidation.

    Examples
    --------
    >>> step_line({"method": "", "seconds": ""})
    'vibration not known'
    >>> step_line({"method": "rodding", "strokes": "25", "certainty": "guessed"})
    'rodding 25 strokes (guessed)'
    """
    method = step.get("method", "")
    named = {"": "vibration not known", NONE: "no vibration"}
    parts = [named.get(method) or answer("method", method)]
    parts += [answer("seconds", step["seconds"])] if step.get("seconds") else []
    parts += [f"{step['strokes']} strokes"] if step.get("strokes") else []
    parts += [f"{step['passes']} passes"] if step.get("passes") else []
    known = step.get("certainty", "")
    return " ".join([*parts, f"({known})"] if known else parts)


def facts(
    record: object, names: Sequence[str], offered: Mapping[str, Mapping[str, str]]
) -> list[str]:
    """Return a line for each field that is known; `offered` names what ids stand for.

    Examples
    --------
    >>> from analysis.model.afterwards import Repair
    >>> facts(Repair(piece_id=1, minutes=12.5), ("minutes", "filler"), {})
    ['Repair time: 12.5 min']
    """
    texts = to_texts(record)
    return [
        f"{NAMES[name]}: {answer(name, texts[name], offered.get(name))}"
        for name in names
        if texts[name].strip()
    ]


def care_line(care: FormCare) -> str:
    """Say what was done to a form, to which joint and when.

    Examples
    --------
    >>> from datetime import date
    >>> from analysis.model.workshop import FormCare
    >>> care_line(FormCare(form_id=1, kind="waxed", done_on=date(2026, 3, 1)))
    'Waxed, 1 March 2026'
    """
    joint = f" ({care.joint})" if care.joint else ""
    note = f": {care.note}" if care.note else ""
    return f"{CARES[care.kind]}{joint}, {day(care.done_on)}{note}"


def reminder_line(reminder: FormReminder) -> str:
    """Say what a reminder asks for.

    Examples
    --------
    >>> from analysis.model.workshop import FormReminder
    >>> reminder_line(FormReminder(form_id=1, kind="waxed", every_uses=20))
    'Waxed: every 20 uses'
    """
    uses = "use" if reminder.every_uses == 1 else f"{reminder.every_uses} uses"
    return f"{CARES[reminder.kind]}: every {uses}"


def photographed_lines(recipe: PhotoRecipe) -> list[str]:
    """Say how a face is photographed: what the maker wrote, what its photo showed.

    Examples
    --------
    >>> from datetime import date
    >>> from analysis.model.workshop import PhotoRecipe
    >>> photographed_lines(
    ...     PhotoRecipe(
    ...         form_id=1,
    ...         face_name="front",
    ...         camera_mm=900.0,
    ...         lamp="left stand",
    ...         shown_width_mm=563.4,
    ...         brightness_share=0.31,
    ...         light_deg=172.0,
    ...         taken_on=date(2026, 3, 1),
    ...     )
    ... )  # doctest: +NORMALIZE_WHITESPACE
    ['Face front', 'Camera to face: 900 mm', 'Lamp or daylight: left stand',
     'Photo of 1 March 2026: shows 563 mm across, lit from the left,
     face at 31 % of full light']
    """
    lines = [f"Face {recipe.face_name}"] if recipe.face_name else []
    lines += facts(recipe, ("camera_mm", "lamp", "floor_marks"), {})
    if recipe.brightness_share is None or recipe.taken_on is None:
        return [*lines, "No photo is taken as its measure yet."]
    wide = recipe.shown_width_mm
    deg = recipe.light_deg
    parts = [] if wide is None else [f"shows {wide:.0f} mm across"]
    parts += ["lit evenly" if deg is None else f"lit from {lit_from(deg)}"]
    parts += [f"face at {100 * recipe.brightness_share:.0f} % of full light"]
    return [*lines, f"Photo of {day(recipe.taken_on)}: {', '.join(parts)}"]
