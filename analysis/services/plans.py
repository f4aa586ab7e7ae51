"""The next pours: planned, kept, printed, and begun in the log."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from analysis.checks import plain_text
from analysis.compare.choices import factors
from analysis.errors import NotInLogError
from analysis.fields import row_fields
from analysis.model.log import JointState, Piece, Pour, Step, steps_of
from analysis.model.plan import Assignment, Hold, OwnedForm, Plan, PlanQuestion
from analysis.model.workshop import Form, Mix
from analysis.planning.pour_plan import can_be_planned, plan, tangled_with
from analysis.services import records
from analysis.services.entry import from_texts, to_texts
from analysis.services.tables import trials_of_log
from analysis.services.trial_marks import PREFIX, TRIES, token_of
from analysis.storage.saving import saved_id

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.comparison import PieceTable
    from analysis.services.log import Log

__all__ = [
    "KeptPlan",
    "bench_sheet",
    "factors_to_plan",
    "keep_plan",
    "kept_plan",
    "kept_plans",
    "plan_of_log",
    "pour_of_plan",
    "pour_token",
    "throw_away",
    "tick",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A plan in the log.

    Attributes
    ----------
    key : str
        Where it is kept.
    made_on : str
        Day, year-month-day.
    plan : Plan
        As it was made.
    cast : mapping of int to int or None
        Pours of the plan that are done: the log's pour, None where only ticked.
    """

    key: str
    made_on: str
    plan: Plan
    cast: dict[int, int | None]


def plan_of_log(
    log: Log, question: PlanQuestion, table: PieceTable | None = None
) -> Plan:
    """Lay out the next pours for a question about this log.

    Parameters
    ----------
    log : Log
        The log.
    question : PlanQuestion
        What is to be told apart.
    table : PieceTable, optional
        Its pieces, where they were read already.

    Raises
    ------
    InputError
        It cannot be planned; says what to do.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     asked = PlanQuestion(by="joint_sealing", levels=("tape", "none"))
    ...     plan_of_log(open_log(folder), asked).pieces_per_level
    1
    """
    forms = [
        OwnedForm(
            name=form.name,
            form_type=form.form_type,
            joints=tuple(joint.name for joint in form.joints),
        )
        for form in records.list_all(log, Form)
    ]
    if question.seed is None:
        question = replace(question, seed=fresh_seed(log, question))
    return plan(table or trials_of_log(log), question, forms)


def bench_sheet(plan: Plan, sentence: str, *, made_on: str, page: str = "A4") -> bytes:
    """Return the sheet to take to the bench, as PDF.

    Parameters, errors and an example are those of
    `analysis.report.bench_sheet.bench_sheet`.
    """
    # What lays out paper is read only where paper is asked for: it takes a while.
    from analysis.report import bench_sheet as sheets  # noqa: PLC0415

    return sheets.bench_sheet(plan, sentence, made_on=made_on, page=page)


def fresh_seed(log: Log, question: PlanQuestion) -> int:
    """Return the seed of the next plan's lots: another one once a plan is kept.

    It follows from the day, the question and the plans in the log, so that a plan
    does not change while one looks at it.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log, asked = open_log(folder), PlanQuestion(by="mix", levels=("a", "b"))
    ...     fresh_seed(log, asked) == fresh_seed(log, asked)
    True
    """
    drawn = (
        records.today().isoformat(),
        repr(question),
        *sorted(records.list_drafts(log, PREFIX)),
    )
    digest = hashlib.sha256("|".join(drawn).encode()).digest()
    return int.from_bytes(digest[:4], "big")


