"""Files that are no photos, are damaged, or are far too large."""

import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFile

from analysis.errors import PhotoError
from analysis.imaging.photo import LARGEST_PX, SMALLEST_SIDE_PX, read_photo
from tests.support.pictures import dotted, exif_of, file_of
from tests.support.png_header import png_header

SMALL = dotted(60, 90)
KINDS = {
    "jpeg": ("JPEG", {}),
    "progressive jpeg": ("JPEG", {"progressive": True}),
    "png": ("PNG", {}),
    "tiff": ("TIFF", {}),
    "lzw tiff": ("TIFF", {"compression": "tiff_lzw"}),
    "webp": ("WEBP", {}),
    "heic": ("HEIF", {}),
    "avif": ("AVIF", {}),
    "bmp": ("BMP", {}),
}
quiet = pytest.mark.filterwarnings("ignore::UserWarning:PIL")


class TestNoPhoto:
    def test_empty(self):
        with pytest.raises(PhotoError, match=r"^x\.jpg is empty: choose the photo"):
            read_photo(b"", "x.jpg")

    def test_without_a_name_it_is_this_file(self):
        with pytest.raises(PhotoError, match=r"^This file is empty"):
            read_photo(b"")

    @pytest.mark.parametrize(
        "data",
        [
            b"hello",
            b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>',
            b"\xff\xd8\xff\xe0",
            b"\x89PNG\r\n\x1a\n",
            b"II*\x00",
            b"RIFF\x00\x00\x00\x00WEBP",
            b"\x00\x00\x00\x18ftypheic",
            b"PK\x03\x04" + bytes(200),
            bytes(1000),
        ],
    )
    def test_not_an_image(self, data):
        with pytest.raises(PhotoError, match=r"x\.jpg is not a photo that can be read"):
            read_photo(data, "x.jpg")

    def test_bad_ones_do_not_spoil_the_good_ones(self):
        good = file_of(dotted())
        for data in (b"", b"hello", good):
            if data is not good:
                with pytest.raises(PhotoError):
                    read_photo(data)
        assert np.array_equal(read_photo(good).pixels, dotted())


class TestSize:
    @pytest.mark.parametrize("shape", [(15, 400), (400, 15), (1, 1)])
    def test_too_small(self, shape):
        picture = np.full((*shape, 3), 100, np.uint8)
        with pytest.raises(PhotoError, match=f"only {shape[1]} x {shape[0]} pixels"):
            read_photo(file_of(picture))

    def test_the_smallest_that_is_taken(self):
        picture = np.full((SMALLEST_SIDE_PX, SMALLEST_SIDE_PX, 3), 100, np.uint8)
        assert read_photo(file_of(picture)).pixels.shape == picture.shape

    def test_a_bomb_is_refused_from_its_header(self):
        tracemalloc.start()
        with pytest.raises(PhotoError, match="more pixels than any camera"):
            read_photo(png_header(30_000, 30_000))
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert peak < 5_000_000

    def test_a_real_bomb_of_one_bit_pixels(self, monkeypatch):
        # 400 million pixels in 50 kB.
        side = 20_000
        rows = zlib.compress(bytes((side // 8 + 1) * side), 9)

        def chunk(kind, data):
            check = struct.pack(">I", zlib.crc32(kind + data))
            return struct.pack(">I", len(data)) + kind + data + check

        head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
        data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows)
        data += chunk(b"IEND", b"")
        assert len(data) < 60_000
        monkeypatch.setattr(ImageFile.ImageFile, "load", lambda _: pytest.fail("read"))
        with pytest.raises(PhotoError, match="pixels"):
            read_photo(data)

    @pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
    def test_a_little_over_the_limit_is_told_with_its_size(self):
        with pytest.raises(PhotoError, match="15000 x 15000 pixels, more than 210"):
            read_photo(png_header(15_000, 15_000))

    def test_a_phone_of_200_megapixels_is_within_the_limit(self):
        assert 16_320 * 12_240 < LARGEST_PX == Image.MAX_IMAGE_PIXELS
        # It is believed, then found to be cut short: not refused for its size.
        with pytest.raises(PhotoError, match="cut short"):
            read_photo(png_header(16_320, 12_240) + bytes(200_000))

    def test_no_memory_is_not_called_a_damaged_file(self, monkeypatch):
        def full(_image):
            raise MemoryError

        data = file_of(dotted(), "BMP")
        monkeypatch.setattr("PIL.ImageFile.ImageFile.load", full)
        with pytest.raises(PhotoError, match="300 x 200 pixels does not fit into mem"):
            read_photo(data, "a.bmp")


@quiet
class TestCutShort:
    @pytest.mark.parametrize("kind", KINDS)
    def test_refused_or_whole_never_a_part(self, kind):
        file_format, options = KINDS[kind]
        data = file_of(SMALL, file_format, **options)
        whole = read_photo(data).pixels
        ends = {*range(1, len(data), max(1, len(data) // 60)), len(data) - 1}
        refused = 0
        for end in sorted(ends):
            try:
                photo = read_photo(data[:end])
            except PhotoError:
                refused += 1
            else:
                assert np.array_equal(photo.pixels, whole), end
        assert refused > 0.7 * len(ends)

    def test_it_says_so(self):
        data = file_of(dotted(), "JPEG")
        with pytest.raises(PhotoError, match=r"b\.jpg is cut short or damaged: copy"):
            read_photo(data[: len(data) * 2 // 3], "b.jpg")


@quiet
@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    kind=st.sampled_from(sorted(KINDS)),
    changes=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)),
        min_size=1,
        max_size=8,
    ),
)
def test_damaged_bytes_give_a_photo_or_a_refusal(kind, changes):
    file_format, options = KINDS[kind]
    if file_format not in {"BMP", "TIFF"}:
        options = options | {
            "exif": exif_of(orientation=6, taken="2026:01:02 03:04:05")
        }
    data = bytearray(file_of(SMALL, file_format, **options))
    for place, value in changes:
        data[int(place * len(data))] = value
    try:
        photo = read_photo(bytes(data))
    except PhotoError:
        return
    assert photo.pixels.dtype == np.uint8
    assert photo.pixels.ndim == 3


@given(data=st.binary(max_size=200))
@settings(max_examples=100, deadline=None)
def test_any_bytes_give_a_refusal(data):
    with pytest.raises(PhotoError):
        read_photo(data)
