"""Drives the screens without a browser."""

from __future__ import annotations

import io
import re
from datetime import date
from pathlib import Path

import numpy as np
from PIL import Image
from streamlit.testing.v1 import AppTest

from analysis.model.log import Piece, Pour
from analysis.services.log import save_with_new_piece
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support.cameras import face_to_photo, paper_sheet, pasted, seen

APP = Path(__file__).resolve().parents[2] / "ui" / "app.py"
HOSTILE = "oil $4 -> wax $6, form_A_*new* <b>x</b> #3 :smile: `y`"


def start(view: str = "measure", **query: str) -> AppTest:
    """Open a page; the first one is named "home"."""
    app = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in query.items():
        app.query_params[name] = value
    app.run()
    return ran(app if view == "home" else app.switch_page(f"{view}/page.py").run())


def ran(app: AppTest) -> AppTest:
    """Give the app back if it ran through."""
    assert not app.exception, [error.value for error in app.exception]
    return app


def button(app: AppTest, label: str):
    (found,) = (one for one in app.button if one.label == label)
    return found


def press(app: AppTest, label: str) -> AppTest:
    return ran(button(app, label).click().run())


def labels(app: AppTest) -> list[str]:
    return [one.label for one in app.button]


def texts(app: AppTest) -> str:
    """All that can be read, as it would be read."""
    parts = [*app.title, *app.header, *app.subheader, *app.markdown]
    parts += [*app.error, *app.warning, *app.info, *app.success]
    return "\n".join(re.sub(r"\\(.)", r"\1", part.value) for part in parts)


def face_png(voids: int = 3, *, size=(240, 160)) -> bytes:
    """A grey face with dark round voids of 10 px."""
    cols, rows = size
    y, x = np.mgrid[:rows, :cols]
    grey = 160 + np.random.default_rng(5).normal(0, 1.5, (rows, cols))
    for k in range(voids):
        grey[np.hypot(y - rows / 2, x - cols * (k + 1) / (voids + 1)) < 5] = 60
    file = io.BytesIO()
    pixels = np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def keep_face(log, *, voids=3, size=(240, 160), mm_per_px=0.5, use=None):
    """Keep a measured `face_png` as piece 7 of pour 1 (31 March 2026)."""
    data = face_png(voids, size=size)
    photo = read_photo(data, "face.png")
    reading, _ = measure(photo, scale=scale_typed(mm_per_px))
    return save_with_new_piece(
        log,
        piece=Piece(name="7", pour_id=0),
        pour=Pour(name="1", cast_on=date(2026, 3, 31)),
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token="a",
        use=use,
    )


def sheet_png(*, tilt_deg: float = 10) -> bytes:
    """A face of 400 x 300 mm, askew, with the printed sheet on it."""
    grain = np.random.default_rng(3).normal(160, 4, (900, 1200, 1)).clip(0, 255)
    face = np.repeat(grain.astype(np.uint8), 3, axis=2)
    y, x = np.mgrid[:900, :1200]
    for col in range(850, 1200, 60):
        face[np.hypot(y - 450, x - col) < 9] = 60
    to_photo = face_to_photo(
        (400, 300), tilt_deg=tilt_deg, far_mm=620, photo_px=(900, 1200), focal_px=1700
    )
    face = pasted(face, paper_sheet(3), 60, 60)
    file = io.BytesIO()
    Image.fromarray(seen(face, 3, to_photo, (900, 1200))).save(file, "PNG")
    return file.getvalue()


def upload(app: AppTest, data: bytes | None = None, name: str = "face.png") -> AppTest:
    """Give a photo and say that it holds nothing but face."""
    app = given(app, data, name)
    return upload_whole(app)


def upload_whole(app: AppTest) -> AppTest:
    """Say that the photo at hand holds nothing but face."""
    whole = [one for one in app.button_group if one.key == "face way"]
    return ran(whole[0].set_value("whole").run()) if whole else app


def given(app: AppTest, data: bytes | None = None, name: str = "face.png") -> AppTest:
    """Give a photo, and say nothing of its face."""
    data = face_png() if data is None else data
    return ran(app.file_uploader(key="upload").upload(name, data).run())


def as_typed(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def typed_scale(app: AppTest, mm_per_px: float | None = 0.5) -> AppTest:
    app.button_group(key="scale way").set_value("typed").run()
    return ran(app.text_input(key="mm per px").set_value(as_typed(mm_per_px)).run())


def measured(app: AppTest, mm_per_px: float = 0.5) -> AppTest:
    return press(typed_scale(upload(app), mm_per_px), "Measure")


def can_measure(app: AppTest) -> bool:
    return any(one.label == "Measure" and not one.disabled for one in app.button)


def at_step(app: AppTest, step: str) -> AppTest:
    return ran(app.button_group(key="measure step").set_value(step).run())


def fill_piece(app: AppTest, *, form="Trough A", pour="12", piece="007") -> AppTest:
    if "form name" not in [one.key for one in app.text_input]:
        app = ran(app.selectbox(key="form").set_value(0).run())
    for key, text in (("form name", form), ("pour name", pour), ("piece name", piece)):
        app.text_input(key=key).set_value(text)
    return ran(app.run())
