"""Faces that are not flat: what is levelled, what corrected, and what only told.

Flutes and ribs are taken as a wave of given pitch P and depth D, height
``D / 2 cos(2 pi s / P)``, seen straight on. A place of slope m shows sqrt(1 + m^2)
times less area than it has, so that the face has

    k = mean over s of sqrt(1 + (pi D / P)^2 sin^2(2 pi s / P))

times the area of its photo: figures in mm2 are multiplied by k and voids per m2 divided
by it. A void on a slope is shortened like the face around it, so the share stays as it
is, as long as voids lie evenly over crests, flanks and bottoms; how far that may be
wrong is in the interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from analysis.errors import ScaleError
from analysis.flags import Flag
from analysis.imaging.face import continue_outside
from analysis.imaging.facets import find_facets, levelled_by_facets, moved
from analysis.imaging.photo import luminance
from analysis.imaging.ribs import find_ribs
from analysis.imaging.ribs_levelled import UNSEEN_SHARE, levelled
from analysis.model.reading import Share

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.facets import Cut
    from analysis.imaging.ribs import Ribs
    from analysis.model.photo import Face, Scale
    from analysis.model.reading import MeasureSettings, Summary

# Levelled along flutes another picture is measured: readings of flat faces stay a
# method of their own.
ALONG_FLUTES: Final = ", along flutes 2"
BY_FACETS: Final = ", by facets 1"
# Flutes of unknown depth: half a circle is 0.5 of its pitch deep, most are flatter.
_USUAL_DEPTH_SHARE: Final = 0.25
# What a factor of this and its inverse add at both ends of the 95 % interval, as logs:
# levelled along flutes (light that does not reach the bottoms), and not levelled
# although the face is not flat.
_LEVELLED_LOG: Final = 0.10
# More at the upper end: on drawn flutes a twentieth of the area was missed, most of it
# small voids in the shade of steep flanks.
_MISSED_LOG: Final = 0.12
_BENT_LOG: Final = 0.25
_PLACES: Final = 256
_LOOKED_AT_PX: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Levelling:
    """What is done about the shape of one face.

    Attributes
    ----------
    ribs : Ribs or None
        How its flutes run, in px of the face's window; None where there are none.
    facets : Cut or None
        Where its arrises run, likewise.
    mm_per_px : float or None
    area_factor : float
        True surface over that of the photo; 1 where not known.
    wider_log : float
        Added to both ends of the interval of the share, as logs, in squares.
    missed_log : float
        The same at the upper end alone, for voids in deep shade.
    flags : frozenset of Flag
    """

    ribs: Ribs | None = None
    facets: Cut | None = None
    mm_per_px: float | None = None
    area_factor: float = 1.0
    wider_log: float = 0.0
    missed_log: float = 0.0
    flags: frozenset[Flag] = frozenset()

    @property
    def variant(self) -> str:
        """What the method's name says more than that of flat faces."""
        if self.ribs is not None:
            return ALONG_FLUTES
        return "" if self.facets is None else BY_FACETS

    def levelled(
        self,
        light: NDArray[np.float32],
        inside: NDArray[np.bool_],
        part: tuple[slice, slice] | None = None,
    ) -> NDArray[np.float32]:
        """Return the light of the face, or of a part of it, levelled by its shape."""
        first = (0, 0) if part is None else (part[0].start, part[1].start)
        if self.ribs is not None:
            even = levelled(light, inside, self.ribs.part(*first), self.mm_per_px)
        elif self.facets is not None:
            even = levelled_by_facets(light, inside, moved(self.facets, *first))
        else:
            return light
        continue_outside(even, inside)
        return even

    def corrected(self, summary: Summary) -> Summary:
        """Return the figures on the true surface, with wider intervals."""
        if self.wider_log == 0.0 and self.area_factor == 1.0:
            return summary

        def scaled(value: float | None, factor: float) -> float | None:
            return None if value is None else value * factor

        def ends(
            value: float | None, given: tuple[float, float] | None
        ) -> tuple[float, float] | None:
            if value is None or given is None:
                return given
            wide = _wider(Share(value=value, low=given[0], high=given[1]), self)
            return wide.low, wide.high

        return replace(
            summary,
            face_area_mm2=scaled(summary.face_area_mm2, self.area_factor),
            void_area_mm2=scaled(summary.void_area_mm2, self.area_factor),
            voids_per_m2=scaled(summary.voids_per_m2, 1 / self.area_factor),
            void_share=_wider(summary.void_share, self),
            sampled_share=_wider(summary.sampled_share, self),
            joint_band_ends=ends(summary.joint_band_share, summary.joint_band_ends),
            open_face_ends=ends(summary.open_face_share, summary.open_face_ends),
        )


