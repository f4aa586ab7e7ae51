"""What the tests of folders share."""

import pytest

from tests.support.folder_photos import copy_of, log_for


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """A log to copy; making one takes half a second."""
    return log_for(tmp_path_factory.mktemp("made"), 4).file.parent


@pytest.fixture
def log(tmp_path, made):
    return copy_of(made, tmp_path / "log")
