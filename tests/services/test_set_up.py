"""The set-up of a photo against the last one of its form."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from PIL import Image

from analysis.errors import ConflictError, InputError
from analysis.model.photo import Face
from analysis.model.workshop import PhotoRecipe
from analysis.services.log import open_log, save_reading
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.services.set_up import (
    held_set_up,
    keep_recipe,
    kept_recipes,
    kept_set_up,
    last_set_up,
    like_last_photo,
    set_up_differences,
    set_up_of,
)
from analysis.storage.records import bring_back, hide
from tests.support.cast_pieces import filled

SIDES = {"the right": (1, 0), "the left": (-1, 0), "below": (0, 1), "above": (0, -1)}


def photo_file(*, towards=(1, 0), level=0.3, seed=0):
    """A face lit more strongly on one side: (right, down)."""
    y, x = np.mgrid[:240, :320]
    fall = 1 + 0.3 * (towards[0] * (x / 320 - 0.5) + towards[1] * (y / 240 - 0.5)) * 2
    rng = np.random.default_rng(seed)
    light = level * fall + rng.normal(0, 0.004, fall.shape)
    light[100:110, 150:160] = 0.01
    grey = (255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(np.repeat(grey[..., None], 3, axis=2)).save(file, "PNG")
    return file.getvalue()


def set_up(scale_mm=0.5, **how):
    return set_up_of(
        read_photo(photo_file(**how), "a.png"), scale_typed(scale_mm), Face()
    )


@pytest.mark.parametrize("side", sorted(SIDES))
def test_the_brighter_side_is_where_the_light_comes_from(side):
    opposite = tuple(-one for one in SIDES[side])
    told = set_up_differences(set_up(towards=SIDES[side]), set_up(towards=opposite))
    assert told[0].startswith(f"lit from {side}, not")


def test_the_same_set_up_differs_in_nothing_and_even_light_has_no_side():
    assert set_up_differences(set_up(seed=1), set_up(seed=2)) == ()
    assert set_up(towards=(0, 0)).light_deg is None


def test_distance_and_exposure_are_told():
    assert set_up_differences(set_up(0.8), set_up(0.5)) == (
        "from farther away (1.6 times)",
    )
    assert set_up_differences(set_up(0.25), set_up(0.5)) == ("from nearer (2 times)",)
    assert set_up_differences(set_up(level=0.5), set_up(level=0.15)) == ("brighter",)
    assert set_up_differences(set_up(level=0.1), set_up(level=0.4)) == ("darker",)


def with_photo(log):
    """Cast a piece, measure and save a photo of it; return the form and the photo."""
    form, pieces = filled(log, 1)
    data = photo_file()
    photo = read_photo(data, "a.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    save_reading(
        log, piece_id=pieces[0], photo_bytes=data, photo=photo, reading=reading,
        save_token="a",
    )  # fmt: skip
    return form, photo


def test_the_last_photo_of_the_form_is_what_it_is_held_against(tmp_path):
    log = open_log(tmp_path)
    form, photo = with_photo(log)
    before = last_set_up(log, form, "", "another photo")
    assert set_up_differences(set_up(), before) == ()
    assert last_set_up(log, form, "", photo.sha256) is None
    assert last_set_up(log, form, "side B", "another photo") is None


def test_a_recipe_takes_the_figures_of_the_last_photo_and_keeps_them(tmp_path):
    log = open_log(tmp_path)
    form, _ = with_photo(log)
    typed = PhotoRecipe(form_id=form, camera_mm=900.0, lamp="left stand")
    keep_recipe(log, typed, save_token="typed")
    assert kept_set_up(log, form, "") is None  # no photo was taken for it yet

    (kept,) = kept_recipes(log, form)
    taken = like_last_photo(log, kept, date(2026, 5, 6))
    keep_recipe(log, taken, save_token="taken")

    (kept,) = kept_recipes(log, form)
    assert (kept.camera_mm, kept.lamp) == (900.0, "left stand")
    assert kept.shown_width_mm == pytest.approx(160)  # 320 px of 0.5 mm
    assert kept.taken_on == date(2026, 5, 6)
    held = kept_set_up(log, form, "")
    assert set_up_differences(set_up(), held) == ()
    assert set_up_differences(set_up(0.8, towards=(-1, 0)), held) == (
        "from farther away (1.6 times)",
        "lit from the left, not the right",
    )
    assert kept_set_up(log, form, "side B") is None


def test_a_photo_is_held_against_what_is_kept_before_the_last_photo(tmp_path):
    log = open_log(tmp_path)
    form, _ = with_photo(log)
    other = read_photo(photo_file(towards=(-1, 0)), "b.png")
    last = held_set_up(log, form, other, scale_typed(0.5), Face())
    assert (last.kept, last.differs) == (False, ("lit from the left, not the right",))
    recipe = PhotoRecipe(form_id=form, brightness_share=0.3, light_deg=180.0)
    keep_recipe(log, recipe, save_token="kept")
    kept = held_set_up(log, form, other, scale_typed(0.5), Face())
    assert (kept.kept, kept.differs) == (True, ())
    assert held_set_up(log, form, other, None, Face(name="side B")) is None


def test_two_recipes_deleted_and_kept_anew_do_not_both_come_back(tmp_path):
    log = open_log(tmp_path)
    form, _ = filled(log, 1)
    keep_recipe(log, PhotoRecipe(form_id=form), save_token="a")
    (first,) = kept_recipes(log, form)
    hide(log, PhotoRecipe, first.id)
    keep_recipe(log, PhotoRecipe(form_id=form), save_token="b")
    with pytest.raises(InputError, match="face is photographed cannot be brought back"):
        bring_back(log, PhotoRecipe, first.id)


def test_a_face_without_a_photo_and_a_change_of_another_are_refused(tmp_path):
    log = open_log(tmp_path)
    form, _ = filled(log, 1)
    recipe = PhotoRecipe(form_id=form, face_name="side B")
    with pytest.raises(InputError, match="No photo of the face 'side B' is kept"):
        like_last_photo(log, recipe, date(2026, 5, 6))
    keep_recipe(log, recipe, save_token="a")
    with pytest.raises(InputError, match=r"face 'side B' of this form .* kept already"):
        keep_recipe(log, recipe, save_token="b")  # a second one of the same face
    (kept,) = kept_recipes(log, form)
    keep_recipe(log, replace(kept, lamp="daylight"), save_token="c")
    with pytest.raises(ConflictError, match="changed"):
        keep_recipe(log, replace(kept, lamp="flash"), save_token="d")


def test_a_recipe_refuses_what_no_photo_has():
    with pytest.raises(InputError, match="Camera to face must be between"):
        PhotoRecipe(form_id=1, camera_mm=1.0)
