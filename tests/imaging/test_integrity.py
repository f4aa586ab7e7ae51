"""Damage that decoders pass over: refused where the file tells, else doubted."""

from __future__ import annotations

import io
import re
import struct
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageFile

from analysis.errors import PhotoError
from analysis.flags import Flag
from analysis.imaging.integrity import looks_damaged, restart_interval, restarts_of
from analysis.imaging.photo import read_photo
from analysis.imaging.staircase import has_staircase
from analysis.services.measuring import measure
from tests.support.pictures import file_of

SECTOR = 512
SAMPLES = Path(__file__).parents[2] / "sample_images"


def grainy(height=320, width=480, seed=2):
    """Grey concrete with grain and a slope of light, (rows, cols, 3)."""
    rng = np.random.default_rng(seed)
    slope = np.linspace(-12, 12, height)[:, None]
    grey = 150 + slope + rng.normal(0, 5, (height, width))
    return np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)


def jpeg(picture=None, **options):
    return file_of(grainy() if picture is None else picture, "JPEG", **options)


def struck(data, at, filled):
    """Put other bytes in the place of one sector."""
    return data[:at] + filled + data[at + len(filled) :]


@pytest.mark.parametrize("options", [{}, {"quality": 95}, {"restart_marker_rows": 2}])
@pytest.mark.parametrize("fill", ["zeros", "ones", "noise"])
def test_bad_sector_is_refused_by_name_or_doubted(options, fill):
    data = jpeg(**options)
    whole = read_photo(data).pixels.astype(int)
    noise = np.random.default_rng(3).bytes(SECTOR)
    filled = {"zeros": bytes(SECTOR), "ones": b"\xff" * SECTOR, "noise": noise}[fill]
    for part in (0.3, 0.5, 0.8):
        at = int(part * len(data)) // SECTOR * SECTOR
        try:
            photo = read_photo(struck(data, at, filled), "a.jpg")
        except PhotoError as error:
            assert re.match(r"a\.jpg is (damaged|cut short)", str(error))  # noqa: PT017
        else:
            # A few blocks that happen to leave all others as they were pass for grain.
            off = np.abs(photo.pixels.astype(int) - whole).max(axis=2) > 9
            assert photo.flags == {Flag.DAMAGED} or off.mean() < 0.01


