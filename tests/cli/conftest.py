import json

import numpy as np
import pytest

from analysis.cli import main
from tests.support.drawn_faces import drawn
from tests.support.pictures import file_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("photos")
    (folder / "face.png").write_bytes(file_of(np.array(drawn().pixels)))
    flat = np.full((60, 80, 3), 160, np.uint8)
    (folder / "flat.png").write_bytes(file_of(flat))
    (folder / "empty.jpg").write_bytes(b"")
    (folder / "text.jpg").write_bytes(b"hello")
    return folder


@pytest.fixture(scope="module")
def face(folder):
    return str(folder / "face.png")


@pytest.fixture(scope="module")
def flat(folder):
    return str(folder / "flat.png")


@pytest.fixture
def verb():
    """What the tests of a file run, unless the file names another."""
    return "measure"


@pytest.fixture
def run(capsys, verb):
    """Run a verb; gives exit code, stdout, stderr."""

    def command(*options):
        code = main([verb, *map(str, options)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return command


@pytest.fixture
def answer(run):
    """Run a verb with `--json -` and read what it says."""

    def command(*options):
        code, out, err = run(*options, "--json", "-")
        assert (code, err) == (0, "")
        return json.loads(out, parse_constant=pytest.fail)

    return command


@pytest.fixture
def refused(run):
    """Run a verb that must refuse in one sentence; gives the sentence."""

    def command(*options):
        code, out, err = run(*options)
        assert (code, out) == (2, "")
        assert err.count("\n") == 1
        assert err.endswith(".\n")
        assert "Traceback" not in err
        assert "went wrong inside" not in err
        return err

    return command
