import hashlib
import struct
import unicodedata
from datetime import datetime, timedelta, timezone

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from analysis.errors import PhotoError
from analysis.imaging.photo import FORMATS, luminance, read_photo
from tests.support.pictures import (
    DARK,
    DOT_COL,
    DOT_ROW,
    GREY,
    HEIGHT,
    WIDTH,
    dot_centre,
    dotted,
    exif_of,
    file_of,
)

EVERY_FORMAT = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF", "AVIF", "BMP")
# What each EXIF orientation says of the stored picture (EXIF 2.32, tag 0x0112): how
# a viewer gets it upright.
UPRIGHT = {
    1: lambda stored: stored,
    2: lambda stored: stored[:, ::-1],
    3: lambda stored: stored[::-1, ::-1],
    4: lambda stored: stored[::-1],
    5: lambda stored: stored.swapaxes(0, 1),
    6: lambda stored: np.rot90(stored, -1),
    7: lambda stored: stored[::-1, ::-1].swapaxes(0, 1),
    8: lambda stored: np.rot90(stored, 1),
}


def same_picture(photo, pixels, most=0):
    assert photo.pixels.shape == pixels.shape
    off = np.abs(photo.pixels.astype(int) - pixels.astype(int))
    # A lossy file rings at the dot's edge; the flat parts and the dot itself stay.
    assert np.quantile(off, 0.98) <= most
    assert off.mean() <= most


class TestFormats:
    def test_all_known_formats_are_tried_here(self):
        assert set(FORMATS) == set(EVERY_FORMAT)

    @pytest.mark.parametrize("file_format", EVERY_FORMAT)
    @pytest.mark.parametrize("name", ["IMG_1.jpg", "IMG_1.HEIC", "scan", ""])
    def test_content_decides_not_the_name(self, file_format, name):
        photo = read_photo(file_of(dotted(), file_format), name)
        assert photo.file_format == file_format
        same_picture(photo, dotted(), most=2)
        assert dot_centre(photo.pixels) == pytest.approx([DOT_ROW, DOT_COL], abs=0.2)

    def test_what_it_keeps_of_the_file(self):
        data = file_of(dotted())
        photo = read_photo(data, "a.png")
        assert photo.sha256 == hashlib.sha256(data).hexdigest()
        assert (photo.height_px, photo.width_px) == (HEIGHT, WIDTH)
        assert (photo.name, photo.opaque, photo.taken_at) == ("a.png", None, None)

    def test_pixels_and_mask_are_sealed(self):
        picture = np.dstack([dotted(), np.full((HEIGHT, WIDTH), 255, np.uint8)])
        picture[100:, :, 3] = 0
        photo = read_photo(file_of(picture))
        for array in (photo.pixels, photo.opaque):
            with pytest.raises(ValueError, match="read-only"):
                array[0, 0] = 0

    def test_colours_stay_in_their_order(self):
        brick = np.full((40, 40, 3), (200, 60, 30), np.uint8)
        photo = read_photo(file_of(brick))
        assert photo.pixels[20, 20].tolist() == [200, 60, 30]

    def test_a_phone_jpeg_with_a_second_picture_behind_gives_the_first(self):
        second = Image.fromarray(np.zeros_like(dotted()))
        data = file_of(dotted(), "MPO", save_all=True, append_images=[second])
        photo = read_photo(data)
        assert photo.file_format == "JPEG"
        same_picture(photo, dotted(), most=2)

    def test_a_tiff_of_several_pages_is_refused(self):
        second = Image.fromarray(np.zeros_like(dotted()))
        data = file_of(dotted(), "TIFF", save_all=True, append_images=[second])
        with pytest.raises(PhotoError, match=r"a\.tif has several pages: save"):
            read_photo(data, "a.tif")

    # TIFF 6.0 (1992), section 8, NewSubfileType: 1 a smaller copy, 4 a mask.
    @pytest.mark.parametrize("kind", [1, 4, 5])
    def test_a_tiff_with_a_smaller_copy_or_a_mask_is_one_picture(self, kind):
        copy = Image.fromarray(dotted()[::2, ::2])
        copy.encoderinfo = {"tiffinfo": {254: kind}}
        data = file_of(dotted(), "TIFF", save_all=True, append_images=[copy])
        same_picture(read_photo(data), dotted())

    def test_a_tiff_whose_next_page_is_damaged_gives_the_first(self):
        data = bytearray(file_of(dotted(), "TIFF"))
        first = int.from_bytes(data[4:8], "little")
        entries = int.from_bytes(data[first : first + 2], "little")
        end = first + 2 + 12 * entries
        data[end : end + 4] = len(data).to_bytes(4, "little")
        same_picture(read_photo(bytes(data)), dotted())

    @pytest.mark.parametrize("file_format", ["PNG", "WEBP", "AVIF"])
    def test_an_animation_is_refused(self, file_format):
        second = Image.fromarray(dotted()[::-1])
        data = file_of(dotted(), file_format, save_all=True, append_images=[second])
        with pytest.raises(PhotoError, match=r"a\.png is an animation: save one"):
            read_photo(data, "a.png")

    @pytest.mark.parametrize("file_format", ["GIF", "JPEG2000", "ICO", "PPM", "PDF"])
    def test_other_formats_are_refused_by_name_of_those_taken(self, file_format):
        with pytest.raises(PhotoError, match="give a JPEG, PNG, TIFF, WebP or HEIC"):
            read_photo(file_of(dotted(), file_format), "x.jpg")


