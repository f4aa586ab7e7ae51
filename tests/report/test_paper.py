from __future__ import annotations

import io

import pytest
from PIL import Image

from analysis.errors import InputError
from analysis.report.paper import (
    PAGES_MM,
    big,
    facts,
    finished,
    heading,
    lines,
    new_paper,
    table,
)
from analysis.report.paper_pictures import picture, scale_bar
from analysis.report.typeface import printable
from tests.support.pages import (
    margins_are_clear,
    page_sizes_mm,
    rendered,
    run_on,
    words_of,
)

HOSTILE = (
    "=HYPERLINK(1)",
    "<b>bold</b> & **stars** __under__ {nb}",
    "[link](http://example.invalid)",
    "\u202eevil\u202c \u0416\u0443\u043a \u00e5\u00e9\u00f1\u0142\u0151",
    "{title} %s \\n $x$ `code` --strike--",
)


@pytest.mark.parametrize("page", PAGES_MM)
def test_a_page_has_its_size_and_is_numbered(page):
    paper = new_paper("Piece 7", page=page)
    lines(paper, ["word"] * 150)
    pdf = finished(paper)
    assert page_sizes_mm(pdf) == [pytest.approx(PAGES_MM[page], abs=0.2)] * 3
    assert "1 / 3" in words_of(pdf)
    assert "3 / 3" in words_of(pdf)
    assert margins_are_clear(rendered(pdf))


def test_an_unknown_page_is_refused():
    with pytest.raises(InputError, match="Page must be one of A4, Letter"):
        new_paper("Piece 7", page="A3")


@pytest.mark.parametrize("text", HOSTILE)
def test_text_is_printed_as_written(text):
    paper = new_paper(text)
    lines(paper, [text], bullet="-")
    facts(paper, [("Name", text), ("Left out", "")])
    table(paper, ("A", text), [(text, "1")], widths=(1, 1), align=("L", "R"))
    found = run_on(finished(paper))
    assert found.count("".join(printable(text).split())) >= 5
    assert "Leftout" not in found


def test_text_from_right_to_left_is_ordered_and_found():
    word = "\u05e9\u05dc\u05d5\u05dd"
    paper = new_paper(f"Pot {word}")
    lines(paper, [f"Pot {word} 12"])
    assert word in words_of(finished(paper))


def test_a_sign_the_font_lacks_shows_its_code():
    assert printable("\U0001f9f1 \u00b7 \x07\u200f") == "[U+1F9F1] \u00b7 "


def test_an_endless_text_goes_on_over_the_pages():
    text = "".join(f"{n:05d}" for n in range(2000))
    paper = new_paper("Long")
    lines(paper, [text])
    table(paper, ("Text", "N"), [(text, "1")], widths=(1, 3))
    pdf = finished(paper)
    assert run_on(pdf).replace("Long", "").count("01999") == 2
    assert margins_are_clear(rendered(pdf))


def test_the_header_of_a_table_comes_again_on_each_page():
    paper = new_paper("Table")
    table(
        paper, ("Piece", "Share"), [(str(n), "0.4") for n in range(120)], widths=(1, 1)
    )
    pdf = finished(paper)
    assert words_of(pdf).count("Share") == len(page_sizes_mm(pdf)) >= 3


def test_a_heading_does_not_stand_alone_at_the_foot():
    paper = new_paper("Sheet")
    while not paper.will_page_break(15):
        lines(paper, ["word"])
    heading(paper, "Judged by")
    assert paper.page_no() == 2


def test_a_picture_keeps_its_shape_and_gets_a_scale_bar():
    file = io.BytesIO()
    Image.new("RGB", (400, 200), (0, 0, 0)).save(file, "PNG")
    paper = new_paper("Piece 7")
    big(paper, "0.42 % void area")
    place = picture(paper, file.getvalue(), width_mm=80.0, at_mm=10.0, alt="face")
    assert place[2:] == (80.0, 40.0)
    scale_bar(paper, place, mm_across=400.0)
    scale_bar(paper, place, mm_across=400.0, unit="inch")
    text = words_of(finished(paper))
    assert "100 mm" in text
    assert "5 in" in text


def test_a_picture_that_does_not_fit_goes_on_the_next_page():
    file = io.BytesIO()
    Image.new("RGB", (200, 400)).save(file, "PNG")
    paper = new_paper("Piece 7")
    lines(paper, ["word"] * 40)
    _, top, _, height = picture(paper, file.getvalue())
    assert paper.page_no() == 2
    assert top + height < PAGES_MM["A4"][1] - 15
