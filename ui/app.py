"""The app: `streamlit run ui/app.py`, or `python3 ui/start.py`."""

import sys
from contextlib import suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import streamlit as st

from ui.batches import words as batches_words
from ui.capture import words as capture_words
from ui.photo_queue import words as queue_words
from ui.compare import words as compare_words
from ui.plan import words as plan_words
from ui.pours import words as pour_words
from ui.records import words as records_words
from ui.second_opinion import words as second_words
from ui.vibration import words as vibration_words
from analysis.errors import StruckfaceError
from analysis.services import turns
from ui import cache, words
from ui.sharing import words as share_words
from ui.home import words as home_words
from ui.home.example_log import offer, show_strip
from ui.sharing.address import shared_at
from ui.sharing.asking import asking
from ui.widgets import presses
from ui.widgets.hands import help_hands

_STYLE = """
<style>
/* What is scrolled to or gets the focus does not stop under the page's header. */
[data-testid="stMain"] { scroll-padding-top: 4.5rem; }
.stMainBlockContainer { max-width: 72rem; padding-top: 4.5rem; }
.stButton button, .stDownloadButton button, .stPageLink a { min-height: 3rem; }
.stPopover button { min-height: 3rem; }
[data-testid="stBaseButton-primary"] {
  color: #f6f5f2; color: light-dark(#f6f5f2, #1d1f20); }
.stButtonGroup button { min-height: 2.9rem; }
[data-testid="stSidebarNavLink"] { min-height: 3rem; }
.stPageLink a { padding: 0 1rem; color: inherit;
  border: 1px solid color-mix(in srgb, currentColor 25%, transparent); }
.st-key-one-record h1 { font-size: 2.25rem; }
[data-testid="stMain"]:has(.st-key-one-record) h2 { font-size: 1.75rem; }
[data-testid="stMain"] .st-key-headline :is(h2, h3) { font-size: 2.4rem;
  line-height: 1.15; padding-bottom: 0.4rem; }
.st-key-library { display: grid; gap: 0.7rem;
  grid-template-columns: repeat(auto-fill, minmax(min(18.5rem, 100%), 1fr)); }
[class*="st-key-card-"] { position: relative; overflow: hidden; }
[class*="st-key-card-"]:hover { border-color: currentColor; }
[class*="st-key-card-"] .stElementContainer { position: static; }
[class*="st-key-card-"] .stElementToolbar { display: none; }
[class*="st-key-card-"] .stButton button { position: static; justify-content: start;
  text-align: left; min-height: 0; padding: 0; }
[class*="st-key-card-"] .stButton p { font-size: 1.05rem; font-weight: 650; }
[class*="st-key-card-"] .stButton button::after { content: ""; position: absolute;
  inset: 0; z-index: 2; }
[class*="st-key-card-"] .stButton button:focus-visible::after {
  outline: 3px solid currentColor; outline-offset: -3px; }
[data-testid="stImage"] img[src$=".svg"] { background: #f6f5f2; border-radius: 0.3rem; }
[data-testid="stImageCaption"] { color: inherit; }
.no-picture { width: 112px; height: 84px; display: grid; place-items: center;
  background: color-mix(in srgb, currentColor 12%, transparent);
  font-size: 0.85rem; }
[data-testid="stMain"] :is([data-baseweb="select"] > div, [data-baseweb="input"],
  .stTextInput input, [data-testid="stTextInputRootElement"],
  .stNumberInput button, .stDateInput input,
  [data-testid="stFileUploaderDropzone"] button) { min-height: 44px; }
.stFileUploader button[aria-label^="Remove"],
[data-testid="stBaseButton-elementToolbar"] { min-width: 44px; min-height: 44px; }
.stTooltipHoverTarget > button, [data-testid="stTooltipHoverTarget"] > button {
  min-width: 44px; min-height: 44px; }
.stApp :is(a, button, summary, input, [role="radio"], [role="tab"]):focus-visible {
  outline: 3px solid currentColor !important; outline-offset: 2px; }
.st-key-hands, .st-key-hands-place {
  position: absolute; left: 0; top: 0; width: 1px; height: 1px; overflow: hidden;
}
[data-testid="stExpandSidebarButton"] { width: auto; padding: 0 0.6rem; }
[data-testid="stExpandSidebarButton"]::after { content: "Menu"; }
/* A phone enlarged to 200 %: nothing is cut off, what stood abreast is stacked. */
@media (max-width: 300px) {
  .stLogo { max-width: 4.2rem; height: auto; }
  [data-testid="stTable"] table { table-layout: fixed; width: 100%; }
  [data-testid="stTable"] :is(td, th) { padding: 0.3rem; font-size: 0.8rem; }
  .stMainBlockContainer { padding-left: 0.6rem; padding-right: 0.6rem; }
  [data-testid="stMain"] [data-testid="stHorizontalBlock"],
  [data-testid="stMain"] .stHorizontalBlock { flex-wrap: wrap; }
  [data-testid="stMain"] :is(p, li, h1, h2, h3, td, th, label, button) {
    overflow-wrap: anywhere; white-space: normal; }
  [data-testid="stMain"] :is(h1) { font-size: 1.4rem; }
  [data-testid="stMain"] .st-key-headline :is(h2, h3) { font-size: 1.7rem; }
}
</style>
"""


