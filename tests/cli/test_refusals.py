import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.cli import commands, main, measure
from tests.support.screens import face_png

SCALE = ["--mm-per-px", "0.15"]


class TestRefusals:
    @pytest.mark.parametrize(
        ("argv", "says"),
        [
            ([], "The following arguments are required: VERB."),
            (["weigh"], "weigh"),
            (["measure"], "The following arguments are required: PHOTO."),
            (["measure", "a", "b"], "Unrecognized arguments: b."),
            (["--loud"], "required: VERB"),
        ],
    )
    def test_verbs(self, capsys, argv, says):
        assert main(argv) == 2
        said = capsys.readouterr()
        assert says in said.err
        assert (said.out, said.err.count("\n")) == ("", 1)

    @pytest.mark.parametrize(
        ("options", "says"),
        [
            (["--fast"], "Unrecognized arguments: --fast."),
            (["--mm", "0.2"], "Unrecognized arguments: --mm 0.2."),
            (["--mm-per-px"], "expected one argument"),
            (["--mm-per-px", "0,2"], "invalid float value: '0,2'"),
            (["--mm-per-px", "nan"], "Scale must be a finite number"),
            (["--mm-per-px", "inf"], "Scale must be a finite number"),
            (["--mm-per-px", "0"], "Scale must be more than 0 mm per px"),
            (["--mm-per-px=-1"], "Scale must be more than 0 mm per px"),
            (["--mm-per-px", "1e-9"], "finer than any lens"),
            (["--mm-per-px", "1e9"], "too coarse for any void"),
            (["--smallest-mm", "1"], "needs a scale"),
            ([*SCALE, "--smallest-mm", "0"], "Smallest counted size must be more than"),
            (
                [*SCALE, "--smallest-mm", "nan"],
                "Smallest counted size must be a finite",
            ),
            (["--joint-band-mm", "0"], "Width of the joint band must be more than"),
            (["--joint-band-mm", "x"], "invalid float value"),
            (["--outline="], "Face outline must be x,y pairs"),
            (["--outline=1,2,3 4,5 6,7"], "Face outline must be x,y pairs"),
            (["--outline=a,b c,d e,f"], "Face outline must be x,y pairs"),
            (["--outline=1;2 3;4 5;6"], "Face outline must be x,y pairs"),
            (["--outline=1,2 3,4"], "Face outline needs at least 3 points"),
            (["--outline=0,0 9,nan 9,9"], "Face outline has a point that is not"),
            (["--outline=0,0 1e400,9 9,9"], "Face outline has a point that is not"),
            (["--outline=0,0 1e9,9 9,9"], "Face outline has a point far outside"),
            (["--outline=0,0 50,50 50,0 0,50"], "crosses itself"),
            (["--outline=0,0 10,10 40,40"], "has no area"),
            (["--outline=900,900 950,900 950,950"], "lies outside the photo"),
            (["--outline=0,0 3,0 3,3 0,3"], "px of the face are left to measure"),
            (["--leave-out=0,0 9,9"], "Left-out area needs at least 3 points"),
            (["--leave-out=-9,-9 99,-9 99,99 -9,99"], "Only 0 px of the face are left"),
            (["--joint=5,5"], "Joint line needs at least 2 points"),
            (["--joint=5,5 x"], "Joint line must be x,y pairs"),
        ],
    )
    def test_options(self, refused, flat, options, says):
        assert says in refused(flat, *options)

    def test_files(self, refused, folder):
        assert "There is no file" in refused(folder / "none.jpg")
        assert "is a folder: name one photo in it" in refused(folder)
        assert "empty.jpg is empty" in refused(folder / "empty.jpg")
        assert "text.jpg is not a photo" in refused(folder / "text.jpg")
        assert "is no file name" in refused("\0")
        assert "is no file name" in refused("")
        assert "too long" in refused("x" * 5000)

    def test_a_file_that_may_not_be_read(self, refused, flat, monkeypatch):
        def locked(path):
            raise PermissionError(13, "Permission denied", str(path))

        monkeypatch.setattr(Path, "read_bytes", locked)
        assert refused(flat) == f"Permission denied: {flat}.\n"

    def test_a_name_cannot_move_the_cursor_or_break_the_line(self, refused, tmp_path):
        said = refused(tmp_path / "a\x1b[2J\nb\udcff.jpg")
        assert said.isascii()
        assert "\x1b" not in said

    @pytest.mark.parametrize(
        ("trouble", "says"),
        [
            (MemoryError(), "There is not enough memory for this photo"),
            (
                OSError(28, "No space left on device", "a.json"),
                "No space left on device",
            ),
            (
                ZeroDivisionError("by nought"),
                "wrong inside (ZeroDivisionError: by nought)",
            ),
        ],
    )
    def test_trouble_inside_is_one_sentence_too(
        self, run, flat, monkeypatch, trouble, says
    ):
        def fail(*_given, **_options):
            raise trouble

        monkeypatch.setattr(measure, "measure", fail)
        code, out, err = run(flat)
        assert (code, out) == (2, "")
        assert says in err
        assert err.count("\n") == 1

    def test_help_is_no_error(self, capsys):
        assert main(["measure", "--help"]) == 0
        assert "--mm-per-px" in capsys.readouterr().out


