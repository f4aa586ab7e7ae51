"""The app: `streamlit run ui/app.py`, or `python3 ui/start.py`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import streamlit as st

from ui import words

_STYLE = """
<style>
.stMainBlockContainer { max-width: 72rem; padding-top: 4.5rem; }
.stButton button, .stPageLink a { min-height: 3rem; }
</style>
"""


def main() -> None:
    """Choose the page and draw it."""
    st.set_page_config(page_title=words.NAME, layout="wide")
    page = st.navigation(
        [
            st.Page("views/measure.py", title=words.MEASURE, default=True),
            st.Page("views/pieces.py", title=words.PIECES),
            st.Page("views/guide.py", title=words.GUIDE),
        ],
        position="top",
    )
    st.html(_STYLE)
    page.run()


if __name__ == "__main__":
    main()
