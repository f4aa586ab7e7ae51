"""Tuned numbers of finding dark candidates: background, passes, rims, lines."""

from __future__ import annotations

from dataclasses import dataclass


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
    # Kept where the darkest part is this deep: under a flash or an even sky many pits
    # are no deeper than a sixth. Own, on tuning seeds: 0.20 lost a third of the area of
    # faint faces, and on clean ones 0.15 counts nothing more.
    keep_depth: float = 0.15
    # And this many sigmas: plain noise seldom gets there in several px side by side.
    keep_sigmas: float = 3.5
    # Fainter than this it must stand out further, for most are clouds of mottling, and
    # each costs a look of the network.
    faint_depth: float = 0.20
    # So far: own, on tuning seeds nineteen in twenty faint pits do, and a fifth to a
    # third of the clouds.
    keep_faint_sigmas: float = 5.5
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
    # Fainter ones are too often mottling, which has no wall to be lit.
    shaded_from_depth: float = 0.20
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
class BodySettings:
    """Pits that hang on long dark marks."""

    # Length squared over area, as for a disc: shorter marks are no lines.
    thinnest_ratio: float = 9.0
    # A crack's widening is a void only from twice the crack's width.
    wider_ratio: float = 2.0
    # A body has a disc of this radius in it at least.
    least_radius_px: float = 3.0


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
