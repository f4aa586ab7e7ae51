"""The log's fields: the one place that knows what each is called, holds and means.

A field is known by its owner and name (``pour``, ``air_c``); one that stands in the
table of pieces bears its column's name too (``step``, ``seconds`` is ``vibration_s``).
Records, tables, forms, import, export, statistics and words read this registry:
`analysis.model.field_values` says what a value may be, `analysis.model.field_words` what
a field is called. To add a field: an entry here, a migration, a test. The list is kept
whole, however long, so that one page shows all that the log knows.

Roles
-----
``setting``
    Chosen before casting, can be assigned by lot. It can be compared, can rival what is
    compared, can be adjusted for.
``result``
    What came of it. It can be compared; it never rivals, blocks or adjusts, since
    settings cause it.
``condition_of_day``
    What was so, not chosen. It is adjusted for or told.
``condition_of_measuring``
    How it was photographed. Like with like: balanced, adjusted or told.
``name``
    Which piece, pour or trial, and what was written down of how it was known.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from analysis.checks import one_of
from analysis.vocabulary import (
    CARES,
    CERTAINTIES,
    FACE_KINDS,
    MIX_BASES,
    MIX_PARTS,
    OUTCOMES,
    PURPOSES,
    STAGES,
    SURFACE_STATES,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

Role = Literal[
    "setting", "result", "condition_of_day", "condition_of_measuring", "name"
]
ROLES = (
    "setting",
    "result",
    "condition_of_day",
    "condition_of_measuring",
    "name",
)
Kind = Literal["text", "word", "choice", "reference", "number", "whole", "day", "time"]
LARGEST = 1e15
MOST_BY_HAND = 100_000
SHARE_UNIT = "%"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """What the project knows of one field.

    Attributes
    ----------
    owner, name : str
        Whose it is (``pour``, ``piece``, ``form``, ``joint``, ``step``, ``photo``,
        ``reading``, ...), and its name there.
    label : str
        What it is called beside its owner; without the unit.
    kind : str
        ``text`` is free; ``word`` grows a vocabulary; ``choice`` is one of `words`;
        ``reference`` is another record's key.
    role : str
        See the module.
    unit : str
        ``"%"`` is of shares, which are 0..1 inside.
    low, high : float
        Inclusive bounds of a number, in the unit it is kept in.
    vocabulary : str
        Of a ``word``.
    words : tuple of str
        Of a ``choice``.
    column : str
        Its name in the table of pieces; empty where it is not in it.
    stands_alone : str
        What it is called where its owner is not in sight; the label if not given.
    above_low : bool
        Whether the lower bound itself is left out.
    needed : bool
        Whether every record has it.
    row : bool
        Whether a column of the log's own table; others are met in files only.
    """

    owner: str
    name: str
    label: str
    kind: Kind
    role: Role
    unit: str = ""
    low: float = 0.0
    high: float = LARGEST
    vocabulary: str = ""
    words: tuple[str, ...] = ()
    column: str = ""
    stands_alone: str = ""
    above_low: bool = False
    needed: bool = False
    row: bool = True

    @property
    def factor(self) -> str:
        """What it is called where its owner is not in sight."""
        return self.stands_alone or self.label

    @property
    def is_number(self) -> bool:
        """Whether it holds a number."""
        return self.kind in {"number", "whole"}

    @property
    def annotation(self) -> str:
        """Type of a value that keeps it."""
        return {
            "text": "str",
            "word": "str | None",
            "choice": "str | None",
            "reference": "int | None",
            "number": "float | None",
            "whole": "int | None",
            "day": "date | None",
            "time": "time | None",
        }[self.kind]


def _owned(
    owner: str, *entries: tuple[str, str, Kind, Role, dict[str, Any]]
) -> list[Field]:
    return [
        Field(owner=owner, name=name, label=label, kind=kind, role=role, **more)
        for name, label, kind, role, more in entries
    ]


def _words(vocabulary: str, column: str = "", alone: str = "") -> dict[str, Any]:
    return {"vocabulary": vocabulary, "column": column, "stands_alone": alone}


def _amount(
    unit: str, low: float, high: float, column: str = "", alone: str = ""
) -> dict[str, Any]:
    return {
        "unit": unit,
        "low": low,
        "high": high,
        "column": column,
        "stands_alone": alone,
    }


_NAME: tuple[str, str, Kind, Role, dict[str, Any]] = (
    "name", "Name or number", "text", "name", {"needed": True},
)  # fmt: skip
_NOTE: tuple[str, str, Kind, Role, dict[str, Any]] = (
    "note", "Note", "text", "name", {},
)  # fmt: skip
# One line a field, so that the registry reads as the table it is.
# fmt: off
_POUR = _owned(
    "pour",
    ("name", "Name or number", "text", "name", {"column": "pour", "stands_alone": "Pour", "needed": True}),
    ("cast_on", "Cast on", "day", "condition_of_day", {"column": "cast_on", "needed": True}),
    ("cast_at", "Time of day", "time", "condition_of_day", {"column": "cast_at", "row": False}),
    ("zone", "Time zone", "text", "name", {}),
    ("mix_id", "Mix", "reference", "setting", {"column": "mix"}),
    ("water_added_l", "Water actually added", "number", "setting", _amount("l", 0, 100_000, "water_added_l", "Water added")),
    ("consistency", "Consistency", "word", "setting", _words("consistency", "consistency")),
    ("slump_mm", "Slump", "number", "condition_of_day", _amount("mm", 0, 500, "slump_mm")),
    ("flow_mm", "Flow", "number", "condition_of_day", _amount("mm", 0, 2000, "flow_mm")),
    ("cement_lot", "Cement lot", "text", "setting", {"column": "cement_lot"}),
    ("air_c", "Air", "number", "condition_of_day", _amount("°C", -50, 80, "air_c", "Air temperature")),
    ("mix_c", "Fresh mix", "number", "condition_of_day", _amount("°C", -50, 80, "mix_c", "Mix temperature")),
    ("humidity_share", "Humidity", "number", "condition_of_day", _amount("%", 0, 1, "humidity_percent")),
    ("crew", "Crew", "text", "setting", {"column": "crew"}),
    _NOTE,
)
_PIECE = _owned(
    "piece",
    ("name", "Name or number", "text", "name", {"column": "piece", "stands_alone": "Piece", "needed": True}),
    ("form_id", "Form", "reference", "setting", {"column": "form"}),
    ("product_line_id", "Product line", "reference", "setting", {"column": "product_line"}),
    ("release_agent", "Release agent", "word", "setting", _words("release_agent", "release_agent")),
    ("release_application", "How it was applied", "word", "setting", _words("release_application", "release_application", "How release was applied")),
    ("casting_process", "Casting process", "word", "setting", _words("casting_process", "casting_process")),
    ("orientation", "Orientation in the form", "word", "setting", _words("orientation", "orientation", "How the form stood")),
    ("curing", "Curing", "word", "setting", _words("curing", "curing")),
    ("lifts", "Lifts", "whole", "setting", _amount("", 0, 1000, "lifts")),
    ("fill_s", "Time to fill", "number", "setting", _amount("s", 0, 1_000_000, "fill_s")),
    ("strike_after_h", "Time to strike", "number", "setting", _amount("h", 0, 100_000, "strike_after_h")),
    ("sealing_min", "Time for sealing", "number", "result", _amount("min", 0, 100_000, "sealing_min")),
    ("sealing_cost", "Cost of sealing", "number", "result", _amount("", 0, 1e9, "sealing_cost")),
    ("show_faces", "Show faces", "text", "setting", {}),
    ("note", "Note", "text", "name", {"column": "note"}),
)
_JOINT = _owned(
    "joint",
    ("joint", "Joint", "text", "setting", {"column": "joint"}),
    ("sealing", "Joint sealing", "word", "setting", _words("joint_sealing", "joint_sealing", "Kind of joint sealing")),
    ("leak", "Leak", "word", "result", _words("leak", "leak", "Leak at the joints")),
)
_STEP = _owned(
    "step",
    ("method", "Vibration method", "word", "setting", _words("vibration_method", "vibration_method")),
    ("seconds", "Seconds", "number", "setting", _amount("s", 0, 86_400, "vibration_s", "Vibration")),
    ("strokes", "Strokes", "whole", "setting", _amount("", 0, 1_000_000, "strokes")),
    ("passes", "Passes", "number", "setting", _amount("", 0, 1_000_000, "passes")),
    ("tool", "Tool", "word", "setting", _words("tool", "tool")),
    ("applied_to", "Where it was applied", "word", "setting", _words("applied_to")),
    ("speed", "Speed setting", "text", "setting", {}),
    ("fill_share", "Form filled to", "number", "setting", _amount("%", 0, 1)),
    ("people", "People at it", "whole", "setting", _amount("", 0, 1000)),
    ("certainty", "How the time is known", "choice", "name", {"words": CERTAINTIES}),
    ("stop_rule", "Stopped when", "word", "setting", _words("stop_rule")),
)
_FORM = _owned(
    "form",
    _NAME,
    ("form_type", "Form type", "word", "setting", _words("form_type", "form_type")),
    ("face_material", "Face material", "word", "setting", _words("face_material", "face_material", "Form face material")),
    ("gloss", "Gloss", "word", "setting", _words("gloss", "gloss", "Gloss of the form face")),
    ("face_kind", "Kind of face", "choice", "setting", {"words": FACE_KINDS, "column": "face_kind"}),
    ("pitch_mm", "Flutes, from one to the next", "number", "setting", _amount("mm", 1, 1000, "flute_pitch_mm")),
    ("depth_mm", "Flutes, depth", "number", "setting", _amount("mm", 0.1, 1000, "flute_depth_mm")),
    ("texture", "Texture", "word", "setting", _words("texture")),
    ("storage", "Storage", "word", "setting", _words("storage")),
    ("release_agent", "Release agent", "word", "setting", _words("release_agent")),
    ("product_line_id", "Product line", "reference", "setting", {}),
    ("starting_use_count", "Castings before this log", "whole", "condition_of_day", _amount("", 0, 100_000) | {"needed": True}),
    ("made_on", "Made on", "day", "condition_of_day", {}),
    ("volume_l", "Concrete it holds", "number", "setting", _amount("l", 0.001, 100_000)),
    ("set_up_recipe", "Set-up recipe", "text", "setting", {}),
    _NOTE,
)
_FORM_CARE = _owned(
    "form_care",
    ("kind", "Care", "choice", "condition_of_day", {"words": CARES, "needed": True, "stands_alone": "Care of the form"}),
    ("done_on", "Done on", "day", "name", {"needed": True}),
    ("joint", "Joint", "text", "name", {}),
    _NOTE,
)
_FORM_REMINDER = _owned(
    "form_reminder",
    ("kind", "Care", "choice", "name", {"words": CARES, "needed": True, "stands_alone": "Care to be reminded of"}),
    ("every_uses", "Every so many uses", "whole", "name", _amount("", 1, 100_000) | {"needed": True}),
    _NOTE,
)
_PHOTO_RECIPE = _owned(
    "photo_recipe",
    ("face_name", "Face of the form", "text", "name", {}),
    ("camera_mm", "Camera to face", "number", "condition_of_measuring", _amount("mm", 10, 100_000)),
    ("lamp", "Lamp or daylight", "text", "condition_of_measuring", {}),
    ("floor_marks", "Marks on the floor", "text", "condition_of_measuring", {}),
    ("shown_width_mm", "Width the photo shows", "number", "condition_of_measuring", _amount("mm", 1, 1_000_000)),
    ("brightness_share", "Light of the face in the photo", "number", "condition_of_measuring", _amount("%", 0, 1)),
    ("light_deg", "Side the light comes from", "number", "condition_of_measuring", _amount("°", -180, 180)),
    ("taken_on", "Taken from a photo on", "day", "name", {}),
)
_FORM_JOINT = _owned(
    "form_joint",
    ("name", "Name of the joint", "text", "name", {"needed": True}),
    ("default_sealing", "Usual sealing", "word", "setting", _words("joint_sealing")),
)
_MIX = _owned(
    "mix",
    _NAME,
    ("basis", "Proportions count", "choice", "setting", {"words": MIX_BASES, "stands_alone": "Basis of the mix"}),
    ("proportions", "Proportions", "text", "setting", {}),
    _NOTE,
)
_MIX_PART = _owned(
    "mix_part",
    ("kind", "Kind", "choice", "setting", {"words": MIX_PARTS, "needed": True, "stands_alone": "Kind of mix part"}),
    ("name", "What it is", "word", "setting", {"needed": True}),
    ("amount", "Amount", "text", "setting", {}),
)
_PRODUCT_LINE = _owned("product_line", _NAME, _NOTE)
_TARGET = _owned(
    "finish_target",
    ("product_line_id", "Product line", "reference", "name", {"needed": True}),
    ("low_share", "Void area, lower end", "number", "name", _amount("%", 0, 1)),
    ("high_share", "Void area, upper end", "number", "name", _amount("%", 0, 1)),
    ("largest_void_mm", "Largest void", "number", "name", _amount("mm", 0, 1000)),
    ("honeycomb_share", "Honeycomb, most", "number", "name", _amount("%", 0, 1)),
    _NOTE,
)
_PHOTO = _owned(
    "photo",
    ("purpose", "Purpose of the photo", "choice", "condition_of_measuring", {"words": PURPOSES, "needed": True}),
    ("stage", "Stage", "choice", "condition_of_measuring", {"words": STAGES, "column": "stage"}),
    ("surface_state", "Surface state", "choice", "condition_of_measuring", {"words": SURFACE_STATES}),
    ("set_up", "Set-up of the photo", "word", "condition_of_measuring", _words("set_up", "set_up")),
    ("age_h", "Hours since striking", "number", "condition_of_measuring", _amount("h", 0, 1_000_000)),
)
_READING = _owned(
    "reading",
    ("void_area_percent", "Void area", "number", "result", _amount("%", 0, 100, "void_area_percent")),
    ("face_area_mm2", "Face area", "number", "condition_of_measuring", _amount("mm²", 0, LARGEST, "face_area_mm2") | {"above_low": True}),
    ("void_count", "Voids", "whole", "result", _amount("", 0, 1e9, "void_count")),
    ("voids_per_m2", "Voids per m²", "number", "result", _amount("per m²", 0, LARGEST, "voids_per_m2")),
    ("largest_void_mm", "Largest void", "number", "result", _amount("mm", 0, LARGEST, "largest_void_mm")),
    ("joint_band_percent", "Void area along joints", "number", "result", _amount("%", 0, 100, "joint_band_percent")),
    ("open_face_percent", "Void area away from joints", "number", "result", _amount("%", 0, 100, "open_face_percent")),
    ("honeycomb_percent", "Honeycomb", "number", "result", _amount("%", 0, 100, "honeycomb_percent")),
    ("joint_length_mm", "Joints on the face", "number", "condition_of_measuring", _amount("mm", 0, LARGEST, "joint_length_mm")),
    ("sand_length_mm", "Joint with bare sand", "number", "result", _amount("mm", 0, LARGEST, "sand_length_mm")),
    ("fin_length_mm", "Joint with a fin", "number", "result", _amount("mm", 0, LARGEST, "fin_length_mm")),
    ("arris_loss_mm2_per_m", "Broken off the arris", "number", "result", _amount("mm² per m", 0, LARGEST, "arris_loss_mm2_per_m")),
    ("light", "Light", "text", "condition_of_measuring", {"column": "light"}),
    ("smallest_counted_mm", "Smallest counted size", "number", "condition_of_measuring", _amount("mm", 0, LARGEST, "smallest_counted_mm") | {"above_low": True}),
    ("method_version", "Version of the measuring method", "text", "condition_of_measuring", {"column": "method_version"}),
    ("reviewed", "Reviewed", "text", "condition_of_measuring", {"column": "reviewed"}),
)
_AFTERWARDS = [
    *_owned(
        "outcome",
        ("outcome", "Outcome", "choice", "result", {"words": OUTCOMES}),
        ("eye_score", "Eye score, 1 (worst) to 10", "whole", "result", _amount("", 1, 10, "eye_score", "Eye score")),
        ("stage", "Stage", "choice", "condition_of_measuring", {"words": STAGES}),
        _NOTE,
    ),
    *_owned(
        "repair",
        ("repaired_on", "Repaired on", "day", "name", {}),
        ("minutes", "Repair time", "number", "result", _amount("min", 0, 100_000, "repair_minutes", "Repair minutes")),
        ("filler", "Filler", "word", "result", _words("filler")),
        _NOTE,
    ),
    *_owned(
        "hand_figures",
        ("measured_on", "Measured on", "day", "name", {}),
        ("joint", "Joint", "text", "name", {}),
        ("leak_width_mm", "Joint leak, width", "number", "result", _amount("mm", 0, MOST_BY_HAND, "leak_width_mm")),
        ("leak_depth_mm", "Joint leak, depth", "number", "result", _amount("mm", 0, MOST_BY_HAND, "leak_depth_mm")),
        ("step_mm", "Step at the joint", "number", "result", _amount("mm", 0, MOST_BY_HAND, "step_mm")),
        ("fin_mm", "Fin, height", "number", "result", _amount("mm", 0, MOST_BY_HAND, "fin_mm")),
        ("void_depth_mm", "Deepest void, depth", "number", "result", _amount("mm", 0, MOST_BY_HAND, "void_depth_mm")),
        ("void_volume_cm3", "Largest void, depth x rectangle", "number", "result", _amount("cm³", 0, MOST_BY_HAND, "void_volume_cm3")),
        ("chip_depth_mm", "Edge chips, depth", "number", "result", _amount("mm", 0, MOST_BY_HAND, "chip_depth_mm")),
        ("chip_mm_per_m", "Edge chips, length per m", "number", "result", _amount("mm", 0, MOST_BY_HAND, "chip_mm_per_m")),
        _NOTE,
    ),
    *_owned(
        "seen_mark",
        ("mark", "Mark seen", "word", "result", _words("mark") | {"needed": True}),
        _NOTE,
    ),
]
# Columns of a table that no record of the log keeps: derived, or a file's own.
_TABLE = _owned(
    "table",
    ("form_use", "Use of the form", "whole", "condition_of_day", _amount("", 0, 1e9, "form_use")),
    ("joints_sealed", "Joints sealed or open", "text", "setting", {"column": "joints_sealed"}),
    ("second", "Sold as a second", "text", "result", {"column": "second"}),
    ("fins", "Fins", "text", "result", {"column": "fins"}),
    ("chips", "Chips", "text", "result", {"column": "chips"}),
    ("trial", "Trial", "text", "name", {"column": "trial"}),
    ("assigned", "How levels were assigned", "text", "name", {"column": "dealt"}),
    ("trial_factor", "What the trial is about", "text", "name", {"column": "trial_factor"}),
    ("trial_pours", "Pours planned", "whole", "name", _amount("", 1, 10_000, "trial_pours")),
)
# fmt: on

FIELDS: tuple[Field, ...] = (
    *_POUR,
    *_PIECE,
    *_JOINT,
    *_STEP,
    *_FORM,
    *_FORM_JOINT,
    *_MIX,
    *_MIX_PART,
    *_PRODUCT_LINE,
    *_TARGET,
    *_PHOTO,
    *_READING,
    *_AFTERWARDS,
    *_FORM_CARE,  # behind the mix: a name's first owner gives its label
    *_FORM_REMINDER,
    *_PHOTO_RECIPE,
    *_TABLE,
)

_OF_COLUMN: Mapping[str, Field] = MappingProxyType(
    {one.column: one for one in FIELDS if one.column}
)


@cache
def fields_of(owner: str) -> tuple[Field, ...]:
    """Return an owner's fields in their order.

    Examples
    --------
    >>> [one.name for one in fields_of("joint")]
    ['joint', 'sealing', 'leak']
    """
    return tuple(one for one in FIELDS if one.owner == owner)


def column_field(column: str) -> Field | None:
    """Return the field behind a column of the table of pieces, None if not known.

    Examples
    --------
    >>> column_field("vibration_s").name, column_field("weekday") is None
    ('seconds', True)
    """
    return _OF_COLUMN.get(column)


def role_of(column: str) -> Role:
    """Return the role of a column of the table of pieces.

    A column that no field is behind is a further factor of its maker's: a setting.

    Examples
    --------
    >>> role_of("leak"), role_of("humidity_percent"), role_of("weekday")
    ('result', 'condition_of_day', 'setting')
    """
    found = _OF_COLUMN.get(column)
    return "setting" if found is None else found.role


def columns_of_role(*roles: Role) -> frozenset[str]:
    """Return the columns of the table of pieces that have one of these roles.

    Examples
    --------
    >>> sorted(columns_of_role("condition_of_day"))[:3]
    ['air_c', 'cast_at', 'cast_on']
    """
    for role in roles:
        one_of(role, "Role", ROLES)
    return frozenset(name for name, one in _OF_COLUMN.items() if one.role in roles)


@cache
def row_fields(*owners: str) -> tuple[Field, ...]:
    """Return the fields of pours, pieces and forms that a piece's row carries.

    Examples
    --------
    >>> [one.column for one in row_fields("form")][:3]
    ['form_type', 'face_material', 'gloss']
    """
    return tuple(
        one
        for one in FIELDS
        if one.column and one.row and one.owner in (owners or ("pour", "piece", "form"))
    )
