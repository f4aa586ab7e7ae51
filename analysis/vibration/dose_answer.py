"""Is it vibration: more, the same, less, something else first, or not known yet.

Asked of one form type and one method. The curve of the share over the seconds
(`analysis.vibration.dose`) is drawn a few thousand times as the pieces allow, for
pieces as they were cast lately; a decision is firm where nearly all of the draws
agree.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.model.vibration import (
    DoseCurve,
    DoseEffect,
    DosePieces,
    OpenReason,
    ShareSpan,
    VibrationAnswer,
)
from analysis.vibration.deciding import Weighed, decide
from analysis.vibration.dose import draw_curves, log_seconds
from analysis.vibration.dose_rows import gather
from analysis.vibration.next_casting import next_casting
from analysis.vibration.other_causes import joints_leak, went_along
from analysis.vibration.suggestions import nice_times
from analysis.vibration.why import Facts, why

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable
    from analysis.model.vibration import VibrationQuestion
    from analysis.vibration.dose import Draws
    from analysis.vibration.dose_rows import Gathered

CURVE_POINTS = 41


def vibration(table: PieceTable, question: VibrationQuestion) -> VibrationAnswer:
    """Decide whether the seconds are to blame, and what to cast next.

    Parameters
    ----------
    table : PieceTable
        Pieces of any form type and method.
    question : VibrationQuestion
        What is asked.

    Returns
    -------
    VibrationAnswer
        Always an answer; with no piece at all it is today's trial.

    Raises
    ------
    TableError
        A column is missing, or photos of a piece disagree about the seconds.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> random, rows = np.random.default_rng(2), []
    >>> for n in range(48):
    ...     seconds = (15, 30, 60)[n // 4 % 3]
    ...     share = 1.2 * (15 / seconds) ** 0.8 * np.exp(random.normal(0, 0.2))
    ...     rows.append({"piece": n, "pour": n // 4, "form_type": "pot",
    ...                  "vibration_method": "table", "vibration_s": seconds,
    ...                  "dealt": "by_lot",
    ...                  "void_area_percent": share})
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006, current_s=15.0)
    >>> answer = vibration(piece_table(rows), asked)
    >>> answer.decision, 30 <= answer.suggested_s <= 105
    ('more', True)
    """
    gathered = gather(table, question)
    if gathered is None:
        return _without_pieces(table, question)
    tried = np.unique(gathered.seconds)
    current = question.current_s
    if current is None:
        current = gathered.current_s or 0.0
    # Further from the times tried the curve would only extrapolate.
    low_s, high_s = 0.5 * tried[0], 1.75 * tried[-1]
    offered = nice_times(low_s, high_s, current, whole=question.dose != "seconds")
    shown = np.linspace(low_s, high_s, CURVE_POINTS)
    asked_s = np.concatenate([[current], offered, shown])
    draws, at = _drawn_at(gathered, asked_s)
    count = len(offered)
    weighed = Weighed(
        seconds=offered,
        at=at[:, 1 : 1 + count],
        now=at[:, 0],
        low=np.log(max(100 * question.target_low, 1e-12)),
        high=np.log(100 * question.target_high),
    )
    within = bool(low_s <= current <= high_s)
    found = decide(gathered, draws, weighed, current, within=within)
    expected, effect = None, None
    if found.suggested_s is not None:
        where = int(np.argmin(np.abs(asked_s - found.suggested_s)))
        expected = _span(at[:, where])
        if found.decision in {"more", "less"}:
            effect = _effect(at[:, where] - weighed.now)
    now = _span(weighed.now) if within else None
    facts = Facts(
        question=question,
        decision=found.decision,
        cause=found.cause,
        reasons=found.reasons,
        current_s=current,
        tried=tuple(tried.tolist()),
        pours=gathered.pours,
        now=now,
        expected=expected,
        suggested_s=found.suggested_s,
        bottom_s=weighed.bottom_s if len(tried) > 1 else None,
        leak=joints_leak(gathered) is not None,
    )
    return VibrationAnswer(
        question=question,
        decision=found.decision,
        current_s=current,
        suggested_s=found.suggested_s,
        expected=expected,
        now=now,
        tried_s=(float(tried[0]), float(tried[-1])),
        why=why(facts),
        rests_on=gathered.notes,
        trial=next_casting(facts, gathered, draws, went_along(gathered)),
        curve=_curve(shown, at[:, 1 + count :]) if len(tried) > 1 else None,
        pieces=DosePieces(
            piece=gathered.table.text["piece"],
            pour=gathered.table.text["pour"],
            seconds=gathered.seconds,
            share=gathered.share / 100,
        ),
        reasons=found.reasons,
        cause=found.cause,
        change=effect,
        pours=gathered.pours,
        left_out=gathered.left_out,
    )


def expected_shares(
    table: PieceTable, question: VibrationQuestion, amounts: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Draw the log share at some amounts, for pieces as cast lately.

    Parameters
    ----------
    table : PieceTable
        Pieces of any form type and method.
    question : VibrationQuestion
        What is asked.
    amounts : ndarray of float64, (m,)
        Seconds, strokes or passes.

    Returns
    -------
    ndarray of float64, (d, m), or None
        Natural log of percent, draws that belong together in a row; None without
        pieces.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> expected_shares(piece_table([]), asked, np.array([30.0])) is None
    True
    """
    gathered = gather(table, question)
    return None if gathered is None else _drawn_at(gathered, amounts)[1]


