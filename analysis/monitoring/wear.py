"""Void share against form use: when to re-seal, refinish or retire a form."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.model.notes import note
from analysis.model.outlook import FormWear
from analysis.monitoring.pours import log_shares
from analysis.monitoring.trends import FEWEST_CASTINGS, castings_of, remaining, trend
from analysis.pieces.sealing import sealings_of

FEWEST_OTHERS = 8  # pieces of other forms, for their drift

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from datetime import date

    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns
    from analysis.model.notes import Note
    from analysis.model.outlook import TargetBand, Trend


def form_wear(
    pieces: PieceColumns,
    *,
    by_type: bool = False,
    target: TargetBand | None = None,
    refinished: dict[str, float] | None = None,
    only: Collection[str] | None = None,
    signs_only: bool = False,
    seed: int = 0,
) -> tuple[FormWear, ...]:
    """Judge the wear of every form, or of every form type.

    Parameters
    ----------
    pieces : PieceColumns
        Pieces of one stage; those without a form or a form use are left out.
    by_type : bool
        Judge form types: a slope in common, each form with its own level.
    target : TargetBand, optional
        For the castings that remain.
    refinished : dict of str to float, optional
        Form and the use at which its face was last refinished; only later castings
        are judged, and a form that wears again is a case for retiring.
    only : collection of str, optional
        Names to judge; all by default. The others still tell how the shop did.
    signs_only : bool
        The advice is all that is asked: shuffling ends where it is sure that the face
        shows no wear, whose p and remaining castings are then rougher. The advice is
        the same.
    seed : int
        Of the shuffles and draws, 0 or more.

    Returns
    -------
    tuple of FormWear
        In order of name.

    Raises
    ------
    InputError
        No piece has both a form and a form use.

    Notes
    -----
    The p-value shuffles castings over uses; its statistic is the best one-sided fit
    of a straight rise, a rise after a knee, or a step, so that looking for all
    three is paid for. Pieces of one casting are averaged first.

    Each name draws from a stream of its own, whose seed is `seed` followed by the
    bytes of the name in UTF-8, so that its numbers do not depend on which other forms
    are in the log or asked for, nor on the machine.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> shares = 0.004 * 1.08 ** np.arange(20) * np.tile([1.0, 1.1], 10)
    >>> (form,) = form_wear(
    ...     pieces(shares, form=["T1"] * 20, form_use=np.arange(1.0, 21.0)))
    >>> form.advice, form.face.shape
    ('refinish', 'steady_rise')
    """
    names = pieces.form_type if by_type else pieces.form
    known = (names != "") & (pieces.form != "") & np.isfinite(pieces.form_use)
    if not known.any():
        msg = (
            "No piece has both a form and a form use: log the form, and how often it "
            "was cast before."
        )
        raise InputError(msg)
    rest = rest_of_shop(pieces)
    bare = replace(pieces, settings=(), amounts=())  # not looked at below
    called, of_piece = np.unique(names, return_inverse=True)
    of_piece[~known] = -1
    judged = []
    for place, name in enumerate(called.tolist()):
        rows = np.flatnonzero(of_piece == place)
        if not len(rows) or (only is not None and name not in only):
            continue
        judged.append(
            _judge(
                name,
                bare.take(rows),
                rest[rows],
                by_type=by_type,
                target=target,
                refinished=refinished or {},
                signs_only=signs_only,
                rng=_stream(seed, name),
            )
        )
    return tuple(judged)


def _stream(seed: int, name: str) -> np.random.Generator:
    """Return a name's own random numbers."""
    return np.random.default_rng(np.random.SeedSequence([seed, *name.encode()]))


