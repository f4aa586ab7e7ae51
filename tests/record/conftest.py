from datetime import date

import pytest

from analysis.model.log import Form, JointState, Piece, Pour, Step
from analysis.record.castings import add_form, add_piece, add_pour
from analysis.record.store import open_log


@pytest.fixture
def log(tmp_path):
    return open_log(tmp_path / "log")


@pytest.fixture
def piece_id(log):
    """A piece with its form and pour, to hang readings on."""
    form = add_form(log, Form(name="Trough A", form_type="trough"), save_token="f")
    pour = add_pour(log, Pour(name="12", cast_on=date(2026, 3, 31)), save_token="p")
    piece = Piece(
        name="007",
        pour_id=pour.id,
        form_id=form.id,
        joints=(JointState(joint="left", sealing="tape", leak="none"),),
        release_agent="oil",
        steps=(Step(method="table", seconds=40.0),),
    )
    return add_piece(log, piece, save_token="c").id
