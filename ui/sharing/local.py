"""The app on this machine alone: what `python3 ui/start.py` runs."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from streamlit.starlette import App

from ui.sharing.serving import PAGES, parts

app = App(PAGES, **parts())