def refinished_at(pieces: PieceColumns, days: Mapping[str, date]) -> dict[str, float]:
    """Turn the day a form was refinished into the use it had reached by then.

    Parameters
    ----------
    pieces : PieceColumns
        All pieces.
    days : mapping of str to datetime.date
        Form and the first day of casting after it was refinished.

    Returns
    -------
    dict of str to float
        For `form_wear`; 0 where no casting is older.

    Examples
    --------
    >>> from datetime import date
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.01] * 3, form=["a"] * 3, form_use=[4.0, 5.0, 6.0])
    >>> refinished_at(table, {"a": date(2024, 1, 15)})
    {'a': 5.0}
    """
    found = {}
    for form, day in days.items():
        before = (pieces.form == form) & (pieces.cast_on < np.datetime64(day, "D"))
        uses = pieces.form_use[before & np.isfinite(pieces.form_use)]
        found[form] = float(uses.max()) if len(uses) else 0.0
    return found


def rest_of_shop(pieces: PieceColumns) -> NDArray[np.float64]:
    """Tell how the other forms of the same pour did.

    Parameters
    ----------
    pieces : PieceColumns
        n pieces.

    Returns
    -------
    ndarray of float64, (n,)
        Mean natural log of the share of the other forms' pieces of the pour, each
        taken from its own form's mean. Where a pour cast no other form, what the
        other forms' straight drift over days says; NaN where nothing is known.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.01, 0.01, 0.01, 0.04], pours=["p", "p", "q", "q"],
    ...     form=["a", "b", "a", "b"])
    >>> np.exp(rest_of_shop(table)).round(2).tolist()
    [0.5, 1.0, 2.0, 1.0]
    """
    _, pour = np.unique(pieces.pour, return_inverse=True)
    _, form = np.unique(pieces.form, return_inverse=True)
    _, stage = np.unique(pieces.stage, return_inverse=True)
    _, kind = np.unique(form * (stage.max() + 1) + stage, return_inverse=True)
    _, own = np.unique(pour * (form.max() + 1) + form, return_inverse=True)
    logs = log_shares(pieces)
    apart = logs - (np.bincount(kind, logs) / np.bincount(kind))[kind]
    # The others of a pour are all of it less the form's own pieces, from sums alone.
    # Each piece counts from its form's mean at its stage.
    others = np.bincount(pour)[pour] - np.bincount(own)[own]
    total = np.bincount(pour, apart)[pour] - np.bincount(own, apart)[own]
    rest = _drift_of_others(pieces, form, logs)
    rest[others > 0] = total[others > 0] / others[others > 0]
    return rest


