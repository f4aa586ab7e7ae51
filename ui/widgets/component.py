"""A component of our own, from the files beside the module that shows it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any


def component_beside(module: str, *, html: str | None = None) -> Callable[..., Any]:
    """Register the component of a module; no build step stands between.

    Parameters
    ----------
    module : str
        Its ``__file__``: `.js` of the same name is the script, `.html` and `.css` the
        page and its look; the name of the file is the component's.
    html : str, optional
        The page of a component that shows next to nothing, and then has no `.html` and
        no `.css`.

    Returns
    -------
    callable
        Shows it.
    """
    file = Path(module)
    script = _beside(file, ".js")
    name = f"struckface.{file.stem}"
    if html is not None:
        return st.components.v2.component(name, html=html, js=script)
    return st.components.v2.component(
        name, html=_beside(file, ".html"), css=_beside(file, ".css"), js=script
    )


def _beside(file: Path, suffix: str) -> str:
    return file.with_suffix(suffix).read_text(encoding="utf-8")