class TestUpright:
    def test_the_orientations_differ(self):
        seen = {UPRIGHT[n](dotted()).tobytes() for n in UPRIGHT}
        assert len(seen) == 8

    @pytest.mark.parametrize("orientation", range(1, 9))
    @pytest.mark.parametrize("file_format", ["PNG", "TIFF", "WEBP", "HEIF", "JPEG"])
    def test_turned_once(self, orientation, file_format):
        exif = exif_of(orientation=orientation)
        photo = read_photo(file_of(dotted(), file_format, exif=exif))
        same_picture(photo, UPRIGHT[orientation](dotted()), most=2)

    def test_tag_6_puts_the_dot_top_right(self):
        data = file_of(dotted(), "JPEG", quality=95, exif=exif_of(orientation=6))
        photo = read_photo(data)
        assert (photo.height_px, photo.width_px) == (300, 200)
        expected = [DOT_COL, 199 - DOT_ROW]
        assert dot_centre(photo.pixels) == pytest.approx(expected, abs=0.2)
        # OpenCV turns by itself where it decodes to colour (its issue 23122).
        other = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        same_picture(photo, other[..., ::-1], most=2)

    def test_the_cut_out_turns_with_the_photo(self):
        picture = np.dstack([dotted(), np.full((HEIGHT, WIDTH), 255, np.uint8)])
        picture[:50, :, 3] = 0
        photo = read_photo(file_of(picture, exif=exif_of(orientation=6)))
        assert photo.opaque.shape == photo.pixels.shape[:2] == (300, 200)
        assert not photo.opaque[:, 150:].any()
        assert photo.opaque[:, :150].all()

    def test_deep_grey_turns_too(self):
        deep = dotted()[..., 0].astype(np.uint16) * 257
        photo = read_photo(file_of(deep, exif=exif_of(orientation=8)))
        same_picture(photo, UPRIGHT[8](dotted()))

    def test_heic_turned_by_its_container_is_not_turned_again_by_its_exif(self):
        # HEIF (ISO/IEC 23008-12) turns by the container; its EXIF only tells.
        plain = file_of(dotted(), "HEIF", exif=exif_of(orientation=1))
        marked = plain.replace(exif_of(orientation=1), exif_of(orientation=6))
        assert marked != plain
        same_picture(read_photo(marked), dotted(), most=2)

    @pytest.mark.parametrize("orientation", [0, 9, 65535])
    def test_an_unknown_orientation_turns_nothing(self, orientation):
        data = file_of(dotted(), exif=exif_of(orientation=orientation))
        same_picture(read_photo(data), dotted())

    @pytest.mark.filterwarnings("ignore:Corrupt EXIF data")
    @pytest.mark.parametrize(
        "exif",
        [b"Exif\x00\x00II*\x00\xff\xff\xff\xff", b"Exif\x00\x00", b"Exif\x00\x00XX"],
    )
    def test_broken_exif_costs_nothing_but_itself(self, exif):
        photo = read_photo(file_of(dotted(), "JPEG", exif=exif))
        same_picture(photo, dotted(), most=2)
        assert photo.taken_at is None


