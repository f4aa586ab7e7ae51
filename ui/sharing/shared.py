"""The app behind its gate: what `python3 ui/start.py --share` runs."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from starlette.middleware import Middleware
from streamlit.starlette import App

from analysis.services.share import log_folder
from ui.sharing.gate import Gate
from ui.sharing.keys import Guesses, load_keys
from ui.sharing.serving import PAGES, parts

gate = Middleware(Gate, keys=load_keys(log_folder()), guesses=Guesses())
app = App(PAGES, **parts(gate))
