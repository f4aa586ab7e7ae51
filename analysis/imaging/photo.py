"""From a file's bytes to an upright photo."""

from __future__ import annotations

import contextlib
import hashlib
import io
import unicodedata
import warnings
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING

import cv2
import numpy as np
import pillow_heif
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import TiffImageFile

from analysis.checks import FIRST_DAY, LAST_DAY
from analysis.errors import PhotoError
from analysis.flags import Flag
from analysis.imaging.integrity import broken_at, claimed_too_large, looks_damaged
from analysis.imaging.quantisation import has_odd_number
from analysis.imaging.sectors import has_alien_sector
from analysis.imaging.srgb import to_srgb
from analysis.model.photo import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

# A phone's largest picture is 16320 x 12240 px (200 megapixels).
LARGEST_PX = 210_000_000
SMALLEST_SIDE_PX = 16
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF", "AVIF", "BMP")
_ANIMATED = ("PNG", "WEBP", "AVIF")
_SUBFILE_TYPE, _COPY_OR_MASK = 254, 0b101
_PAGES_LOOKED_AT = 16
_SHORTEST_LENS, _LONGEST_LENS = 8.0, 1000.0
_TOE = 0.04045

# EXIF orientation: what turns the stored picture upright.
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

# Rows turned into light at a time: what is made of them on the way stays in the
# processor's own memory.
_LIGHT_ROWS = 32
# Pillow warns from this size on and refuses twice of it; the check below is ours.
Image.MAX_IMAGE_PIXELS = LARGEST_PX
# What Pillow finds odd in a file is no news to the user: it reads or it does not.
warnings.filterwarnings("ignore", module=r"PIL\.")
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
        too small, too large, cut short or damaged.

    Examples
    --------
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 30), (128, 128, 128)).save(file, "PNG")
    >>> read_photo(file.getvalue()).height_px
    30
    """
    name = unicodedata.normalize("NFC", name)
    shown = name or "This file"
    if not data:
        msg = f"{shown} is empty: choose the photo again."
        raise PhotoError(msg)
    image = _open(data, shown)
    file_format = str(image.format)
    try:
        image.load()
    except MemoryError as error:
        msg = (
            f"{shown} of {image.width} x {image.height} pixels does not fit into "
            "memory: photograph in parts."
        )
        raise PhotoError(msg) from error
    except Exception as error:  # decoders raise anything on a damaged file
        msg = f"{shown} is cut short or damaged: copy it from the phone again."
        raise PhotoError(msg) from error
    broken = broken_at(data, file_format)
    if broken:
        msg = f"{shown} is damaged, {broken}: copy it from the phone again."
        raise PhotoError(msg)
    tables = getattr(image, "quantization", None) or {}
    damaged = (
        has_alien_sector(data)
        or has_odd_number(tables.values())
        or looks_damaged(image, data)
    )
    doubts = {Flag.DAMAGED} if damaged else set()
    taken_at, lens_35mm = _camera_time(image), _lens(image)
    image = _upright(image)  # let the picture as stored go: it may be large
    pixels, opaque = to_srgb(image, shown)
    return Photo(
        pixels=pixels,
        opaque=opaque,
        sha256=hashlib.sha256(data).hexdigest(),
        name=name,
        # A phone's JPEG with a preview or a second picture behind the first.
        file_format="JPEG" if file_format == "MPO" else file_format,
        taken_at=taken_at,
        lens_35mm=lens_35mm,
        flags=frozenset(doubts),
    )


def claimed_px(data: bytes) -> int:
    """Return how many px a file's header claims, 0 where it claims nothing.

    Examples
    --------
    >>> claimed_px(b"text")
    0
    """
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
    except Exception:  # noqa: BLE001  whoever decodes it says what is wrong
        return 0
    return int(image.width * image.height)


def read_reduced(
    data: bytes, name: str = "", *, longest_px: int
) -> tuple[NDArray[np.uint8], float]:
    """Decode a photo small, for a picture in a list; nothing is measured on it.

    A JPEG is decoded at an eighth to a half of its size, which is many times faster.

    Parameters
    ----------
    data : bytes
        The file; one that `read_photo` has taken in before.
    name : str
        File name, for display only.
    longest_px : int
        Longest side of the picture, 1 or more; a smaller photo keeps its size.

    Returns
    -------
    pixels : ndarray of uint8, (rows, cols, 3)
        Upright, sRGB.
    zoom : float
        Sides of the picture over those of the upright photo, up to 1.

    Raises
    ------
    PhotoError
        It cannot be read.

    Examples
    --------
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (400, 300), (128, 128, 128)).save(file, "JPEG")
    >>> pixels, zoom = read_reduced(file.getvalue(), longest_px=100)
    >>> pixels.shape, zoom
    ((75, 100, 3), 0.25)
    """
    shown = name or "This file"
    image = _open(data, shown)
    longest = max(image.size)
    # The decoder itself goes no farther down than to twice of what is wanted; area
    # means do the rest.
    image.draft(None, (2 * longest_px, 2 * longest_px))
    try:
        image.load()
    except Exception as error:  # decoders raise anything on a damaged file
        msg = f"{shown} is cut short or damaged: copy it from the phone again."
        raise PhotoError(msg) from error
    pixels, _ = to_srgb(_upright(image), shown)
    zoom = min(1.0, longest_px / longest)
    part = zoom * longest / max(pixels.shape)
    rows, cols = (max(1, round(side * part)) for side in pixels.shape[:2])
    small = cv2.resize(pixels, (cols, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8), zoom


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
    except Exception as error:  # decoders raise anything on a damaged file
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
    if claimed_too_large(data, (width, height)):
        msg = (
            f"{shown} claims {width} x {height} pixels in {len(data)} bytes, which no "
            "photo has: choose the photo itself."
        )
        raise PhotoError(msg)
    if min(width, height) < SMALLEST_SIDE_PX:
        msg = (
            f"{shown} is only {width} x {height} pixels: "
            f"at least {SMALLEST_SIDE_PX} each way are needed."
        )
        raise PhotoError(msg)
    if image.format == "TIFF" and _has_further_page(data):
        msg = f"{shown} has several pages: save the page that shows the face alone."
        raise PhotoError(msg)
    if image.format in _ANIMATED and getattr(image, "n_frames", 1) > 1:
        msg = f"{shown} is an animation: save one still picture of the face."
        raise PhotoError(msg)
    return image


def _has_further_page(data: bytes) -> bool:
    """Tell whether a TIFF holds another picture than the first.

    Smaller copies of a page and masks are pages too, and no other picture: TIFF 6.0,
    NewSubfileType, bits 0 and 2.
    """
    with contextlib.suppress(Exception), TiffImageFile(io.BytesIO(data)) as pages:
        for page in range(1, _PAGES_LOOKED_AT):
            pages.seek(page)
            if not pages.tag_v2.get(_SUBFILE_TYPE, 0) & _COPY_OR_MASK:
                return True
    return False  # at the last page, or one whose notes are damaged


def _upright(image: Image.Image) -> Image.Image:
    """Turn as the file says; a damaged note on it turns nothing."""
    try:
        turn = _TURNS.get(image.getexif().get(ExifTags.Base.Orientation, 1))
    except Exception:  # noqa: BLE001  a broken tag must not cost the photo
        turn = None
    return image if turn is None else image.transpose(turn)


def _camera_time(image: Image.Image) -> datetime | None:
    """Read when the shutter was pressed; a zone only where the file states one."""
    try:
        exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
        text = str(exif.get(ExifTags.Base.DateTimeOriginal)).strip("\x00 ")
        offset = str(exif.get(ExifTags.Base.OffsetTimeOriginal)).strip("\x00 ")
    except Exception:  # noqa: BLE001  a broken tag must not cost the photo
        return None
    try:
        wall = datetime.strptime(text, "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007  camera wall time has no zone
    except ValueError:
        return None
    if not FIRST_DAY <= wall.date() <= LAST_DAY:
        return None  # a clock never set, or a broken tag
    try:
        zone = datetime.strptime(offset, "%z").utcoffset()
        return wall.replace(tzinfo=timezone(zone or timedelta()))
    except ValueError:
        return wall


def _lens(image: Image.Image) -> float | None:
    """Read the focal length as on 36 x 24 mm film."""
    try:
        exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
        found = float(exif.get(ExifTags.Base.FocalLengthIn35mmFilm, 0))
    except Exception:  # noqa: BLE001  a broken tag must not cost the photo
        return None
    return found if _SHORTEST_LENS <= found <= _LONGEST_LENS else None
