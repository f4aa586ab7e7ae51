"""Components of our own are made of the files beside their module."""

import pytest
import streamlit as st

from ui.widgets.component import component_beside


@pytest.fixture
def registered(monkeypatch):
    told = []
    monkeypatch.setattr(
        st.components.v2,
        "component",
        lambda name, **parts: told.append((name, parts)) or "shown",
    )
    return told


def test_page_look_and_script_lie_beside_the_module(tmp_path, registered):
    for suffix in ("html", "css", "js"):
        (tmp_path / f"dial.{suffix}").write_text(f"the {suffix} ü", encoding="utf-8")

    assert component_beside(str(tmp_path / "dial.py")) == "shown"

    parts = {suffix: f"the {suffix} ü" for suffix in ("html", "css", "js")}
    assert registered == [("struckface.dial", parts)]


def test_one_that_shows_next_to_nothing_is_a_script_alone(tmp_path, registered):
    (tmp_path / "ear.js").write_text("listen", encoding="utf-8")

    component_beside(str(tmp_path / "ear.py"), html="<i></i>")

    assert registered == [("struckface.ear", {"html": "<i></i>", "js": "listen"})]


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(FileNotFoundError, match=r"dial\.js"):
        component_beside(str(tmp_path / "dial.py"))
