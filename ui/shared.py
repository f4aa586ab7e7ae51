"""The app behind its gate: what `python3 ui/start.py --share` runs."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from starlette.middleware import Middleware
from streamlit.starlette import App

from analysis.services.share import log_folder
from ui.gate import Gate
from ui.share_keys import Guesses, load_keys

app = App(
    Path(__file__).with_name("app.py"),
    middleware=[
        Middleware(Gate, keys=load_keys(log_folder()), guesses=Guesses()),
    ],
)
