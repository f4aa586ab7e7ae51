"""How the page is laid out: one picture, and steps of which a phone shows one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from ui import cache, state
from ui.measure import words
from ui.state import is_answer
from ui.widgets.fields import segments
from ui.widgets.hands import begin_at_top
from ui.widgets.picture import picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.delta_generator import DeltaGenerator

    from analysis.model.photo import Photo
    from analysis.model.points import Points

FACE, SCALE, RESULT, SAVE = "face", "scale", "result", "save"
_STEP, _GO = "measure step", "measure go to"
PHOTO_STYLE = """
<style>
.st-key-ask-photo [data-testid="stFileUploaderDropzone"] {
  display: block; padding: 0; border: 0; background: none;
}
.st-key-ask-photo .stFileUploader button:not([aria-label^="Remove"]) {
  width: 100%; min-height: 4.5rem; font-size: 1.2rem; color: inherit;
  border: 1px solid color-mix(in srgb, currentColor 25%, transparent);
}
.st-key-ask-photo .stFileUploader button:not([aria-label^="Remove"]) > * {
  position: absolute; width: 1px; height: 1px; overflow: hidden;
  clip-path: inset(50%);
}
.st-key-choose-photo .stFileUploader button:not([aria-label^="Remove"])::after {
  content: "Choose photo";
}
.st-key-take-photo .stFileUploader button:not([aria-label^="Remove"])::after {
  content: "Take photo";
}
.st-key-ask-photo [data-testid="stFileUploaderDropzoneInstructions"] { display: none; }
@media (pointer: coarse) {
  .st-key-ask-photo { flex-direction: column-reverse; }
}
@media (pointer: fine) {
  .st-key-ask-photo [data-testid="stLayoutWrapper"]:has(> .st-key-take-photo) {
    display: none;
  }
}
</style>
"""
_STYLE = """
<style>
[data-testid="stLayoutWrapper"]:has(> .st-key-measure-bar) {
  position: sticky; bottom: 0; z-index: 90;
}
.st-key-measure-bar {
  background: #f6f5f2; background: light-dark(#f6f5f2, #1d1f20);
  border-top: 1px solid color-mix(in srgb, currentColor 25%%, transparent);
  padding: 0.6rem 0 0.8rem; gap: 0.4rem;
}
.st-key-measure-bar button { min-height: 3.4rem; }
@media (min-width: 641px) {
  [data-testid="stLayoutWrapper"]:has(> .st-key-measure-picture) {
    position: sticky; top: 4.5rem;
  }
}
@media (max-width: 640px) {
  [data-testid="stLayoutWrapper"]:has(> .st-key-measure-bar) {
    position: fixed; left: 0; right: 0;
  }
  .st-key-measure-bar { padding: 0.5rem 1rem 0.7rem; }
  [data-testid="stMain"] { scroll-padding-bottom: 12rem; }
  .stMainBlockContainer { padding-top: 3.6rem; padding-bottom: 12rem; }
  .stMainBlockContainer > [data-testid="stVerticalBlock"] { gap: 0.6rem; }
  [data-testid="stLayoutWrapper"]:has(> .st-key-measure-title),
  .st-key-measure-steps h2 { display: none; }
  .st-key-measure-desk [data-testid="stColumn"] { min-width: 100%%; }
  %(hidden)s { display: none; }
  .st-key-measure-desk [data-testid="stHorizontalBlock"]:has(.st-key-measure-picture) {
    flex-direction: %(flow)s; gap: 0.6rem;
  }
}
</style>
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Canvas:
    """Where the photo is shown, once, and the step that it is shown for now."""

    place: DeltaGenerator
    step: str

    def shows(self, step: str) -> bool:
        """Tell whether the picture is this step's now."""
        return self.step == step

    def rest(self, photo: Photo, lines: Sequence[Points], label: str) -> None:
        """Show the photo where the step itself marks nothing and has no figure yet."""
        if self.step in {FACE, SCALE} or not state.has_readings():
            self.look(photo, lines, label)

    def look(self, photo: Photo, lines: Sequence[Points], label: str) -> None:
        """Show the photo with outlines on it; nothing is marked."""
        with self.place:
            picture(
                cache.photo_jpeg(photo.key, photo),
                width_px=photo.width_px,
                height_px=photo.height_px,
                key=f"looked at {photo.key[:12]}",
                label=label,
                mode="view",
                lines=lines,
                version=photo.key,
            )


def ask_step(has_reading: bool) -> str:
    """Show the steps in one row and return the one that is looked at."""
    st.session_state.setdefault(is_answer(_STEP), FACE)
    if _GO in st.session_state:
        st.session_state[_STEP] = st.session_state.pop(_GO)
    offered = [FACE, SCALE, *((RESULT, SAVE) if has_reading else ())]
    if st.session_state[_STEP] not in offered:
        st.session_state[_STEP] = SCALE
    with st.container(key="measure tabs"):
        return segments(
            words.STEP, {one: words.STEPS[one] for one in offered}, _STEP, hidden=True
        )


def go_to(step: str) -> None:
    """Look at a step from the next run on."""
    st.session_state[_GO] = step


def lay_out(step: str) -> None:
    """Show this step alone on a phone; the result comes before its picture."""
    hidden = [f".st-key-step-{one}" for one in words.STEPS if one != step]
    hidden += [".st-key-measure-foot"] if step in {RESULT, SAVE} else []
    hidden += [".st-key-measure-more"] if step != RESULT else []
    # Names need the room that the picture takes.
    hidden += [".st-key-measure-picture"] if step == SAVE else []
    flow = "column-reverse" if step == RESULT else "column"
    st.html(_STYLE % {"hidden": ", ".join(hidden), "flow": flow})
    begin_at_top(step)
