"""What the camera makes of it: parallax, perspective, focus, sensor, telephone."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from tests.benchmarks.shop.surface import FINE

UNCODED = "The drawn face could not be coded as JPEG."
PARALLAX_STEPS = 28
WELL = 30_000  # electrons of a full pixel at base sensitivity
MOSAIC_LEVELS = 65_535


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """What lens, sensor and telephone do.

    Attributes
    ----------
    tilt_degrees : float
        Away from square on, about the row axis.
    distance : float
        From the face, over the longer side of the picture.
    blur_px, defocus_px : float
        Blur everywhere, and how much more at the edge that is out of focus.
    gain : float
        Sensitivity over base: noise grows with its root.
    smear : float
        0..1, how strongly the telephone's noise reduction smears fine tone.
    contrast : float
        S shape of the tone curve; 0 is plain sRGB.
    halo : float
        Sharpening.
    oversize : float
        The sensor's px over the file's: pictures made smaller before they are sent.
    qualities : tuple of int
        JPEG, once or several times over.
    level : float
        sRGB value of the median of the face, of 255.
    """

    tilt_degrees: float = 0.0
    distance: float = 2.5
    blur_px: float = 0.6
    defocus_px: float = 0.4
    gain: float = 3.0
    smear: float = 0.35
    contrast: float = 0.25
    halo: float = 0.5
    oversize: float = 1.0
    qualities: tuple[int, ...] = (90,)
    level: float = 150.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """Where the camera is: its place in mm and the map from face to photo px."""

    place_mm: tuple[float, float, float]
    to_photo: np.ndarray  # 3 x 3, face in photo-px units (x, y) -> photo px
    shape: tuple[int, int]
    px_per_mm: float  # in the middle of the photo


def look(camera, rng, shape, px_per_mm):
    """Put the camera up so that the photo shows nothing but the face."""
    high, wide = shape
    tilt = np.radians(camera.tilt_degrees)
    far = camera.distance * max(shape)
    roll, pan = np.radians(rng.normal(0, 1.2)), np.radians(rng.normal(0, 2.0))
    turn = (
        cv2.Rodrigues(np.array([tilt, 0, 0]))[0]
        @ cv2.Rodrigues(np.array([0, pan, 0]))[0]
        @ cv2.Rodrigues(np.array([0, 0, roll]))[0]
    )
    centre = np.array([wide / 2, high / 2])
    # photo of a plane through the optical axis at distance `far`
    flat = np.column_stack([turn[:, 0], turn[:, 1], np.array([0, 0, far])])
    lens = np.diag([far, far, 1.0])
    shift = np.array([[1, 0, -centre[0]], [0, 1, -centre[1]], [0, 0, 1]])
    forward = lens @ flat @ shift
    out = (round(high * np.cos(tilt)), wide)
    zoom = 1.0
    for _ in range(40):
        middle = np.diag([zoom, zoom, 1.0])
        middle[:2, 2] = out[1] / 2, out[0] / 2
        to_photo = middle @ forward
        corners = np.float32([[[0, 0], [out[1], 0], [out[1], out[0]], [0, out[0]]]])
        on_face = cv2.perspectiveTransform(corners, np.linalg.inv(to_photo))[0]
        if (on_face > 0.5).all() and (on_face < np.array([wide, high]) - 0.5).all():
            break
        zoom *= 1.012
    back = turn.T @ [0, 0, -far]
    place = (
        (centre[1] + back[1]) / px_per_mm,
        (centre[0] + back[0]) / px_per_mm,
        abs(back[2]) / px_per_mm,
    )
    # as a ruler along the row in the middle would give it
    near = np.float32([[centre, centre + np.array([1, 0])]])
    seen = cv2.perspectiveTransform(near, to_photo)[0]
    along = np.linalg.norm(seen[1] - seen[0])
    return View(
        place_mm=place, to_photo=to_photo, shape=out, px_per_mm=px_per_mm * float(along)
    )


def parallax(image, surface, view):
    """What the camera sees through each point of the plane: far walls, not near ones.

    Changed in place, in and near voids only.
    """
    rows, cols = np.nonzero(surface.active)
    if not len(rows):
        return
    step = surface.step_mm
    lean_down = ((rows + 0.5) * step - view.place_mm[0]) / view.place_mm[2]
    lean_right = ((cols + 0.5) * step - view.place_mm[1]) / view.place_mm[2]
    deepest = max(-float(surface.height[rows, cols].min()), 0.05)
    flat, wide = surface.height.ravel(), surface.shape[1]
    hit_down, hit_right = rows.astype(np.float32), cols.astype(np.float32)
    going = np.ones(len(rows), bool)
    for depth in np.linspace(0, deepest, PARALLAX_STEPS):
        down = np.clip(rows + depth * lean_down / step, 0, surface.shape[0] - 1)
        right = np.clip(cols + depth * lean_right / step, 0, wide - 1)
        at = np.rint(down).astype(np.int32) * wide + np.rint(right).astype(np.int32)
        hit_down[going], hit_right[going] = down[going], right[going]
        going &= -flat[at] > depth
        if not going.any():
            break
    side = int(np.ceil(np.sqrt(len(rows))))
    padded = np.zeros((2, side * side), np.float32)
    padded[0, : len(rows)], padded[1, : len(rows)] = hit_right, hit_down
    seen = cv2.remap(
        image,
        padded[0].reshape(side, side),
        padded[1].reshape(side, side),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    image[rows, cols] = seen.reshape(-1, 3)[: len(rows)]


def warped(image, view, per_px, out_per_px=1.0, *, exact=False):
    """The plane's picture (`per_px` samples a px) on the photo's grid."""
    inward, outward = np.eye(3), np.eye(3)
    # centres of samples: sample i covers [i, i + 1) / per_px
    inward[:2] = [[1 / per_px, 0, 0.5 / per_px], [0, 1 / per_px, 0.5 / per_px]]
    outward[:2] = [[out_per_px, 0, -0.5], [0, out_per_px, -0.5]]
    size = round(view.shape[1] * out_per_px), round(view.shape[0] * out_per_px)
    return cv2.warpPerspective(
        image,
        outward @ view.to_photo @ inward,
        size,
        flags=cv2.INTER_NEAREST if exact else cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )


def expose(radiance, rng, camera, view):
    """JPEG bytes of the radiance on the fine grid of the plane."""
    oversize = camera.oversize
    image = _focused(radiance, rng, camera, view, oversize)
    ground = ((camera.level / 255 + 0.055) / 1.055) ** 2.4
    image *= ground / np.median(image[::4, ::4, 1])
    image = _corners(image, rng)
    image = _developed(_mosaic(image, rng, camera.gain), camera, oversize)
    if oversize != 1:
        image = cv2.resize(image, view.shape[::-1], interpolation=cv2.INTER_AREA)
    pixels = np.uint8(np.clip(image * 255 + 0.5, 0, 255))[..., ::-1]
    for quality in camera.qualities:
        done, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
        if not done:
            raise RuntimeError(UNCODED)
        pixels = cv2.imdecode(data, cv2.IMREAD_COLOR)
    return data.tobytes()


def _focused(radiance, rng, camera, view, oversize):
    """On the sensor, with a blur that grows towards one edge of the picture."""
    sharp = cv2.GaussianBlur(radiance, (0, 0), max(camera.blur_px, 0.35) * FINE)
    sharp = warped(sharp, view, FINE, oversize)
    if camera.defocus_px <= 0:
        return sharp
    turn, focus = rng.uniform(0, 2 * np.pi), rng.uniform(-0.3, 0.5)
    high, wide = sharp.shape[:2]
    rows = np.linspace(-1, 1, high, dtype=np.float32)[:, None]
    cols = np.linspace(-1, 1, wide, dtype=np.float32)[None]
    away = np.abs(rows * np.sin(turn) + cols * np.cos(turn) - focus)
    away = np.clip(away / 1.3, 0, 1)[..., None]
    soft = cv2.GaussianBlur(sharp, (0, 0), camera.defocus_px * oversize)
    softest = cv2.GaussianBlur(soft, (0, 0), 1.6 * camera.defocus_px * oversize)
    first, second = np.clip(2 * away, 0, 1), np.clip(2 * away - 1, 0, 1)
    image = sharp + first * (soft - sharp)
    return image + second * (softest - image)


def _corners(image, rng):
    high, wide = image.shape[:2]
    rows = np.linspace(-1, 1, high, dtype=np.float32)[:, None]
    cols = np.linspace(-1, 1, wide, dtype=np.float32)[None]
    slope = rng.normal(0, 0.06, 2)
    fall = slope[0] * rows + slope[1] * cols - 0.07 * (rows**2 + cols**2)
    return image * np.exp(fall)[..., None].astype(np.float32)


def _mosaic(image, rng, gain):
    """One colour a px, with shot and read noise, and the colours worked out again."""
    high, wide = image.shape[:2]
    raw = np.empty((high, wide), np.float32)
    balance = (0.55, 1.0, 0.65)  # red and blue px gather less
    for row, col, channel in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        raw[row::2, col::2] = image[row::2, col::2, channel] * balance[channel]
    electrons = np.clip(raw, 0, 1.2) * (WELL / gain)
    grain = rng.standard_normal(raw.shape, dtype=np.float32)
    electrons += np.sqrt(electrons + 12) * grain
    raw = np.clip(electrons * (0.75 * MOSAIC_LEVELS * gain / WELL), 0, MOSAIC_LEVELS)
    colour = cv2.cvtColor(raw.astype(np.uint16), cv2.COLOR_BayerRGGB2RGB_EA)
    colour = colour.astype(np.float32) / (0.75 * MOSAIC_LEVELS)
    return colour / np.float32(balance)


def _developed(image, camera, oversize):
    """Tone curve, noise reduction, sharpening: what a telephone does, in its order."""
    image = np.clip(image, 0, 1)
    image = np.where(
        image <= 0.0031308, 12.92 * image, 1.055 * image ** (1 / 2.4) - 0.055
    )
    image += camera.contrast * image * (1 - image) * (image - 0.5) * 2
    if camera.smear > 0:
        image = _smeared(image.astype(np.float32), camera.smear, oversize)
    if camera.halo:
        luma = image @ np.float32([0.299, 0.587, 0.114])
        edge = luma - cv2.GaussianBlur(luma, (0, 0), 1.3 * oversize)
        image = image + (camera.halo * np.clip(edge, -0.12, 0.12))[..., None]
    return image


def _smeared(image, strength, oversize):
    """Colour is blurred, light smoothed where it differs little from its surround."""
    parts = cv2.cvtColor(image, cv2.COLOR_RGB2YCrCb)
    luma = parts[..., 0].copy()
    parts = cv2.GaussianBlur(parts, (0, 0), (0.8 + 2.2 * strength) * oversize)
    calm = cv2.bilateralFilter(luma, 7, 0.02 + 0.10 * strength, 1.2 + 1.6 * strength)
    parts[..., 0] = luma + min(1.0, 1.4 * strength + 0.2) * (calm - luma)
    return cv2.cvtColor(parts, cv2.COLOR_YCrCb2RGB)
