"""What the workshop casts with: product lines, forms, mixes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from analysis.checks import each_once, named
from analysis.errors import InputError
from analysis.model.field_values import checked, with_fields
from analysis.model.reading import MeasureSettings, of_ribbed

if TYPE_CHECKING:
    from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("product_line")
class ProductLine:
    """Pieces that are to look alike.

    Examples
    --------
    >>> ProductLine(name="smooth planters").version
    0
    """

    name: str
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a line without a name."""
        named(self.name, "The product line")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("finish_target")
class FinishTarget:
    """The finish wanted of a product line. A new target never changes an old one.

    Attributes
    ----------
    product_line_id : int
        Whose target.
    low_share, high_share : float or None
        Band of the void share, 0..1: some lines are to have voids.
    largest_void_mm : float or None
        Largest equivalent diameter that is accepted.
    honeycomb_share : float or None
        Most honeycomb that is accepted, 0..1.

    Examples
    --------
    >>> FinishTarget(product_line_id=1, low_share=0.0, high_share=0.01).high_share
    0.01
    """

    product_line_id: int
    low_share: float | None = None
    high_share: float | None = None
    largest_void_mm: float | None = None
    honeycomb_share: float | None = None
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a band upside down."""
        checked(self, "finish_target")
        low, high = self.low_share, self.high_share
        if low is not None and high is not None and low > high:
            msg = (
                f"The target's lower end {low:g} is above its upper end {high:g}: "
                "swap them."
            )
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("form_joint")
class FormJoint:
    """A joint of a form, and how it is sealed unless a casting says otherwise."""

    name: str
    default_sealing: str | None = None

    def __post_init__(self) -> None:
        """Refuse a joint without a name."""
        named(self.name, "The joint")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("form")
class Form:
    """A reusable form.

    Attributes
    ----------
    name : str
        Unique among the forms in use.
    form_type, face_material, gloss, texture, storage, release_agent : str or None
        What it casts, what its face is, how it is kept, its usual release agent.
    face_kind : str or None
        One of ``FACE_KINDS``; a photo of a piece is measured accordingly.
    pitch_mm, depth_mm : float or None
        Of flutes or ribs: from one to the next, and from crest to bottom.
    product_line_id : int or None
        What it usually casts for.
    joints : tuple of FormJoint
        Its joints.
    starting_use_count : int
        Castings made in it before the log began, 0 or more.
    made_on : datetime.date or None
        For its age.
    volume_l : float or None
        Litres of concrete it holds; its weight follows from it.
    set_up_recipe : str
        How it is set up for a casting, in the maker's words.

    Examples
    --------
    >>> Form(name="Trough A", joints=(FormJoint(name="left"),)).starting_use_count
    0
    """

    name: str
    form_type: str | None = None
    face_material: str | None = None
    gloss: str | None = None
    face_kind: str | None = None
    pitch_mm: float | None = None
    depth_mm: float | None = None
    texture: str | None = None
    storage: str | None = None
    release_agent: str | None = None
    product_line_id: int | None = None
    joints: tuple[FormJoint, ...] = ()
    starting_use_count: int = 0
    made_on: date | None = None
    volume_l: float | None = None
    set_up_recipe: str = ""
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse what the log cannot keep."""
        named(self.name, "The form")
        checked(self, "form")
        for name, value in (
            ("Pitch of the flutes", self.pitch_mm),
            ("Depth of the flutes", self.depth_mm),
        ):
            if value is not None:
                of_ribbed(self.face_kind, name)
        each_once(tuple(joint.name for joint in self.joints), f"Form {self.name!r}")


