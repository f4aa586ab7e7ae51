"""The app for a whole yard: what `python3 ui/start.py --server` runs."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import cv2
from starlette.middleware import Middleware
from streamlit.starlette import App

from analysis.services.share import log_folder
from ui.sharing.gate import Gate
from ui.sharing.keys import Guesses, load_keys
from ui.sharing.serving import PAGES, go_on_measuring, parts

# One face on each core: see ui.launch.yard.
cv2.setNumThreads(1)
gate = Middleware(Gate, keys=load_keys(log_folder()), guesses=Guesses())
app = App(PAGES, **parts(gate))
go_on_measuring()