def _drift_of_others(
    pieces: PieceColumns, form: NDArray[np.intp], logs: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the straight drift of all other forms at each piece's day, NaN if none.

    For pours that cast one form: each other form keeps a level of its own, and all
    share one slope over days.
    """
    rest = np.full(len(pieces), np.nan)
    if np.isnat(pieces.cast_on).any():
        return rest
    day = pieces.cast_on.astype(np.int64).astype(np.float64)
    size = np.bincount(form).astype(np.float64)
    day_apart = day - (np.bincount(form, day) / size)[form]
    log_apart = logs - (np.bincount(form, logs) / size)[form]
    # Slope in common is sum of products over sum of squares, each about its form's
    # mean; leaving a form out takes its two sums off.
    cross = np.bincount(form, day_apart * log_apart)
    square = np.bincount(form, day_apart**2)
    for name in range(len(size)):
        others_square = float(square.sum() - square[name])
        if others_square <= 0 or size.sum() - size[name] < FEWEST_OTHERS:
            continue
        slope = float(cross.sum() - cross[name]) / others_square
        mine = form == name
        rest[mine] = slope * day_apart[mine]
    return rest


def _judge(
    name: str,
    pieces: PieceColumns,
    rest: NDArray[np.float64],
    *,
    by_type: bool,
    target: TargetBand | None,
    refinished: dict[str, float],
    signs_only: bool,
    rng: np.random.Generator,
) -> FormWear:
    notes: list[Note] = []
    uses = float(pieces.form_use.max())
    forms, of_form = np.unique(pieces.form, return_inverse=True)
    days = [refinished.get(form, 0.0) for form in forms.tolist()]
    since = np.array(days)[of_form]
    again = bool((since > 0).any())
    if again:
        notes.append(note("since_refinished"))
    rows = np.flatnonzero(pieces.form_use > since)
    rows = rows[_commonest(pieces, rows, notes)]
    kept = pieces.take(rows)
    marked = np.isfinite(kept.open_face_share) & np.isfinite(kept.joint_band_share)
    share = kept.void_share
    of_joints, band = None, None
    if marked.any():
        joints = kept.take(marked)
        band = castings_of(joints, log_shares(joints, joints.joint_band_share))
        of_joints = trend(band, rng)
        if marked.all():
            share = kept.open_face_share
        else:
            notes.append(note("partly_marked"))
    logs = log_shares(kept, share)
    face = castings_of(kept, logs)
    # What is drawn after a face without wear has no say in the advice.
    of_face = trend(face, rng, signs_only=signs_only)
    left: tuple[float | None, float | None, float | None] = (None, None, None)
    with_shop = False
    if of_face is not None and not by_type and target is not None:
        whole = castings_of(kept, log_shares(kept))
        left = remaining(whole, uses, target.high, rng)
    if of_face is not None and of_face.shape != "none":
        worse_too = _shop_worse_too(kept, logs, rest[rows], rng)
        if worse_too:
            notes.append(note("shop_worse_too"))
        with_shop = worse_too and not by_type
    advice, evidence = _advise(
        of_face,
        of_joints,
        len(face.use),
        left,
        again=again and not by_type,
        with_shop=with_shop,
    )
    return FormWear(
        name=name,
        of_type=by_type,
        uses=uses,
        advice=advice,
        evidence=evidence,
        face=of_face,
        joint_band=of_joints,
        remaining_low=left[0],
        remaining=left[1],
        remaining_high=left[2],
        use=face.use,
        share=np.exp(face.log_share),
        joint_use=np.empty(0) if band is None else band.use,
        joint_share=np.empty(0) if band is None else np.exp(band.log_share),
        notes=tuple(notes),
    )


def _shop_worse_too(
    pieces: PieceColumns,
    logs: NDArray[np.float64],
    rest: NDArray[np.float64],
    rng: np.random.Generator,
) -> bool:
    """Whether nothing is left of a rise once the other forms' is taken out."""
    known = np.isfinite(rest)
    apart = trend(castings_of(pieces.take(known), (logs - rest)[known]), rng)
    return apart is not None and apart.shape == "none"


def _commonest(
    pieces: PieceColumns, rows: NDArray[np.intp], notes: list[Note]
) -> NDArray[np.bool_]:
    """Keep one stage and one kind of joint sealing: the ones with most pieces."""
    keep = np.ones(len(rows), dtype=bool)
    for name, column in (
        ("stage", pieces.stage),
        ("joint_sealing", sealings_of(pieces.joint_sealing)),
    ):
        levels, which, count = np.unique(
            column[rows[keep]], return_inverse=True, return_counts=True
        )
        if len(levels) > 1:
            best = int(count.argmax())
            notes.append(
                note(
                    "one_kind_judged",
                    name=name,
                    level=str(levels[best]),
                    pieces=int(count[best]),
                    among=int(count.sum()),
                )
            )
            keep[keep] = which == best
    return keep


def _advise(
    face: Trend | None,
    joints: Trend | None,
    n_castings: int,
    left: tuple[float | None, float | None, float | None],
    *,
    again: bool,
    with_shop: bool = False,
) -> tuple[str, Note]:
    """Turn the trends into one suggestion and its evidence."""
    if face is None:
        few = note("few_castings", castings=n_castings, fewest=FEWEST_CASTINGS)
        return "too_early", few
    worn = face.shape != "none" and not with_shop
    if with_shop:
        return "no_sign", note("shop_drifted", face=face)
    if joints is not None and joints.shape != "none" and not worn:
        return "re_seal", note("joints_rise", joints=joints)
    if not worn:
        return "no_sign", note("no_rise", face=face)
    if again:
        return "retire", note("worn_again", face=face)
    return "refinish", note("worn", face=face, outside=left[1] == 0.0)
