"""Words of logging a pour, and of how a piece was made and came out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.fields import fields_of
from analysis.model.writing import day
from analysis.services.entry import to_texts
from analysis.vocabulary import NONE, VOCABULARIES
from ui.reading_words import figure_brief
from ui.widgets.record_words import OUTCOMES, answer, facts, step_line
from ui.words import NO_READING, pour_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from analysis.model.afterwards import Outcome
    from analysis.model.log import Piece, Pour
    from analysis.model.log_views import Casting
    from analysis.services.entry import Texts
    from analysis.services.pieces import PieceFigure

LOG_POUR = "Log a pour"

# beginning
SAME_HINT = "The same pieces, made the same way. Then change what is different."
EMPTY_POUR = "Start an empty pour"
GO_ON = "Go on with it"
THROW_AWAY = "Delete"
THROWN_AWAY = "Deleted."
LAST_TIME = "What did I do last time?"
LAST_TIME_HINT = "Tap the form"
MORE_FORMS = "More forms"
FIRST_TIME = (
    "First casting in this form: its own joints and usual sealing are filled in."
)
CAST_AGAIN = "Cast the same again"
NO_FORMS = "No form is logged yet. Enter each form once, with its joints."
ADD_FORM = "Enter a form"

# the pour
KEPT = "Kept as you type, even if the phone locks."
PIECES = "Pieces"
ALL_PIECES = "Change all pieces at once"
ONE_BY_ONE = "Pieces with several vibration steps are changed one at a time."
CHANGE = "Change"
DONE = "Done"
TAKE_OFF = "Delete from this pour"
ADD_LIKE = "Add a piece: tap its form"
ADD_LOOSE = "Without a form"
NEW_FORM = "New form"
JOINTS_COUNT = "How many joints it has (blank: not known)"
MAKE_FORM = "Make the form and add a piece"
NO_PIECES = "No piece yet: add some below."
SAVE_POUR = "Save the pour"
TAKE_BACK = "Undo"
TAKEN_BACK = "Undone:"
BRING_BACK = "Undo"
OF_POUR = "Its pour:"

_ASKED_BEFORE = frozenset({"name", "form_id", "product_line_id", "cast_on"})
MIXED_HOW = (
    "mix_id",
    "water_added_l",
    "consistency",
    "slump_mm",
    "flow_mm",
    "cement_lot",
)
MADE, _OF_POUR = (
    tuple(one.name for one in fields_of(owner) if one.name not in _ASKED_BEFORE)
    for owner in ("piece", "pour")
)
WEATHER = tuple(name for name in _OF_POUR if name not in MIXED_HOW)


def pieces_count(count: int) -> str:
    """Say how many pieces.

    Examples
    --------
    >>> pieces_count(1), pieces_count(6)
    ('1 piece', '6 pieces')
    """
    return "1 piece" if count == 1 else f"{count} pieces"


def like_pour(pour: Pour, count: int) -> str:
    """Say what a pour like the last one would be."""
    return f"Like pour {pour.name} of {day(pour.cast_on)}: {pieces_count(count)}"


def unfinished_line(pour: Texts, count: int) -> str:
    """Name what was begun elsewhere and not saved."""
    name = pour.get("name", "")
    return f"Begun and not saved: pour {name}, {pieces_count(count)}."


def saved_line(pour: Pour, count: int) -> str:
    """Say what was saved."""
    return f"Saved: pour {pour_name(pour)}, {pieces_count(count)}."


def piece_name(name: str, form: str | None) -> str:
    """Name a piece that is not saved yet."""
    return name if form is None else f"{name}, {form}"


def last_time_line(casting: Casting) -> str:
    """Say when a form was last used, and for which piece."""
    use = "" if casting.form_use is None else f", casting {casting.form_use} in it"
    return f"{day(casting.pour.cast_on)}: piece {casting.piece.name}{use}"


def _leak(word: str) -> str:
    """Say a leak: none, a word of the list, or one of the maker's own."""
    if word == NONE:
        return "no leak"
    return f"{word} leak" if word in VOCABULARIES["leak"] else f"leak: {word}"


def joint_lines(piece: Piece) -> list[str]:
    """Say how each joint was sealed and whether it leaked.

    Examples
    --------
    >>> from analysis.model.log import JointState
    >>> from analysis.model.log import Piece
    >>> joint_lines(Piece(name="7", pour_id=1))
    ['Joint sealing: not known']
    >>> joints = (JointState(joint="left", sealing="tape", leak="none"),)
    >>> joint_lines(Piece(name="7", pour_id=1, joints=joints))
    ['Joint left: tape, no leak']
    """
    lines = []
    for state in piece.joints:
        named = f"Joint {state.joint}" if state.joint else "All joints"
        leak = "" if state.leak is None else f", {_leak(state.leak)}"
        lines.append(f"{named}: {answer('sealing', state.sealing or '')}{leak}")
    return lines or [f"Joint sealing: {answer('sealing', '')}"]


def step_lines(piece: Piece) -> list[str]:
    """Say each step of consolidation in full."""
    lines = [step_line(to_texts(step)) for step in piece.steps]
    return lines or [step_line({})]


def made_lines(piece: Piece) -> list[str]:
    """Say how a piece was made, from its joints to its note."""
    release = [] if piece.release_agent else [f"Release agent: {answer('', '')}"]
    steps = [f"Consolidation: {line}" for line in step_lines(piece)]
    return [*joint_lines(piece), *release, *steps, *facts(piece, MADE, {})]


def mix_lines(pour: Pour, mixes: Mapping[str, str]) -> list[str]:
    """Say what the mix of a pour was."""
    return facts(pour, MIXED_HOW, {"mix_id": mixes})


def came_out_line(figure: PieceFigure | None, judged: Sequence[Outcome]) -> str:
    """Say how a piece came out: its figure and its latest judgement."""
    parts = [] if figure is None else [_area(figure)]
    for one in judged:
        parts += [] if one.outcome is None else [OUTCOMES[one.outcome].lower()]
        parts += [] if one.eye_score is None else [f"eye score {one.eye_score}"]
    return f"Came out: {', '.join(parts) if parts else NO_READING.lower()}"


def _area(figure: PieceFigure) -> str:
    brief = figure_brief(figure)
    return f"{brief} void area" if figure.share and len(figure.lines) == 1 else brief