class TestModes:
    @pytest.mark.parametrize("file_format", ["JPEG", "TIFF"])
    def test_cmyk_keeps_the_dot_dark(self, file_format):
        cmyk = Image.fromarray(dotted()).convert("CMYK")
        same_picture(read_photo(file_of(cmyk, file_format)), dotted(), most=2)

    @pytest.mark.parametrize("mode", ["L", "LA", "RGBA", "YCbCr"])
    def test_other_colour_layouts(self, mode):
        picture = Image.fromarray(dotted()).convert(mode)
        photo = read_photo(file_of(picture, "TIFF"))
        same_picture(photo, dotted())
        assert photo.opaque is None

    def test_a_palette_is_looked_up(self):
        palette = Image.fromarray(dotted()).quantize(16)
        assert np.asarray(palette).max() < 16
        same_picture(read_photo(file_of(palette)), dotted())

    def test_a_transparent_palette_colour_is_no_face(self):
        palette = Image.fromarray(dotted()).quantize(2)
        clear = int(np.asarray(palette)[DOT_ROW, DOT_COL])
        photo = read_photo(file_of(palette, transparency=clear))
        assert np.array_equal(~photo.opaque, dotted()[..., 0] == DARK)

    @pytest.mark.filterwarnings("ignore:Palette images with Transparency")
    def test_half_transparent_palette_entries(self):
        palette = Image.fromarray(dotted()).quantize(2)
        alphas = bytearray([200, 200])
        alphas[np.asarray(palette)[DOT_ROW, DOT_COL]] = 127
        photo = read_photo(file_of(palette, transparency=bytes(alphas)))
        assert np.array_equal(~photo.opaque, dotted()[..., 0] == DARK)

    def test_a_transparent_grey_is_no_face(self):
        photo = read_photo(file_of(dotted()[..., 0], transparency=DARK))
        assert np.array_equal(~photo.opaque, dotted()[..., 0] == DARK)

    @pytest.mark.parametrize(("alpha", "opaque"), [(127, False), (128, True)])
    def test_half_opaque_counts_as_opaque(self, alpha, opaque):
        picture = np.dstack([dotted(), np.full((HEIGHT, WIDTH), 255, np.uint8)])
        picture[0, 0, 3] = alpha
        photo = read_photo(file_of(picture))
        assert (photo.opaque is None) == opaque
        assert photo.pixels[0, 0].tolist() == [GREY] * 3

    def test_transparent_all_over_is_refused(self):
        picture = np.dstack([dotted(), np.zeros((HEIGHT, WIDTH), np.uint8)])
        with pytest.raises(PhotoError, match="is transparent all over"):
            read_photo(file_of(picture))

    @pytest.mark.parametrize("file_format", ["PNG", "TIFF", "BMP"])
    def test_black_and_white_only_is_refused(self, file_format):
        picture = Image.fromarray(dotted()).convert("1")
        with pytest.raises(PhotoError, match="black and white only, no greys"):
            read_photo(file_of(picture, file_format))

    def test_lab_is_refused_by_name(self):
        srgb, lab = (ImageCms.createProfile(name) for name in ("sRGB", "LAB"))
        picture = ImageCms.profileToProfile(
            Image.fromarray(dotted()), srgb, lab, outputMode="LAB"
        )
        with pytest.raises(PhotoError, match="keeps its colours as LAB: export it"):
            read_photo(file_of(picture, "TIFF"))


