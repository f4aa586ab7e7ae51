"""From a file's bytes to an upright photo."""

from __future__ import annotations

import hashlib
import io
import unicodedata
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING

import cv2
import numpy as np
import pillow_heif
from PIL import ExifTags, Image, ImageCms, ImageOps, UnidentifiedImageError

from analysis.checks import sealed
from analysis.errors import PhotoError
from analysis.model.photo import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

# A phone's largest picture is 16320 x 12240 px (200 megapixels).
LARGEST_PX = 210_000_000
SMALLEST_SIDE_PX = 16
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF", "AVIF", "BMP")
_ANIMATED = ("PNG", "WEBP", "AVIF")
_OPAQUE_FROM = 128
_TOE = 0.04045
# Rows turned to light at a time, so that three channels never stand as floats.
_LIGHT_ROWS = 512

# Pillow warns from this size on and refuses twice of it; the check below is ours.
Image.MAX_IMAGE_PIXELS = LARGEST_PX
pillow_heif.register_heif_opener()
Image.init()


def read_photo(data: bytes, name: str = "") -> Photo:
    """Decode a photo by its content, upright, in sRGB.

    Parameters
    ----------
    data : bytes
        The file, whatever its name says it is.
    name : str
        File name, kept for display only.

    Returns
    -------
    Photo
        Upright pixels, read-only.

    Raises
    ------
    PhotoError
        Empty, not an image, an unknown or animated format, black and white only,
        too small, too large, or cut short.

    Examples
    --------
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 30), (128, 128, 128)).save(file, "PNG")
    >>> read_photo(file.getvalue()).height_px
    30
    """
    shown = unicodedata.normalize("NFC", name) or "This file"
    if not data:
        msg = f"{shown} is empty: choose the photo again."
        raise PhotoError(msg)
    image = _open(data, shown)
    try:
        taken_at = _camera_time(image)
        upright = ImageOps.exif_transpose(image)
        pixels, opaque = _to_srgb(upright, shown)
    except PhotoError:
        raise
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError) as error:
        msg = f"{shown} is cut short or damaged: copy it from the phone again."
        raise PhotoError(msg) from error
    return Photo(
        pixels=sealed(pixels),
        opaque=None if opaque is None else sealed(opaque),
        sha256=hashlib.sha256(data).hexdigest(),
        name=unicodedata.normalize("NFC", name),
        file_format=str(image.format),
        taken_at=taken_at,
    )


