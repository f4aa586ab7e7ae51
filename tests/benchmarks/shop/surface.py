"""A face before the light: relief, colour, gloss, and the canvas of the mouths."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from tests.benchmarks.shop import noise

FINE, CANVAS = 2, 4  # samples a px of relief and colour, and of the truth

# Albedo of the dry, clean face, RGB.
COLOURS = {
    "grey": (0.40, 0.395, 0.38),
    "warm_grey": (0.42, 0.395, 0.35),
    "white": (0.74, 0.735, 0.71),
    "dark": (0.15, 0.15, 0.152),
    "black": (0.065, 0.066, 0.070),
    "red": (0.42, 0.25, 0.19),
    "ochre": (0.50, 0.40, 0.25),
    "green": (0.27, 0.31, 0.27),
}


@dataclass(slots=True, kw_only=True)
class Surface:
    """What is drawn on; arrays are changed in place.

    `height` in mm, 0 in the plane of the face and negative below; `albedo` RGB;
    `polish` 0 matt to 1; `active` where light must be followed past horizons; all on
    a grid `FINE` times the photo's. `bow` is where a curved face is square on (row,
    col in mm) and its curvature in 1/mm. `canvas` holds the number of the void whose
    mouth covers a sample, on a grid `CANVAS` times the photo's.
    """

    px_per_mm: float
    height: np.ndarray
    albedo: np.ndarray
    polish: np.ndarray
    active: np.ndarray
    canvas: np.ndarray
    honeycomb: np.ndarray
    lines: np.ndarray
    caves: list[float] = field(default_factory=lambda: [1.0])
    bow: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def shape(self):
        return self.height.shape

    @property
    def step_mm(self):
        return 1 / (self.px_per_mm * FINE)

    @property
    def canvas_per_mm(self):
        return self.px_per_mm * CANVAS

    @property
    def size_mm(self):
        return self.shape[0] * self.step_mm, self.shape[1] * self.step_mm

    def px(self, length_mm):
        """Samples of relief and colour in a length."""
        return length_mm / self.step_mm

    def tint(self, weight, factors):
        """Multiply the colour by `factors` (RGB) where `weight` is 1."""
        for channel, factor in enumerate(factors):
            self.albedo[..., channel] *= 1 + weight * np.float32(factor - 1)

    def open(self, pit, corner, radius_mm, *, lip, tone):
        """Cut a void in: its mouth on the canvas, its floor, its rounded lip."""
        top, left = corner
        high, wide = pit.level.shape
        canvas = self.canvas[top : top + high, left : left + wide]
        inside = (pit.level < 1) & (canvas == 0)
        if not inside.any():
            return
        self.caves.append(pit.cave)
        canvas[inside] = len(self.caves) - 1
        # The lip falls over a band round the mouth's edge, half of it inside.
        rim = np.clip((1 + lip - pit.level) / max(2 * lip, 1e-3), 0, 1)
        depth = np.where(pit.level < 1, pit.floor, 0) * np.minimum(2 * rim, 1)
        depth = np.maximum(depth, 0.35 * lip * rim) * radius_mm
        half = high // FINE, wide // FINE
        low = _reduced(np.float32(depth), half)
        cover = _reduced(np.float32(inside), half)
        rows = slice(top // FINE, top // FINE + half[0])
        cols = slice(left // FINE, left // FINE + half[1])
        # a floor keeps the skin's roughness, doubled: it never met the form
        here = self.height[rows, cols]
        floor = np.where(low > 0.05, 2 * np.minimum(here, 0), here) - low
        np.copyto(here, np.minimum(here, floor), where=low > 0)
        self.active[rows, cols] |= low > 0
        self.polish[rows, cols] *= 1 - cover
        self.albedo[rows, cols] *= 1 + cover[..., None] * np.float32(tone - 1)


def _reduced(values, shape):
    return cv2.resize(values, shape[::-1], interpolation=cv2.INTER_AREA)


def bare(px_per_mm, shape, colour):
    """A flat face of one colour; `shape` is the photo's (rows, cols)."""
    fine = tuple(FINE * side for side in shape)
    albedo = np.empty((*fine, 3), np.float32)
    albedo[:] = COLOURS[colour]
    return Surface(
        px_per_mm=px_per_mm,
        height=np.zeros(fine, np.float32),
        albedo=albedo,
        polish=np.zeros(fine, np.float32),
        active=np.zeros(fine, bool),
        canvas=np.zeros(tuple(CANVAS * side for side in shape), np.int32),
        honeycomb=np.zeros(fine, bool),
        lines=np.zeros(fine, bool),
    )


