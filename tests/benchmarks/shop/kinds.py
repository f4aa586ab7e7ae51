"""The kinds of faces of the third renderer."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.benchmarks.shop.camera import Camera
from tests.benchmarks.shop.voids import Population

PHONE = Camera()
GOOD = Camera(gain=1.5, smear=0.1, halo=0.25, contrast=0.1, qualities=(95,))
DIM = Camera(gain=14, smear=0.7, halo=0.7, contrast=0.35, qualities=(85,), level=120)
SENT = Camera(oversize=1.5, halo=0.7, smear=0.4, qualities=(88, 70))
WORN = Camera(oversize=1.3, gain=6, smear=0.6, halo=0.6, qualities=(80, 60), level=120)
SLANTED = Camera(tilt_degrees=38, distance=1.6, defocus_px=0.9)
GRAZING = Camera(tilt_degrees=62, distance=1.5, defocus_px=1.2, blur_px=0.7)

USUAL = Population(depth=(0.5, 1.4), inside=(0.7, 1.0))
# Lit floors are as bright as the face, or brighter: oil darkens skin, not hollows.
LIT = Population(depth=(0.4, 1.05), inside=(0.84, 1.14))
SHALLOW = Population(depth=(0.36, 0.7), inside=(0.85, 1.12))
FAINT = Population(depth=(0.22, 0.55), inside=(0.85, 1.15))
SMALL = replace(
    USUAL, median_mm=1.1, spread=0.35, range_mm=(0.4, 3.5), share_percent=(0.3, 0.9)
)
LARGE = replace(
    LIT, median_mm=5.0, spread=0.5, range_mm=(1.0, 22.0), share_percent=(1.2, 3.0)
)
FEW = replace(USUAL, share_percent=(0.08, 0.25))
DENSE = replace(
    USUAL, share_percent=(1.8, 3.2), median_mm=1.5, spread=0.65, range_mm=(0.4, 12.0)
)
DEEP = Population(depth=(0.9, 1.8), weights=(0.3, 0.4, 0.1, 0.05, 0.1, 0.05, 0.0))
CLIMBING = replace(USUAL, weights=(0.2, 0.05, 0.1, 0.6, 0.05, 0.0, 0.0), gradient=0.8)
PITTED = Population(
    median_mm=1.5, spread=0.45, depth=(0.6, 1.7), share_percent=(0.5, 1.2)
)
TRACKS = replace(USUAL, weights=(0.45, 0.1, 0.15, 0.05, 0.1, 0.0, 0.15))
NONE = Population(share_percent=(0.0, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of face; a seed makes one of its kind.

    Attributes
    ----------
    tier : {'easy', 'hard', 'clean'}
    light, form, colour : str
        Names in `light.LIGHTS`, `surface.FORMS` and `surface.COLOURS`.
    cloudy : tuple of float
        Strength of the cloudiness, its finest scale in mm, and how rough it is.
    sand : tuple of float
        Cover, size in mm and darkest tone of flush grains.
    polish : float
    bow_mm : float
        Radius of a curved face; 0 is flat.
    marks : tuple of str
        Names in `marks.MARKS`.
    """

    tier: str = "easy"
    light: str = "overcast"
    form: str = "film_ply"
    colour: str = "grey"
    cloudy: tuple[float, float, float] = (0.045, 1.5, 0.5)
    sand: tuple[float, float, float] = (0.02, 0.7, 0.8)
    polish: float = 0.0
    bow_mm: float = 0.0
    marks: tuple[str, ...] = ()
    voids: Population = USUAL
    camera: Camera = PHONE
    px_per_mm: tuple[float, float] = (4.5, 9.0)

    @property
    def grainy(self):
        return "grain" in self.marks


