import json
import math

import numpy as np
import pytest

from analysis.flags import Flag
from analysis.model.reading import JointMarks, Share
from analysis.report.answers import reading_answer, reading_sentence, void_rows
from tests.support.readings import catalog, reading, summary


class TestAnswer:
    def test_shares_become_percent_and_the_rest_stays(self):
        marks = JointMarks(
            length_mm=400.0,
            sand_length_mm=120.0,
            fin_length_mm=35.0,
            arris_loss_mm2_per_m=80.0,
        )
        made = summary(
            joint_band_share=0.03,
            joint_band_ends=(0.02, 0.04),
            open_face_share=0.01,
            open_face_ends=(0.008, 0.013),
            honeycomb_ends=(0.015, 0.03),
            joint_marks=marks,
        )
        found = reading_answer(reading(summary=made))
        assert found == {
            "photo_sha256": "ab" * 32,
            "width_px": 400,
            "height_px": 300,
            "mm_per_px": 0.2,
            "face_area_mm2": 400.0,
            "void_area_mm2": 3.64,
            "void_area_percent": pytest.approx(0.91),
            "void_area_percent_low": pytest.approx(0.80),
            "void_area_percent_high": pytest.approx(1.05),
            "sampled_percent_low": pytest.approx(0.70),
            "sampled_percent_high": pytest.approx(1.20),
            "usual_percent_low": None,
            "usual_percent_high": None,
            "void_count": 123,
            "voids_per_m2": 307_500.0,
            "largest_void_mm": 2.5,
            "smallest_counted_mm": 0.5,
            "joint_band_percent": pytest.approx(3.0),
            "joint_band_percent_low": pytest.approx(2.0),
            "joint_band_percent_high": pytest.approx(4.0),
            "open_face_percent": pytest.approx(1.0),
            "open_face_percent_low": pytest.approx(0.8),
            "open_face_percent_high": pytest.approx(1.3),
            "joint_length_mm": 400.0,
            "sand_length_mm": 120.0,
            "fin_length_mm": 35.0,
            "arris_loss_mm2_per_m": 80.0,
            "honeycomb_percent": pytest.approx(2.0),
            "honeycomb_percent_low": pytest.approx(1.5),
            "honeycomb_percent_high": pytest.approx(3.0),
            "light_flags": ["too_dark", "uneven_light"],
            "flags": ["blurred", "whole_photo"],
            "method_version": "1",
            "voids": [],
        }

    def test_a_band_without_a_void_is_nought_not_unknown(self):
        made = summary(joint_band_share=0.0, open_face_share=None)
        found = reading_answer(reading(summary=made))
        assert (found["joint_band_percent"], found["open_face_percent"]) == (0.0, None)

    def test_plain_numbers_only(self):
        made = summary(honeycomb_share=np.float64(0.02))
        text = json.dumps(reading_answer(reading(catalog((4, 9)), summary=made)))
        back = json.loads(text, parse_constant=pytest.fail)
        assert back == reading_answer(reading(catalog((4, 9)), summary=made))
        assert type(reading_answer(reading(summary=made))["honeycomb_percent"]) is float


class TestRows:
    def test_largest_first_with_their_own_places(self):
        flags = (frozenset({Flag.SPLIT, Flag.SHALLOW}), frozenset(), frozenset())
        voids = catalog((4.0, 25.0, 9.0), flags=flags)
        rows = void_rows(reading(voids))
        assert [row["row_px"] for row in rows] == [10, 20, 0]
        assert rows[2] == {
            "row_px": 0.0,
            "col_px": 0.0,
            "row_mm": 0.0,
            "col_mm": 0.0,
            "area_mm2": pytest.approx(4 * 0.04),
            "equivalent_diameter_mm": pytest.approx(math.sqrt(16 / math.pi) * 0.2),
            "feret_max_mm": pytest.approx(1.0),
            "kind": "pinhole",
            "flags": ["shallow", "split"],
        }
        assert rows[0]["col_mm"] == pytest.approx(4.0)

    def test_equal_sizes_keep_their_order(self):
        rows = void_rows(reading(catalog((4.0, 4.0, 4.0))))
        assert [row["row_px"] for row in rows] == [0, 10, 20]

    def test_without_a_scale_nothing_is_in_mm(self):
        (row,) = void_rows(reading(catalog((4.0,)), mm_per_px=None))
        assert {key for key, value in row.items() if value is None} == {
            "row_mm", "col_mm", "area_mm2", "equivalent_diameter_mm", "feret_max_mm",
        }  # fmt: skip


class TestSentence:
    def test_share_interval_number_and_size(self):
        assert reading_sentence(reading()) == (
            "0.91 % void area (95 %: 0.80 to 1.05 %), 123 voids of 0.5 mm or more"
        )

    def test_one_void(self):
        said = reading_sentence(reading(summary=summary(void_count=1)))
        assert said.endswith(", 1 void of 0.5 mm or more")

    @pytest.mark.parametrize(
        ("size_mm", "size_px", "says"),
        [(None, 2.2568, "2.3 px"), (0.64, 4.0, "0.64 mm"), (400.0, 4.0, "400 mm")],
    )
    def test_size(self, size_mm, size_px, says):
        made = summary(smallest_counted_mm=size_mm, smallest_counted_px=size_px)
        assert reading_sentence(reading(summary=made)).endswith(f" of {says} or more")

    @pytest.mark.parametrize(
        ("high", "says"), [(0.00012, "0.02"), (0.0012, "0.12"), (1e-9, "0.01")]
    )
    def test_none_found_is_never_rounded_to_nothing(self, high, says):
        none = Share(value=0.0, low=0.0, high=high)
        made = summary(void_count=0, void_share=none)
        assert reading_sentence(reading(summary=made)) == (
            f"no void of 0.5 mm or more found; at most {says} % could hide below that"
        )
