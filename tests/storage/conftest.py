import itertools
import shutil
from datetime import date

import pytest

from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form
from analysis.storage.engine import locate
from analysis.storage.records import add
from analysis.storage.store import open_log


@pytest.fixture(scope="session")
def empty_log(tmp_path_factory):
    """An empty log to copy; making one takes half a second."""
    return open_log(tmp_path_factory.mktemp("empty"))


@pytest.fixture
def another_log(tmp_path, empty_log):
    """Make one more empty log at every call."""
    names = itertools.count()

    def make():
        folder = tmp_path / f"log{next(names) or ''}"
        shutil.copytree(empty_log.file.parent, folder)
        return locate(folder)

    return make


@pytest.fixture
def log(another_log):
    return another_log()


@pytest.fixture
def piece_id(log):
    """A piece with its form and pour, to hang readings on."""
    form = add(log, Form(name="Trough A", form_type="trough"), save_token="f")
    pour = add(log, Pour(name="12", cast_on=date(2026, 3, 31)), save_token="p")
    piece = Piece(
        name="007",
        pour_id=pour.id,
        form_id=form.id,
        joints=(JointState(joint="left", sealing="tape", leak="none"),),
        release_agent="oil",
        steps=(Step(method="table", seconds=40.0),),
    )
    return add(log, piece, save_token="c").id