def test_half_a_photo_with_an_end_mark_is_refused():
    data = jpeg()
    half = data[: len(data) // 2] + b"\xff\xd9"
    with pytest.raises(PhotoError, match="damaged, its picture data ends early: copy"):
        read_photo(half)


def test_bytes_left_over_are_refused_but_filling_is_not():
    data = jpeg()
    end = data.rindex(b"\xff\xd9")
    stray = data[:end] + b"\x12\x34\x56\x78" * 9 + data[end:]
    with pytest.raises(PhotoError, match="its picture data is garbled"):
        read_photo(stray)
    for filling in (bytes(7), b"\xff" * 7):
        assert not read_photo(data[:end] + filling + data[end:]).flags


def test_what_phones_write_behind_the_picture_is_no_damage():
    assert not read_photo(jpeg() + b"trailer" * 100).flags


def test_printers_colours_are_looked_at_too():
    picture = Image.fromarray(grainy()).convert("CMYK")
    data = file_of(picture, "JPEG")
    assert not read_photo(data).flags
    at = len(data) // 2 // SECTOR * SECTOR
    with pytest.raises(PhotoError, match=r"is damaged|cut short"):
        read_photo(struck(data, at, bytes(SECTOR)))


def test_png_with_a_wrong_check_sum_is_refused():
    data = bytearray(file_of(grainy()))
    at = data.rindex(b"IDAT") + 4  # the last part of the picture
    length = struct.unpack(">I", data[at - 8 : at - 4])[0]
    data[at + length] ^= 1
    with pytest.raises(PhotoError, match="check sum of its part IDAT is wrong"):
        read_photo(bytes(data))


def test_png_whose_last_part_is_missing_is_refused():
    data = file_of(grainy())
    with pytest.raises(PhotoError, match=r"it ends early|cut short"):
        read_photo(data[: data.rindex(b"IEND") - 4])
    with pytest.raises(PhotoError, match=r"it ends early|cut short"):
        read_photo(data[:-6])


def test_webp_shorter_than_it_says_is_refused():
    data = file_of(grainy(), "WEBP")
    longer = data[:4] + struct.pack("<I", len(data) + 100) + data[8:]
    with pytest.raises(PhotoError, match=r"shorter than it says|cut short|not a photo"):
        read_photo(longer)


@pytest.mark.parametrize("off", [-30, -12, 12, 60])
def test_brightness_that_steps_between_blocks_is_doubted(off):
    # As libjpeg draws on after a lost block: 4:2:0 codes 16 rows together.
    picture = grainy().astype(int)
    picture[160:176, 200:] += off
    picture[176:] += off
    data = jpeg(picture.clip(0, 255).astype(np.uint8), quality=92)
    photo = read_photo(data)
    assert photo.flags == {Flag.DAMAGED}
    assert Flag.DAMAGED in measure(photo)[0].flags


@pytest.mark.parametrize("kind", ["bar", "row", "last columns"])
@pytest.mark.parametrize("off", [-14, 20])
def test_steps_that_end_where_decoding_begins_anew_are_doubted(kind, off):
    picture = grainy().astype(int)
    if kind == "bar":  # the last row before a restart
        picture[160:176, 240:] += off
    elif kind == "row":  # a block lost at the left edge
        picture[160:208] += off
    else:  # a block lost near the right edge
        picture[160:176, 450:] += off
        picture[176:] += off
    data = jpeg(picture.clip(0, 255).astype(np.uint8), quality=92)
    assert read_photo(data).flags == {Flag.DAMAGED}


@pytest.mark.parametrize(
    ("restart_rows", "top", "told"),
    [(0, 160, False), (1, 160, True), (4, 176, True), (4, 160, False), (5, 144, True)],
)
def test_a_row_that_steps_back_is_a_lost_block_only_before_a_restart(
    restart_rows, top, told
):
    # 4:2:0 codes 16 rows together. A thing may lie so too, and files of most cameras
    # have no restarts: an error goes on to the end there.
    picture = grainy().astype(int)
    picture[top : top + 16, 240:] += 14
    data = jpeg(picture.astype(np.uint8), quality=92, restart_marker_rows=restart_rows)
    units = -(-picture.shape[1] // 16)
    assert restart_interval(data) == restart_rows * units
    image = Image.open(io.BytesIO(data))
    image.load()
    assert has_staircase(image, 16)
    assert has_staircase(image, 16, restarts=restarts_of(image, data, 16)) is told


@pytest.mark.parametrize("value", [0, 255])
@pytest.mark.parametrize("end", [240, 320])
def test_all_black_or_white_from_a_block_on_is_doubted(value, end):
    # A lost block shifts the brightness of what follows beyond what a file can hold.
    picture = grainy()
    picture[160:176, 208:] = value
    picture[176:end] = value
    assert read_photo(jpeg(picture, quality=92)).flags == {Flag.DAMAGED}
    # In a garbled row nothing is told but the edge.
    picture[160:176, 208:260] = grainy(16, 52, seed=9)
    assert read_photo(jpeg(picture, quality=92)).flags == {Flag.DAMAGED}


@pytest.mark.parametrize("value", [0, 255])
@pytest.mark.parametrize("kind", ["backdrop", "slanting", "sheet", "off the blocks"])
def test_black_and_white_things_are_no_damage(value, kind):
    picture = grainy()
    row, col = np.mgrid[: len(picture), : picture.shape[1]]
    if kind == "backdrop":
        picture[160:] = value
    elif kind == "slanting":
        picture[row > 190 - col / 12] = value
    elif kind == "sheet":
        picture[160:300, 208:] = value
    else:
        picture[163:179, 208:] = value
        picture[179:] = value
    for options in ({"quality": 92}, {"quality": 60}, {"subsampling": 0}):
        assert not read_photo(jpeg(picture, **options)).flags


def test_sound_samples_are_not_doubted_however_they_are_cut_and_stored():
    for path in sorted(SAMPLES.glob("*.jpg")):
        with Image.open(path) as image:
            picture = image.convert("RGB")
        for top, options in ((0, {}), (5, {"quality": 80}), (10, {"subsampling": 0})):
            cut = picture.crop((0, top, *picture.size))
            assert not looks_damaged(Image.open(io.BytesIO(jpeg(cut, **options))))


@pytest.mark.parametrize("kind", ["edge", "edge on a block", "corner", "slanting"])
def test_edges_of_things_are_no_damage(kind):
    picture = grainy()
    if kind == "edge":
        picture[163:] //= 2
    elif kind == "edge on a block":
        picture[160:] //= 2
    elif kind == "corner":
        picture[160:176, 200:] //= 2
    else:
        row, col = np.mgrid[: len(picture), : picture.shape[1]]
        picture[row > 160 + col / 30] //= 2
    for options in ({"quality": 92}, {"quality": 40}, {"subsampling": 0}):
        assert not read_photo(jpeg(picture, **options)).flags


def test_soft_light_in_a_coarse_file_is_no_damage():
    row, col = np.mgrid[:480, :640]
    soft = (90 + row / 9 + col / 23).astype(np.uint8)
    picture = np.repeat(soft[..., None], 3, axis=2)
    for quality in (10, 30, 60):
        assert not read_photo(jpeg(picture, quality=quality)).flags


def test_picture_that_ends_in_one_value_is_doubted():
    picture = grainy()
    picture[200:] = 128
    assert read_photo(file_of(picture)).flags == {Flag.DAMAGED}
    picture[:20] = 128  # a frame
    assert not read_photo(file_of(picture)).flags


def test_drawn_picture_of_one_value_is_no_damage():
    assert not read_photo(file_of(np.full((90, 120, 3), 150, np.uint8))).flags


def claiming(data, width, height):
    """Let a JPEG's frame header claim another size."""
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", height, width) + data[at + 4 :]


@pytest.mark.parametrize("kind", ["jpeg", "png"])
def test_small_file_that_claims_200_megapixels_is_refused_unread(kind, monkeypatch):
    monkeypatch.setattr(ImageFile.ImageFile, "load", lambda _: pytest.fail("read"))
    if kind == "jpeg":
        data = claiming(jpeg(np.full((16, 16, 3), 150, np.uint8)), 16_900, 12_250)
    else:
        head = struct.pack(">IIBBBBB", 16_900, 12_250, 8, 2, 0, 0, 0)
        chunk = b"IHDR" + head
        data = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk
        data += struct.pack(">I", zlib.crc32(chunk))
        data += struct.pack(">I", 300) + b"IDAT" + bytes(300)
    assert len(data) < 1100
    tracemalloc.start()
    with pytest.raises(PhotoError, match=r"claims 16900 x 12250 pixels in \d+ byt"):
        read_photo(data)
    assert tracemalloc.get_traced_memory()[1] < 1_000_000
    tracemalloc.stop()


def test_flat_photo_of_many_pixels_is_within_what_bytes_can_hold():
    # The smallest that a sound encoder makes of 6 megapixels: nothing but one grey.
    flat = Image.new("L", (3000, 2000), 128)
    for file_format, options in (
        ("PNG", {"compress_level": 9}),
        ("JPEG", {"quality": 1, "optimize": True, "progressive": True}),
    ):
        file = io.BytesIO()
        flat.save(file, file_format, **options)
        assert read_photo(file.getvalue()).width_px == 3000
