"""Published limits as data, and a maker's own finish target in the same shape."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.errors import InputError
from analysis.model.grading import Criterion, GradeClass

if TYPE_CHECKING:
    from analysis.model.workshop import FinishTarget

_FOLDER = Path(__file__).with_name("criteria")
OWN = "own_target"
# As they are offered: by what they count.
_ORDER = (
    "oenorm_b2211_pores",
    "dbv_porosity",
    "aci_347_3r_svr",
    "bips_a24_bo22",
    "svensk_betong_c",
    "aci_301_voids",
    "uk_nbs_620",
    "sp_70_13330",
    "gost_13015",
    "wallonia_qualiroutes",
    "usace_03301a",
    "oenorm_b2211_joints",
    "cast_stone_viewing",
    "precast_viewing",
)


@cache
def published() -> tuple[Criterion, ...]:
    """Return the published criteria, in the order they are offered.

    Examples
    --------
    >>> published()[0].title
    'ÖNORM B 2211, pore classes'
    """
    return tuple(_read(code) for code in _ORDER)


def criterion(code: str) -> Criterion:
    """Return one published criterion.

    Raises
    ------
    InputError
        There is none of this code.

    Examples
    --------
    >>> [one.name for one in criterion("dbv_porosity").classes]
    ['P4', 'P3', 'P2', 'P1']
    """
    for one in published():
        if one.code == code:
            return one
    codes = ", ".join(one.code for one in published())
    msg = f"{code!r} is no criterion: choose one of {codes}."
    raise InputError(msg)


def own_criterion(target: FinishTarget, line: str) -> Criterion:
    """Return a product line's finish target as a criterion.

    Parameters
    ----------
    target : FinishTarget
        The target; its id is the version kept with a verdict.
    line : str
        The product line's name.

    Examples
    --------
    >>> from analysis.model.workshop import FinishTarget
    >>> own = own_criterion(FinishTarget(product_line_id=1, high_share=0.01), "pots")
    >>> dict(own.classes[0].at_most)
    {'void_share': 0.01}
    """
    most = {
        "void_share": target.high_share,
        "void_diameter_mm": target.largest_void_mm,
        "honeycomb_share": target.honeycomb_share,
    }
    least = {} if not target.low_share else {"void_share": target.low_share}
    return Criterion(
        code=OWN,
        title=f"Own finish target of {line}",
        edition="not saved" if target.id is None else f"target no. {target.id}",
        clause="",
        source="the workshop's own target",
        tag="own",
        counts=(
            "Void area of all voids counted, largest diameter of equal area outside "
            "honeycomb, and the extent of honeycomb, as far as the target limits them."
        ),
        note=target.note,
        classes=(
            GradeClass(
                name="within the target",
                at_most={name: one for name, one in most.items() if one is not None},
                at_least=least,
            ),
        ),
        beyond="outside the target",
    )


def _read(code: str) -> Criterion:
    text = (_FOLDER / f"{code}.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    classes = tuple(GradeClass(**one) for one in data.pop("classes", ()))
    shown = tuple(data.pop("shown", ()))
    other = data.pop("other_text", None)
    return Criterion(
        classes=classes,
        shown=shown,
        other_text=None if other is None else _read(other),
        **data,
    )
