import json
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from analysis.cli import commands, measure
from analysis.flags import LIGHT_FLAGS, Flag
from analysis.model.gauge import UsualSpread
from analysis.model.reading import KINDS
from analysis.model.workshop import Form, PhotoRecipe
from analysis.services.set_up import keep_recipe
from analysis.storage.records import load
from analysis.storage.store import open_log
from analysis.storage.usual import keep_usual
from tests.support.cast_pieces import filled
from tests.support.drawn_faces import HEIGHT, MM_PER_PX, WIDTH, drawn
from tests.support.pictures import file_of

KEYS = [
    "photo_sha256", "width_px", "height_px", "mm_per_px", "face_area_mm2",
    "void_area_mm2", "void_area_percent", "void_area_percent_low",
    "void_area_percent_high", "sampled_percent_low", "sampled_percent_high",
    "usual_percent_low", "usual_percent_high",
    "void_count", "voids_per_m2", "largest_void_mm", "smallest_counted_mm",
    "joint_band_percent", "joint_band_percent_low", "joint_band_percent_high",
    "open_face_percent", "open_face_percent_low", "open_face_percent_high",
    "joint_length_mm", "sand_length_mm", "fin_length_mm", "arris_loss_mm2_per_m",
    "honeycomb_percent", "honeycomb_percent_low", "honeycomb_percent_high",
    "light_flags", "flags", "method_version", "voids",
]  # fmt: skip
VOID_KEYS = [
    "row_px", "col_px", "row_mm", "col_mm", "area_mm2", "equivalent_diameter_mm",
    "feret_max_mm", "kind", "flags",
]  # fmt: skip
# Without a log there is no shop whose usual spread is known.
NULL_WITHOUT_LOG = {"usual_percent_low", "usual_percent_high"}
NULL_WITHOUT_SCALE = NULL_WITHOUT_LOG | {
    "mm_per_px", "face_area_mm2", "void_area_mm2", "voids_per_m2", "largest_void_mm",
    "smallest_counted_mm",
}  # fmt: skip
NULL_WITHOUT_JOINT = NULL_WITHOUT_LOG | {
    "joint_band_percent", "joint_band_percent_low", "joint_band_percent_high",
    "open_face_percent", "open_face_percent_low", "open_face_percent_high",
    "joint_length_mm", "sand_length_mm", "fin_length_mm", "arris_loss_mm2_per_m",
}  # fmt: skip
NULL_WITHOUT_SCALE |= NULL_WITHOUT_JOINT
SCALE = ["--mm-per-px", str(MM_PER_PX)]