def factors_to_plan(table: PieceTable) -> tuple[tuple[str, ...], tuple[str, ...]]:
    r"""Return what can be planned by, and what of it the log cannot tell apart yet.

    Returns
    -------
    factors : tuple of str
        Those tried first, then others that makers try.
    tangled : tuple of str
        Those that went along with another setting in every piece.

    Examples
    --------
    >>> from analysis.services.tables import table_from_csv
    >>> factors_to_plan(table_from_csv("piece,pour\n1,A\n"))[0][:2]
    ('joint_sealing', 'release_agent')
    """
    tried = [
        name for name in factors(table) if can_be_planned(name) and name in _FILLED_IN
    ]
    offered = tuple(dict.fromkeys((*tried, *_USUAL)))
    return offered, tuple(name for name in tried if tangled_with(table, name))


def keep_plan(log: Log, made: Plan, *, save_token: str) -> str:
    """Keep a plan in the log; once for a token.

    Returns
    -------
    str
        Its key.

    Raises
    ------
    InputError
        A level has a control character.
    """
    for level in made.levels:
        plain_text(level, "The level")
    key = f"{PREFIX}{save_token}"
    if records.load_draft(log, key) is None:
        content = {"made_on": records.today().isoformat(), "ticked": []}
        records.save_draft(log, key, content | {"plan": asdict(made)})
    return key


def kept_plans(log: Log) -> tuple[KeptPlan, ...]:
    """Return the plans in the log, the latest touched first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     kept_plans(open_log(folder))
    ()
    """
    return tuple(kept_plan(log, key) for key in records.list_drafts(log, PREFIX))


def kept_plan(log: Log, key: str) -> KeptPlan:
    """Return one kept plan with what was cast of it.

    Raises
    ------
    NotInLogError
        It was thrown away.
    """
    content = _content(log, key)
    made = _plan(content["plan"])
    live = {pour.id for pour in records.list_all(log, Pour)}
    cast: dict[int, int | None] = dict.fromkeys(content["ticked"])
    for number in range(1, made.pours + 1):
        for attempt in range(TRIES):
            pour_id = saved_id(log, token_of(key, number, attempt))
            if pour_id is None:
                break
            if pour_id in live:
                cast[number] = pour_id
    return KeptPlan(key=key, made_on=content["made_on"], plan=made, cast=cast)


def tick(log: Log, key: str, number: int, *, done: bool) -> None:
    """Mark a pour of a plan as cast, or not, without a pour in the log.

    Raises
    ------
    NotInLogError
        The plan was thrown away.
    """
    content = _content(log, key)
    ticked = {*content["ticked"]} - {number} | ({number} if done else set())
    records.save_draft(log, key, content | {"ticked": sorted(ticked)})


def throw_away(log: Log, key: str) -> None:
    """Forget a plan; the pours cast by it stay."""
    records.drop_draft(log, key)


def pour_token(log: Log, key: str, number: int) -> str:
    """Return the token to save a pour of a plan with, so that the plan knows it.

    A pour that was taken back leaves its token used; the next one is given.
    """
    for attempt in range(TRIES):
        token = token_of(key, number, attempt)
        if saved_id(log, token) is None:
            return token
    msg = f"Pour {number} was undone {TRIES} times: make a new plan."
    raise NotInLogError(msg)


def pour_of_plan(
    log: Log, kept: KeptPlan, number: int
) -> tuple[Pour, tuple[Piece, ...]]:
    """Return a pour of a plan ready to log, in the order to fill.

    Pieces are made as last time in their form, with what the plan says.
    """
    made = kept.plan
    like = records.pour_like_last(log)
    name = records.next_names(log, Pour)[0]
    pour = like[0] if like else Pour(name=name, cast_on=records.today())
    planned = sorted(
        (one for one in made.assignments if one.pour == number),
        key=lambda one: one.order,
    )
    forms = {form.name: form.id for form in records.list_all(log, Form)}
    joints = {one.joint: one.level for one in planned if one.joint}
    if joints:  # one piece, whose joints each have a lot of their own
        planned = planned[:1]
    names = records.next_names(log, Piece, count=len(planned))
    pieces = []
    for one, called in zip(planned, names, strict=True):
        form_id = forms.get(one.form or "")
        piece = Piece(name=called, pour_id=0)
        if form_id is not None:
            piece = records.like_last(log, form_id, name=called)
        settings = [(hold.factor, hold.level) for hold in made.hold]
        for factor, level in [*settings, (made.by, one.level)]:
            piece, pour = _with(log, piece, pour, factor, level)
        if joints:
            states = tuple(JointState(joint=k, sealing=v) for k, v in joints.items())
            piece = replace(piece, joints=states)
        pieces.append(piece)
    return pour, tuple(pieces)


