"""How a piece lies to the finish target of its product line: one rule for all lists."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from analysis.pieces.figures import largest_void_mm, pooled_share, weights
from analysis.pieces.pooling import by_area

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.log_views import ReadingLine
    from analysis.model.workshop import FinishTarget


class _Line(Protocol):
    @property
    def product_line_id(self) -> int | None: ...


def line_of(piece: _Line, form: _Line | None) -> int | None:
    """Return the product line a piece was cast for, else the one its form casts for.

    Examples
    --------
    >>> from analysis.model.log import Piece
    >>> from analysis.model.workshop import Form
    >>> line_of(Piece(name="7", pour_id=1), Form(name="A", product_line_id=3))
    3
    """
    if piece.product_line_id is not None or form is None:
        return piece.product_line_id
    return form.product_line_id


def is_limiting(target: FinishTarget) -> bool:
    """Tell whether a target limits anything.

    Examples
    --------
    >>> from analysis.model.workshop import FinishTarget
    >>> is_limiting(FinishTarget(product_line_id=1, low_share=0.0))
    False
    """
    given = (target.high_share, target.largest_void_mm, target.honeycomb_share)
    return bool(target.low_share) or any(limit is not None for limit in given)


def interval_of(
    lines: Sequence[ReadingLine],
) -> tuple[float, float, float] | None:
    """Return a piece's void share and its 95 % interval of measurement, 0..1.

    Photos are pooled as their shares are. Their errors are taken to go together, since
    one method made them: the ends are pooled alike, which makes no interval too narrow.

    Parameters
    ----------
    lines : sequence of ReadingLine
        From `analysis.pieces.standing`.

    Examples
    --------
    >>> interval_of([]) is None
    True
    """
    share = pooled_share(lines)
    if share is None:
        return None
    areas = weights(lines)
    low = by_area([one.void_share_low for one in lines], areas)
    high = by_area([one.void_share_high for one in lines], areas)
    return share, min(share, low or 0.0), max(share, high or 0.0)


def place_to(
    target: FinishTarget | None,
    lines: Sequence[ReadingLine],
    brought: float | None = None,
) -> str:
    """Tell how a piece lies to a target.

    Parameters
    ----------
    target : FinishTarget or None
        The one in force.
    lines : sequence of ReadingLine
        The readings that stand for the piece.
    brought : float, optional
        A void share that came with a table, 0..1, where nothing stands for the piece.
        It has no interval and is taken as it is.

    Returns
    -------
    str
        ``above`` where all of the interval is above the upper end or the largest void
        is too large; ``below`` where all of it is below the lower end; ``doubtful``
        where an end of the target lies inside the interval, or a photo shows more
        honeycomb than allowed, which only the eye confirms; else ``inside``.
        ``no target``, ``not measured``.

    Examples
    --------
    >>> from analysis.model.workshop import FinishTarget
    >>> band = FinishTarget(product_line_id=1, low_share=0.002, high_share=0.01)
    >>> [place_to(band, (), share) for share in (0.001, 0.002, 0.02)]
    ['below', 'inside', 'above']
    """
    found = interval_of(lines)
    if found is None and brought is None:
        return "not measured"
    if target is None or not is_limiting(target):
        return "no target"
    low, high = (brought or 0.0,) * 2 if found is None else found[1:]
    least = target.low_share or 0.0
    most = 1.0 if target.high_share is None else target.high_share
    widest, limit = largest_void_mm(lines), target.largest_void_mm
    if low > most or (widest is not None and limit is not None and widest > limit):
        return "above"
    if high < least:
        return "below"
    unsure = low < least or high > most or _honeycombed(target, lines)
    return "doubtful" if unsure else "inside"


def _honeycombed(target: FinishTarget, lines: Sequence[ReadingLine]) -> bool:
    """Tell whether the photos show more honeycomb than the target lets be."""
    shown = by_area([one.honeycomb_share for one in lines], weights(lines))
    most = target.honeycomb_share
    return most is not None and shown is not None and shown > most