class TestAnswer:
    def test_every_key_and_no_other(self, answer, face):
        found = answer(face, *SCALE)
        assert list(found) == KEYS
        assert found["voids"]
        assert all(list(void) == VOID_KEYS for void in found["voids"])

    def test_all_known_with_scale_and_joint(self, answer, face):
        found = answer(face, *SCALE, "--joint=200,0 200,300")
        assert {key for key, value in found.items() if value is None} == (
            NULL_WITHOUT_LOG
        )
        assert all(None not in void.values() for void in found["voids"])

    def test_null_is_what_is_not_known(self, answer, face):
        nulls = {key for key, value in answer(face, *SCALE).items() if value is None}
        assert nulls == NULL_WITHOUT_JOINT
        unscaled = answer(face, "--joint=200,0 200,300")
        nulls = {key for key, value in unscaled.items() if value is None}
        assert nulls == NULL_WITHOUT_SCALE
        for void in unscaled["voids"]:
            in_mm = {key for key in void if "mm" in key}
            assert {key for key, value in void.items() if value is None} == in_mm

    def test_kinds_of_values(self, answer, face):
        found = answer(face, *SCALE, "--joint=200,0 200,300")
        counts = {"width_px", "height_px", "void_count"}
        texts = {"photo_sha256", "method_version"}
        lists = {"light_flags", "flags", "voids"}
        for key, value in found.items():
            if key in texts:
                assert isinstance(value, str)
            elif key in lists:
                assert isinstance(value, list)
            elif key in counts:
                assert isinstance(value, int)
            elif key not in NULL_WITHOUT_LOG:
                assert isinstance(value, float)
                assert math.isfinite(value)
        assert (found["width_px"], found["height_px"]) == (WIDTH, HEIGHT)

    def test_figures_agree(self, answer, face):
        found = answer(face, *SCALE)
        voids = found["voids"]
        assert found["face_area_mm2"] == pytest.approx(HEIGHT * WIDTH * MM_PER_PX**2)
        assert found["void_area_percent"] == pytest.approx(
            100 * found["void_area_mm2"] / found["face_area_mm2"]
        )
        assert sum(void["area_mm2"] for void in voids) == pytest.approx(
            found["void_area_mm2"]
        )
        assert found["void_count"] == len(voids)
        assert (
            0
            <= found["sampled_percent_low"]
            <= found["void_area_percent_low"]
            < found["void_area_percent"]
            < found["void_area_percent_high"]
            <= found["sampled_percent_high"]
            <= 100
        )
        assert found["largest_void_mm"] == voids[0]["equivalent_diameter_mm"]
        areas = [void["area_mm2"] for void in voids]
        assert areas == sorted(areas, reverse=True)
        for void in voids:
            assert void["row_mm"] == pytest.approx(void["row_px"] * MM_PER_PX)
            assert void["equivalent_diameter_mm"] == pytest.approx(
                math.sqrt(4 * void["area_mm2"] / math.pi)
            )
            assert void["equivalent_diameter_mm"] >= found["smallest_counted_mm"]
            assert void["kind"] in KINDS
            assert set(void["flags"]) <= set(Flag)
        assert set(found["light_flags"]) <= LIGHT_FLAGS
        assert set(found["flags"]) <= set(Flag) - LIGHT_FLAGS

    def test_kinds_by_size(self, answer, face):
        for void in answer(face, *SCALE)["voids"]:
            size = void["equivalent_diameter_mm"]
            assert void["kind"] == ("pinhole" if size < 2 else "bughole")
        sizes = {
            void["equivalent_diameter_mm"]: void["kind"]
            for void in answer(face, "--mm-per-px", 1)["voids"]
        }
        assert {kind for size, kind in sizes.items() if size >= 15} <= {
            "large_void",
            "honeycomb",
        }

    def test_nothing_found(self, answer, flat):
        found = answer(flat, *SCALE)
        assert (found["void_area_percent"], found["void_area_percent_low"]) == (0, 0)
        assert found["void_area_percent_high"] > 0
        assert (found["void_count"], found["voids"]) == (0, [])
        assert "nothing_found" in found["flags"]
        assert found["honeycomb_percent"] == 0

    def test_twice_the_same(self, run, face):
        assert run(face, *SCALE, "--json", "-") == run(face, *SCALE, "--json", "-")


class TestMarks:
    def test_outline_is_x_y(self, answer, face):
        found = answer(
            face, *SCALE, "--outline=-0.5,-0.5 199.5,-0.5 199.5,99.5 -0.5,99.5"
        )
        assert found["face_area_mm2"] == pytest.approx(200 * 100 * MM_PER_PX**2)
        assert all(void["col_px"] < 200 for void in found["voids"])
        assert all(void["row_px"] < 100 for void in found["voids"])
        assert "whole_photo" not in found["flags"]

    def test_corners_outside_the_photo_are_cut_off(self, answer, face):
        found = answer(face, *SCALE, "--outline=-50,-50 9999,-50 9999,9999 -50,9999")
        assert found["face_area_mm2"] == pytest.approx(HEIGHT * WIDTH * MM_PER_PX**2)

    def test_several_areas_are_left_out(self, answer, face):
        areas = ["--leave-out=-1,-1 49.5,-1 49.5,301 -1,301"]
        areas += ["--leave-out=349.5,-1 401,-1 401,301 349.5,301"]
        found = answer(face, *SCALE, *areas)
        assert found["face_area_mm2"] == pytest.approx(HEIGHT * 300 * MM_PER_PX**2)

    def test_joint_band_is_fifteen_mm_unless_told(self, answer, face):
        joint = "--joint=200,-9 200,400"
        default = answer(face, *SCALE, joint)
        told = answer(face, *SCALE, joint, "--joint-band-mm", "15")
        other = answer(face, *SCALE, joint, "--joint-band-mm", "4")
        assert default == told
        assert default["joint_band_percent"] != other["joint_band_percent"]

    def test_smallest_size(self, answer, face):
        few = answer(face, *SCALE, "--smallest-mm", "2.5")
        many = answer(face, *SCALE)
        assert few["smallest_counted_mm"] == 2.5
        assert many["smallest_counted_mm"] == pytest.approx(4 * MM_PER_PX)
        expected = [v for v in many["voids"] if v["equivalent_diameter_mm"] >= 2.5]
        assert few["void_count"] == len(expected) < many["void_count"]