_EASY = {
    "overcast_grey": Kind(),
    "overcast_ochre": Kind(colour="ochre", marks=("efflorescence",)),
    "overcast_few": Kind(voids=FEW, form="steel"),
    "shade_large": Kind(light="open_shade", voids=LARGE, px_per_mm=(3.5, 6.0)),
    "shade_small": Kind(light="open_shade", voids=SMALL, px_per_mm=(6.5, 10.0)),
    "window_grey": Kind(light="window", voids=LIT),
    "window_white": Kind(light="window", colour="white", voids=SHALLOW),
    "window_dark_gloss": Kind(
        light="window", colour="dark", polish=0.5, bow_mm=300.0, voids=LIT
    ),
    "window_rubber": Kind(light="window", form="rubber", voids=LIT),
    "window_climbing": Kind(light="window", voids=CLIMBING, form="steel"),
    "window_slanted": Kind(light="window", camera=SLANTED, voids=LIT),
    "soft_warm": Kind(light="soft_box", colour="warm_grey", camera=SENT),
    "soft_large": Kind(light="soft_box", voids=LARGE, px_per_mm=(3.5, 6.0)),
    "lamp_grey": Kind(light="near_lamp", camera=GOOD, voids=LIT),
    "lamp_red": Kind(
        light="near_lamp", colour="red", marks=("release_streaks",), voids=LIT
    ),
    "lamp_white": Kind(light="near_lamp", colour="white", voids=SHALLOW),
    "lamp_large": Kind(light="near_lamp", voids=LARGE, px_per_mm=(3.5, 6.0)),
    "lamps_two": Kind(light="two_lamps", form="steel", voids=SHALLOW),
    "lamps_two_dark": Kind(
        light="two_lamps", colour="dark", polish=0.3, bow_mm=250.0, voids=LIT
    ),
    "sun_low_deep": Kind(light="low_sun", voids=DEEP),
    "sun_low_white": Kind(light="low_sun", voids=LIT, colour="white"),
    "sun_high_white": Kind(light="high_sun", colour="white", camera=GOOD, voids=LIT),
    "sun_high_grey": Kind(light="high_sun", marks=("release_streaks",), voids=LIT),
    "sun_high_shallow": Kind(light="high_sun", voids=SHALLOW, camera=SENT),
    "flash_grey": Kind(light="flash", camera=SENT, voids=LIT),
    "flash_white": Kind(light="flash", colour="white", voids=LIT),
    "flash_dark": Kind(light="flash", colour="dark", form="rubber", voids=LIT),
}
_MOTTLED = {
    "light": "overcast",
    "colour": "warm_grey",
    "cloudy": (0.13, 0.7, 0.2),
    "sand": (0.05, 0.8, 0.72),
    "marks": ("release_streaks", "stains"),
    "camera": WORN,
    "px_per_mm": (3.5, 6.0),
}
_BLACK = {
    "light": "window",
    "colour": "black",
    "polish": 1.0,
    "bow_mm": 160.0,
    "form": "steel",
    "marks": ("arris",),
    "camera": replace(PHONE, level=95, contrast=0.5),
}
_GROOVED = {
    "light": "low_sun",
    "colour": "warm_grey",
    "marks": ("grooves",),
    "camera": replace(SENT, qualities=(70, 62), oversize=1.8),
    "px_per_mm": (3.0, 5.0),
}
_POT = {
    "light": "soft_box",
    "colour": "green",
    "form": "rubber",
    "bow_mm": 220.0,
    "camera": replace(WORN, qualities=(60,), defocus_px=0.9),
    "px_per_mm": (3.0, 5.0),
}
_SANDY = {
    "sand": (0.08, 0.9, 0.74),
    "cloudy": (0.08, 0.9, 0.3),
    "voids": Population(depth=(0.6, 1.6), inside=(0.7, 1.0)),
}
_HARD = {
    "mottled_overcast": Kind(tier="hard", voids=PITTED, **_MOTTLED),
    "mottled_shade": Kind(
        tier="hard", voids=PITTED, **(_MOTTLED | {"light": "open_shade"})
    ),
    "black_gloss_dense": Kind(tier="hard", voids=DENSE, **_BLACK),
    "black_flash": Kind(tier="hard", **(_BLACK | {"light": "flash", "marks": ()})),
    "grooved_jpeg": Kind(tier="hard", **_GROOVED),
    "pot_soft": Kind(tier="hard", voids=FEW, **_POT),
    "sandy_overcast": Kind(tier="hard", **_SANDY),
    "faint_overcast": Kind(tier="hard", colour="white", voids=FAINT, camera=GOOD),
    "faint_soft": Kind(tier="hard", light="soft_box", voids=FAINT),
    "board_low_sun": Kind(tier="hard", light="low_sun", form="sawn_board"),
    "board_shade": Kind(tier="hard", light="open_shade", form="sawn_board"),
    "grazing_window": Kind(tier="hard", light="window", camera=GRAZING),
    "leaking_joint": Kind(tier="hard", light="near_lamp", marks=("leak", "joint")),
    "arris_shade": Kind(tier="hard", light="open_shade", marks=("arris", "cracks")),
    "nest_overcast": Kind(tier="hard", marks=("nest",), px_per_mm=(3.5, 5.0)),
    "nest_lamp": Kind(
        tier="hard", light="near_lamp", marks=("nest", "leak"), px_per_mm=(3.5, 5.0)
    ),
    "damp_dim": Kind(tier="hard", marks=("damp", "stains"), camera=DIM),
    "tracks_window": Kind(tier="hard", light="window", voids=TRACKS),
    "rusty_sent": Kind(
        tier="hard", light="high_sun", marks=("rust", "damp"), camera=SENT, form="steel"
    ),
    "ground_grain": Kind(tier="hard", light="soft_box", marks=("grain",), voids=FEW),
}
_CLEAN = {
    "clean_cloudy": Kind(tier="clean", voids=NONE, **_MOTTLED),
    "clean_black_gloss": Kind(tier="clean", voids=NONE, **_BLACK),
    "clean_grooved": Kind(tier="clean", voids=NONE, **_GROOVED),
    "clean_pot": Kind(tier="clean", voids=NONE, **_POT),
    "clean_sandy": Kind(tier="clean", **(_SANDY | {"voids": NONE})),
    "clean_board": Kind(tier="clean", voids=NONE, light="low_sun", form="sawn_board"),
    "clean_leak": Kind(
        tier="clean", voids=NONE, light="near_lamp", marks=("leak", "joint")
    ),
    "clean_hairlines": Kind(
        tier="clean", voids=NONE, light="window", marks=("cracks",)
    ),
    "clean_weathered": Kind(
        tier="clean", voids=NONE, marks=("stains", "damp", "rust", "release_streaks")
    ),
    "clean_steel_lamp": Kind(
        tier="clean", voids=NONE, light="two_lamps", form="steel", colour="white"
    ),
}
KINDS = _EASY | _HARD | _CLEAN
