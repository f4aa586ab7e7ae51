"""Words of the screens: figures with their intervals, users' text as written."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analysis.flags import Flag
from analysis.model.photo import Scale
from analysis.model.reading import JointMarks, Share, Summary
from analysis.model.writing import percent
from ui import reading_words, words


def summary(*, value=0.0091, low=0.008, high=0.0105, count=12, smallest=0.5):
    return Summary(
        face_area_px=1e6,
        face_area_mm2=1e4,
        void_area_px=9100.0,
        void_area_mm2=91.0,
        void_share=Share(value=value, low=low, high=high),
        sampled_share=Share(value=value, low=low / 2, high=high * 2),
        void_count=count,
        voids_per_m2=1200.0,
        largest_void_mm=4.0,
        smallest_counted_mm=smallest,
        smallest_counted_px=4.0,
        joint_band_share=None,
        open_face_share=None,
        honeycomb_share=0.0,
    )


@pytest.mark.parametrize(("unsure", "said"), [(0.008, "2"), (0.1, "20"), (0.5, "100")])
def test_a_scale_is_unsure_in_plain_figures(unsure, said):
    scale = Scale(mm_per_px=0.2874, relative_uncertainty=unsure, method="typed")
    assert reading_words.scale_line(scale) == (
        f"0.2874 mm per px, give or take {said} %."
    )


def test_result_in_words():
    assert reading_words.headline(summary()) == "0.91 % void area"
    assert (
        reading_words.how_sure(summary())
        == "95 % sure between 0.80 and 1.05 %; counted from 0.5 mm."
    )
    assert "between 0.40 and 2.10 %" in reading_words.how_sure_of_all(summary())


def test_joints_and_honeycomb_in_words():
    marks = JointMarks(
        length_mm=400.0,
        sand_length_mm=120.0,
        fin_length_mm=0.0,
        arris_loss_mm2_per_m=85.0,
    )
    said = reading_words.areas(
        replace(
            summary(),
            joint_band_share=0.031,
            joint_band_ends=(0.02, 0.045),
            open_face_share=0.01,
            open_face_ends=(0.008, 0.013),
            honeycomb_share=0.05,
            honeycomb_ends=(0.03, 0.07),
            joint_marks=marks,
        )
    )
    assert "Near joints 3.10 % (2.00 to 4.50 %)" in said
    assert "away from them 1.00 % (0.80 to 1.30 %)." in said
    assert "Bare sand on 120 of 400 mm of joint." in said
    assert "fin" not in said
    assert "Broken off along joints: 85 mm² per m." in said
    assert "Honeycomb covers 5.00 % of the face (3.00 to 7.00 %)." in said


def test_an_end_that_shows_no_digit_is_not_said():
    wide = Share(value=0.002, low=0.00003, high=0.0105)
    said = reading_words.how_sure_of_all(replace(summary(), sampled_share=wide))

    assert said.startswith("The rest of what you cast this way: below 1.05 %, as")


def test_nothing_found_in_words():
    nothing = summary(value=0.0, low=0.0, high=0.00002, count=0)

    assert reading_words.headline(nothing) == "No voids of 0.5 mm or more"
    assert "less than 0.01 %" in reading_words.how_sure(nothing)
    assert "below 0.01 %" in reading_words.how_sure_of_all(nothing)


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0"),
        (0.00004, "under 0.01"),
        (0.00005, "0.01"),
        (0.0994, "9.94"),
        (0.09996, "10.0"),
        (1.0, "100.0"),
    ],
)
def test_percent_carries_three_digits_at_most(share, text):
    assert percent(share) == text


@pytest.mark.parametrize("flag", list(Flag))
def test_every_doubt_has_a_meaning_and_a_cure(flag):
    (sentence,) = reading_words.doubts([flag])

    assert sentence.count(".") >= 2


@pytest.mark.parametrize("mark", list("!\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~"))
def test_every_mark_is_escaped(mark):
    assert words.literal(f"a{mark}b") == f"a\\{mark}b"


def test_emoji_names_are_parted():
    assert ":smile:" not in words.literal("a :smile: b").replace("\\", "")


def test_lines_do_not_break_out():
    assert words.literal("a\n\n# b") == "a \\# b"


# What GitHub's extension of Markdown makes a link of (its specification, section 6.9).
LINKED = re.compile(
    r"(?:https?|ftp)://\w|www\.\w|[-.\w+]+@[-\w]+\.\w", re.IGNORECASE | re.ASCII
)


@pytest.mark.parametrize(
    "note",
    [
        "see https://rebound.example/x",
        "HTTP://rebound.example",
        "WWW.rebound.example",
        "(www.rebound.example)",
        "a.b+c@rebound.example",
        "mailto:a@rebound.example",
    ],
)
def test_addresses_in_notes_are_no_links(note):
    assert LINKED.search(note)
    shown = re.sub(r"\\(.)", r"\1", words.literal(note))
    assert not LINKED.search(shown)
    assert shown.replace("\u2060", "") == note
