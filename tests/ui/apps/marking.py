"""A picture to mark points on, for the browser tests; the query tells its settings."""

from __future__ import annotations

import io
import json
import time

import numpy as np
import streamlit as st
from PIL import Image, ImageDraw

from ui.widgets.picture import picture

WIDTH_PX, HEIGHT_PX, STEP_PX = 3000, 2000, 4


@st.cache_data
def preview() -> bytes:
    pixels = np.full((HEIGHT_PX // STEP_PX, WIDTH_PX // STEP_PX, 3), 150, np.uint8)
    pixels[::50], pixels[:, ::50] = 110, 110
    image = Image.fromarray(pixels)
    # Its centre is (2121.5, 521.5) in px of the photo.
    ImageDraw.Draw(image).ellipse((500, 100, 560, 160), fill=(40, 40, 40))
    file = io.BytesIO()
    image.save(file, "JPEG", quality=85)
    return file.getvalue()


query = st.query_params
st.set_page_config(layout="wide")
if st.button("Rerun"):
    st.session_state["reruns"] = st.session_state.get("reruns", 0) + 1
    st.write("One more line above the photo.")
row = st.container(horizontal=True)
if row.button("Start over"):
    st.session_state["version"] = st.session_state.get("version", "") + "*"
if row.button("Go back"):
    st.session_state["version"] = st.session_state["version"][:-1]
version = st.session_state.get("version", "")
marked = picture(
    preview(),
    width_px=WIDTH_PX,
    height_px=HEIGHT_PX,
    key="face",
    mode=query.get("mode", "points"),
    points=json.loads(query.get("points", "[]")),
    max_points=int(query["most"]) if "most" in query else None,
    lines=[[(200, 1500), (440, 1500), (440, 1740), (200, 1740)]],
    version=version,
)
# What the server holds is told later than the picture shows it.
time.sleep(float(query.get("slow_s", 0)))
st.write("reruns", st.session_state.get("reruns", 0))
st.html(
    f'<p data-testid="marked" data-version="{len(version)}" '
    f'data-count="{len(marked)}">{json.dumps(marked)}</p>'
)
for _ in range(20):
    st.write("Below the photo.")
