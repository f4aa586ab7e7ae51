"""What the tiles of a face found, joined into one."""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.model.reading import VoidCatalog
from analysis.voids.background import Background
from analysis.voids.doubts import Doubts
from analysis.voids.joints import all_marks
from analysis.voids.light_direction import LightDirection
from analysis.voids.segmentation import Segmentation
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.reading import JointMarks
    from analysis.voids.rejection import Evidence


_SET = SETTINGS.tiling


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What is kept of a tile once its pictures are gone."""

    voids: VoidCatalog
    rejected: VoidCatalog
    light: LightDirection
    blur_px: float
    noise: float
    candidate_count: int
    doubts: Doubts
    by_network: bool
    evidence: Evidence
    honeycomb_px: tuple[float, float]
    joint_marks: JointMarks | None
    part_doubts: tuple[Doubts, Doubts] | None


def moved(found: Segmentation, corner_px: NDArray[np.float64]) -> Found:
    """Keep what a tile found, moved to where the tile lies in the photo.

    Parameters
    ----------
    found : Segmentation
        Of the tile alone.
    corner_px : ndarray of float64, (2,)
        Row and column of the tile's first pixel.
    """
    return Found(
        voids=found.voids.moved(corner_px),
        rejected=found.rejected.moved(corner_px),
        light=found.light,
        blur_px=found.blur_px,
        noise=found.noise,
        candidate_count=found.candidate_count,
        doubts=found.doubts,
        by_network=found.by_network,
        evidence=found.evidence,
        honeycomb_px=found.honeycomb_px,
        joint_marks=found.joint_marks,
        part_doubts=found.part_doubts,
    )


def joined(
    parts: list[Found],
    face_px: NDArray[np.float64],
    mask: NDArray[np.bool_],
    honeycomb: NDArray[np.bool_],
    cells: NDArray[np.float32],
) -> Segmentation:
    """Join the tiles: lists one after the other, figures by the face they are of."""
    share = face_px / face_px.sum()
    voids = _one_list([part.voids for part in parts])
    filled = np.where(cells > 0, cells, np.median(cells[cells > 0]))
    return Segmentation(
        voids=voids,
        rejected=_one_list([part.rejected for part in parts]),
        mask=mask,
        honeycomb=honeycomb,
        light=_one_light(parts),
        background=Background(
            cells=filled.astype(np.float32),
            cell_px=_SET.kept_cell_px,
            shape=(mask.shape[0], mask.shape[1]),
        ),
        blur_px=float(share @ [part.blur_px for part in parts]),
        noise=float(share @ [part.noise for part in parts]),
        counted_share=float(voids.area_px.sum()) / float(face_px.sum()),
        candidate_count=sum(part.candidate_count for part in parts),
        doubts=_added([part.doubts for part in parts]),
        by_network=all(part.by_network for part in parts),
        evidence=max(part.evidence for part in parts),
        honeycomb_px=(
            sum(part.honeycomb_px[0] for part in parts),
            sum(part.honeycomb_px[1] for part in parts),
        ),
        joint_marks=all_marks([part.joint_marks for part in parts]),
        part_doubts=_added_parts([part.part_doubts for part in parts]),
    )


def _added(doubts: list[Doubts]) -> Doubts:
    return Doubts(
        **{
            field.name: sum(getattr(one, field.name) for one in doubts)
            for field in fields(Doubts)
        }
    )


def _added_parts(
    doubts: list[tuple[Doubts, Doubts] | None],
) -> tuple[Doubts, Doubts] | None:
    known = [one for one in doubts if one is not None]
    if not known:
        return None
    return _added([one[0] for one in known]), _added([one[1] for one in known])


def _one_list(lists: list[VoidCatalog]) -> VoidCatalog:
    columns: dict[str, Any] = {}
    for field in fields(VoidCatalog):
        some = [getattr(one, field.name) for one in lists]
        columns[field.name] = (
            np.concatenate(some)
            if isinstance(some[0], np.ndarray)
            else tuple(chain.from_iterable(some))
        )
    return VoidCatalog(**columns)


def _one_light(parts: list[Found]) -> LightDirection:
    """Tell the side that the parts with most of the voids agree on, if they do.

    Beside a near lamp the sides of the parts differ; then the face has none.
    """
    count = np.array([max(part.candidate_count, 1) for part in parts], dtype=float)
    sides = np.array(
        [
            (0.0, 0.0)
            if (side := part.light.towards_rad) is None
            else (np.cos(side), np.sin(side))
            for part in parts
        ]
    )
    # A mean of unit vectors: 1 long where all agree, shortened by parts without a side.
    across, down = count @ sides / count.sum()
    agreed = np.hypot(across, down) > _SET.agreed_share
    raked = count @ [part.light.rakes for part in parts] > count.sum() / 2
    return LightDirection(
        towards_rad=float(np.arctan2(down, across)) if agreed else None,
        rakes=bool(raked),
    )
