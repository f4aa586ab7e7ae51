"""Sentences of a piece just struck: screens and paper say the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import percent

if TYPE_CHECKING:
    from analysis.model.library import LibraryCard
    from analysis.model.strike import StrikeCard, Unlike
    from analysis.model.workshop import FinishTarget

_MOST_UNLIKE = 3


def target_words(target: FinishTarget) -> str:
    """Say what a target allows.

    Examples
    --------
    >>> from analysis.model.workshop import FinishTarget
    >>> target_words(FinishTarget(product_line_id=1, low_share=0.002, high_share=0.006))
    '0.20 to 0.60 %'
    >>> target_words(FinishTarget(product_line_id=1, high_share=0.006))
    'at most 0.60 %'
    """
    low, high = target.low_share, target.high_share
    if low and high is not None:
        return f"{percent(low)} to {percent(high)} %"
    if high is not None:
        return f"at most {percent(high)} %"
    if low:
        return f"at least {percent(low)} %"
    if target.largest_void_mm is not None:
        return f"no void over {target.largest_void_mm:g} mm"
    return f"at most {percent(target.honeycomb_share or 0.0)} % honeycomb"


def place_sentence(card: StrikeCard | LibraryCard) -> str:
    """Say how a piece lies to its target, doubt told.

    Examples
    --------
    >>> from analysis.model.strike import StrikeCard
    >>> place_sentence(
    ...     StrikeCard(share=0.01, low=0.009, high=0.011, place="no target")
    ... )
    'No target is set for its product line.'
    """
    if card.target is None:
        return "No target is set for its product line."
    limits = target_words(card.target)
    return {
        "inside": f"Inside its target ({limits}).",
        "above": f"Out of its target ({limits}): too many or too large voids.",
        "below": f"Out of its target ({limits}): fewer voids than wanted.",
        "doubtful": (
            f"Too close to its target ({limits}) to tell: measure one more area of it."
        ),
    }.get(card.place, f"Its target is {limits}.")


def reference_sentence(card: StrikeCard) -> str:
    """Say how a piece lies to its reference piece; empty without one.

    Examples
    --------
    >>> from analysis.model.strike import StrikeCard
    >>> reference_sentence(
    ...     StrikeCard(share=0.01, low=0.009, high=0.011, place="no target",
    ...                reference="3", beside="alike")
    ... )
    'No clear difference from reference piece 3.'
    """
    if not card.reference:
        return ""
    if card.beside == "alike":
        return f"No clear difference from reference piece {card.reference}."
    return (
        f"{card.beside.capitalize()} voids than reference piece {card.reference}: "
        "clear."
    )


def unlike_sentence(card: StrikeCard) -> str:
    """Say what differs from the last good piece of the form; empty without one.

    Examples
    --------
    >>> from analysis.model.strike import StrikeCard, Unlike
    >>> told = (Unlike(label="Joint sealing", unit="", now="none", then="tape"),)
    >>> unlike_sentence(
    ...     StrikeCard(share=None, low=None, high=None, place="not measured",
    ...                last="5", last_is_good=True, unlike=told)
    ... )
    'Unlike piece 5, the last good one of this form: joint sealing none, not tape.'
    """
    if not card.last:
        return ""
    which = "the last good one of this form" if card.last_is_good else "the one before"
    if not card.unlike:
        return f"Logged like piece {card.last}, {which}."
    told = "; ".join(_unlike(one) for one in card.unlike[:_MOST_UNLIKE])
    more = len(card.unlike) - _MOST_UNLIKE
    return (
        f"Unlike piece {card.last}, {which}: {told}"
        f"{f'; and {more} more' if more > 0 else ''}."
    )


def _unlike(one: Unlike) -> str:
    unit = f" {one.unit}" if one.unit else ""
    return f"{one.label[:1].lower()}{one.label[1:]} {one.now}{unit}, not {one.then}"


def strike_lines(card: StrikeCard) -> tuple[str, ...]:
    """Return all that a strike card says beside the share, the verdict first.

    Examples
    --------
    >>> from analysis.model.strike import StrikeCard
    >>> strike_lines(
    ...     StrikeCard(share=0.01, low=0.009, high=0.011, place="no target")
    ... )
    ('No target is set for its product line.',)
    """
    reference = reference_sentence(card)
    first = reference if card.target is None and reference else place_sentence(card)
    unlike = unlike_sentence(card)
    return tuple(line for line in (first, unlike) if line)