class TestDepth:
    @pytest.mark.parametrize("file_format", ["PNG", "TIFF"])
    @pytest.mark.parametrize("bits", [10, 12, 14, 16])
    def test_deep_grey_by_the_depth_it_uses(self, file_format, bits):
        deep = np.rint(dotted()[..., 0] * ((2**bits - 1) / 255)).astype(np.uint16)
        deep[0, 0] = 2**bits - 1
        photo = read_photo(file_of(deep, file_format))
        expected = dotted()
        expected[0, 0] = 255
        same_picture(photo, expected, most=0)

    def test_a_nearly_black_deep_picture_is_not_stretched_to_white(self):
        deep = np.zeros((40, 40), np.uint16)
        deep[10:20, 10:20] = 1
        photo = read_photo(file_of(deep))
        assert photo.pixels.max() == 1

    @pytest.mark.parametrize("suffix", [".png", ".tif"])
    def test_sixteen_bit_colour(self, suffix):
        deep = dotted().astype(np.uint16) * 257
        _, file = cv2.imencode(suffix, deep)
        same_picture(read_photo(file.tobytes()), dotted())

    @pytest.mark.parametrize(("full", "over"), [(1.0, 1.2), (255.0, 255.0)])
    def test_float_grey(self, full, over):
        deep = dotted()[..., 0].astype(np.float32) / np.float32(255 / full)
        deep[0, 0] = over
        expected = dotted()
        expected[0, 0] = 255
        same_picture(read_photo(file_of(deep, "TIFF")), expected)

    @pytest.mark.parametrize("bad", [np.nan, np.inf, -0.5])
    def test_numbers_that_are_not_light_are_refused(self, bad):
        deep = np.full((40, 40), 0.5, np.float32)
        deep[3, 3] = bad
        with pytest.raises(PhotoError, match="holds numbers that are not light"):
            read_photo(file_of(deep, "TIFF"))

    def test_numbers_beyond_sixteen_bits_are_refused(self):
        deep = np.full((40, 40), 70_000, np.int32)
        with pytest.raises(PhotoError, match="holds numbers above 65535"):
            read_photo(file_of(deep, "TIFF"))