def _drawn_at(
    gathered: Gathered, amounts: NDArray[np.float64]
) -> tuple[Draws, NDArray[np.float64]]:
    """Draw the curve, and with it the log share of pieces as cast lately."""
    draws = draw_curves(gathered.doses, log_seconds(amounts, gathered.seconds))
    lately = gathered.doses.covariates[gathered.late].mean(axis=0)
    # (d, 1) + (d, m): covariates at their mean lately move all times alike.
    return draws, (draws.level + draws.covariates @ lately)[:, None] + draws.curve


def _curve(seconds: NDArray[np.float64], logs: NDArray[np.float64]) -> DoseCurve:
    low, middle, high = np.exp(np.percentile(logs, [2.5, 50, 97.5], axis=0)) / 100
    return DoseCurve(seconds=seconds, middle=middle, low=low, high=high)


def _span(logs: NDArray[np.float64]) -> ShareSpan:
    low, middle, high = np.exp(np.percentile(logs, [2.5, 50, 97.5])) / 100
    cap = 1.0  # no share is more than the whole face
    return ShareSpan(
        middle=min(float(middle), cap),
        low=min(float(low), cap),
        high=min(float(high), cap),
    )


def _nothing_cast(table: PieceTable, question: VibrationQuestion) -> OpenReason:
    """Say that no piece of this kind is there, and which kinds are."""
    none = np.empty(len(table), str)
    types = table.text.get("form_type", none)
    methods = table.text.get("vibration_method", none)
    mine = types == question.form_type
    used = {cell or "an unknown one" for cell in methods[mine].tolist()}
    names = used or {cell for cell in types.tolist() if cell}
    return OpenReason(
        code="nothing_cast", names=tuple(sorted(names)), count=float(mine.sum())
    )


def _effect(logs: NDArray[np.float64]) -> DoseEffect:
    low, middle, high = np.exp(np.percentile(logs, [2.5, 50, 97.5])).tolist()
    return DoseEffect(ratio=middle, low=low, high=high)


def _without_pieces(table: PieceTable, question: VibrationQuestion) -> VibrationAnswer:
    empty = np.empty(0)
    facts = Facts(
        question=question,
        decision="not_enough_evidence",
        reasons=(_nothing_cast(table, question),),
        current_s=question.current_s,
    )
    return VibrationAnswer(
        question=question,
        decision=facts.decision,
        current_s=question.current_s,
        suggested_s=None,
        expected=None,
        now=None,
        tried_s=(),
        why=why(facts),
        rests_on=(),
        reasons=facts.reasons,
        trial=next_casting(facts, None, None, None),
        curve=None,
        pieces=DosePieces(
            piece=np.empty(0, dtype=np.str_),
            pour=np.empty(0, dtype=np.str_),
            seconds=empty,
            share=empty,
        ),
    )
