"""Following the finish pour by pour."""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.model.monitoring import Break, Gap, PourPoints, Track, TrackOptions
from analysis.model.notes import note
from analysis.monitoring import baseline as bases
from analysis.monitoring.chosen import choose
from analysis.monitoring.false_alarms import false_alarm_rate
from analysis.monitoring.limits import EWMA_WEIGHT, SIGMAS, counts_per_area, ewma
from analysis.monitoring.neighbours import carry_over, widening
from analysis.monitoring.neighbours import notes as neighbour_notes
from analysis.monitoring.pours import pour_values
from analysis.monitoring.rules import BEYOND, broken, named

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns, Rule
    from analysis.model.notes import Note
    from analysis.monitoring.chosen import ChartedPieces
    from analysis.monitoring.pours import Pours

MM2_PER_M2 = 1e6
LONG_GAP_DAYS = 28
LONG_GAP_TIMES = 4.0
MANY_BARE = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Era:
    """Limits of the pours of one era; columns of its length, None without limits."""

    base: bases.Baseline | None
    columns: dict[str, NDArray[np.float64]]
    signals: NDArray[np.bool_]
    spread_factor: float | None


def track(pieces: PieceColumns, options: TrackOptions | None = None) -> Track:
    """Follow the finish over pours.

    Parameters
    ----------
    pieces : PieceColumns
        All measured pieces; unlike ones are not mixed.
    options : TrackOptions, optional
        What to follow; None follows the kind with most pours.

    Returns
    -------
    Track
        Points in order of casting, with limits where 8 or more pours carry them.

    Raises
    ------
    InputError
        No piece is left, a rule is not known, or frozen pours are not in the log
        or too few.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> shares = [0.010, 0.012, 0.011, 0.009] * 3 + [0.05]
    >>> result = track(pieces(shares))
    >>> result.points.pour[result.points.signals.any(axis=0)].tolist()
    ['P0013']
    """
    options = options or TrackOptions()
    rules = named(options.rules)
    chosen = choose(pieces, options)
    kept = pieces.take(chosen.rows)
    pours = pour_values(kept)
    breaks = _breaks(pours, chosen, options)
    starts = [0, *(b.at for b in breaks), len(pours.pour)]
    asked = _frozen_rows(pours, options.baseline)
    eras = [_era(pours, slice(a, b), rules, asked) for a, b in pairwise(starts)]
    points = _points(pours, eras, starts)
    gaps = _gaps(pours.cast_on)
    last = eras[-1]
    rate = None
    if last.base is not None:
        rate = false_alarm_rate(rules, len(last.base.pours))
    notes = (
        *chosen.notes,
        *_zero_notes(kept),
        *_era_notes(pours, breaks, eras, starts, rate),
        *_neighbour_notes(kept, pours, last, starts),
        *_gap_notes(pours, gaps),
    )
    return Track(
        of=chosen.of,
        points=points,
        rules=rules,
        breaks=breaks,
        gaps=gaps,
        false_alarm_rate=rate,
        spread_factor=last.spread_factor,
        notes=notes,
        piece_rows=chosen.rows,
        pour_of_piece=pours.of_piece,
    )


def _breaks(
    pours: Pours, chosen: ChartedPieces, options: TrackOptions
) -> tuple[Break, ...]:
    """Where eras start: changes the user declared, and sealing once and for all."""
    found: dict[int, list[Note]] = {}
    for change in options.changes:
        day = np.datetime64(change.from_day, "D")
        # The first pour on that day or after it; argmax is 0 where there is none, or
        # where all are: no break either way.
        at = int(np.argmax(pours.cast_on >= day))
        if at > 0:
            found.setdefault(at, []).append(note("declared", what=change.what))
    if chosen.sealing_eras:
        kind = np.empty(len(pours.pour), dtype=chosen.sealing.dtype)
        kind[pours.of_piece] = chosen.sealing
        for new in (np.flatnonzero(kind[1:] != kind[:-1]) + 1).tolist():
            before, now = str(kind[new - 1]), str(kind[new])
            sealing = note("sealing_changed", before=before, now=now)
            found.setdefault(new, []).append(sealing)
    return tuple(Break(at=at, reasons=tuple(found[at])) for at in sorted(found))


