"""Pictures of any mode and colour profile as sRGB pixels."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageCms

from analysis.errors import PhotoError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_DEEP_GREY = ("I", "I;16", "I;16B", "I;16L", "F")
_WITH_ALPHA = ("RGBA", "LA", "PA", "La", "RGBa")
_PROFILED = ("RGB", "CMYK", "L")
_TO_RGB = ("RGB", "L", "P", "CMYK", "YCbCr", "HSV", "RGBX", *_WITH_ALPHA)
_OPAQUE_FROM = 128
# Shares of full light may run a little over; more is another depth.
_FULL_SHARE = 1.5
# Rows worked on at a time, so that a large photo never stands in memory thrice.
BAND_ROWS = 512


def to_srgb(
    image: Image.Image, shown: str
) -> tuple[NDArray[np.uint8], NDArray[np.bool_] | None]:
    """Return the pixels, and which are opaque where some are not.

    Raises
    ------
    PhotoError
        The mode holds no photo's light, or nothing of it is opaque.

    Examples
    --------
    >>> to_srgb(Image.new("L", (2, 1), 100), "A grey")[0].tolist()
    [[[100, 100, 100], [100, 100, 100]]]
    """
    if image.mode == "1":
        msg = f"{shown} has black and white only, no greys: give the photo itself."
        raise PhotoError(msg)
    if image.mode in _DEEP_GREY:
        return _from_deep_grey(image, shown), None
    if image.mode not in _TO_RGB:
        msg = f"{shown} keeps its colours as {image.mode}: export it as RGB."
        raise PhotoError(msg)
    opaque = None
    if image.mode in _WITH_ALPHA or "transparency" in image.info:
        image = image.convert("RGBA")
        alpha = np.asarray(image.getchannel("A"))
        if alpha.min() < _OPAQUE_FROM:
            opaque = alpha >= _OPAQUE_FROM
            opaque.flags.writeable = False
            if not opaque.any():
                msg = f"{shown} is transparent all over: give the photo itself."
                raise PhotoError(msg)
    return _rgb_pixels(image), opaque


def _rgb_pixels(image: Image.Image) -> NDArray[np.uint8]:
    """Convert to sRGB, through the embedded profile where there is a usable one."""
    source = image.mode if image.mode in _PROFILED else "RGB"
    turn = _profile_turn(image.info.get("icc_profile"), source)
    pixels = np.empty((image.height, image.width, 3), dtype=np.uint8)
    for top in range(0, image.height, BAND_ROWS):
        bottom = min(image.height, top + BAND_ROWS)
        band = image.crop((0, top, image.width, bottom))
        if turn is not None:
            band = ImageCms.applyTransform(band.convert(source), turn) or band
        pixels[top:bottom] = np.asarray(band.convert("RGB"))
    pixels.flags.writeable = False
    return pixels


def _profile_turn(
    profile: bytes | None, source: str
) -> ImageCms.ImageCmsTransform | None:
    if not profile:
        return None
    try:
        return ImageCms.buildTransform(
            ImageCms.ImageCmsProfile(io.BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            source,
            "RGB",
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None


def _from_deep_grey(image: Image.Image, shown: str) -> NDArray[np.uint8]:
    """Scale deep grey to 8 bits by the depth it uses (8, 10, 12, 14 or 16 bits)."""
    deep = np.asarray(image, dtype=np.float32)
    if not np.isfinite(deep).all() or deep.min() < 0:
        msg = f"{shown} holds numbers that are not light: export it as 8 or 16 bit."
        raise PhotoError(msg)
    top = float(deep.max())
    fulls = [float(2**bits - 1) for bits in (8, 10, 12, 14, 16)]
    if image.mode == "F" and top <= _FULL_SHARE:
        fulls = [1.0]
        deep = np.minimum(deep, 1.0)
        top = min(top, 1.0)
    full = next((depth for depth in fulls if top <= depth), None)
    if full is None:
        msg = f"{shown} holds numbers above 65535: export it as 8 or 16 bit."
        raise PhotoError(msg)
    grey = np.rint(deep * np.float32(255.0 / full)).astype(np.uint8)
    pixels = np.repeat(grey[:, :, None], 3, axis=2)
    pixels.flags.writeable = False
    return pixels
