"""Tuned numbers of drawing openings and deciding what is a void."""

from __future__ import annotations

from dataclasses import dataclass


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
    # A hole of honeycomb takes less of its patch: a larger opening is the patch
    # itself, stones and all.
    most_of_patch_share: float = 0.3
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
    """Figures that the judging was fitted on; another number needs another fit.

    So were the odds of pits in bare sand (`SandSettings.weights`).
    """

    # Clipped, so that one answer of the network cannot outweigh all else.
    most_logit: float = 8.0
    # An edge sharper than the photo's sharpest is noise.
    most_sharp_ratio: float = 1.5
    # What a face, or the sand on it, is like is told by candidates of this depth;
    # fainter ones are judged by it.
    told_from_depth: float = 0.20
    # And that stand out of its noise so far.
    told_from_sigmas: float = 4.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectionSettings:
    """From which probability a candidate counts, and which shapes are no voids."""

    # More likely a void than not.
    counted_from: float = 0.5
    # One that looks like a stain counts only from here.
    sure_from: float = 0.75
    # One with an edge too soft for its depth only from here: stains are soft.
    sure_soft_from: float = 0.94
    # A mark beside many voids is one of them from here less its depth over theirs: one
    # three quarters as deep from 0.6, one half as deep from 0.85.
    alike_from: float = 1.35
    # But never from less.
    alike_least: float = 0.6
    # Nor with an edge below this part of a sharp edge's steepness: damp has no edge.
    alike_sharpness: float = 0.4
    # A mark so broad that is faint, tinted or soft shows no face to have voids: of
    # stains on clean faces the network is nearly as sure as of voids.
    proves_nothing_px: float = 300.0
    # A larger mark that is faint and soft at once is a stain however likely, px: the
    # candidates the network learned from lay in windows 97 px wide.
    never_soft_px: float = 7000.0
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
    # Clear marks are as deep as this; own, on 100 clean faces of four seed bases: one
    # mark at most on a face is clear, but for chips.
    clear_depth: float = 0.4
    # And so many times the noise of the ground: clouds are not.
    clear_sigmas: float = 10.0
    # And as likely.
    clear_from: float = 0.65
    # And as large, px: a pit of 3 px across.
    least_clear_px: float = 6.0
    # And no longer for their width, for a crack's piece is.
    longest_clear_thinness: float = 4.0
    # So many clear ones show a face to have small voids.
    several_clear: int = 3
    # More of them, none without doubt, are grains: own, 47 on a ground face.
    most_clear: int = 25
    # So much of them lies off any one line, else they are chips.
    clear_off_row_share: float = 0.25
    # Nearly black.
    black_depth: float = 0.7
    # A long shape has a body, or is a line, from this probability.
    plump_from: float = 0.9
    # A round piece of a line is a pit on it from this probability: of 20 so sure and so
    # round on drawn lines 18 were.
    round_from: float = 0.97
    # Round is shorter than this for its width.
    round_thinness: float = 1.6
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
    # A rough patch with so much of it on one side of its joint may be a broken arris.
    one_side_share: float = 0.88
    # It is one if it reaches no farther than this (a deep break and half the window);
    # own, on drawn joints of seed base 7: breaks 3.4 to 4.5 mm, sand 5.3 to 9.2 mm.
    break_reach_mm: float = 4.8
    # Its reach is told by this quantile of its px.
    far_quantile: float = 0.95
    # A patch that keeps so far from the joint did not leak from it.
    apart_mm: float = 3.0
    # How near it comes is told by this quantile.
    near_quantile: float = 0.02
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
    # The least, and one less the most, that they look like voids on the whole.
    least_likely: float = 0.02
    # Log odds that a spot in sand is a pit: a constant, then in the order of
    # `leak_sand.pit_figures`. Fitted by logistic regression on spots of drawn joints
    # (tests/benchmarks/pit_odds_fit.py).
    weights: tuple[float, ...] = (
        -7.11,
        0.57,
        -0.3,
        9.97,
        -1.68,
        4.87,
        -4.41,
        1.69,
        -3.17,
    )


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
    # And so much of which lies in a fin with its shadow is its shadow.
    in_fin_share: float = 0.5
    # One as likely as this is a void at the joint and no break.
    plainly_from: float = 0.85
    # If it is as round as this too.
    round_thinness: float = 1.7
    # A spot as long as this along the joint, and far longer than it reaches from it on
    # its one side, is a break or the shadow of a fin; own, on drawn joints of seed base
    # 7: no void that touches the joint is 1.8 times longer, but for one of 2 mm.
    least_ledge_mm: float = 2.4
    # So many times longer than it reaches.
    ledge_longer_ratio: float = 1.8
    # It begins as near to the joint as this.
    ledge_touches_mm: float = 0.5
    # Along this part of its length.
    ledge_starts_share: float = 0.85
    # Told in bins of this length.
    ledge_bin_mm: float = 0.25
    # A spot as long as this is a break or a shadow even if its rim lies astray; own, on
    # drawn joints of seed bases 7, 11, 77 and 101: 9 of 21 breaks that passed for
    # voids, and none of 334 voids at a joint.
    sure_ledge_mm: float = 4.5
    # If it is so many times longer than it reaches.
    sure_ledge_ratio: float = 2.2
    # With this part of it on one side.
    sure_ledge_side_share: float = 0.65
    # And begins at the joint along this part of its length.
    sure_ledge_starts_share: float = 0.75
    # How likely what counts at a joint whose arris broke is a void and no break; own:
    # five of eleven on drawn joints of seed base 7.
    torn_vote: float = 0.5
    # Half the width of a joint's own line: a gap or a fin, and how well it was marked.
    seam_mm: float = 1.2