class TestProfile:
    def chart(self):
        red, green = np.meshgrid(np.arange(40, 230, 6), np.arange(40, 230, 6))
        return np.dstack([red, green, (red + green) // 2]).astype(np.uint8)

    def display_p3(self):
        """Littlecms' sRGB with the colorants of Display P3 (D50, ICC registry)."""
        profile = bytearray(
            ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        )
        colorants = {
            b"rXYZ": (0.51512, 0.24120, -0.00105),
            b"gXYZ": (0.29198, 0.69225, 0.04189),
            b"bXYZ": (0.15710, 0.06657, 0.78407),
        }
        for tag, xyz in colorants.items():
            entry = profile.index(tag)
            (start,) = struct.unpack(">I", profile[entry + 4 : entry + 8])
            fixed = [round(part * 65536) for part in xyz]
            profile[start + 8 : start + 20] = struct.pack(">3i", *fixed)
        return bytes(profile)

    def test_a_wide_gamut_is_brought_to_srgb(self):
        photo = read_photo(file_of(self.chart(), icc_profile=self.display_p3()))
        # Linear Display P3 to linear sRGB (CSS Color 4, sample code, both D65).
        matrix = np.array(
            [
                [1.2249401763, -0.2249401763, 0.0],
                [-0.0420569547, 1.0420569547, 0.0],
                [-0.0196375546, -0.0786360456, 1.0982736002],
            ]
        )
        coded = self.chart() / 255
        light = np.where(
            coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4
        )
        light = np.clip(light @ matrix.T, 0, 1)
        back = np.where(
            light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
        )
        off = np.abs(photo.pixels - 255 * back)
        inside = (light > 0.01).all(axis=2)
        assert inside.mean() > 0.7
        assert off[inside].max() < 2.5
        assert np.abs(self.chart() - 255 * back).max() > 15

    def test_greys_stay_grey_in_a_wide_gamut(self):
        photo = read_photo(file_of(dotted(), "JPEG", icc_profile=self.display_p3()))
        same_picture(photo, dotted(), most=2)

    def test_a_cut_out_with_a_profile_keeps_both(self):
        picture = np.dstack([dotted(), np.full((HEIGHT, WIDTH), 255, np.uint8)])
        picture[:50, :, 3] = 0
        photo = read_photo(file_of(picture, icc_profile=self.display_p3()))
        same_picture(photo, dotted(), most=1)
        assert not photo.opaque[:50].any()

    def test_an_srgb_profile_changes_nothing(self):
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        photo = read_photo(file_of(self.chart(), icc_profile=profile))
        assert np.abs(photo.pixels.astype(int) - self.chart()).max() <= 1

    def test_a_profile_that_cannot_be_read_is_passed_over(self):
        photo = read_photo(file_of(self.chart(), icc_profile=b"not a profile" * 20))
        same_picture(photo, self.chart())

    def test_a_profile_of_another_kind_is_passed_over(self):
        lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
        grey = Image.fromarray(dotted()[..., 0])
        photo = read_photo(file_of(grey, icc_profile=lab))
        same_picture(photo, dotted())


class TestTime:
    def taken(self, **tags):
        return read_photo(file_of(dotted(), "JPEG", exif=exif_of(**tags))).taken_at

    def test_wall_time_without_a_zone(self):
        # The hour that daylight saving skipped in Europe is kept as the camera said.
        taken = self.taken(taken="2026:03:29 02:30:00")
        assert taken == datetime(2026, 3, 29, 2, 30)  # noqa: DTZ001
        assert taken.tzinfo is None

    @pytest.mark.parametrize(
        ("zone", "hours"), [("+02:00", 2), ("-09:30", -9.5), ("Z", 0), ("+00:00", 0)]
    )
    def test_a_stated_zone_is_kept(self, zone, hours):
        taken = self.taken(taken="2026:03:29 01:30:00", zone=zone)
        expected = timezone(timedelta(hours=hours))
        assert taken == datetime(2026, 3, 29, 1, 30, tzinfo=expected)
        assert taken.utcoffset() == timedelta(hours=hours)

    @pytest.mark.parametrize("zone", ["", "   :  ", "+99:00", "CEST", "+2"])
    def test_a_zone_that_is_none_is_left_out(self, zone):
        taken = self.taken(taken="2026:03:29 01:30:00", zone=zone)
        assert taken == datetime(2026, 3, 29, 1, 30)  # noqa: DTZ001

    @pytest.mark.parametrize(
        "text",
        [
            "0000:00:00 00:00:00",
            "    :  :     :  :  ",
            "yesterday",
            "2026:02:30 10:00:00",
            "0001:01:01 00:00:00",
            "9999:12:31 23:59:59",
        ],
    )
    def test_an_unset_clock_gives_no_time(self, text):
        assert self.taken(taken=text) is None

    def test_missing_stays_missing(self):
        assert self.taken(orientation=1) is None

    def test_heic_tells_its_time_too(self):
        exif = exif_of(taken="2026:03:29 01:30:00", zone="+02:00")
        taken = read_photo(file_of(dotted(), "HEIF", exif=exif)).taken_at
        assert taken.isoformat() == "2026-03-29T01:30:00+02:00"


class TestNames:
    def test_umlauts_of_both_kinds_are_one_name_and_one_photo(self):
        data = file_of(dotted())
        composed, taken_apart = (
            read_photo(data, unicodedata.normalize(form, "Pflanzkübel.jpg"))
            for form in ("NFC", "NFD")
        )
        assert composed.name == taken_apart.name == "Pflanzk\u00fcbel.jpg"
        assert composed.sha256 == taken_apart.sha256

    @pytest.mark.parametrize(
        "name",
        [
            "bänk 椅子 🪴.jpg",
            "x" * 240,
            "CON.jpg",
            "a. ",
            "../../x.jpg",
            "/etc/x.jpg",
            ".",
        ],
    )
    def test_odd_names_are_only_text(self, name):
        photo = read_photo(file_of(dotted()), name)
        assert photo.name == unicodedata.normalize("NFC", name)
        same_picture(photo, dotted())


class TestLuminance:
    # IEC 61966-2-1: code 128 is 0.21586 of full light; Rec. 709 weights.
    @pytest.mark.parametrize(
        ("colour", "light"),
        [
            ((0, 0, 0), 0.0),
            ((255, 255, 255), 1.0),
            ((128, 128, 128), 0.21586),
            ((255, 0, 0), 0.2126),
            ((0, 255, 0), 0.7152),
            ((0, 0, 255), 0.0722),
            ((10, 10, 10), 10 / 255 / 12.92),
        ],
    )
    def test_published_values(self, colour, light):
        pixels = np.full((3, 3, 3), colour, np.uint8)
        assert luminance(pixels) == pytest.approx(np.full((3, 3), light), abs=1e-5)

    def test_bands_of_rows_join_without_a_seam(self):
        rng = np.random.default_rng(5)
        pixels = rng.integers(0, 256, (1100, 7, 3), dtype=np.uint8)
        singly = np.vstack([luminance(pixels[row : row + 1]) for row in range(1100)])
        assert np.array_equal(luminance(pixels), singly)