class TestFiles:
    def test_json_into_a_file_leaves_stdout_empty(self, run, face, tmp_path):
        target = tmp_path / "found.json"
        assert run(face, *SCALE, "--json", target) == (0, "", "")
        assert list(json.loads(target.read_text("utf-8"))) == KEYS

    def test_the_mask_is_of_the_photo_s_size_and_marks_the_voids(
        self, answer, face, tmp_path
    ):
        target = tmp_path / "mask.png"
        found = answer(face, *SCALE, "--mask", target)
        with Image.open(target) as picture:
            assert (picture.format, picture.mode) == ("PNG", "L")
            mask = np.asarray(picture)
        assert mask.shape == (HEIGHT, WIDTH)
        assert set(np.unique(mask)) == {0, 255}
        assert 100 * (mask == 255).mean() == pytest.approx(
            found["void_area_percent"], rel=0.02
        )
        count, _ = cv2.connectedComponents(mask, connectivity=8)
        assert count - 1 == pytest.approx(found["void_count"], abs=1)

    def test_the_mask_of_a_turned_photo_is_upright(self, run, tmp_path):
        exif = Image.Exif()
        exif[0x0112] = 6
        pixels = np.ascontiguousarray(np.rot90(np.array(drawn().pixels)))
        photo, mask = tmp_path / "a.png", tmp_path / "mask.png"
        photo.write_bytes(file_of(pixels, exif=exif.tobytes()))
        assert run(photo, *SCALE, "--mask", mask)[0] == 0
        with Image.open(mask) as picture:
            assert picture.size == (WIDTH, HEIGHT)

    @pytest.mark.parametrize(
        ("name", "kind"), [("o.png", "PNG"), ("o.JPG", "JPEG"), ("o", "PNG")]
    )
    def test_the_overlay(self, run, face, tmp_path, name, kind):
        target = tmp_path / name
        code, out, _ = run(face, *SCALE, "--overlay", target)
        assert (code, "void area" in out) == (0, True)
        with Image.open(target) as picture:
            assert (picture.format, picture.size) == (kind, (WIDTH, HEIGHT))
            off = np.abs(np.asarray(picture).astype(int) - np.array(drawn().pixels))
        assert 0.01 < (off.max(axis=2) > 40).mean() < 0.3

    def test_the_photo_stays_as_it_was(self, run, face, tmp_path):
        before = Path(face).read_bytes()
        run(face, "--mask", tmp_path / "m.png", "--overlay", tmp_path / "o.png")
        assert Path(face).read_bytes() == before

    @pytest.mark.parametrize("option", ["--json", "--mask", "--overlay"])
    def test_targets_that_cannot_be_written_stop_it_before_the_work(
        self, refused, face, tmp_path, option, monkeypatch
    ):
        monkeypatch.setattr(measure, "measure", pytest.fail)
        for target in (tmp_path, tmp_path / "none" / "a"):
            assert "cannot be written" in refused(face, option, target)
        for target in ("", "\0"):
            assert "is no file name: name a file" in refused(face, option, target)
        assert "is named twice" in refused(face, option, face)
        assert not list(tmp_path.iterdir())

    def test_one_file_for_two_answers(self, refused, face, tmp_path):
        target = tmp_path / "a.png"
        same = tmp_path / "." / "a.png"
        assert "named twice" in refused(face, "--mask", target, "--overlay", same)
        assert not target.exists()