words = st.one_of(
    # No slash: nothing outside the test's own folder is to be written.
    st.text(st.characters(exclude_characters="/"), max_size=12),
    st.sampled_from(
        [
            "measure",
            "--mm-per-px",
            "0.2",
            "--smallest-mm",
            "nan",
            "--outline",
            "PHOTO",
            "--",
            "-h",
            "1e308",
            "--outline=0,0 70,0 70,50 0,50",
            "--outline=-1,-1 5",
            "--leave-out=1,1 2,2 9",
            "--joint=0,0 50,50",
            "--joint-band-mm",
            "-5",
            "--json",
            "-",
            "--mm-per-px=1e-320",
        ]
    ),
)
numbers = st.floats(width=64).map(repr)
pairs = st.lists(st.tuples(numbers, numbers).map(",".join), max_size=6).map(" ".join)


@settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(argv=st.lists(words, max_size=7))
def test_main_never_raises_whatever_is_given(argv, flat, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code = main([flat if word == "PHOTO" else word for word in argv])
    said = capsys.readouterr()
    assert code in {0, 2}
    assert said.err.count("\n") == (code == 2)
    assert "went wrong inside" not in said.err


@settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    scale=numbers, smallest=numbers, outline=pairs, leave_out=pairs, joint=pairs,
    band=numbers, used=st.sets(st.integers(0, 5)),
)  # fmt: skip
def test_main_never_raises_whatever_the_numbers(
    flat, capsys, scale, smallest, outline, leave_out, joint, band, used
):
    options = [
        f"--mm-per-px={scale}",
        f"--smallest-mm={smallest}",
        f"--outline={outline}",
        f"--leave-out={leave_out}",
        f"--joint={joint}",
        f"--joint-band-mm={band}",
    ]
    code = main(["measure", flat, *(options[at] for at in sorted(used))])
    said = capsys.readouterr()
    assert code in {0, 2}
    assert said.err.count("\n") == (code == 2)
    assert "went wrong inside" not in said.err


class TestProgram:
    def program(self, *argv):
        return subprocess.run(
            [sys.executable, "-m", "analysis", *map(str, argv)],
            cwd=Path(commands.__file__).parents[2],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )

    def test_a_good_photo(self, flat):
        done = self.program("measure", flat, *SCALE)
        assert (done.returncode, done.stderr) == (0, "")
        assert done.stdout.startswith("no void of 0.6 mm or more found")

    def test_a_photo_over_the_limit_is_one_line_on_stderr(self, tmp_path):
        from tests.support.png_header import png_header  # noqa: PLC0415

        photo = tmp_path / "big.png"
        photo.write_bytes(png_header(17_000, 17_000))
        done = self.program("measure", photo)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr == (
            "big.png has 17000 x 17000 pixels, more than 210 million: "
            "photograph in parts.\n"
        )


LOST_SIGN = "\ud83d"  # half of a sign, as a broken script hands it on
NOT_UTF8 = os.fsdecode(b"na\xffme")


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        (["measure", LOST_SIGN], "can be named so: '\\ud83d'. Write the name anew"),
        (["track", "--log", "x", "--json", LOST_SIGN], "can be named so"),
        (
            ["restore", __file__, "--log", "x\0y", "--replace"],
            "'x\\x00y' is no name of a log",
        ),
        (["track", "--log", NOT_UTF8], "not UTF-8: rename 'na\\udcffme"),
        (["backup", "--log", f"sqlite:///{NOT_UTF8}", "--out", "a"], "not UTF-8"),
        (["example", "--log", NOT_UTF8], "not UTF-8"),
        (["migrate-log", NOT_UTF8, "new"], "not UTF-8"),
    ],
)
def test_name_that_cannot_be_written_down_is_one_sentence(
    argv, says, capsys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    assert main(argv) == 2
    said = capsys.readouterr().err
    assert says in said
    assert "inside" not in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="names are any bytes there")
def test_photo_may_be_named_in_any_bytes(tmp_path, capsys):
    path = tmp_path / f"{NOT_UTF8}.png"
    path.write_bytes(face_png(2))
    assert main(["measure", str(path), "--json", str(tmp_path / NOT_UTF8)]) == 0
    assert capsys.readouterr().err == ""
    assert (tmp_path / NOT_UTF8).exists()
