"""Sealed against open joints of one and the same piece."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.compare import compare
from analysis.compare.confounding import alias_of
from analysis.compare.design import codes, label_codes, means
from analysis.errors import TableError
from analysis.model.comparison import CompareOptions, PieceTable
from analysis.pieces.sealing import JOINTS_SEALED
from analysis.pieces.table import piece_table
from analysis.pieces.zeros import log_of, zero_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from analysis.model.comparison import Comparison

JOINTS_ARE_UNITS = 4  # of a piece; with fewer the ways to deal them are too few
NEEDED = ("piece", "pour", "joint", "joint_sealing", "joint_band_percent")


def joint_table(rows: Iterable[Mapping[str, object]]) -> PieceTable:
    """Make a table of joint bands: one row per joint of a piece.

    Parameters
    ----------
    rows : iterable of mapping
        With piece, pour, joint (its name in the form), joint_sealing and
        joint_band_percent (void area / area of the band x 100); more columns are
        allowed.

    Raises
    ------
    TableError
        A column is missing, a joint of a piece stands twice, or a value cannot be.

    Examples
    --------
    >>> row = {"piece": 1, "pour": "A", "joint": "left", "joint_sealing": "tape"}
    >>> len(joint_table([row | {"joint_band_percent": 0.4}]))
    1
    """
    table = piece_table(rows)
    for name in NEEDED:
        if name not in table.text:
            msg = f"The table of joints has no {name}: give one row per joint."
            raise TableError(msg)
    key = codes(*(label_codes(table.text[name]) for name in NEEDED[:3]))
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    if (count > 1).any():
        row = int(first[np.argmax(count > 1)])
        msg = (
            f"Joint {table.text['joint'][row]} of piece {table.text['piece'][row]} "
            f"stands twice: keep one row for it."
        )
        raise TableError(msg)
    return table


def _both(table: PieceTable) -> NDArray[np.bool_]:
    """Tell which rows belong to a piece with a sealed and an open joint."""
    piece = codes(label_codes(table.text["piece"]), label_codes(table.text["pour"]))
    side = table.text[JOINTS_SEALED]
    usable = np.isin(side, ("yes", "no")) & (table.text["pour"] != "")
    usable &= ~np.isnan(table.number["joint_band_percent"])
    has = [np.bincount(piece, usable & (side == word)) > 0 for word in ("yes", "no")]
    return np.asarray(usable & (has[0] & has[1])[piece])


def _by_pour(table: PieceTable) -> PieceTable:
    """Return one row per pour and side: the mean over its pieces of the log share."""
    value = table.number["joint_band_percent"]
    zero = zero_of(table, value, "joint_band_percent")
    side = label_codes(table.text[JOINTS_SEALED])
    pour = label_codes(table.text["pour"])
    # Joints are averaged inside their piece first, then pieces inside the pour: a piece
    # with more joints weighs no more. Codes ride along as columns; they are constant.
    each = codes(pour, label_codes(table.text["piece"]), side)
    joints, _ = means(np.column_stack([log_of(value, zero), pour, side]), each)
    cell = codes(
        np.rint(joints[:, 1]).astype(np.int64), np.rint(joints[:, 2]).astype(np.int64)
    )
    rows, _ = means(joints, cell)
    names = np.unique(table.text["pour"])
    return piece_table(
        {
            "piece": f"{names[round(row[1])]} {row[2]:.0f}",
            "pour": names[round(row[1])],
            "joint_sealing": "sealed" if row[2] > 0 else "open",
            "joint_band_percent": float(np.exp(row[0])),
        }
        for row in rows.tolist()
    )


def _joints_as_units(table: PieceTable) -> PieceTable:
    """Return the joints as pieces, the piece as their pour, the place as their form."""
    piece = np.char.add(np.char.add(table.text["pour"], " / "), table.text["piece"])
    taken = {
        "piece": np.char.add(np.char.add(piece, " / "), table.text["joint"]),
        "pour": piece,
        "form": table.text["joint"],
    }
    kept = ("joint_sealing", JOINTS_SEALED, "dealt", "trial", "trial_factor")
    text = taken | {name: table.text[name] for name in kept if name in table.text}
    share = table.number["joint_band_percent"]
    return PieceTable(
        text=text | {"joint_band_percent": table.text["joint_band_percent"]},
        number={"joint_band_percent": share},
        line=table.line,
    )


def holds_joints(table: PieceTable) -> bool:
    r"""Tell whether a table has one row per joint.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> head = "piece,pour,joint,joint_sealing,joint_band_percent\n"
    >>> holds_joints(read_table(head + "1,A,left,tape,0.4\n"))
    True
    """
    return all(name in table.text for name in NEEDED) and bool(
        (table.text["joint"] != "").all()
    )


def compare_joints(
    table: PieceTable, options: CompareOptions | None = None
) -> Comparison:
    """Compare sealed with open joint bands inside pieces that have both.

    Everything but the joint is the same then: mix, pour, form, hands. Where pieces
    have four such joints or more, the joints are the units and their levels are dealt
    anew inside each piece: eight joints of one piece can be dealt in 70 ways. With
    fewer, bands of one side are averaged inside the piece and pieces inside the pour,
    and the pours' differences are tested by changing their sign.

    Parameters
    ----------
    table : PieceTable
        From `joint_table`.
    options : CompareOptions, optional
        By ``joint_sealing`` with two kinds; by default sealed against open.

    Returns
    -------
    Comparison
        By ``joints_sealed``, first level ``yes``, if nothing else is asked. Where
        each joint had one sealing only and there are few of them, its place in the
        form cannot be told from the sealing.

    Raises
    ------
    TableError
        No piece has both a sealed and an open joint.

    Examples
    --------
    >>> rows = []
    >>> for n in range(6):
    ...     for joint, kind in (("left", "tape"), ("right", "none")):
    ...         kind = kind if n % 2 else {"tape": "none", "none": "tape"}[kind]
    ...         share = (0.4 if kind == "tape" else 1.0) + n / 20
    ...         rows.append({"piece": n, "pour": n, "joint": joint,
    ...                      "joint_sealing": kind, "joint_band_percent": share})
    >>> compare_joints(joint_table(rows)).head.verdict
    'lower'
    """
    rows = _both(table)
    if not rows.any():
        msg = (
            "No piece has both a sealed and an open joint with a known band: leave one "
            "joint of each of the next pieces open, taking turns, then compare."
        )
        raise TableError(msg)
    used = table.taken(rows)
    asked = options or CompareOptions(by=JOINTS_SEALED, levels=("yes", "no"))
    asked = replace(asked, outcome="joint_band_percent", few_units=True)
    each = codes(*(label_codes(used.text[n]) for n in NEEDED[:2]))
    pieces = int(each.max()) + 1
    many = int(np.bincount(each).max()) >= JOINTS_ARE_UNITS
    if many:
        answer = compare(_joints_as_units(used), replace(asked, adjust_for=()))
    else:
        answer = compare(
            _by_pour(used),
            CompareOptions(
                by=JOINTS_SEALED, levels=("yes", "no"), outcome="joint_band_percent"
            ),
        )
    head = replace(answer.head, unit="joint within piece")
    if not many:
        x = (used.text[JOINTS_SEALED] == "yes").astype(np.float64)
        words = ("sealed joints", "open joints")
        place = alias_of(used, "joint", x, words, strict=True)
        head = replace(
            head,
            verdict="cannot_separate" if place else head.verdict,
            aliases=(place,) if place else (),
        )
    groups = tuple(replace(group, n_pieces=pieces) for group in head.groups)
    head = replace(head, groups=(groups[0], groups[1]))
    return replace(answer, head=head, pairs=(head, *answer.pairs[1:]))
