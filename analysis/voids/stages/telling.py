"""Tuned numbers of what is told of a face: flags, intervals, parts of a photo."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeSettings:
    """What lies off the light's own slope."""

    # Damp: so much of the face lies below the light's own slope.
    damp_share: float = 0.08
    # By so much (log of light): a quarter darker.
    damp_log: float = -0.3
    # While most of it lies no further below than this.
    dry_log: float = -0.1
    # Glare: so much of the face is brighter than the slope.
    glare_share: float = 0.01
    # By so much (log of light): twice as bright, which no bloom or stain is.
    glare_log: float = 0.7
    # While most of it lies no further above than this: brighter cells everywhere are
    # a mottled face.
    dull_log: float = 0.12
    # Glare reaches to where the face is a third brighter.
    glare_edge_log: float = 0.3
    # The slope is fitted so often, cells off it weighing less each time.
    fit_rounds: int = 8
    # Weight of a cell off the slope: enough to end, too little to pull.
    off_weight: float = 0.15
    # A cell is off the slope from here on (log of light).
    off_log: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrisSettings:
    """Rows of chips along an arris that nobody marked."""

    # Fewer marks in a row lie so by chance, or are pits at a joint; own, on 32 drawn
    # clean faces of black gloss with a chipped arris: 14 to 36 marks, nearly all in its
    # row, and 5 or 6 on three.
    fewest_chips: int = 8
    # A chip reaches the edge, or comes as near as the edge is round.
    touches_px: float = 2.0
    # A mark so many times longer than the others is no chip.
    largest_ratio: float = 4.0
    # More on the line than chance would put there, by this many times; own: chips 8 to
    # 24 times on faces with voids, the fullest lines through voids 7 times at most.
    over_chance_ratio: float = 9.0
    # The row goes along this part of the line, as far as the photo shows it.
    covered_share: float = 0.4
    # How much the light differs from side to side (log of light), and along which part
    # of the row it is brighter on the same side. Where voids lie beside the row too,
    # the edge must be plain: eight pits of a mottled face lay in a row by chance, along
    # which the mottling made a faint step. The same where there are few.
    plain_step: tuple[float, float] = (0.25, 0.95)
    # The same where no more than `beside_alone_share` of the row lies beside it; own,
    # on the same faces: 0.05 to 0.67, along lines through voids hardly 0.05.
    alone_step: tuple[float, float] = (0.03, 0.6)
    # See `alone_step`.
    beside_alone_share: float = 0.2
    # With nothing beside them as few are enough at a plain edge.
    fewest_alone: int = 5
    # Rows are sought in so many directions over half a turn: one degree apart.
    directions: int = 180
    # The line through a row is fitted so often, what touches it chosen anew.
    fit_rounds: int = 5
    # A photo shows no more arrises of one piece.
    most_rows: int = 3
    # The light is looked at so often along a line, px.
    step_px: float = 4.0
    # And beside the chips from here, past their shade.
    beside_from_px: float = 4.0
    # To here, before the light's own slope counts.
    beside_to_px: float = 20.0
    # At so many px.
    beside_step_px: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagSettings:
    """From where a void or a face is told as doubtful."""

    # A void shallower than this may be a shade.
    shallow_depth: float = 0.3
    # A void smaller than this many times the smallest counted one may lie on either
    # side of the limit.
    near_limit_ratio: float = 1.5
    # Sharp edges wider than this: voids of a few px lose their depth.
    blurred_edge_px: float = 3.2
    # Noise beyond which grain, stone or boards outshine voids.
    rough_noise_share: float = 0.2
    # Fewer voids, none of them shaded, are no sign of grains.
    many_grains: int = 40
    # Unshaded ones covering more than this may be grains.
    speckled_share: float = 0.02
    # Or this, where so much was counted by a narrow vote as the next says.
    perhaps_speckled_share: float = 0.012
    # See `perhaps_speckled_share`.
    narrow_share: float = 0.5
    # So many that cover `perhaps_speckled_share` may be grains of one kind where they
    # are alike, as the next three say.
    many_alike: int = 100
    # Depths that spread by less are alike: on drawn faces grains' by 0.07 to 0.11,
    # those of pits, deep and shallow, by 0.12 to 0.20.
    alike_depths: float = 0.115
    # Most grains look less deep than this; most holes in low sun do not.
    deepest_grain: float = 0.7
    # Most grains look less shaded than this; most drawn pits under a lamp by 0.66 on.
    least_pit_shading: float = 0.62
    # Fewer voids cannot agree on a side, and so say nothing of the light.
    many_voids: int = 10
    # A smaller face says little about the next one: 50 x 50 mm.
    small_face_mm2: float = 2500.0
    # Px across the smallest bughole, below which its outline is coarse.
    px_across_bughole: float = 8.0
    # Px across the smallest size asked for, below which it is not found.
    px_across_smallest: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalSettings:
    """What is counted, and how sure the figures are."""

    # Smallest counted size: below what published limits count (1 and 2 mm).
    smallest_mm: float = 0.5
    # And px across: smaller ones are not told from noise.
    smallest_across_px: float = 4.0
    # Without a scale a void is counted from this area on.
    smallest_without_scale_px2: float = 4.0
    # How much each doubt adds to the upper end, log of truth over estimate, in the
    # order of `measurement.doubt_terms`. Fitted by quantile regression with weights of
    # 0 or more on drawn faces of three renderers (tests/benchmarks/interval_fit.py);
    # coverage is reported with each renderer left out.
    up_weights: tuple[float, ...] = (0.0, 0.0, 0.77, 0.0, 0.0, 1.0, 0.0, 0.23, 10.0)
    # The same for the lower end.
    down_weights: tuple[float, ...] = (0.0, 1.15, 0.0, 0.0, 0.68, 0.92, 0.0, 0.0, 0.0)
    # The same for the joint band alone, whose pits in sand have odds of their own.
    # Fitted on 240 drawn joints of seed bases 7, 11, 77 and 101
    # (tests/benchmarks/joints.py --fit): with one base left out of the fit in turn they
    # held the truth of 0.87 to 0.95 of its faces.
    band_up_weights: tuple[float, ...] = (0, 1.51, 0.31, 0, 0.63, 0.59, 0, 0, 0)
    # And for its lower end.
    band_down_weights: tuple[float, ...] = (0, 0.66, 0, 0, 2.9, 0, 0, 0, 0)
    # Faces whose usual void is fainter than this hold others too faint to be found: of
    # 500 drawn faces those below 0.4 held 1.4 to 2 times what was found, others 1.04.
    faint_contrast: float = 0.42
    # Noise of a smooth face: only what is beyond it is a doubt.
    smooth_noise_share: float = 0.03
    # A void counted with less than this probability was counted by a narrow vote.
    strict_from: float = 0.8
    # How far a boundary may lie off, together for all voids of a photo (drawn faces).
    boundary_sd_px: float = 0.2
    # How far off a rim drawn by hand may lie as a whole.
    drawn_rim_px: float = 0.5
    # Tiles along the longer side whose shares are compared: fewer give no spread.
    tiles_across: int = 8
    # Larger ones see the clouds that voids come in.
    large_tiles_across: int = 4
    # The spread told by n voids is taken so many parts of n larger: with 5 voids of
    # unlike sizes the interval would hold 87 in 100 (tests/benchmarks/sampling_study).
    few_voids: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeededSettings:
    """The outline of a candidate that a person pointed at."""

    # Somebody saw it: one half as deep as the search asks for will do.
    keep_depth: float = 0.1
    # And a little less far out of the noise.
    keep_sigmas: float = 3.0
    # At any softness.
    softest_px: float = 60.0
    # Reduction, cell and longest candidate (reduced px) of each search: as the passes
    # over a face, the last with room for the largest void of a piece.
    searches: tuple[tuple[int, int, float], ...] = (
        (1, 4, 18.0),
        (1, 12, 60.0),
        (4, 12, 120.0),
    )
    # Half of the window looked at: the largest void with as much around it.
    half_window_px: int = 480
    # A larger candidate with a rim this steep against the steepest is the void itself,
    # what is smaller a part of it.
    as_steep_share: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class TilingSettings:
    """Faces too large for the memory, measured part by part."""

    # Up to here the whole of a face stands in memory at once: 40 megapixels in 1.3 GB
    # (tests/benchmarks/large_photos.py).
    tiled_from_px: int = 40_000_000
    # OpenCV reads no patch from a picture with a side of 32,767 px or more.
    longest_px: int = 32_000
    # Side of a tile: ten megapixels, which show enough voids to judge a photo by.
    tile_px: int = 3200
    # What a tile sees of its neighbours: more than the largest void of a piece at the
    # finest scale of a phone (15 mm at 0.05 mm a px).
    overlap_px: int = 320
    # Px of the photo to a cell of the background that is kept: four of the usual cells.
    kept_cell_px: int = 48
    # The light has a side where the parts with this share of the voids agree on it.
    agreed_share: float = 0.5
