"""Cards of pieces and forms: printing them, and whose a card in a photo is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import one_of
from analysis.errors import NotInLogError
from analysis.imaging.card import FoundCard, find_cards
from analysis.imaging.markers import marker_cells
from analysis.model.card import FORM, LAYOUT_OF, PIECE, PLAN, Code
from analysis.model.writing import day
from analysis.planning.plan_words import plan_sentence
from analysis.report.card_sheet import CARD_PAPERS, Card, card_sheet
from analysis.services.log import casting, form, forms
from analysis.services.plans import kept_plans
from analysis.storage.castings import is_live_piece
from analysis.storage.log_mark import log_mark

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from analysis.services.log import Log
    from analysis.services.plans import KeptPlan

__all__ = [
    "CARD_PAPERS",
    "FoundCard",
    "Target",
    "cards_of",
    "find_cards",
    "plan_cards",
    "targets_of",
    "whose",
]

_PIECE_NOTES = ("Sealing", "Vibration, s", "Mix", "Note")
_PLAN_NOTES = ("Cast on", "Slump or flow", "Weather", "Note")
_SHORT = 12
_FORM_NOTES = ("Joints sealed on", "Refinished on", "Release agent", "Note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What a card leads to.

    Attributes
    ----------
    kind : str
        One of `analysis.model.card.KINDS`.
    id : int
        Key of the piece or form in the log, or number of the pour in its plan.
    plan : str
        Key of the plan; empty for pieces and forms.
    """

    kind: str
    id: int
    plan: str = ""


def cards_of(log: Log, kind: str, ids: Sequence[int], *, paper: str) -> bytes:
    """Return the cards of pieces or forms as PDF.

    Parameters
    ----------
    log : Log
    kind : str
        ``"piece"`` or ``"form"``.
    ids : sequence of int
        Their keys.
    paper : str
        One of ``CARD_PAPERS``.

    Raises
    ------
    InputError
        No such kind or paper, or none chosen.
    NotInLogError
        One of them is not in the log.
    """
    one_of(kind, "Kind of card", (PIECE, FORM))
    said, notes = (_piece, _PIECE_NOTES) if kind == PIECE else (_form, _FORM_NOTES)
    texts = {str(one): said(log, one) for one in ids}
    return _sheet(log, kind, texts, notes, paper)


def plan_cards(log: Log, kept: KeptPlan, *, paper: str) -> bytes:
    """Return a card for each pour of a plan that is not cast yet, as PDF.

    Raises
    ------
    InputError
        No such paper, or all pours are cast.
    """
    line = plan_sentence(kept.plan)
    texts = {
        f"{_short(kept.key)}.{number}": (f"Pour {number} of {kept.plan.pours}", line)
        for number in range(1, kept.plan.pours + 1)
        if number not in kept.cast
    }
    return _sheet(log, PLAN, texts, _PLAN_NOTES, paper)


def _sheet(
    log: Log,
    kind: str,
    texts: Mapping[str, tuple[str, str]],
    notes: tuple[str, ...],
    paper: str,
) -> bytes:
    """Lay out a card for each number, with its title and line."""
    one_of(paper, "Paper for cards", CARD_PAPERS)
    mark, layout = log_mark(log), CARD_PAPERS[paper].layout
    cards = [
        Card(
            code=Code(layout=layout, kind=kind, number=number, log_mark=mark),
            title=title,
            line=line,
            notes=notes,
        )
        for number, (title, line) in texts.items()
    ]
    cells = {number: marker_cells(number) for number in LAYOUT_OF}
    return card_sheet(cards, cells, paper=paper)


def _short(key: str) -> str:
    return "".join(key.split(" ", 1)[-1].upper().split("-"))[:_SHORT]


def _piece(log: Log, piece_id: int) -> tuple[str, str]:
    found = casting(log, piece_id)
    piece, pour = found.piece, found.pour
    parts = [f"Pour {pour.name}", f"cast {day(pour.cast_on)}"]
    if piece.form_id is not None:
        parts.insert(0, form(log, piece.form_id).name)
    return f"Piece {piece.name}", ", ".join(parts)


def _form(log: Log, form_id: int) -> tuple[str, str]:
    found = form(log, form_id)
    return f"Form {found.name}", found.form_type or ""


def whose(log: Log, code: Code) -> Target:
    """Return what a card of this log leads to.

    Raises
    ------
    NotInLogError
        It was printed from another log, or what it leads to is gone.
    """
    if code.log_mark != log_mark(log):
        msg = (
            f"The card {code.text} was printed from another log: print one from this "
            "log, or choose by hand."
        )
        raise NotInLogError(msg)
    if (
        code.kind == PIECE
        and code.number.isdecimal()
        and is_live_piece(log, int(code.number))
    ):
        return Target(kind=PIECE, id=int(code.number))
    if (
        code.kind == FORM
        and code.number.isdecimal()
        and int(code.number) in {one.id for one in forms(log)}
    ):
        return Target(kind=FORM, id=int(code.number))
    if code.kind == PLAN:
        short, _, number = code.number.partition(".")
        for kept in kept_plans(log):
            if _short(kept.key) == short and 1 <= int(number or 0) <= kept.plan.pours:
                return Target(kind=PLAN, id=int(number), plan=kept.key)
    msg = f"What the card {code.text} was printed for is not in the log any more."
    raise NotInLogError(msg)


def targets_of(
    log: Log, found: Iterable[FoundCard]
) -> tuple[tuple[Target, ...], tuple[str, ...]]:
    """Return what the cards in a photo lead to, and why others lead nowhere.

    Cards whose code cannot be read are passed over.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     targets_of(open_log(folder), [])
    ((), ())
    """
    targets, problems = [], []
    for card in found:
        if card.code is not None:
            try:
                targets.append(whose(log, card.code))
            except NotInLogError as error:
                problems.append(str(error))
    return tuple(targets), tuple(problems)
