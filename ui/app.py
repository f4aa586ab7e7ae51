"""The app: `streamlit run ui/app.py`, or `python3 ui/start.py`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import streamlit as st

from ui import (
    batches_words,
    capture_words,
    card_words,
    compare_words,
    plan_words,
    pour_words,
    records_words,
    vibration_words,
    words,
)
from ui.sharing import words as share_words
from ui.parts.example import offer, show_strip, show_tour
from ui.sharing.address import shared_at

_STYLE = """
<style>
.stMainBlockContainer { max-width: 72rem; padding-top: 4.5rem; }
.stButton button, .stDownloadButton button, .stPageLink a { min-height: 3rem; }
.stPopover button { min-height: 3rem; }
.stButtonGroup button { min-height: 2.9rem; }
[data-testid="stSidebarNavLink"] { min-height: 3rem; }
.stPageLink a { border: 1px solid #c9c5bd; padding: 0 1rem; }
.st-key-headline h3 { font-size: 2.4rem; line-height: 1.15; padding-bottom: 0.4rem; }
[data-testid="stExpandSidebarButton"] { width: auto; padding: 0 0.6rem; }
[data-testid="stExpandSidebarButton"]::after { content: "Menu"; }
</style>
"""


def main() -> None:
    """Choose the page and draw it."""
    st.set_page_config(page_title=words.NAME, layout="wide")
    page = st.navigation(
        [
            st.Page("views/measure.py", title=words.MEASURE, default=True),
            st.Page("views/evening.py", title=card_words.EVENING),
            st.Page("views/log_pour.py", title=pour_words.LOG_POUR),
            st.Page("views/pieces.py", title=words.PIECES),
            st.Page("views/forms.py", title=batches_words.FORMS),
            st.Page("views/compare.py", title=compare_words.COMPARE),
            st.Page("views/batches.py", title=batches_words.BATCHES),
            st.Page("views/vibration.py", title=vibration_words.VIBRATION),
            st.Page("views/plan.py", title=plan_words.PLAN),
            st.Page("views/records.py", title=records_words.RECORDS),
            *(
                [st.Page("sharing/phone.py", title=share_words.PHONE, url_path="phone")]
                if shared_at()
                else []
            ),
            st.Page("views/guide.py", title=words.GUIDE),
            # Reached from where a photo is asked for, and from the guide.
            st.Page(
                "views/capture.py", title=capture_words.CAPTURE, visibility="hidden"
            ),
        ],
        position="top",
    )
    st.logo(Path(__file__).with_name("struckface.svg"), size="large")
    st.html(_STYLE)
    show_strip()
    page.run()
    if not page.url_path:
        show_tour()
    if page.url_path != "log_pour":  # the way to an own log
        offer(always=page.url_path == "guide")


if __name__ == "__main__":
    main()