def luminance(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return linear relative luminance of sRGB pixels.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.

    Returns
    -------
    ndarray of float32, (rows, cols)
        0 (black) to 1 (white), linear in light: IEC 61966-2-1 transfer function,
        Rec. 709 weights.

    Examples
    --------
    >>> float(luminance(np.full((1, 1, 3), 255, np.uint8))[0, 0])
    1.0
    """
    # Weighted tables: one look-up per channel gives its share of the light.
    shares = _LINEAR[:, None] * np.array([0.2126, 0.7152, 0.0722], np.float32)
    table = np.ascontiguousarray(shares.reshape(1, 256, 3))
    grey = np.empty(pixels.shape[:2], dtype=np.float32)
    for top in range(0, len(grey), _LIGHT_ROWS):
        band = slice(top, top + _LIGHT_ROWS)
        light = cv2.LUT(pixels[band], table)
        weighed = cv2.transform(light, np.ones((1, 3), np.float32))
        grey[band] = weighed.reshape(light.shape[:2])
    return grey


def _linear_table() -> NDArray[np.float32]:
    code = np.arange(256) / 255.0
    linear = np.where(code <= _TOE, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return linear.astype(np.float32)


_LINEAR = _linear_table()


def _open(data: bytes, shown: str) -> Image.Image:
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        msg = f"{shown} has far more pixels than any camera: choose the photo itself."
        raise PhotoError(msg) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        msg = (
            f"{shown} is not a photo that can be read: "
            "give a JPEG, PNG, TIFF, WebP or HEIC file."
        )
        raise PhotoError(msg) from error
    width, height = image.size
    if width * height > LARGEST_PX:
        msg = (
            f"{shown} has {width} x {height} pixels, more than "
            f"{LARGEST_PX // 1_000_000} million: photograph in parts."
        )
        raise PhotoError(msg)
    if min(width, height) < SMALLEST_SIDE_PX:
        msg = (
            f"{shown} is only {width} x {height} pixels: "
            f"at least {SMALLEST_SIDE_PX} each way are needed."
        )
        raise PhotoError(msg)
    if image.format in _ANIMATED and getattr(image, "n_frames", 1) > 1:
        msg = f"{shown} is an animation: save one still picture of the face."
        raise PhotoError(msg)
    return image


def _to_srgb(
    image: Image.Image, shown: str
) -> tuple[NDArray[np.uint8], NDArray[np.bool_] | None]:
    if image.mode == "1":
        msg = f"{shown} has black and white only, no greys: give the photo itself."
        raise PhotoError(msg)
    if image.mode in {"I", "I;16", "I;16B", "I;16L", "F"}:
        return _from_deep_grey(image, shown), None
    opaque = None
    if image.mode in {"RGBA", "LA", "PA", "La", "RGBa"} or "transparency" in image.info:
        image = image.convert("RGBA")
        alpha = np.asarray(image.getchannel("A"))
        if alpha.min() < _OPAQUE_FROM:
            opaque = alpha >= _OPAQUE_FROM
            if not opaque.any():
                msg = f"{shown} is transparent all over: give the photo itself."
                raise PhotoError(msg)
    converted = _by_profile(image)
    return np.asarray(converted, dtype=np.uint8), opaque


def _by_profile(image: Image.Image) -> Image.Image:
    """Convert to sRGB through the embedded profile where there is a usable one."""
    profile = image.info.get("icc_profile")
    source = image.convert("RGB") if image.mode in {"RGBA", "P", "PA"} else image
    if profile and source.mode in {"RGB", "CMYK", "L"}:
        try:
            converted = ImageCms.profileToProfile(
                source,
                ImageCms.ImageCmsProfile(io.BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                outputMode="RGB",
            )
        except (ImageCms.PyCMSError, OSError, ValueError):
            converted = None
        if converted is not None:
            return converted
    return source.convert("RGB")


def _from_deep_grey(image: Image.Image, shown: str) -> NDArray[np.uint8]:
    """Scale deep grey to 8 bits by the depth it uses (8, 10, 12, 14 or 16 bits)."""
    deep = np.asarray(image, dtype=np.float64)
    if not np.isfinite(deep).all() or deep.min() < 0:
        msg = f"{shown} holds numbers that are not light: export it as 8 or 16 bit."
        raise PhotoError(msg)
    top = float(deep.max())
    fulls = [1.0, *(float(2**bits - 1) for bits in (8, 10, 12, 14, 16))]
    full = next((depth for depth in fulls if top <= depth), None)
    if full is None:
        msg = f"{shown} holds numbers above 65535: export it as 8 or 16 bit."
        raise PhotoError(msg)
    grey = np.round(deep * (255.0 / full)).astype(np.uint8)
    return np.repeat(grey[:, :, None], 3, axis=2)


def _camera_time(image: Image.Image) -> datetime | None:
    """Read when the shutter was pressed; a zone only where the file states one."""
    try:
        exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
    except (OSError, SyntaxError, ValueError, KeyError, TypeError):
        return None
    text = exif.get(ExifTags.Base.DateTimeOriginal)
    try:
        wall = datetime.strptime(str(text).strip("\x00 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007  camera wall time has no zone
    except ValueError:
        return None
    offset = str(exif.get(ExifTags.Base.OffsetTimeOriginal) or "").strip("\x00 ")
    try:
        zone = datetime.strptime(offset, "%z").utcoffset()
    except ValueError:
        return wall
    return wall.replace(tzinfo=timezone(zone or timedelta()))