def levelling_for(
    pixels: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    scale: Scale | None,
    face: Face,
    settings: MeasureSettings,
) -> Levelling:
    """Decide what is done about the shape of a face.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, of the face's window.
    inside : ndarray of bool, (rows, cols)
        Measured pixels.
    scale : Scale or None
    face : Face
        Its view and its joints: beside a joint nothing is taken for a flute unless the
        kind is given.
    settings : MeasureSettings
        Kind, pitch and depth as given.

    Raises
    ------
    ScaleError
        A pitch or depth in mm without a scale.

    Examples
    --------
    >>> from analysis.model.photo import Face
    >>> from analysis.model.reading import MeasureSettings
    >>> grey = np.full((60, 80, 3), 150, np.uint8)
    >>> whole = np.ones((60, 80), bool)
    >>> kind = MeasureSettings(face_kind="faceted")
    >>> sorted(levelling_for(grey, whole, None, Face(), kind).flags)
    [<Flag.FACETS_NOT_LEVELLED: 'facets_not_levelled'>]
    """
    kind = settings.face_kind
    if kind == "flat":
        return Levelling()
    if kind in {"round", "free"}:
        unrolled = face.view is not None and face.view.kind == "unrolled"
        if kind == "round" and unrolled:
            return Levelling()
        return Levelling(
            wider_log=_BENT_LOG, flags=frozenset({Flag.SLOPES_NOT_CORRECTED})
        )
    if kind == "faceted":
        return _by_facets(pixels, inside)
    if kind is None and face.joints:
        return Levelling()
    return _along_flutes(pixels, inside, scale, settings)


def _by_facets(pixels: NDArray[np.uint8], inside: NDArray[np.bool_]) -> Levelling:
    facets = find_facets(pixels, inside)
    if facets is None:
        return Levelling(
            wider_log=_BENT_LOG, flags=frozenset({Flag.FACETS_NOT_LEVELLED})
        )
    return Levelling(
        facets=facets,
        wider_log=_LEVELLED_LOG,
        missed_log=math.hypot(_MISSED_LOG, _unseen(pixels, inside)),
        flags=frozenset({Flag.SLOPES_NOT_CORRECTED}),
    )


def _along_flutes(
    pixels: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    scale: Scale | None,
    settings: MeasureSettings,
) -> Levelling:
    pitch, depth = settings.pitch_mm, settings.depth_mm
    if scale is None and (pitch is not None or depth is not None):
        msg = (
            f"Flutes of {pitch or depth:g} mm need a scale: give the mm per px, or "
            f"leave pitch and depth out."
        )
        raise ScaleError(msg)
    mm_per_px = None if scale is None else scale.mm_per_px
    pitch_px = None if pitch is None or mm_per_px is None else pitch / mm_per_px
    ribs = find_ribs(pixels, inside, pitch_px=pitch_px)
    asked = settings.face_kind == "ribbed"
    if ribs is None or not (asked or ribs.plain):
        if not asked:
            return Levelling()
        return Levelling(
            wider_log=_BENT_LOG,
            flags=frozenset({Flag.FLUTES_NOT_FOUND, Flag.SLOPES_NOT_CORRECTED}),
        )
    flags = set() if asked else {Flag.FLUTES_FOUND}
    if pitch is None and ribs.pitch_px is not None and mm_per_px is not None:
        pitch = ribs.pitch_px * mm_per_px
    if pitch is None or depth is None:
        factor, uneven = 1.0, _slopes(_USUAL_DEPTH_SHARE)[0] - 1
        flags |= {Flag.SLOPES_NOT_CORRECTED}
    else:
        factor, uneven = _slopes(depth / pitch)
    return Levelling(
        ribs=ribs,
        mm_per_px=mm_per_px,
        area_factor=factor,
        wider_log=math.hypot(_LEVELLED_LOG, uneven),
        missed_log=math.hypot(_MISSED_LOG, _unseen(pixels, inside)),
        flags=frozenset(flags),
    )


def _unseen(pixels: NDArray[np.uint8], inside: NDArray[np.bool_]) -> float:
    """Return the part of a face that lies in the dark, 0..1; all of it may be void."""
    step = max(1, max(inside.shape) // _LOOKED_AT_PX)
    light = luminance(np.ascontiguousarray(pixels[::step, ::step]))
    light = light[inside[::step, ::step]]
    if not light.size:
        return 0.0
    return float((light < UNSEEN_SHARE * np.median(light)).mean())


def _slopes(depth_share: float) -> tuple[float, float]:
    """Return k of flutes so many pitches deep, and how much slopes differ from it."""
    turn = 2 * np.pi * np.arange(_PLACES) / _PLACES
    area = np.sqrt(1 + (np.pi * depth_share * np.sin(turn)) ** 2)
    return float(area.mean()), float(area.std() / area.mean())


def _wider(share: Share, by: Levelling) -> Share:
    """Widen an interval; ends as logs, joined as independent parts."""
    more = math.hypot(by.wider_log, by.missed_log)
    if share.value <= 0:
        return replace(share, high=min(1.0, share.high * math.exp(more)))
    up = math.hypot(math.log(share.high / share.value), more)
    high = share.value * math.exp(up)
    low = 0.0
    if share.low > 0:
        down = math.hypot(math.log(share.value / share.low), by.wider_log)
        low = share.value * math.exp(-down)
    return Share(value=share.value, low=low, high=min(1.0, high))
