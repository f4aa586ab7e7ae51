"""A track as it leaves the room: for the command line and for drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.monitoring.note_words import note_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns, Track

CHART = "individuals and moving range of the log void share, one point per pour"


def track_json(result: Track) -> dict[str, object]:
    """Return a track under the fixed keys of the command line.

    Parameters
    ----------
    result : Track
        From `track`.

    Returns
    -------
    dict
        Shares in percent; None where not known; signals as names of rules.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> found = track_json(track(pieces([0.01, 0.02])))
    >>> round(found["points"][1]["value_percent"], 9)
    2.0
    >>> found["points"][1]["upper_percent"] is None
    True
    """
    points = result.points
    names = [rule.name for rule in result.rules]
    current = points.era == points.era[-1]
    rows = [
        {
            "pour": str(points.pour[i]),
            "cast_on": None if np.isnat(points.cast_on[i]) else str(points.cast_on[i]),
            "n_pieces": int(points.n_pieces[i]),
            "value_percent": _percent(points.value[i]),
            "centre_percent": _percent(points.centre[i]),
            "lower_percent": _percent(points.lower[i]),
            "upper_percent": _percent(points.upper[i]),
            "signals": [
                name for name, on in zip(names, points.signals[:, i], strict=True) if on
            ],
        }
        for i in range(len(points))
    ]
    return {
        "chart": CHART,
        "baseline_pours": points.pour[points.in_baseline & current].tolist(),
        "points": rows,
        "rules": [{"name": rule.name, "source": rule.source} for rule in result.rules],
        "notes": [note_words(one) for one in result.notes],
    }


def thinned(result: Track, most: int = 600) -> NDArray[np.int64]:
    """Choose points to draw so that no signal and no extreme is hidden.

    Parameters
    ----------
    result : Track
        From `track`.
    most : int
        Points wanted besides signals, breaks and gaps; 4 or more.

    Returns
    -------
    ndarray of int64
        Indices in time order: all of them where there are few; else every signal,
        both sides of every break and gap, the newest points, and the lowest and
        highest of each stretch.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> len(thinned(track(pieces([0.01, 0.02] * 50)), most=40)) <= 45
    True
    """
    points = result.points
    n = len(points)
    if n <= most:
        return np.arange(n)
    keep: NDArray[np.bool_] = np.asarray(points.signals.any(axis=0))
    edges = [b.at for b in result.breaks] + [gap.at for gap in result.gaps]
    for at in edges:
        keep[max(at - 1, 0) : at + 1] = True
    keep[0] = True
    keep[n - max(most // 4, 1) :] = True
    stretches = np.array_split(np.arange(n), max(most * 3 // 8, 1))
    for stretch in stretches:
        values = points.value[stretch]
        keep[stretch[[int(values.argmin()), int(values.argmax())]]] = True
    return np.flatnonzero(keep)


def bugholes_out(result: Track) -> NDArray[np.bool_]:
    """Tell at which points the bugholes per m2 lie beyond their limits.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> bugholes_out(track(pieces([0.01, 0.02]))).tolist()
    [False, False]
    """
    points = result.points
    above = points.bugholes_per_m2 > points.bugholes_upper
    return np.asarray(above | (points.bugholes_per_m2 < points.bugholes_lower))


def pour_means(pieces: PieceColumns, result: Track, name: str) -> NDArray[np.float64]:
    """Mean of a setting that is a number, for each point of the chart.

    Parameters
    ----------
    pieces : PieceColumns
        The table the track was made from.
    result : Track
        From `track`.
    name : str
        Of one of ``pieces.amounts``.

    Returns
    -------
    ndarray of float64, (points,)
        NaN where not known, or where there is no such setting.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.01, 0.02])
    >>> pour_means(table, track(table), "air_c").tolist()
    [nan, nan]
    """
    n = len(result.points)
    mean = np.full(n, np.nan)
    column = dict(pieces.amounts).get(name)
    if column is None:
        return mean
    values = column[result.piece_rows]
    known = np.isfinite(values)
    of_piece = result.pour_of_piece[known]
    count = np.bincount(of_piece, minlength=n)
    total = np.bincount(of_piece, values[known], n)
    mean[count > 0] = total[count > 0] / count[count > 0]
    return mean


def _percent(share: float) -> float | None:
    return None if np.isnan(share) else float(share) * 100.0