def _with(
    log: Log, piece: Piece, pour: Pour, factor: str, level: str
) -> tuple[Piece, Pour]:
    """Return piece and pour with one factor set."""
    if factor in _OF_PIECE:
        return _OF_PIECE[factor](piece, level), pour
    if factor == "mix":
        ids = {mix.name: mix.id for mix in records.list_all(log, Mix)}
        return piece, replace(pour, mix_id=ids.get(level, pour.mix_id))
    if factor in _POUR_FIELDS:
        return piece, from_texts(Pour, to_texts(pour) | {_POUR_FIELDS[factor]: level})
    if factor in _PIECE_FIELDS:
        return from_texts(Piece, to_texts(piece) | {_PIECE_FIELDS[factor]: level}), pour
    return piece, pour


def _sealed(piece: Piece, level: str) -> Piece:
    joints = piece.joints or (JointState(),)
    return replace(
        piece, joints=tuple(replace(joint, sealing=level) for joint in joints)
    )


def _timed(piece: Piece, level: str) -> Piece:
    steps = piece.steps or (Step(),)
    at = next((n for n, s in enumerate(steps) if s.seconds is not None), len(steps) - 1)
    own = replace(steps[at], seconds=float(level))
    return replace(piece, steps=(*steps[:at], own, *steps[at + 1 :]))


def _by_method(piece: Piece, level: str) -> Piece:
    if piece.vibration_method == level:
        return piece
    return replace(piece, steps=steps_of(level))


def _counted(name: str) -> Callable[[Piece, str], Piece]:
    """Set strokes or passes on the step that has them, else on the first."""

    def changed(piece: Piece, level: str) -> Piece:
        steps = piece.steps or (Step(),)
        at = next((n for n, s in enumerate(steps) if getattr(s, name) is not None), 0)
        if name == "strokes":
            own = replace(steps[at], strokes=int(float(level)))
        else:
            own = replace(steps[at], passes=float(level))
        return replace(piece, steps=(*steps[:at], own, *steps[at + 1 :]))

    return changed


_OF_PIECE: dict[str, Callable[[Piece, str], Piece]] = {
    "joint_sealing": _sealed,
    "vibration_s": _timed,
    "vibration_method": _by_method,
    "strokes": _counted("strokes"),
    "passes": _counted("passes"),
}
_POUR_FIELDS, _PIECE_FIELDS = (
    {
        one.column: one.name
        for one in row_fields(owner)
        if one.role == "setting" and one.kind != "reference"
    }
    for owner in ("pour", "piece")
)
_FILLED_IN = frozenset({*_OF_PIECE, *_POUR_FIELDS, *_PIECE_FIELDS, "mix"})
_USUAL = (
    "joint_sealing",
    "release_agent",
    "vibration_s",
    "vibration_method",
    "mix",
    "release_application",
    "curing",
)


def _content(log: Log, key: str) -> dict[str, Any]:
    found = records.load_draft(log, key)
    if found is None:
        msg = "This plan was deleted: make a new one."
        raise NotInLogError(msg)
    return found


def _plan(content: dict[str, Any]) -> Plan:
    """Read a plan; what one of an earlier version says in sentences is left out."""
    return Plan(
        **{name: one for name, one in content.items() if name != "notes"}
        | {
            "levels": tuple(content["levels"]),
            "resolves": tuple(content["resolves"]),
            "hold": tuple(Hold(**one) for one in content["hold"]),
            "assignments": tuple(Assignment(**one) for one in content["assignments"]),
        }
    )