def main() -> None:
    """Choose the page and draw it."""
    st.set_page_config(page_title=words.NAME, layout="wide")
    turns.told_apart_by(asking)
    cache.follow_address()
    page = st.navigation(
        [
            st.Page("home/page.py", title=home_words.HOME, default=True),
            st.Page("measure/page.py", url_path="measure", title=words.MEASURE),
            st.Page(
                "photo_queue/page.py", url_path="evening", title=queue_words.PHOTO_QUEUE
            ),
            st.Page("pours/page.py", url_path="log_pour", title=pour_words.LOG_POUR),
            st.Page("pieces/page.py", url_path="pieces", title=words.PIECES),
            st.Page("forms/page.py", url_path="forms", title=batches_words.FORMS),
            st.Page("compare/page.py", url_path="compare", title=compare_words.COMPARE),
            st.Page("batches/page.py", url_path="batches", title=batches_words.BATCHES),
            st.Page(
                "vibration/page.py",
                url_path="vibration",
                title=vibration_words.VIBRATION,
            ),
            st.Page("plan/page.py", url_path="plan", title=plan_words.PLAN),
            st.Page(
                "second_opinion/page.py",
                url_path="second_opinion",
                title=second_words.SECOND_OPINION,
            ),
            st.Page("records/page.py", url_path="records", title=records_words.RECORDS),
            *(
                [st.Page("sharing/page.py", title=share_words.PHONE, url_path="phone")]
                if shared_at()
                else []
            ),
            st.Page("guide/page.py", url_path="guide", title=words.GUIDE),
            # Reached from where a photo is asked for, and from the guide.
            st.Page(
                "capture/page.py",
                url_path="capture",
                title=capture_words.CAPTURE,
                visibility="hidden",
            ),
        ],
        position="top",
    )
    st.logo(Path(__file__).with_name("struckface.svg"), size="large")
    st.html(_STYLE)
    help_hands()
    show_strip()
    _follow_log()
    presses.begin_page(page.title)
    page.run()
    presses.end_page(page.title)
    # Not where it stands already, nor on the way to an own log.
    if page.url_path not in {"", "log_pour"}:
        offer(always=page.url_path == "guide")


def _follow_log() -> None:
    """Write as its workshop does; say on every page where nothing can be saved."""
    # Pages say themselves why a log cannot be opened at all.
    with suppress(StruckfaceError):
        cache.apply_settings()
        why = cache.log().read_only
        if why:
            st.warning(words.literal(f"{words.READ_ONLY} {why}"))


if __name__ == "__main__":
    main()