class TestSentence:
    def test_one_plain_line(self, run, face, answer):
        found = answer(face, *SCALE)
        code, out, err = run(face, *SCALE)
        assert (code, err) == (0, "")
        assert out == (
            f"{found['void_area_percent']:.2f} % void area "
            f"(95 %: {found['void_area_percent_low']:.2f} to "
            f"{found['void_area_percent_high']:.2f} %), "
            f"{found['void_count']} voids of 0.6 mm or more\n"
        )

    def test_without_a_scale_in_px(self, run, face):
        assert run(face)[1].endswith(" voids of 2.3 px or more\n")

    def test_nothing_found(self, run, flat):
        # 3.689 voids of 0.6 mm on 60 x 80 px of 0.15 mm, rounded up.
        high = 3.689 * math.pi / 4 * 0.6**2 / (60 * 80 * 0.15**2)
        most = math.ceil(1e4 * high) / 100
        assert run(flat, *SCALE)[1] == (
            f"no void of 0.6 mm or more found; at most {most:.2f} % could hide "
            "below that\n"
        )

    @pytest.mark.parametrize(
        ("pixels", "said"),
        [
            (np.full((400, 400, 3), 4, np.uint8), "very dark"),
            (
                np.full((400, 400, 3), 255, np.uint8)
                - (np.arange(400) < 100)[:, None, None].astype(np.uint8) * 100,
                "pure white",
            ),
            (
                np.random.default_rng(3).integers(0, 255, (400, 400, 3), np.uint8),
                "grainy",
            ),
        ],
        ids=["black", "white", "noise"],
    )
    def test_doubts_stand_below_the_figure(self, run, tmp_path, pixels, said):
        photo = tmp_path / "photo.png"
        photo.write_bytes(file_of(pixels))
        code, out, err = run(photo, *SCALE)
        assert (code, err) == (0, "")
        assert said in "".join(out.splitlines(keepends=True)[1:])

    @pytest.mark.parametrize(
        ("value", "said"), [(0, "pure black"), (2, "pure black"), (255, "pure white")]
    )
    def test_what_shows_no_face_reads_no_0(self, run, tmp_path, value, said):
        # A covered lens, or a flash too near: nothing found would be the best piece.
        pixels = np.full((400, 400, 3), value, np.uint8)
        pixels[:30] = 120
        photo = tmp_path / "photo.png"
        photo.write_bytes(file_of(pixels))
        code, out, err = run(photo, *SCALE)
        assert (code, out) == (2, "")
        assert err.startswith(f"The face is {said} nearly all over, so that no void ")
        assert run(photo, *SCALE, "--outline", "0,0 400,0 400,29 0,29")[0] == 0


class TestUsualSetUp:
    def test_the_interval_of_a_log_s_set_up(self, answer, face, tmp_path):
        log = open_log(tmp_path / "log")
        version = answer(face, *SCALE)["method_version"]
        spread = UsualSpread(
            set_up="bench", spread=0.06, degrees=14, basis="study",
            method_version=version,
        )  # fmt: skip
        keep_usual(log, spread, save_token="u")
        of_shop = ["--log", str(tmp_path / "log"), "--set-up", "Bench "]
        found = answer(face, *SCALE, *of_shop)
        assert (
            found["usual_percent_low"]
            < found["void_area_percent"]
            < found["usual_percent_high"]
        )
        other = answer(face, *SCALE, *of_shop[:3], "yard")
        assert other["usual_percent_low"] is None

    def test_a_log_without_a_set_up_is_refused(self, face, tmp_path, capsys):
        assert commands.main(["measure", str(face), "--log", str(tmp_path)]) == 2
        assert "--log and --set-up or --form belong together" in capsys.readouterr().err


class TestSetUpOfAForm:
    @pytest.fixture
    def of_form(self, tmp_path):
        log = open_log(tmp_path / "log")
        form, _ = filled(log, 1)
        recipe = PhotoRecipe(
            form_id=form, face_name="front", brightness_share=0.9, shown_width_mm=5000.0
        )
        keep_recipe(log, recipe, save_token="kept")
        name = load(log, Form, form).name
        return ["--log", str(tmp_path / "log"), "--form", name]

    def test_what_differs_is_told_in_words_and_in_json(
        self, run, answer, face, of_form
    ):
        words = [*SCALE, *of_form, "--form-face", "front"]
        said = run(face, *words)[1].splitlines()
        assert said[1].startswith("Not the set-up kept with the form: from nearer (")
        found = answer(face, *words)
        assert found["set_up_held_against"] == "kept"
        assert [line.split(" (")[0] for line in found["set_up_differs"]] == [
            "from nearer", "darker",
        ]  # fmt: skip

    def test_nothing_kept_is_nothing_told(self, run, answer, face, of_form):
        assert "set-up" not in run(face, *SCALE, *of_form)[1]
        assert "set_up_differs" not in answer(face, *SCALE, *of_form)

    def test_a_face_of_no_form_is_refused(self, run, face):
        code, _, err = run(face, "--form-face", "front")
        assert code == 2
        assert "--form-face 'front' is a face of a form: give --form too" in err
