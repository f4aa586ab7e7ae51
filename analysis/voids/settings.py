"""Every tuned number of the measurement, stage by stage, each with its reason.

Light is linear; depth is 1 - light / background, 0 for the background itself and 1 for
black; sigmas are standard deviations of the background's noise. Px are those of the
photo unless a stage says otherwise. Numbers that only share out memory, and those of
plain mathematics, stay where they are used: no result depends on the former.

A change of one number is another method: see `analysis.model.method`.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, fields, is_dataclass
from typing import TYPE_CHECKING, Any, Final

from analysis.model.method import STEPS

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True, slots=True, kw_only=True)
class BackgroundSettings:
    """The light a face would show without voids, and its noise."""

    # Below this light the sensor says nothing; keeps ratios finite on black pixels.
    darkest_light: float = 1e-4
    # A cell with less face would stand for its few px at the edge; it takes its
    # neighbour's light instead.
    least_cell_face_share: float = 0.25
    # Side of the median: a void or stain that fills less than half of this many cells
    # squared does not pull the background; a lamp's falling off is still followed.
    median_cells: int = 5
    # Takes the median's steps out of the background; less leaves them, more blurs edges
    # of shades.
    smoothing_cells: float = 1.0
    # Large enough for a spread that some dark px do not move, small enough to follow
    # mottling from one part of the face to the next.
    noise_cell_px: int = 64
    # Fewer px in a cell give no spread: it takes that of the others.
    fewest_noise_px: int = 64
    # What 8 bits alone would noise.
    least_noise_share: float = 0.004
    # Side of the median over the noise of cells: one cell full of voids is no noise.
    noise_median_cells: int = 3
    # Where voids fill half of a cell their own contrast would pass for noise: no cell
    # is noisier than this many times the usual one.
    roughest_ratio: float = 2.5
    # Background as dark as the first code of 8 bits holds nothing to compare with.
    blackest_light: float = 4e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSettings:
    """Searches for dark candidates, coarse to fine; px of the reduced photo."""

    # Px of the photo to one of the next coarser search: with 60 px as the longest of
    # one search, the least of the next begins well below it.
    step_ratio: int = 4
    # Background cell: its window of five is as long as the longest candidate.
    cell_px: int = 12
    # Cell of the finest search, which follows mottling between small voids.
    fine_cell_px: int = 4
    # A candidate of the finest search is no longer than its window of five cells.
    fine_most_px: float = 18.0
    # One px may be a void on the photo itself.
    fine_least_px: float = 1.0
    # Half of the finest search's longest, so that nothing falls between the two.
    usual_least_px: float = 9.0
    # A coarser search looks for what was too long for the finer one; shorter candidates
    # would come with a blurred outline.
    coarse_least_px: float = 10.0
    # The background's window of five cells of 12 px: a longer candidate would level
    # itself.
    most_px: float = 60.0
    # Nothing coarser follows the coarsest search to take what is longer.
    longest_px: float = 200.0
    # A face of fewer cells along its longer side has no background of its own.
    fewest_cells: int = 9
    # Looked at from this depth and this many sigmas. Generous, as the four below: on
    # mottled faces voids are hardly darker than the mottling, and what is wrong is
    # turned down later, by more than darkness.
    look_depth: float = 0.07
    # As the depth, on noisy faces: one px in 160 of plain noise is looked at.
    look_sigmas: float = 2.5
    # Kept where the darkest part is this deep.
    keep_depth: float = 0.20
    # And this many sigmas: plain noise seldom gets there in several px side by side.
    keep_sigmas: float = 3.5
    # A softer edge is left to the stains.
    softest_edge_px: float = 6.5
    # Large pits have softer edges: so much of their size is allowed.
    softest_edge_share: float = 0.45
    # Depth just inside the boundary, as a part of the floor beside it.
    rim_level_share: float = 0.6
    # A candidate of which more than this part belongs to a coarser one is that one.
    taken_share: float = 0.3
    # Margin given to px around an enlarged candidate: below 0, and as near to it as the
    # margins beside a boundary are, so that the boundary is not drawn out or in.
    outside_depth: float = -0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundarySettings:
    """Where a dark candidate ends."""

    # Half way from the background to the floor beside it: blur moves light from one
    # side of an edge to the other and leaves the half where it was.
    cut_share: float = 0.5
    # A floor is deeper than this; shallower places are mottling.
    floor_depth: float = 0.12
    # And deeper than this many sigmas.
    floor_sigmas: float = 8.0
    # And than this part of the deepest point around: a pit's soft rim is no floor.
    floor_of_deepest_share: float = 0.22
    # And flat: depth over slope exceeds so many px, a little more than a sharp edge's.
    flat_px: float = 2.9
    # The deepest point near is a floor too, for pits too small to have a flat one: so
    # near the largest depth.
    tip_share: float = 0.9
    # Of a neighbourhood this wide, which holds one small pit.
    tip_window_px: int = 13
    # A floor is looked for three px to each side: the width of a usual edge.
    floor_window_px: int = 7
    # A candidate has grown into stains where it outgrows its deep core this often.
    most_growth_ratio: float = 4.0
    # Or where its rim is softer than this.
    softest_rim_px: float = 7.0
    # The deepest point around is looked for on blocks: exact to four px, and fast.
    block_px: int = 4
    # The deepest point of larger candidates is near enough to any of their px.
    widest_px: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureSettings:
    """What speaks for and against a candidate."""

    # Colour around a candidate is read this far outside it, beyond a usual soft edge.
    ring_px: float = 4.0
    # From so many points, every 15 degrees.
    ring_points: int = 24
    # A narrower edge is noise: px and smoothing alone draw one of about 2 px.
    sharpest_edge_px: float = 2.4
    # Width of a sharp edge where the photo has too few deep candidates to tell.
    usual_edge_px: float = 2.8
    # Edges of candidates from this depth on tell the photo's sharpness: a stain's edge
    # is soft by itself.
    deep_depth: float = 0.35
    # Fewer deep candidates may all be shades.
    fewest_deep: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class LightSettings:
    """Which side the light comes from; the bright far walls of pits."""

    # Smaller candidates have too few px to be shaded.
    shaded_from_px2: float = 20.0
    # Longer ones (as an axis ratio) are lines, shaded along themselves.
    thinnest_ratio: float = 8.0
    # Fewer pits agree by chance.
    fewest_pits: int = 6
    # Directions in which rims are looked at, every 15 degrees.
    directions: int = 24
    # Shading inside pits agrees on a side from this mean correlation.
    least_shading: float = 0.15
    # And from this many standard errors.
    shading_errors: float = 4.0
    # Bright rims agree on a side from this mean of light over background.
    least_pull: float = 0.08
    # And from this many standard errors: a rim is bright for other reasons as well.
    pull_errors: float = 6.0
    # Rims are looked at from this part of the pit's reach.
    rim_from_share: float = 0.9
    # And so much further out, clear of the blur.
    rim_from_px: float = 1.0
    # Then from here on, in parts of the root of its area.
    rim_beyond_from: float = 0.1
    # To here: a far wall is no longer than about the pit is wide.
    rim_beyond_to: float = 0.7
    # In so many steps, about a px apart for a usual pit.
    rim_steps: int = 6
    # A rim darker than this is another void, and pulls no more.
    darkest_rim: float = -0.1
    # One brighter than this is a glint, and pulls no more.
    brightest_rim: float = 0.6
    # Rays over a pit along which its bright wall is looked for.
    rays: int = 15
    # Samples of a ray, closer than a px for usual pits.
    samples: int = 48
    # A wall shines from so much over the background.
    least_lit: float = 0.12
    # And from so many sigmas.
    lit_sigmas: float = 4.0
    # And so many times as much as the side towards the lamp.
    lit_over_other_side: float = 2.0
    # A gap between dark and lit part costs this much of what a lit px brings.
    gap_cost: float = 0.12
    # Lit is what shines this part of the wall's brightest.
    lit_cut_share: float = 0.45
    # One glint counts no more than so many px of wall.
    most_gain: float = 1.5
    # No wall lies behind another void: it costs more than a ray can bring.
    foreign_cost: float = 9.0
    # A rounded lip shines outside the rim too: this part of the bright band.
    lip_share: float = 0.4
    # A wall lies behind this part of the rays at least: one bright grain does not.
    rays_lit_share: float = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSettings:
    """Long thin dark marks: cracks, joints, scratches."""

    # Shorter marks may be a pit seen from the side.
    shortest_px: int = 24
    # Length squared over area, as for a disc: a chain of pits stays below this.
    thinnest_ratio: float = 9.0
    # A candidate this much wider than the line it lies on is a pit on a crack.
    wider_ratio: float = 2.2
    # So is one this much deeper than it: the line is the edge of a damp patch.
    deeper_ratio: float = 2.5
    # A pit on a line is plump: a longer candidate is a piece of the line.
    most_thin_ratio: float = 4.0
    # A candidate is on a line with this part of its px.
    on_line_share: float = 0.6
    # Cracks fade: gaps shorter than this are bridged.
    bridge_px: int = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class SplittingSettings:
    """Candidates and openings that are several touching voids."""

    # Smaller regions are too coarse to have a neck.
    least_area_px2: float = 30.0
    # A region more solid than this has no neck.
    dented_solidity: float = 0.94
    # Longer ones are lines, which have no lobes, unless they have a body.
    thinnest_ratio: float = 4.0
    # A neck wider than this part of the smaller lobe is no neck.
    neck_share: float = 0.62
    # A lobe has a disc of this radius in it: px of a rough rim have none.
    least_radius_px: float = 1.6
    # Peaks of the distance inside are as far apart as this at least.
    peak_window_px: int = 5
    # Longer than so many of its largest discs, a region has no body: a line. Pits seen
    # at a grazing angle reach 4.6 on real faces.
    plump_discs: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchSettings:
    """What the network is told of a candidate; another number needs another training.

    Its patches of 32 x 32 px and their planes are its format (`opening.planes`).
    """

    # The surroundings are shown once more, on a patch this many times as wide.
    wide_ratio: float = 3.0
    # Deviation of the smoothing before all searching: less leaves the sensor's noise,
    # more takes small voids.
    smoothing_px: float = 0.7
    # Half of the smallest frame, px of the photo: a smaller one shows no surroundings.
    least_half_px: float = 5.0
    # Candidates of fewer px are too small for a patch.
    least_seed_px: int = 3
    # A candidate is taken to be at least so deep where its depth divides.
    least_depth: float = 0.08
    # A frame whose px are larger than this many of the photo's is read from a halved
    # photo, so that nothing is skipped.
    halved_from_ratio: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningSettings:
    """How the network is asked for whole openings, and what its answers mean."""

    # Half side of the first frame over the candidate's length: it spans a quarter, and
    # the opening has room on every side.
    first_half_ratio: float = 2.0
    # The same of the second frame: the opening spans about half.
    second_half_ratio: float = 1.1
    # The light's side is asked of so many of the deepest candidates, for speed: each
    # tells a third of what there is to tell.
    asked_for_light: int = 64
    # Candidates less likely than this are not drawn again.
    drawn_from_logit: float = -4.0
    # Smaller openings show no more on a patch of their own: px of the photo are as
    # large as those of the first patch.
    looked_at_twice_px: float = 14.0
    # A px is inside from even odds; an opening more than half on another is the other.
    inside_share: float = 0.5
    # Part of the variance of the light's side that one candidate explains, measured on
    # drawn patches.
    told_by_one_share: float = 0.35
    # The most that one lamp gives of the light.
    most_light_share: float = 0.9
    # Reducing a photo averages, which is a blur of its own: its deviation, reduced px.
    reducing_blur_px: float = 0.4
    # A light with less of a side than this is told as having none.
    least_side_share: float = 0.35
    # An opening so much larger than its dark part has a lit floor.
    lit_inside_ratio: float = 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgingSettings:
    """Figures that the judging was fitted on; another number needs another fit."""

    # Clipped, so that one answer of the network cannot outweigh all else.
    most_logit: float = 8.0
    # An edge sharper than the photo's sharpest is noise.
    most_sharp_ratio: float = 1.5
    # What a face is like is told by candidates of this depth; fainter ones are judged
    # by it.
    told_from_depth: float = 0.20
    # And that stand out of its noise so far.
    told_from_sigmas: float = 4.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectionSettings:
    """From which probability a candidate counts, and which shapes are no voids."""

    # More likely a void than not.
    counted_from: float = 0.5
    # One that looks like a stain counts only from here.
    sure_from: float = 0.7
    # One with an edge too soft for its depth only from here: stains are soft.
    sure_soft_from: float = 0.9
    # The edge is soft below this part of a sharp edge's steepness.
    soft_edge_sharpness: float = 0.75
    # A void of this probability leaves no doubt that the face has voids.
    surely_from: float = 0.95
    # Without one that leaves no doubt, marks count from here: on clean faces with
    # stains the likeliest come near, and none gets there.
    without_sure_from: float = 0.94
    # A smaller candidate leaves doubt however likely it is.
    least_sure_px: float = 12.0
    # Likely ones from here leave no doubt if they are nearly black inside.
    likely_from: float = 0.85
    # So many likely ones without one that leaves no doubt are faint pits in soft light:
    # on clean faces there are never many.
    many_likely: int = 10
    # Nearly black.
    black_depth: float = 0.7
    # A long shape has a body, or is a line, from this probability.
    plump_from: float = 0.9
    # Longer than this for its width, a candidate is a line. Pits seen at a grazing
    # angle reach 4.6 on real faces.
    line_thinness: float = 5.5
    # A line as solid as this is straight: joint, fin or scratch; else a crack.
    straight_solidity: float = 0.8
    # A broad mark without shadow is a stain: what is larger than the first size must
    # have the first contrast, from the second size on the second.
    broader_px: tuple[float, float] = (25.0, 70.0)
    # See `broader_px`: a pit that broad has shadow in it.
    least_contrasts: tuple[float, float] = (0.28, 0.38)
    # Tinted: chromaticity further from its surroundings than the face's own deep pits'.
    tinted_shift: float = 0.008
    # A tinted mark needs so much more contrast, for colour darkens too.
    tinted_contrast: float = 0.15
    # Pits from this depth tell how far the face's own tint goes.
    deep_depth: float = 0.55
    # Less solid than this is ragged; voids are rounded by the air in them.
    ragged_solidity: float = 0.75
    # A ragged candidate fainter than this is not told, where darkness alone decides.
    faint_contrast: float = 0.42
    # A ragged candidate longer than this for its width is a crack that winds.
    winding_thinness: float = 4.0
    # And longer than this: shorter ones may be two pits.
    winding_px: float = 18.0
    # And sharp: cracks are, edges of damp patches are not.
    crack_sharpness: float = 0.8
    # A faint candidate's edge may be this much wider than a sharp one.
    softest_faint_ratio: float = 1.25
    # A deeper one's by so much more for each unit of depth: deep pits have round lips.
    softer_by_depth: float = 2.5
    # Faint ends at this depth.
    faint_depth: float = 0.3
    # And lips get no rounder after so much more depth.
    rounder_depth: float = 0.5
    # Dark over more than this part of the face, a candidate may be a shadow.
    shadow_face_share: float = 0.03
    # And is one where the edge of the face bounds this part of its rim.
    shadow_rim_share: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class HoneycombSettings:
    """Patches of stones and holes; windows of 10 mm, logs of light over the patch's."""

    # Stones of usual mixes are 4 to 16 mm: a window holds a few of them.
    window_mm: float = 10.0
    # Px of a window on the photo that is looked at; without a scale a window has as
    # many px of the photo itself.
    window_px: float = 48.0
    # A smaller window has too few px for its coarsest scale.
    least_window_px: float = 20.0
    # A larger one would not fit a face.
    most_window_px: float = 400.0
    # Windows overlap: six steps to a side draw the patch finely enough.
    cells_per_window: int = 6
    # Deviations between which roughness is told: grain, sand, stones, and the level.
    scales_px: tuple[float, ...] = (1.0, 2.0, 4.0, 12.0)
    # In shadow is what is so far below the level.
    shadow_log: float = -0.5
    # Lit is what is so far above it.
    lit_log: float = 0.25
    # Even is what changes by less than this between the finest scale and that of
    # stones.
    even_log: float = 0.06
    # Added before a logarithm, so that nothing of a kind is not minus infinity.
    floor_share: float = 0.01
    # Light over background is read from here: darker says nothing more.
    darkest_ratio: float = 0.02
    # To here: brighter is gloss.
    brightest_ratio: float = 8.0
    # Log odds of a window: a constant, then in the order of `window_figures`. Fitted by
    # logistic regression on drawn faces of a seed base kept for tuning.
    weights: tuple[float, ...] = (1.81, -9.96, 8.02, -1.05, 0.51, 1.7, -9.41)
    # A window belongs to a patch from these log odds where the patch has enough that
    # are sure.
    patch_logit: float = 0.5
    # A window is sure from these.
    sure_logit: float = 2.5
    # The patch is no smaller than its windows from these on.
    smaller_logit: float = 2.5
    # And no larger than those from these on around it.
    larger_logit: float = -1.5
    # Even share of a third of a window where a patch ends.
    even_at_rim_share: float = 0.75
    # Sure windows of a patch, by area: fewer are one void with a ragged rim.
    least_sure_windows: float = 3.5
    # Holes of a patch: fewer are grains or boards.
    fewest_holes: int = 4
    # Or so much of it open, where the holes have run together.
    open_share: float = 0.15
    # A patch covering more than this of the face is the finish, not a fault in it.
    most_of_face_share: float = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class SandSettings:
    """Bare sand along joints that leaked; px of a photo of 4.8 px a mm."""

    # Texture is looked at where 10 mm are 48 px; without a scale on the photo itself.
    px_per_mm: float = 4.8
    # Finer than this deviation is texture: half a mm, a grain of sand.
    grain_px: float = 2.5
    # Window of the share that is coarse: 3 mm, some grains of it.
    window_px: int = 15
    # Window of the sand's own tone: wider than grains, narrower than a leak.
    tone_px: int = 21
    # How far the tone of the face beside it is carried over the sand.
    ground_px: float = 30.0
    # Coarse is beyond this many times the usual texture: a tenth of an even face is, of
    # bare sand two thirds.
    coarser_ratio: float = 2.5
    # Sand is where half of the texture is coarse.
    coarse_share: float = 0.5
    # A smaller patch is a rough spot.
    least_mm2: float = 30.0
    # Narrower gaps of the form's own are closed before voids are sought.
    gap_mm: float = 0.8
    # Brightness on a log scale, in codes of 8 bits, for a median of any width.
    codes_per_log: float = 48.0
    # Log of light at the last code.
    brightest_log: float = 0.5
    # A reduced px is of the face where it is wholly.
    wholly_share: float = 0.99
    # Share of a window beside the joint below which its coarse share would be noise.
    least_beside_share: float = 0.2
    # Grains stand out by this at least, where depth over their height is taken.
    least_grit: float = 0.02
    # Deeper over the grains' height says no more.
    most_depth_ratio: float = 12.0
    # Thinner says no more.
    most_thinness: float = 6.0
    # Log odds that a spot in sand is a pit: constant, network, depth over the grains'
    # height, depth, log2 of the area in mm2, thinness, solidity. Fitted by logistic
    # regression on spots of drawn joints (tests/benchmarks/joint_faces.py, seed base
    # 777).
    weights: tuple[float, ...] = (1.36, 2.89, -0.17, 2.28, -0.39, -1.42, 0.93)


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSettings:
    """Sand, fins and breaks of the arris along joints; px of a photo of 4.8 px a mm."""

    # Marks are looked at where 10 mm are 48 px; a coarser photo as it is.
    px_per_mm: float = 4.8
    # Smooths the sensor's noise: fins are a mm wide.
    calm_px: float = 0.8
    # Window of the median that stands for the face around: wider than half a break.
    tone_px: int = 31
    # Brightness on a log scale, in codes of 8 bits, for a median of any width.
    codes_per_log: float = 48.0
    # Log of light at the last code.
    brightest_log: float = 0.5
    # Odd is what differs by this (log of light).
    odd_log: float = 0.06
    # And by this many times the usual.
    odd_ratio: float = 4.0
    # Odd px this near are one mark.
    closed_px: int = 3
    # A break starts at the joint, as near as this: the joint's line is no better known.
    touches_mm: float = 1.0
    # And lies on one side of it, with this part.
    one_sided_share: float = 0.96
    # On the other side no further than this, which a fin goes beyond.
    astray_mm: float = 0.35
    # A break reaches this far: less is the joint's own shadow.
    least_reach_mm: float = 1.2
    # A smaller one is a grain that came out.
    least_break_mm2: float = 2.0
    # Marks less wide than this are as wide, when their length is weighed.
    least_deep_mm: float = 0.8
    # A break is about as long as deep, or longer.
    longer_ratio: float = 0.9
    # Marks further from the joint have nothing to do with it.
    deepest_mm: float = 12.0
    # A break starts at the joint along this part of its length.
    starts_share: float = 0.55
    # How far a mark reaches is told by this quantile of its px: a stray px does not.
    reach_quantile: float = 0.95
    # And how far on the other side of the joint by this.
    other_quantile: float = 0.05
    # A fin is bright beside its own shadow, both this near to the joint.
    fin_reach_mm: float = 1.6
    # Bright by this (log of light).
    fin_bright_log: float = 0.06
    # And by this many times the usual.
    fin_ratio: float = 5.0
    # And by this part of its shadow's depth: a scratch has no bright side.
    fin_of_dark_share: float = 0.35
    # A shorter fin is a grain; it is told in bins of a mm.
    least_fin_mm: int = 4
    # A fin goes on after a gap so short.
    fin_gap_mm: int = 3
    # A mark so much longer than deep is a fin, no break.
    fin_longer_ratio: float = 6.0
    # So much longer it is a fin, on whatever side its shadow falls.
    surely_fin_ratio: float = 12.0
    # Sand this near to a joint leaked out of it.
    sand_reach_mm: float = 12.0
    # The joint's length is told by what lies this near to its line.
    line_mm: float = 1.0
    # A reduced px is of a kind where half of it is.
    inside_share: float = 0.5
    # A candidate this much of which lies in a break of the arris is part of it.
    in_break_share: float = 0.5
    # One as likely as this is a void at the joint and no break.
    plainly_from: float = 0.85
    # If it is as round as this too.
    round_thinness: float = 1.7
    # Half the width of a joint's own line: a gap or a fin, and how well it was marked.
    seam_mm: float = 1.2


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
    up_weights: tuple[float, ...] = (0.0, 0.0, 0.77, 0.0, 0.0, 1.0, 0.0, 0.23)
    # The same for the lower end.
    down_weights: tuple[float, ...] = (0.0, 1.15, 0.0, 0.0, 0.68, 0.92, 0.0, 0.0)
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
    # Side of a tile: ten megapixels, which show enough voids to judge a photo by.
    tile_px: int = 3200
    # What a tile sees of its neighbours: more than the largest void of a piece at the
    # finest scale of a phone (15 mm at 0.05 mm a px).
    overlap_px: int = 320
    # Px of the photo to a cell of the background that is kept: four of the usual cells.
    kept_cell_px: int = 48
    # The light has a side where the parts with this share of the voids agree on it.
    agreed_share: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectionSettings:
    """All of them."""

    background: BackgroundSettings = field(default_factory=BackgroundSettings)
    passes: PassSettings = field(default_factory=PassSettings)
    boundary: BoundarySettings = field(default_factory=BoundarySettings)
    features: FeatureSettings = field(default_factory=FeatureSettings)
    light: LightSettings = field(default_factory=LightSettings)
    lines: LineSettings = field(default_factory=LineSettings)
    splitting: SplittingSettings = field(default_factory=SplittingSettings)
    patches: PatchSettings = field(default_factory=PatchSettings)
    opening: OpeningSettings = field(default_factory=OpeningSettings)
    judging: JudgingSettings = field(default_factory=JudgingSettings)
    rejection: RejectionSettings = field(default_factory=RejectionSettings)
    honeycomb: HoneycombSettings = field(default_factory=HoneycombSettings)
    sand: SandSettings = field(default_factory=SandSettings)
    joints: JointSettings = field(default_factory=JointSettings)
    slope: SlopeSettings = field(default_factory=SlopeSettings)
    flags: FlagSettings = field(default_factory=FlagSettings)
    interval: IntervalSettings = field(default_factory=IntervalSettings)
    seeded: SeededSettings = field(default_factory=SeededSettings)
    tiling: TilingSettings = field(default_factory=TilingSettings)


SETTINGS: Final = DetectionSettings()


def named_numbers(settings: Any) -> Iterator[tuple[str, object]]:  # noqa: ANN401  any stage
    """Yield the name and value of each number, stage by stage.

    Examples
    --------
    >>> dict(named_numbers(SETTINGS))["boundary.cut_share"]
    0.5
    """
    for one in fields(settings):
        value = getattr(settings, one.name)
        if is_dataclass(value):
            for name, number in named_numbers(value):
                yield f"{one.name}.{name}", number
        else:
            yield one.name, value


def fingerprint(settings: DetectionSettings) -> str:
    """Return eight hexadecimal digits that change with any of the numbers.

    Examples
    --------
    >>> len(fingerprint(SETTINGS))
    8
    """
    told = repr(sorted(named_numbers(settings)))
    return hashlib.sha256(told.encode()).hexdigest()[:8]


METHOD_VERSION: Final = f"{STEPS}.{fingerprint(SETTINGS)}"
# Where the network could not be used, openings are drawn from darkness alone.
BY_DARKNESS: Final = f"{METHOD_VERSION} by darkness"
