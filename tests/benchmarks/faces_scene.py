"""Relief and colour of a drawn face: the ground and the pits in it.

Everything is drawn in millimetres on a grid finer than the camera's. A pit is an
opening in the face plane (super-ellipse, merged lobes or a ragged bubble) and a
bottom under it; the truth is the opening, whatever the light shows of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

PROFILES = ("bowl", "flat", "undercut", "cone", "dish")
USUAL_PROFILES = (0.42, 0.17, 0.28, 0.08, 0.05)
# depth over radius, lowest and highest, of each profile
DEPTH_RATIO = {
    "bowl": (0.6, 1.1),
    "flat": (0.45, 0.9),
    "undercut": (0.9, 1.6),
    "cone": (0.6, 1.1),
    "dish": (0.2, 0.35),
}
DEEPEST_MM = 6.0


@dataclass(slots=True, kw_only=True)
class Scene:
    """What the marks draw on; arrays are changed in place."""

    step_mm: float
    height_mm: np.ndarray  # (rows, cols) float32, 0 is the face plane, pits below
    albedo: np.ndarray  # (rows, cols, 3) float32, RGB relative to the ground
    labels: np.ndarray  # (rows, cols) int32, 0 or the pit's number
    gloom: np.ndarray  # (rows, cols) float32, sky left under an overhanging rim
    honeycomb: np.ndarray  # (rows, cols) bool
    lines: np.ndarray  # (rows, cols) bool, cracks, joints, fins and scratches
    count: int = 0  # labels given so far

    @property
    def shape(self):
        return self.height_mm.shape

    @property
    def size_mm(self):
        return self.shape[0] * self.step_mm, self.shape[1] * self.step_mm


def octaves(rng, shape, wavelength, *, count=4, fade=0.5):
    """Smooth random field of unit spread; `wavelength` in samples, or (rows, cols)."""
    waves = np.broadcast_to(np.asarray(wavelength, float), 2)
    # what varies slowly is worked out on a coarser grid
    finest = float(waves.min()) / 2 ** (count - 1)
    coarse = int(np.clip(finest // 6, 1, 8))
    small = tuple(-(-side // coarse) for side in shape)
    total = np.zeros(small, np.float32)
    for octave in range(count):
        cells = (np.array(shape) * 2.0**octave / waves + 3).astype(int)
        grid = rng.standard_normal(np.minimum(cells, small), dtype=np.float32)
        layer = cv2.resize(grid, small[::-1], interpolation=cv2.INTER_CUBIC)
        total += fade**octave * layer
    total -= total.mean()
    total /= max(float(total.std()), 1e-6)
    return cv2.resize(total, shape[::-1], interpolation=cv2.INTER_CUBIC)


def bare_scene(rng, shape, step_mm, *, roughness, waviness_mm, mottle, tint):
    """A face without pits: form waves, skin roughness, mottled colour."""
    height = waviness_mm * octaves(rng, shape, 45 / step_mm, count=2)
    height += roughness * 0.004 * octaves(rng, shape, max(3.0, 0.8 / step_mm), count=2)
    tone = mottle * (
        0.75 * octaves(rng, shape, 30 / step_mm, count=4, fade=0.6)
        + 0.4 * octaves(rng, shape, 3 / step_mm, count=2, fade=0.6)
        + 0.5 * octaves(rng, shape, max(3.0, 0.7 / step_mm), count=2, fade=0.7)
    )
    hue = 0.25 * mottle * octaves(rng, shape, 40 / step_mm, count=3)
    albedo = np.empty((*shape, 3), np.float32)
    for channel, lean in enumerate((1.0, 0.1, -1.0)):
        albedo[..., channel] = tint[channel] * np.exp(tone + lean * hue)
    return Scene(
        step_mm=step_mm,
        height_mm=height.astype(np.float32),
        albedo=albedo,
        labels=np.zeros(shape, np.int32),
        gloom=np.ones(shape, np.float32),
        honeycomb=np.zeros(shape, bool),
        lines=np.zeros(shape, bool),
    )


def _super_ellipse(rng, x, y):
    power = rng.uniform(1.7, 3.0)
    stretch = np.sqrt(min(1.0 + rng.exponential(0.22), 2.2))
    angle = np.arctan2(y, x)
    wobble = np.ones_like(x)
    for lobes in range(2, 6):
        wobble += rng.normal(0, 0.04) * np.cos(lobes * angle + rng.uniform(0, 7))
    u = (np.abs(x / stretch) ** power + np.abs(y * stretch) ** power) ** (1 / power)
    return u / np.maximum(wobble, 0.5)


def _merged_lobes(rng, x, y):
    pull = np.zeros_like(x)
    for _ in range(rng.integers(2, 5)):
        away, turn = rng.uniform(0.25, 0.65), rng.uniform(0, 2 * np.pi)
        gap = (x - away * np.cos(turn)) ** 2 + (y - away * np.sin(turn)) ** 2
        pull += rng.uniform(0.25, 0.45) / (gap + 1e-3)
    return 1 / np.sqrt(pull)


def _ragged_bubble(rng, x, y):
    cells = rng.standard_normal((7, 7), dtype=np.float32)
    rough = cv2.resize(cells, (x.shape[1], x.shape[0]), interpolation=cv2.INTER_CUBIC)
    return np.hypot(x, y) * (1 + 0.16 * np.clip(rough, -2, 2))


SHAPES = (_super_ellipse, _merged_lobes, _ragged_bubble)
SHAPE_WEIGHTS = (0.5, 0.25, 0.25)


def _depth(profile, u, depth_mm):
    inside = np.clip(u, 0, 1)
    if profile == "bowl":
        return depth_mm * np.sqrt(1 - inside**2)
    if profile == "flat":
        wall = np.clip((1 - inside) / 0.22, 0, 1)
        return depth_mm * wall * wall * (3 - 2 * wall)
    if profile == "cone":
        return depth_mm * (1 - inside)
    if profile == "dish":
        return depth_mm * (1 - inside**2)
    return np.where(u < 1, depth_mm, 0.0)


def draw_pit(scene, rng, centre_mm, radius_mm, weights=USUAL_PROFILES):
    """Sink one pit; its opening gets the next label."""
    radius = radius_mm / scene.step_mm
    row, col = centre_mm[0] / scene.step_mm, centre_mm[1] / scene.step_mm
    half = 2.3 * radius + 3
    top, left = max(0, int(row - half)), max(0, int(col - half))
    rows = slice(top, min(scene.shape[0], int(row + half) + 1))
    cols = slice(left, min(scene.shape[1], int(col + half) + 1))
    yy, xx = np.mgrid[rows, cols].astype(np.float32)
    turn = rng.uniform(0, np.pi)
    dy, dx = (yy - row) / radius, (xx - col) / radius
    x = dx * np.cos(turn) + dy * np.sin(turn)
    y = dy * np.cos(turn) - dx * np.sin(turn)
    shape = SHAPES[rng.choice(len(SHAPES), p=SHAPE_WEIGHTS)]
    u = shape(rng, x, y).astype(np.float32)
    inside = u < 1
    count, parts = cv2.connectedComponents(inside.astype(np.uint8), connectivity=4)
    if count > 2:
        inside = parts == 1 + np.argmax(np.bincount(parts.ravel())[1:])
    profile = PROFILES[rng.choice(len(PROFILES), p=weights)]
    depth_mm = min(radius_mm * rng.uniform(*DEPTH_RATIO[profile]), DEEPEST_MM)
    floor = 1 + 0.06 * octaves(rng, x.shape, max(3.0, radius * 0.7), count=2)
    sunk = -_depth(profile, u, depth_mm) * floor
    ground = scene.height_mm[rows, cols]
    taken = scene.labels[rows, cols] > 0
    deeper = inside & (~taken | (sunk < ground))
    ground[deeper] = np.where(taken, sunk, ground + np.minimum(sunk, 0))[deeper]
    scene.count += 1
    scene.labels[rows, cols][deeper] = scene.count
    if profile == "undercut":
        scene.gloom[rows, cols][deeper] = rng.uniform(0.45, 0.75)
    tone = rng.uniform(0.62, 1.0) * np.array([1.0, rng.uniform(0.95, 1), 0.94])
    scene.albedo[rows, cols][deeper] *= tone.astype(np.float32)


def _sizes_mm(rng, area_mm2, median_mm, spread, range_mm):
    """Diameters whose circles add up to the wanted area."""
    diameters, total = [], 0.0
    while total < area_mm2:
        d = median_mm * np.exp(spread * rng.standard_normal())
        if not range_mm[0] <= d <= range_mm[1]:
            continue
        diameters.append(d)
        total += np.pi * d * d / 4
    return np.sort(diameters)[::-1]


def scatter_pits(scene, rng, *, share, median_mm, spread, range_mm, touching, weights):
    """Sink pits all over the face, largest first, some touching an earlier one."""
    high, wide = scene.size_mm
    radii = _sizes_mm(rng, share * high * wide, median_mm, spread, range_mm) / 2
    placed = np.zeros((len(radii), 3))
    for index, radius in enumerate(radii):
        centre = _free_place(rng, placed[:index], radius, (high, wide), touching)
        placed[index] = (*centre, radius)
        draw_pit(scene, rng, centre, radius, weights)


def _free_place(rng, placed, radius, size_mm, touching):
    """Where the next pit goes: beside one pit, or clear of all; tried 60 times."""
    beside = len(placed) > 0 and rng.random() < touching
    centre, on_face = (0.0, 0.0), False
    for _ in range(60):
        centre = (rng.uniform(0, size_mm[0]), rng.uniform(0, size_mm[1]))
        others = placed
        if beside:
            chosen = rng.integers(len(placed))
            row, col, other = placed[chosen]
            turn, gap = rng.uniform(0, 2 * np.pi), rng.uniform(0.98, 1.1)
            gap *= radius + other
            centre = (row + gap * np.sin(turn), col + gap * np.cos(turn))
            others = np.delete(placed, chosen, axis=0)
        away = np.hypot(others[:, 0] - centre[0], others[:, 1] - centre[1])
        on_face = 0 < centre[0] < size_mm[0] and 0 < centre[1] < size_mm[1]
        if on_face and np.all(away > 1.35 * (others[:, 2] + radius) + 0.3):
            break
    if not on_face:  # no room beside the pits near the edge
        centre = (rng.uniform(0, size_mm[0]), rng.uniform(0, size_mm[1]))
    return centre