def _frozen_rows(
    pours: Pours, names: tuple[str, ...] | None
) -> NDArray[np.int64] | None:
    if names is None:
        return None
    rows = np.flatnonzero(np.isin(pours.pour, names))
    missing = sorted(set(names) - set(pours.pour.tolist()))
    if missing:
        msg = (
            f"Pour {missing[0]} of the baseline is not among the pours charted: "
            "choose the baseline from the pours on the chart."
        )
        raise InputError(msg)
    if len(rows) < bases.FEWEST_POURS:
        msg = (
            f"The baseline has {len(rows)} pours: choose at least {bases.FEWEST_POURS}."
        )
        raise InputError(msg)
    return rows


def _era(
    pours: Pours,
    where: slice,
    rules: tuple[Rule, ...],
    asked: NDArray[np.int64] | None,
) -> _Era:
    logs = pours.log_share[where]
    pieces = pours.n_pieces[where]
    n = len(logs)
    base = None
    if asked is not None:
        inside = asked[(asked >= where.start) & (asked < where.stop)] - where.start
        base = bases.frozen(logs, pieces, pours.within_variance, rules, inside)
    if base is None:
        base = bases.first_stable(logs, pieces, pours.within_variance, rules)
    counts, factor = _counts(pours, where, base)
    columns = {"jump": np.r_[np.nan, np.abs(np.diff(logs))], **counts}
    if base is None:
        return _Era(
            base=None,
            columns=columns,
            signals=np.zeros((len(rules), n), dtype=bool),
            spread_factor=factor,
        )
    centre = base.limits.centre
    # Each pour is smoothed in its own standard deviations, so that one of few pieces
    # pulls less; times the usual one it is a log share again.
    single, smooth = widening(carry_over(logs[base.pours]))
    wide = base.sigma * single
    standard = (logs - centre) / wide
    m = len(base.pours)
    sigma = base.limits.sigma * single
    smoothed = centre + sigma * ewma(standard, 0.0, EWMA_WEIGHT)
    columns |= {
        "centre": np.full(n, np.exp(centre)),
        "lower": np.exp(centre - SIGMAS * wide),
        "upper": np.minimum(np.exp(centre + SIGMAS * wide), 1.0),
        "jump_upper": np.full(n, base.limits.range_upper),
        "smoothed": np.minimum(np.exp(smoothed), 1.0),
    }
    return _Era(
        base=base,
        columns=columns,
        signals=_signals(standard, rules, m, smooth / single),
        spread_factor=factor,
    )


def _signals(
    standard: NDArray[np.float64], rules: tuple[Rule, ...], m: int, further: float
) -> NDArray[np.bool_]:
    """Return where rules are broken; those over several pours bear a further width."""
    found = broken(standard, rules, centre_from=m)
    if further > 1:
        wider = broken(standard / further, rules, centre_from=m)
        several = np.array([rule != BEYOND for rule in rules])
        found[several] = wider[several]
    return found


def _counts(
    pours: Pours, where: slice, base: bases.Baseline | None
) -> tuple[dict[str, NDArray[np.float64]], float | None]:
    """Chart bugholes per m2 where every pour of the baseline has its counts."""
    count = pours.void_count[where]
    area = pours.face_area_mm2[where] / MM2_PER_M2
    known = np.isfinite(count) & (area > 0)
    per_m2 = np.full(len(count), np.nan)
    per_m2[known] = count[known] / area[known]
    columns = {"bugholes_per_m2": per_m2}
    if base is None or not known[base.pours].all():
        return columns, None
    mask = np.zeros(len(count), dtype=bool)
    mask[base.pours] = True
    rates = counts_per_area(count[known], area[known], baseline=mask[known], widen=True)
    for name in ("lower", "upper"):
        line = np.full(len(count), np.nan)
        line[known] = getattr(rates, name)
        columns[f"bugholes_{name}"] = line
    columns["bugholes_centre"] = np.where(known, rates.centre, np.nan)
    return columns, rates.spread_factor