def settings_of_form(
    form: Form | None, *, smallest_mm: float | None = None, has_scale: bool = True
) -> MeasureSettings:
    """Return how a piece of a form is measured.

    Parameters
    ----------
    form : Form or None
        None where not known: then the photo alone tells.
    smallest_mm : float, optional
        Smallest counted size asked for.
    has_scale : bool
        Without a scale, mm of pitch and depth say nothing of a photo.

    Examples
    --------
    >>> form = Form(name="Column", face_kind="ribbed", pitch_mm=30.0)
    >>> settings_of_form(form).pitch_mm
    30.0
    >>> settings_of_form(form, has_scale=False).pitch_mm is None
    True
    """
    if form is None:
        return MeasureSettings(smallest_mm=smallest_mm)
    return MeasureSettings(
        smallest_mm=smallest_mm,
        face_kind=form.face_kind,
        pitch_mm=form.pitch_mm if has_scale else None,
        depth_mm=form.depth_mm if has_scale else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("form_care")
class FormCare:
    """What was done to a form between castings, or what happened to it.

    Attributes
    ----------
    form_id : int
        The form.
    kind : str
        One of ``CARES``.
    done_on : datetime.date
        The day; a casting of that day counts as made after it.
    joint : str
        The joint it was done to; empty for all of them, or for the form.

    Examples
    --------
    >>> from datetime import date
    >>> FormCare(form_id=1, kind="waxed", done_on=date(2026, 3, 31)).joint
    ''
    """

    form_id: int
    kind: str
    done_on: date
    joint: str = ""
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a care the log does not know."""
        checked(self, "form_care")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("form_reminder")
class FormReminder:
    """A care that is due again after so many uses of a form.

    Examples
    --------
    >>> FormReminder(form_id=1, kind="waxed", every_uses=20).every_uses
    20
    """

    form_id: int
    kind: str
    every_uses: int
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse an unknown care, and less than one use."""
        checked(self, "form_reminder")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("photo_recipe")
class PhotoRecipe:
    """How a face of a form is photographed, so that the next photo is like the last.

    Attributes
    ----------
    form_id : int
        The form.
    face_name : str
        Which of its faces; empty where they are not told apart.
    camera_mm : float or None
        From the camera to the face, as the maker measured it.
    lamp, floor_marks : str
        Where the light comes from, and where feet and form stand, in the maker's words.
    shown_width_mm : float or None
        Width that the whole photo shows; None without a scale.
    brightness_share : float or None
        Median linear light of the face, 0..1; None where no photo was taken as recipe.
    light_deg : float or None
        Side the light comes from, anticlockwise from the right; None where even.
    taken_on : datetime.date or None
        When the three figures were taken from a photo.

    Examples
    --------
    >>> PhotoRecipe(form_id=1, lamp="left stand, 1 m up").face_name
    ''
    """

    form_id: int
    face_name: str = ""
    camera_mm: float | None = None
    lamp: str = ""
    floor_marks: str = ""
    shown_width_mm: float | None = None
    brightness_share: float | None = None
    light_deg: float | None = None
    taken_on: date | None = None
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse figures that no photo has."""
        checked(self, "photo_recipe")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("mix_part")
class MixPart:
    """One thing in a mix; the amount is text, since many are known by feel only."""

    kind: str
    name: str = field(metadata={"vocabulary_in": "kind"})
    amount: str = ""

    def __post_init__(self) -> None:
        """Refuse a part without a name."""
        checked(self, "mix_part")
        named(self.name, "The part of the mix")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("mix")
class Mix:
    """A recipe.

    Attributes
    ----------
    name : str
        Unique among the mixes in use.
    basis : str or None
        One of ``MIX_BASES``: what the proportions count.
    proportions : str
        As the maker writes them, e.g. ``"1:2:3"``.
    parts : tuple of MixPart
        Cement, admixtures, fibres and so on.

    Examples
    --------
    >>> Mix(name="grey", basis="by_volume", proportions="1:2:3").proportions
    '1:2:3'
    """

    name: str
    basis: str | None = None
    proportions: str = ""
    parts: tuple[MixPart, ...] = ()
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a mix without a name."""
        named(self.name, "The mix")
        checked(self, "mix")
