"""What lies on or beside the drawn pieces: rulers, prints, hands, holes, shadows."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np
import pypdfium2

from analysis.imaging.markers import marker_cells
from analysis.model.card import LAYOUTS, Code
from analysis.model.sheet import BELOW_MM, FRAME_MM, SHEET_MARKERS, WHITE_EDGE_MM
from analysis.report.card_sheet import CARD_PAPERS, Card, card_sheet
from analysis.report.scale_sheet import scale_sheet

_PRINT_PX_PER_MM = 4.0
_PAPER, _INK = 0.85, 0.03
# Where the gap to the face's edge is of use.
SPOTS = {"ruler", "tape", "card beside", "scale sheet", "paper", "hand", "tool"}


@dataclass(slots=True, kw_only=True)
class Canvas:
    """A scene being put together; arrays are changed in place."""

    rng: np.random.Generator
    light: np.ndarray  # (rows, cols, 3) float32
    mm_per_px: float
    lamp: np.ndarray  # unit (row, col) towards the lamp
    low: float  # how low the lamp stands, 0 to 1
    face: np.ndarray = field(init=False)
    voids: np.ndarray = field(init=False)
    covered: np.ndarray = field(init=False)  # by things that lie on the face

    def __post_init__(self):
        for name in ("face", "voids", "covered"):
            setattr(self, name, np.zeros(self.shape, bool))

    @property
    def shape(self):
        return self.light.shape[:2]

    def whole(self, skin):
        """The face fills all of it."""
        self.stand(np.ones(self.shape, bool), np.ones(self.shape, bool), skin)

    def stand(self, face, body, skin):
        """Put a piece there, and its voids in it."""
        skin = self._pitted(skin.astype(np.float32), face)
        soft = cv2.GaussianBlur(body.astype(np.float32), (0, 0), 0.7)[..., None]
        self.light = (self.light * (1 - soft) + skin * soft).astype(np.float32)
        self.face |= face

    def _pitted(self, skin, face):
        """Voids: dark floors, lit on the side away from the lamp."""
        rng, px_per_mm = self.rng, 1 / self.mm_per_px
        wanted = rng.uniform(0.003, 0.025) * face.sum()
        rows, cols = np.nonzero(face)
        drawn = np.zeros(self.shape, np.uint8)
        opened = 0.0
        while opened < wanted:
            lot = rng.integers(len(rows))
            radius = 0.5 * px_per_mm * np.exp(rng.normal(np.log(2.6), 0.55))
            radius = float(np.clip(radius, 1.0, 9 * px_per_mm))
            at = (int(cols[lot]), int(rows[lot]))
            axes = (round(radius * 16), round(radius * rng.uniform(0.6, 1) * 16))
            lean = rng.uniform(0, 180)
            spot = (at[0] * 16, at[1] * 16)
            opened += np.pi * axes[0] * axes[1] / 256
            cv2.ellipse(drawn, spot, axes, lean, 0, 360, 1, -1, shift=4)
            ground = skin[at[1], at[0]]
            dark, lit = rng.uniform(0.1, 0.5), 1 + 0.25 * self.low
            colour = (ground * (lit if rng.random() < 0.4 * self.low else 0.8)).tolist()
            cv2.ellipse(skin, spot, axes, lean, 0, 360, colour, -1, shift=4)
            away = 0.35 * radius * self.low * self.lamp * 16
            spot = (round(spot[0] + away[1]), round(spot[1] + away[0]))
            part = 1 - 0.3 * self.low
            axes = (round(axes[0] * part), round(axes[1] * part))
            shade = (ground * dark).tolist()
            cv2.ellipse(skin, spot, axes, lean, 0, 360, shade, -1, shift=4)
        self.voids |= (drawn > 0) & face
        return skin

    def lay(self, picture, cover, to_canvas, thick_mm=2.0, shadow=0.5):
        """Lay a flat picture (light, 1 px a step) into the scene by a 2 x 3 matrix."""
        size = self.shape[::-1]
        alpha = cv2.warpAffine(cover.astype(np.float32), to_canvas, size)
        light = cv2.warpAffine(
            picture.astype(np.float32), to_canvas, size, borderMode=cv2.BORDER_REPLICATE
        )
        away = thick_mm / self.mm_per_px * self.low
        move = np.array([[1, 0, -away * self.lamp[1]], [0, 1, -away * self.lamp[0]]])
        dark = cv2.warpAffine(alpha, move, size)
        dark = cv2.GaussianBlur(dark, (0, 0), max(0.8, 0.5 * thick_mm / self.mm_per_px))
        self.light *= (1 - shadow * dark)[..., None]
        self.light += alpha[..., None] * (light - self.light)
        self.covered |= alpha > 0.5


def put(name, canvas, gap_mm):
    """Put one kind of thing into the scene."""
    if name != "nothing":
        _PUT[name](canvas, gap_mm)


def _edge_spot(canvas):
    """A point of the face's edge that the photo shows, and the way out from there."""
    face = np.uint8(canvas.face)
    rows, cols = canvas.shape
    inner = np.zeros_like(face)
    inner[rows // 9 : -rows // 9, cols // 9 : -cols // 9] = 1
    spots = np.argwhere((cv2.morphologyEx(face, 3, np.ones((3, 3))) > 0) & (inner > 0))
    if len(spots) == 0 or canvas.face.all():
        return np.array([rows * 0.5, cols * 0.5]), np.array([0.0, 1.0])
    row, col = spots[canvas.rng.integers(len(spots))]
    soft = cv2.GaussianBlur(face.astype(np.float32), (0, 0), 9)
    down = soft[row + 3, col] - soft[row - 3, col]
    across = soft[row, col + 3] - soft[row, col - 3]
    out = -np.array([down, across])
    return np.array([row, col], float), out / max(np.hypot(*out), 1e-6)


def _beside(canvas, size_mm, gap_mm, *, across=None, jitter=0.02):
    """Matrix that lays a thing with its long side along the edge, `gap_mm` off."""
    spot, out = _edge_spot(canvas)
    step = gap_mm if across is None else across
    at = spot + out * (size_mm[1] / 2 + step) / canvas.mm_per_px
    turn = np.arctan2(out[0], out[1]) + np.pi / 2 + canvas.rng.normal(0, jitter)
    return _matrix(canvas, size_mm, at, turn)


def _matrix(canvas, size_mm, at, turn, px_per_mm=_PRINT_PX_PER_MM):
    """From a picture of width x height mm to the canvas, middle at (row, col)."""
    zoom = 1 / canvas.mm_per_px / px_per_mm
    c, s = zoom * np.cos(turn), zoom * np.sin(turn)
    half = np.array(size_mm) * px_per_mm / 2
    spin = np.array([[c, -s], [s, c]])
    return np.column_stack([spin, np.array([at[1], at[0]]) - spin @ half])


def _blank(width_mm, height_mm, light=_PAPER):
    size = (round(height_mm * _PRINT_PX_PER_MM), round(width_mm * _PRINT_PX_PER_MM))
    return np.full((*size, 3), light, np.float32)


def _ruler(canvas, gap_mm):
    rng = canvas.rng
    width, height = rng.choice([300.0, 500.0]), rng.uniform(18, 38)
    kinds = ((0.8, 0.8, 0.77), (0.75, 0.6, 0.1), (0.42, 0.43, 0.45), (0.5, 0.34, 0.17))
    picture = _blank(width, height) / _PAPER * np.array(kinds[rng.integers(4)])
    p = _PRINT_PX_PER_MM
    for mm in range(int(width)):
        long = 9 if mm % 10 == 0 else 6.5 if mm % 5 == 0 else 4
        cv2.line(
            picture,
            (round(mm * p), 0),
            (round(mm * p), round(long * p)),
            (_INK,) * 3,
            1,
        )
    picture = _numbered(picture, int(width), 14)
    cover = np.ones(picture.shape[:2], np.float32)
    canvas.lay(picture, cover, _beside(canvas, (width, height), gap_mm))


def _numbered(picture, width_mm, row_mm):
    ink = np.zeros(picture.shape[:2], np.uint8)
    for cm in range(1, width_mm // 10):
        at = (round((cm * 10 - 2) * _PRINT_PX_PER_MM), round(row_mm * _PRINT_PX_PER_MM))
        cv2.putText(ink, str(cm), at, cv2.FONT_HERSHEY_SIMPLEX, 0.6, 255, 2)
    return picture * (1 - 0.95 * ink[..., None] / 255.0)


def _tape(canvas, gap_mm):
    rng = canvas.rng
    width, height = rng.uniform(260, 420), rng.uniform(16, 25)
    picture = _blank(width, height) / _PAPER * np.array((0.8, 0.66, 0.1))
    p = _PRINT_PX_PER_MM
    for mm in range(0, int(width), 2):
        long = 10 if mm % 10 == 0 else 5
        cv2.line(
            picture,
            (round(mm * p), 0),
            (round(mm * p), round(long * p)),
            (_INK,) * 3,
            1,
        )
    picture = _numbered(picture, int(width), 15)
    cover = np.ones(picture.shape[:2], np.float32)
    case_mm = 70.0
    case = _blank(case_mm, case_mm) / _PAPER * np.array((0.5, 0.1, 0.07))
    pad = np.zeros((case.shape[0] - picture.shape[0], picture.shape[1], 3))
    joined = np.concatenate([np.concatenate([picture, pad]), case], axis=1)
    shape = np.zeros(joined.shape[:2], np.float32)
    shape[: picture.shape[0], : picture.shape[1]] = cover
    middle = (picture.shape[1] + case.shape[1] // 2, case.shape[0] // 2)
    cv2.circle(shape, middle, case.shape[0] // 2, 1, -1)
    size = (joined.shape[1] / p, joined.shape[0] / p)
    canvas.lay(joined, shape, _beside(canvas, size, gap_mm), thick_mm=8)


@cache
def _page(kind):
    """The app's own print, grey 0 to 1, at `_PRINT_PX_PER_MM`."""
    if kind == "scale sheet":
        pdf = scale_sheet({n: marker_cells(n) for n in SHEET_MARKERS})
    else:
        layout = CARD_PAPERS[kind].layout
        code = Code(layout=layout, kind="piece", number="12", log_mark="7KQ4ZX")
        notes = ("Sealing", "Vibration, s", "Mix", "Note")
        card = Card(code=code, title="Trough 12", line="cast 3 May", notes=notes)
        cells = {n: marker_cells(n) for n in LAYOUTS[layout].markers}
        pdf = card_sheet([card], cells, paper=kind)
    with pypdfium2.PdfDocument(pdf) as document:
        image = document[0].render(scale=_PRINT_PX_PER_MM * 25.4 / 72).to_pil()
    return np.asarray(image.convert("L"), np.float32) / 255


def _print(kind):
    """A cut-out print and its size in mm."""
    page, p = _page(kind), _PRINT_PX_PER_MM
    if kind == "scale sheet":
        width = FRAME_MM[0] + 2 * WHITE_EDGE_MM
        height = FRAME_MM[1] + WHITE_EDGE_MM + BELOW_MM
        left, top = (page.shape[1] / p - width) / 2, 70 - WHITE_EDGE_MM
    else:
        lies = CARD_PAPERS[kind]
        (width, height), (left, top) = lies.size, lies.first
    cut = page[
        round(top * p) : round((top + height) * p),
        round(left * p) : round((left + width) * p),
    ]
    picture = np.repeat((_INK + (_PAPER - _INK) * cut**2.2)[..., None], 3, axis=2)
    return picture, (picture.shape[1] / p, picture.shape[0] / p)


def _card(canvas, place, gap_mm):
    papers = (
        "cards_a4",
        "cards_a4",
        "cards_letter",
        "labels_a4_10",
        "labels_letter_15",
    )
    picture, size = _print(papers[canvas.rng.integers(len(papers))])
    cover = np.ones(picture.shape[:2], np.float32)
    if place == "on":
        rows, cols = np.nonzero(cv2.erode(np.uint8(canvas.face), np.ones((61, 61))))
        lot = canvas.rng.integers(len(rows)) if len(rows) else 0
        at = (rows[lot], cols[lot]) if len(rows) else np.array(canvas.shape) / 2
        turn = canvas.rng.normal(0, 0.3)
        matrix = _matrix(canvas, size, at, turn)
    else:
        across = None if place == "beside" else -canvas.rng.uniform(0.3, 0.7) * size[1]
        matrix = _beside(canvas, size, gap_mm, across=across, jitter=0.2)
    canvas.lay(picture, cover, matrix, thick_mm=0.6, shadow=0.4)


def _scale_sheet(canvas, gap_mm):
    picture, size = _print("scale sheet")
    cover = np.ones(picture.shape[:2], np.float32)
    on = canvas.rng.random() < 0.6
    across = -canvas.rng.uniform(0.5, 1.0) * size[1] if on else None
    matrix = _beside(canvas, size, gap_mm, across=across, jitter=0.1)
    canvas.lay(picture, cover, matrix, thick_mm=0.6, shadow=0.4)


def _paper(canvas, gap_mm):
    rng = canvas.rng
    width, height = rng.uniform(70, 210), rng.uniform(50, 140)
    picture = _blank(width, height) * np.array(
        ((1, 1, 1), (1, 0.9, 0.35))[rng.integers(2)]
    )
    ink = np.zeros(picture.shape[:2], np.uint8)
    for line in range(1, int(height // 12)):
        at = (20, round(line * 12 * _PRINT_PX_PER_MM))
        text = "".join(rng.choice(list("abdefgiklmnorstuvw  "), 14))
        cv2.putText(ink, text, at, cv2.FONT_HERSHEY_SIMPLEX, 1.1, 255, 3)
    picture = picture * (1 - 0.9 * ink[..., None] / 255.0)
    across = None if rng.random() < 0.5 else -rng.uniform(0.2, 1.0) * height
    cover = np.ones(picture.shape[:2], np.float32)
    matrix = _beside(canvas, (width, height), gap_mm, across=across, jitter=0.3)
    canvas.lay(picture, cover, matrix, thick_mm=0.5, shadow=0.3)


def _hand(canvas, gap_mm):
    """A hand that reaches in; fingers may lie on the face."""
    rng, p = canvas.rng, _PRINT_PX_PER_MM
    cover = np.zeros((round(190 * p), round(330 * p)), np.uint8)
    width = round(17 * p)
    palm = np.array([215.0, 95.0])

    def stroke(a, b, wide):
        ends = np.round(np.array([a, b]) * p).astype(int).tolist()
        cv2.line(cover, ends[0], ends[1], 255, wide)

    stroke((330, 95), palm, round(55 * p))
    for k, lean in enumerate((-0.42, -0.15, 0.1, 0.35)):
        base = palm + np.array([-28, -30 + 20 * k])
        length = (68, 82, 78, 60)[k] * rng.uniform(0.75, 1.0)
        tip = base + length * np.array([-np.cos(lean), np.sin(lean)])
        stroke(palm + np.array([0, -18 + 12 * k]), base, round(24 * p))
        stroke(base, tip, width)
    stroke(palm + np.array([10, -20]), palm + np.array([-35, -62]), round(20 * p))
    depth = cv2.distanceTransform(cover, cv2.DIST_L2, 5) / (9 * p)
    skin = np.array(((0.5, 0.28, 0.19), (0.2, 0.1, 0.06), (0.05, 0.18, 0.4)))
    light = (0.6 + 0.45 * np.sqrt(np.clip(depth, 0, 1)))[..., None] * skin[
        rng.integers(3)
    ]
    light = light * (1 + 0.03 * rng.standard_normal(cover.shape))[..., None]
    spot, out = _edge_spot(canvas)
    reach = gap_mm if rng.random() < 0.5 else -rng.uniform(10, 60)
    at = spot + out * (165 - 60 + reach) / canvas.mm_per_px
    turn = np.arctan2(out[0], out[1])
    matrix = _matrix(canvas, (330, 190), at, turn)
    canvas.lay(light, cover / 255.0, matrix, thick_mm=14, shadow=0.55)


def _tool(canvas, gap_mm):
    """A trowel: steel blade, neck, wooden handle."""
    rng, p = canvas.rng, _PRINT_PX_PER_MM
    width, height = 300.0, rng.uniform(55, 90)
    picture = np.zeros((round(height * p), round(width * p), 3), np.float32)
    cover = np.zeros(picture.shape[:2], np.uint8)
    y = height / 2
    blade = np.array([(0, y - 6), (150, 2), (160, y), (150, height - 2), (0, y + 6)])
    parts = (
        (blade, (0.4, 0.42, 0.44)),
        (
            np.array([(155, y - 4), (190, y - 4), (190, y + 4), (155, y + 4)]),
            (0.2,) * 3,
        ),
        (np.array([(185, y - 13), (300, y - 16), (300, y + 16), (185, y + 13)]), None),
    )
    wood = np.array(((0.45, 0.25, 0.1), (0.5, 0.05, 0.04), (0.03, 0.03, 0.03)))
    for corners, tone in parts:
        colour = wood[rng.integers(3)] if tone is None else np.array(tone)
        line = [np.round(corners * p).astype(np.int32)]
        cv2.fillPoly(picture, line, colour.tolist())
        cv2.fillPoly(cover, line, 1)
    across = None if rng.random() < 0.6 else -rng.uniform(0.2, 0.9) * height
    matrix = _beside(canvas, (width, height), gap_mm, across=across, jitter=0.3)
    canvas.lay(picture, cover, matrix, thick_mm=10)


def _shadow(canvas, gap_mm):
    """Someone's shadow with a soft or sharp edge, across bench and face."""
    del gap_mm
    rng = canvas.rng
    rows, cols = np.mgrid[: canvas.shape[0], : canvas.shape[1]].astype(np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    spot = np.array(canvas.shape) * rng.uniform(0.3, 0.7, 2)
    away = (rows - spot[0]) * np.cos(turn) + (cols - spot[1]) * np.sin(turn)
    away += 40 * np.sin((rows * np.sin(turn) - cols * np.cos(turn)) / 90)
    dark = 0.5 + 0.5 * np.tanh(away / rng.uniform(1.5, 40))
    canvas.light *= (1 - rng.uniform(0.25, 0.6) * dark)[..., None]


def _inside(canvas, share):
    """A point of the face at a share of its box; None where that is no face."""
    rows, cols = np.nonzero(canvas.face)
    row = round(rows.min() + np.ptp(rows) * share[0])
    col = round(cols.min() + np.ptp(cols) * share[1])
    return (col, row) if canvas.face[row, col] else None


def _holes(canvas, radius_mm, shares):
    rng = canvas.rng
    radius = radius_mm / canvas.mm_per_px
    for share in shares:
        at = _inside(canvas, share)
        if at is None:
            continue
        ground = canvas.light[at[1], at[0]].copy()
        hole = np.zeros(canvas.shape, np.uint8)
        spot, axis = (at[0] * 16, at[1] * 16), round(radius * 16)
        cv2.circle(hole, spot, axis, 1, -1, shift=4)
        cv2.circle(canvas.light, spot, axis, (ground * 0.75).tolist(), -1, shift=4)
        inner = round(axis * rng.uniform(0.6, 0.9))
        cv2.circle(canvas.light, spot, inner, (ground * 0.12).tolist(), -1, shift=4)
        canvas.covered |= hole > 0
        canvas.voids &= hole == 0


def _tie_holes(canvas, gap_mm):
    del gap_mm
    across = canvas.rng.uniform(0.2, 0.3)
    shares = [(r, c) for r in (0.3, 0.7) for c in (across, 1 - across)]
    _holes(canvas, canvas.rng.uniform(11, 16), shares)


def _drain_hole(canvas, gap_mm):
    del gap_mm
    _holes(canvas, canvas.rng.uniform(16, 28), [(0.55, 0.5)])


def _stamp(canvas, gap_mm):
    """A maker's stamp in ink: a ring with letters."""
    del gap_mm
    at = _inside(canvas, canvas.rng.uniform(0.35, 0.65, 2))
    if at is None:
        return
    radius = round(canvas.rng.uniform(25, 45) / canvas.mm_per_px)
    ink = np.zeros(canvas.shape, np.uint8)
    cv2.circle(ink, at, radius, 255, max(1, radius // 12))
    cv2.circle(ink, at, round(radius * 0.65), 255, max(1, radius // 20))
    left = (at[0] - round(radius * 0.5), at[1] + round(radius * 0.15))
    cv2.putText(
        ink,
        "MK 4",
        left,
        cv2.FONT_HERSHEY_DUPLEX,
        radius / 60,
        255,
        max(1, radius // 25),
    )
    seen = (ink > 127) & canvas.face
    canvas.light[seen] *= 0.2
    area = np.zeros(canvas.shape, np.uint8)
    cv2.circle(area, at, radius + max(1, radius // 24), 1, -1)
    canvas.covered |= area > 0
    canvas.voids &= area == 0


_PUT = {
    "ruler": _ruler,
    "tape": _tape,
    "card on": lambda canvas, gap: _card(canvas, "on", gap),
    "card half": lambda canvas, gap: _card(canvas, "half", gap),
    "card beside": lambda canvas, gap: _card(canvas, "beside", gap),
    "scale sheet": _scale_sheet,
    "paper": _paper,
    "hand": _hand,
    "tool": _tool,
    "shadow": _shadow,
    "tie holes": _tie_holes,
    "drain hole": _drain_hole,
    "stamp": _stamp,
}