def _points(pours: Pours, eras: list[_Era], starts: list[int]) -> PourPoints:
    n = len(pours.pour)
    made = {f.name for f in fields(PourPoints)} - {
        "pour", "cast_on", "n_pieces", "era", "in_baseline", "value", "signals",
    }  # fmt: skip
    columns = {name: np.full(n, np.nan) for name in made}
    era_of = np.zeros(n, dtype=np.int64)
    in_baseline = np.zeros(n, dtype=bool)
    for number, (era, start) in enumerate(zip(eras, starts, strict=False)):
        stop = starts[number + 1]
        era_of[start:stop] = number
        for name, column in era.columns.items():
            columns[name][start:stop] = column
        if era.base is not None:
            in_baseline[start + era.base.pours] = True
    return PourPoints(
        pour=pours.pour,
        cast_on=pours.cast_on,
        n_pieces=pours.n_pieces,
        era=era_of,
        in_baseline=in_baseline,
        value=np.exp(pours.log_share),
        signals=np.concatenate([era.signals for era in eras], axis=1),
        **columns,
    )


def _gaps(cast_on: NDArray[np.datetime64]) -> tuple[Gap, ...]:
    if np.isnat(cast_on).any():
        return ()
    days = np.diff(cast_on).astype("timedelta64[D]").astype(np.int64)
    usual = float(np.median(days)) if len(days) else 0.0
    long = max(float(LONG_GAP_DAYS), LONG_GAP_TIMES * usual)
    return tuple(
        Gap(at=int(i) + 1, days=int(days[i])) for i in np.flatnonzero(days > long)
    )


def _neighbour_notes(
    kept: PieceColumns, pours: Pours, last: _Era, starts: list[int]
) -> list[Note]:
    """Note of the latest era whether pours carry over, lean, or go with the air."""
    if last.base is None:
        return []
    start = starts[-2]
    logs = pours.log_share[start:]
    air = dict(kept.amounts).get("air_c")
    warm = None
    if air is not None:
        known = np.isfinite(air)
        count = np.bincount(pours.of_piece[known], minlength=len(pours.pour))
        total = np.bincount(pours.of_piece[known], air[known], len(pours.pour))
        with np.errstate(invalid="ignore"):
            warm = (total / count)[start:]
    return neighbour_notes(logs, logs[last.base.pours], warm)


def _gap_notes(pours: Pours, gaps: tuple[Gap, ...]) -> list[Note]:
    if not gaps:
        return []
    worst = max(gaps, key=lambda gap: gap.days)
    before = str(pours.pour[worst.at])
    return [note("gaps", gaps=len(gaps), days=worst.days, pour=before)]


def _zero_notes(pieces: PieceColumns) -> list[Note]:
    bare = float((pieces.void_share == 0).mean())
    return [note("many_without_voids", share=bare)] if bare >= MANY_BARE else []


def _era_notes(
    pours: Pours,
    breaks: tuple[Break, ...],
    eras: list[_Era],
    starts: list[int],
    rate: float | None,
) -> list[Note]:
    """Note where each era's limits come from."""
    notes = [note("new_baseline", pour=str(pours.pour[b.at]), found=b) for b in breaks]
    for era, (start, stop) in zip(eras, pairwise(starts), strict=True):
        since = "" if len(eras) == 1 else str(pours.pour[start])
        n = stop - start
        if era.base is None and n < bases.FEWEST_POURS:
            fewest = bases.FEWEST_POURS
            notes.append(
                note("too_early_for_limits", since=since, pours=n, fewest=fewest)
            )
            continue
        if era.base is None:
            notes.append(note("all_the_same", since=since))
            continue
        n = len(era.base.pours)
        if not era.base.steady:
            notes.append(note("not_steady", since=since, pours=n))
        elif n < bases.ENOUGH_POURS:
            enough = bases.ENOUGH_POURS
            notes.append(note("short_baseline", since=since, pours=n, enough=enough))
    if rate is not None:
        notes.append(note("false_alarms", rate=rate))
    return notes
