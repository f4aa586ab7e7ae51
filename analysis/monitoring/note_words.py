"""What following has to say: its notes, breaks, differences and wear, as sentences."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.fields import column_field
from analysis.model.field_words import cell_words, column_words, label_of
from analysis.model.notes import say
from analysis.model.sizes import between, change, changed
from analysis.model.writing import counted
from analysis.monitoring.pours import OF_METHOD
from analysis.pieces.sealing import NOT_RECORDED

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from analysis.model.monitoring import Break, Difference
    from analysis.model.notes import Note
    from analysis.model.outlook import Trend

MOST_NAMED = 5
ADVICE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "too_early": "Too early to tell whether it wears",
        "no_sign": "No sign of wear",
        "re_seal": "Reseal its joints",
        "refinish": "Refinish its face",
        "retire": "Retire it",
    }
)


def note_words(note: Note) -> str:
    """Say a note of following, of the finish target or of wear.

    Examples
    --------
    >>> from analysis.model.notes import note
    >>> note_words(note("wide_interval", pours=3))
    'Only 3 pours, so the interval is wide.'
    """
    return say(note, NOTE_WORDS)


def break_words(found: Break) -> str:
    """Say why the baseline starts anew.

    Examples
    --------
    >>> from analysis.model.monitoring import Break
    >>> from analysis.model.notes import note
    >>> sealed = note("sealing_changed", before="open", now="sealed")
    >>> break_words(Break(at=3, reasons=(note("declared", what="new mix"), sealed)))
    'new mix; joint sealing: open to sealed'
    """
    return "; ".join(note_words(reason) for reason in found.reasons)


def difference_words(found: Difference) -> tuple[str, str]:
    """Say what a setting is at the signal, and what it was before.

    Examples
    --------
    >>> from analysis.model.monitoring import Difference
    >>> difference_words(Difference(setting="mix", level="white", now=1, of_now=1,
    ...                             before=0, of_before=12, p_value=0.1))
    ('white (1 of 1)', 'white (0 of 12)')
    """
    if found.level is None:
        return f"{found.now:g}", f"{found.before:g}"
    level = found.level or NOT_RECORDED
    return (
        f"{level} ({found.now} of {found.of_now})",
        f"{level} ({found.before} of {found.of_before})",
    )


def spelt(name: str, level: str) -> str:
    """Write a level for reading.

    Examples
    --------
    >>> spelt("stage", "as_struck"), spelt("product_line", "")
    ('as struck', 'not recorded')
    """
    return cell_words(name, str(level)) or NOT_RECORDED


def setting_words(setting: str) -> str:
    """Name a setting that is followed, a number with its unit.

    Examples
    --------
    >>> setting_words("air_c"), setting_words("joint_sealing")
    ('air temperature, °C', 'joint sealing')
    >>> setting_words(f"vibration_s{OF_METHOD}table")
    'vibration, seconds (table)'
    """
    column, _, method = setting.partition(OF_METHOD)
    field = column_field(column)
    if field is None or not field.unit:
        return column_words(column)
    title = label_of(column)
    title = title[:1].lower() + title[1:]
    return f"{title} ({method})" if method else title


def _since(pour: str) -> str:
    """Name the first pour of an era; empty where there is one era only."""
    return f" from {pour}" if pour else ""


def _too_early_for_limits(since: str, pours: int, fewest: int) -> str:
    return (
        f"Too early for limits{_since(since)}: {counted(pours, 'pour')}, and it takes "
        f"at least {fewest}."
    )


def _short_baseline(since: str, pours: int, enough: int) -> str:
    return (
        f"The limits{_since(since)} come from only {pours} pours and are still "
        f"uncertain; {enough} would be better."
    )


def _gaps(gaps: int, days: int, pour: str) -> str:
    if gaps == 1:
        return f"There was no pour for {days} days before {pour}."
    return (
        f"There are {gaps} long gaps without a pour; the longest, {days} days, is "
        f"before {pour}."
    )


def _neighbours_alike(correlation: float, *, widened: bool) -> str:
    wider = " The limits are widened for it." if widened else ""
    return (
        f"Neighbouring pours are alike (lag-one correlation {correlation:.2f}): "
        f"something lasts over several pours, or the level moved, so more pours are "
        f"marked than by chance.{wider}"
    )


def _other_version(pieces: int, version: str) -> str:
    return (
        f"Left out: {counted(pieces, 'piece')} measured by another version of the "
        f"method than {version or 'the unrecorded one'}; measure their photos again to "
        f"include them."
    )


def _one_kind(
    name: str, level: str, pours: int, others: tuple[tuple[str, int], ...]
) -> str:
    shown = ", ".join(
        f"{spelt(name, other)} ({counted(count, 'pour')})"
        for other, count in others[:MOST_NAMED]
    )
    more = f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    return (
        f"This chart shows {column_words(name)} {spelt(name, level)} "
        f"({counted(pours, 'pour')}). Left out, since only like goes with like: "
        f"{shown}{more}."
    )


def _no_rise(face: Trend) -> str:
    return (
        f"No rise with use: {between(face.ratio_low, face.ratio_high)} void area over "
        f"ten uses, from {counted(face.n_castings, 'casting')}."
    )


def _rise(trend: Trend) -> str:
    """Say how it rises, by how much, and from how many castings."""
    shape = {
        "steady_rise": "steadily",
        "rise_after": f"from use {trend.change_at_use or 0:g} on",
        "step_at": f"in a step at use {trend.change_at_use or 0:g}",
    }[trend.shape]
    return (
        f"{shape}, with "
        f"{changed(trend.ratio_per_10_uses, trend.ratio_low, trend.ratio_high)} over "
        f"ten uses, from {counted(trend.n_castings, 'casting')}"
    )


def _worn(face: Trend, *, outside: bool) -> str:
    extra = " By the fitted line it is already outside the target." if outside else ""
    return f"Voids rise with use {_rise(face)}: clear.{extra}"


NOTE_WORDS: Mapping[str, str | Callable[..., str]] = MappingProxyType(
    {
        # which rows and pieces
        "rows_without": lambda rows, name: (
            f"Left out: {counted(rows, 'row')} with {column_words(name)} not known."
        ),
        "photos_joined": lambda photos, pieces: (
            f"{photos} photos were joined into {counted(pieces, 'piece')}, by area."
        ),
        "other_version": _other_version,
        "no_dates": (
            "No casting dates are logged: the pours are taken in the order listed."
        ),
        "without_date": lambda pours: (
            f"Left out: {counted(pours, 'pour')} without a casting date; add the date."
        ),
        "one_kind": _one_kind,
        "sealing_eras": (
            "You changed the joint sealing for good, so each kind has a baseline of "
            "its own."
        ),
        "mixed_as_asked": lambda name, kinds: (
            f"Mixed, as you asked: {column_words(name)} ({kinds} kinds)."
        ),
        "smallest_sizes_differ": (
            "The smallest counted size runs from {low:g} to {high:g} mm, and that "
            "alone can make a rise or a fall: measure all of them again at the largest."
        ),
        "many_without_voids": (
            "{share:.0%} of the pieces have no void of the smallest counted size. A "
            "small share stands in for them, so go by the bugholes per m² instead."
        ),
        # limits
        "declared": "{what}",
        "sealing_changed": "joint sealing: {before} to {now}",
        "new_baseline": lambda pour, found: (
            f"A new baseline starts at pour {pour} ({break_words(found)})."
        ),
        "too_early_for_limits": _too_early_for_limits,
        "all_the_same": lambda since: (
            f"The first pours{_since(since)} all have the same share, so no limits can "
            f"be set: give shares with more digits."
        ),
        "not_steady": lambda since, pours: (
            f"The baseline{_since(since)} ({pours} pours) is not steady itself, so its "
            f"limits are a rough guide."
        ),
        "short_baseline": _short_baseline,
        "false_alarms": (
            "With these rules about {rate:.1%} of steady pours are marked by chance "
            "alone (simulated)."
        ),
        "gaps": _gaps,
        "neighbours_alike": _neighbours_alike,
        "baseline_leans": lambda tau: (
            f"The baseline itself {'rises' if tau > 0 else 'falls'} (Kendall's tau "
            f"{tau:.2f}): freeze one from steady pours."
        ),
        "goes_with_air": lambda ratio: (
            f"The void area goes with the air: {change(ratio)} for 10 °C more. Set "
            f"warm pours against warm ones before looking for another cause."
        ),
        # the next piece
        "too_early_to_say": lambda pours, fewest: (
            f"Too early to say: {counted(pours, 'pour')}, and it takes at least "
            f"{fewest}."
        ),
        "wide_interval": "Only {pours} pours, so the interval is wide.",
        "newest_stand_out": (
            "The newest pours stand out, so the next one may turn out differently."
        ),
        # wear
        "since_refinished": (
            "Only castings since the face was last refinished are judged."
        ),
        "partly_marked": (
            "Joint lines were not marked on every piece, so the whole face is taken as "
            "open face."
        ),
        "shop_worse_too": (
            "The other forms in the same pours got worse by about as much: look at the "
            "mix, the release agent and the vibration before you blame the form."
        ),
        "one_kind_judged": lambda name, level, pieces, among: (
            f"Only pieces with {column_words(name)} {spelt(name, level)} are judged "
            f"({pieces} of {among})."
        ),
        "few_castings": lambda castings, fewest: (
            f"{counted(castings, 'comparable casting')}: too early to tell. It takes "
            f"{fewest} at different uses."
        ),
        "shop_drifted": lambda face: (
            f"Voids rise with use {_rise(face)}, but those of the other forms rose as "
            f"much meanwhile: the shop has drifted, this form need not have worn."
        ),
        "joints_rise": lambda joints: (
            f"Voids along the joints rise with use {_rise(joints)}: clear; those on "
            f"the open face do not."
        ),
        "no_rise": _no_rise,
        "worn_again": lambda face: (
            f"The face wears again after it was refinished, {_rise(face)}: clear."
        ),
        "worn": _worn,
    }
)