# -- what the form leaves


def film_ply(surface, rng):
    """Film-faced ply: smooth, the veneer just showing, sheets slightly bowed."""
    _skin(surface, rng, 0.003, 0.5)
    veins = noise.field(
        rng, surface.shape, surface.px(30), surface.px(1.2), stretch=(0.08, 1)
    )
    surface.height += 0.0015 * veins
    surface.tint(0.012 * veins, (0, 0, 0))


def steel(surface, rng):
    """Steel sheet: smooth and tight, faint rolling lines."""
    _skin(surface, rng, 0.0025, 0.7)
    lines = noise.field(
        rng, surface.shape, surface.px(20), surface.px(0.5), stretch=(1, 0.03)
    )
    surface.height += 0.001 * lines
    surface.tint(0.008 * lines, (0, 0, 0))


def rubber(surface, rng):
    """Rubber liner: matt and finely pitted like leather, soft waves."""
    _skin(surface, rng, 0.007, 0.3)
    leather = noise.field(rng, surface.shape, surface.px(0.9), surface.px(0.45))
    surface.height += 0.006 * leather


def sawn_board(surface, rng):
    """Sawn boards: grain, saw marks, boards of different tone, ridges between."""
    _skin(surface, rng, 0.008, 0.4)
    grain = noise.field(
        rng,
        surface.shape,
        surface.px(60),
        surface.px(1.6),
        stretch=(0.06, 1),
        hurst=0.5,
    )
    surface.height += 0.03 * grain
    surface.tint(np.clip(0.05 * grain, -0.2, 0.2), (0, 0, 0))
    rows = np.arange(surface.shape[0]) * surface.step_mm
    edges = np.arange(rng.uniform(8, 40), surface.size_mm[0], rng.uniform(38, 60))
    board = np.searchsorted(edges, rows)
    tones = rng.normal(0, 0.05, len(edges) + 1)[board]
    surface.tint(np.float32(tones)[:, None], (2, 2, 2))
    for edge in edges:
        away = np.abs(rows - edge)[:, None]
        surface.height += np.float32(0.3 * np.clip(1 - (away / 0.5) ** 2, 0, 1))
        surface.lines |= away < 0.6


def _skin(surface, rng, roughness_mm, hurst):
    surface.height += np.float32(roughness_mm) * noise.field(
        rng, surface.shape, surface.px(4), max(2.0, surface.px(0.12)), hurst=hurst
    )
    surface.height += np.float32(0.05) * noise.field(
        rng, surface.shape, surface.px(150), surface.px(30)
    )


FORMS = {form.__name__: form for form in (film_ply, steel, rubber, sawn_board)}


# -- colour


def clouds(surface, rng, strength, *, finest_mm=0.8, hurst=0.35):
    """Cloudiness of many scales, with hue following tone a little."""
    tone = noise.field(
        rng, surface.shape, surface.px(50), max(3.0, surface.px(finest_mm)), hurst=hurst
    )
    hue = noise.field(rng, surface.shape, surface.px(60), surface.px(6))
    for channel, lean in enumerate((0.15, 0.0, -0.15)):
        surface.albedo[..., channel] *= np.exp(strength * (tone + lean * hue))


def sand(surface, rng, cover, size_mm, darkest):
    """Flush grains of sand, most of them faint, of the size of small voids."""
    grains = noise.specks(rng, surface.shape, max(3.0, surface.px(size_mm)), cover)
    tone = noise.field(rng, surface.shape, surface.px(2), surface.px(1), hurst=0.5)
    strength = np.clip(0.5 + 0.35 * tone, 0.05, 1) * grains
    surface.tint(strength, (darkest, darkest, 0.98 * darkest))


def shine(surface, rng, amount):
    """Polish, a little worn in places."""
    worn = noise.soft_patches(rng, surface.shape, surface.px(25), 0.4, softness=2.5)
    surface.polish += np.float32(amount) * (1 - 0.35 * worn)


def bend(surface, rng, radius_mm):
    """A curved face: its slope turns over the picture (the relief stays flat)."""
    centre = rng.uniform(0.1, 0.9, 2) * surface.size_mm
    surface.bow = (*centre, float(rng.choice([-1, 1]) / radius_mm))
