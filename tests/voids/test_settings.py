"""The tuned numbers: one owner, a reason for each, and a version that follows them."""

from __future__ import annotations

import ast
from dataclasses import fields, replace
from pathlib import Path
from types import MappingProxyType

import pytest

from analysis.compare.rows import Chosen, one_stage
from analysis.model import method
from analysis.model.method import STEPS, newest_name
from analysis.monitoring.intake import take_in
from analysis.pieces.pooling import pieces_of
from analysis.pieces.table import read_table
from analysis.voids import settings
from analysis.voids.settings import (
    BY_DARKNESS,
    METHOD_VERSION,
    SETTINGS,
    fingerprint,
    named_numbers,
)

ROOM = Path(settings.__file__).parent
STAGES = ROOM / "stages"
# Numbers that are not tuned: names by file. Nothing else may be written there.
PLAIN = {
    "background.py": {"_STRIP_ROWS"},  # memory
    # More than any depth; the eight px around; less than any depth.
    "boundary.py": {"_NO_FLOOR", "_KERNEL", "_OUTSIDE"},
    # From where one way of listing the same px is faster than the other.
    "components.py": {"_PX_A_RUN", "_SMALL_PX"},
    "candidates.py": {"_KERNEL"},  # the eight px around
    "detection_pass.py": {"_KERNEL", "_BAND_PX"},  # the same; memory
    "honeycomb.py": {"_HALF"},  # of a px
    "joints.py": {"_NEITHER", "_BREAK", "_FIN"},  # kinds
    "light_direction.py": {"_SHIFT"},  # OpenCV's fixed point
    "measurement.py": {"_NONE_SEEN_UPPER"},  # Garwood's interval of a count of none
    "network.py": {"_BATCH"},  # memory
    "openings.py": {"CHUNK", "_RIM_PX"},  # memory; px of the patch
    "planes.py": {"PATCH_PX", "PLANES", "SEED_PLANE", "LEVELS", "EDGE_OF_BLUR"},
    "rejection.py": {"NONE", "SEVERAL", "MANY", "SURE"},  # an order
    "segmentation_review.py": {"_NORMAL"},  # of a normal law
    "shapes.py": {"_DIRECTIONS", "_HALF_PX", "_PIXEL_VARIANCE"},  # geometry of px
}
# What a person draws is no part of the method.
BY_HAND = {"outline_edits.py"}
# Inside functions: halves and doubles, Sobel's eighth, the ends of a 95 % interval,
# per million, the last px of a row.
USUAL = {0.0, 0.125, 0.5, 1.0, 2.0, 3.0, 4.0, 2.5, 97.5, 0.025, 0.975, 1e6, 1.001}
GUARD = 1e-3  # smaller ones keep a division finite
# The clipping of the planes is the format that the network was trained on.
FORMAT = {"planes.py"}


def stages():
    return {one.name: getattr(SETTINGS, one.name) for one in fields(SETTINGS)}


def other(value):
    if isinstance(value, tuple):
        return (*value[:-1], other(value[-1]))
    return value * 2 + 1


def test_changing_any_one_number_changes_the_version():
    seen = {fingerprint(SETTINGS)}
    for stage, numbers in stages().items():
        for one in fields(numbers):
            changed = replace(numbers, **{one.name: other(getattr(numbers, one.name))})
            seen.add(fingerprint(replace(SETTINGS, **{stage: changed})))
    assert len(seen) == 1 + len(list(named_numbers(SETTINGS)))


def test_the_fingerprint_is_of_names_and_values_in_order():
    import hashlib  # noqa: PLC0415  the outside check

    told = sorted(
        (f"{stage}.{one.name}", getattr(numbers, one.name))
        for stage, numbers in stages().items()
        for one in fields(numbers)
    )
    digest = hashlib.sha256(repr(told).encode()).hexdigest()
    assert f"{STEPS}.{digest[:8]}" == METHOD_VERSION
    assert BY_DARKNESS.startswith(METHOD_VERSION)


def with_reason(path):
    """Name of each number of a room of stages, and whether a reason stands above it."""
    lines = path.read_text(encoding="utf-8").splitlines()
    for room in ast.parse("\n".join(lines)).body:
        if isinstance(room, ast.ClassDef):
            for node in room.body:
                if isinstance(node, ast.AnnAssign):
                    told = lines[node.lineno - 2].strip().startswith("#")
                    yield f"{room.name}.{node.target.id}", told


def test_every_number_is_sealed_and_has_its_reason_above_it():
    written = [name for path in STAGES.glob("*.py") for name in with_reason(path)]
    assert len(written) == len(list(named_numbers(SETTINGS)))
    assert [name for name, told in written if not told] == []
    for numbers in stages().values():
        with pytest.raises(AttributeError):
            setattr(numbers, fields(numbers)[0].name, 0)


def is_number(node):
    if isinstance(node, ast.Constant):
        return type(node.value) in {int, float}
    if isinstance(node, ast.UnaryOp):
        return is_number(node.operand)
    if isinstance(node, ast.BinOp):
        return is_number(node.left) and is_number(node.right)
    if isinstance(node, ast.Tuple | ast.List):
        return bool(node.elts) and all(is_number(one) for one in node.elts)
    if isinstance(node, ast.Call):  # np.float32(0.5), np.ones((5, 5), np.uint8)
        return bool(node.args) and is_number(node.args[0])
    return False


def written_numbers(tree):
    """Names of the numbers of a module or class that are written where they stand."""
    for node in ast.walk(tree):
        for one in getattr(node, "body", []) if not is_function(node) else []:
            if isinstance(one, ast.Assign | ast.AnnAssign) and one.value is not None:
                names = one.targets if isinstance(one, ast.Assign) else [one.target]
                if is_number(one.value):
                    for name in names:
                        yield from (part.id for part in getattr(name, "elts", [name]))


def is_function(node):
    return not isinstance(node, ast.Module | ast.ClassDef)


def floats_within(tree):
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            for node in ast.walk(function):
                if isinstance(node, ast.Constant) and type(node.value) is float:
                    yield node.lineno, node.value


def rooms():
    return [
        path
        for path in sorted(ROOM.rglob("*.py"))
        if path.name not in BY_HAND | {"settings.py"} and path.parent != STAGES
    ]


def test_files_that_may_hold_plain_numbers_are_there():
    assert set(PLAIN) <= {path.name for path in rooms()}


@pytest.mark.parametrize("path", rooms(), ids=lambda path: path.name)
def test_no_tuned_number_is_written_outside_the_settings(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert set(written_numbers(tree)) <= PLAIN.get(path.name, set())
    if path.name not in FORMAT:
        assert [
            (line, value)
            for line, value in floats_within(tree)
            if value not in USUAL and not 0 < value <= GUARD
        ] == []


def test_the_check_sees_numbers_however_they_are_written():
    text = (
        "A = 3\nB, C = 1, -2.0\nD: int = 7\nE = np.float32(0.1)\n"
        "F = np.ones((5, 5), np.uint8)\nG = SETTINGS.passes\n"
        "class H:\n    one: float = 0.7\n"
        "def f(x):\n    y = 5\n    return x > 0.37\n"
    )
    tree = ast.parse(text)
    assert set(written_numbers(tree)) == {"A", "B", "C", "D", "E", "F", "one"}
    assert list(floats_within(tree)) == [(11, 0.37)]


@pytest.fixture
def renamed(monkeypatch):
    """As if the version "2" had only been given another name."""
    told = MappingProxyType({"2": "2.0", "2.0": METHOD_VERSION})
    monkeypatch.setattr(method, "SAME_RESULTS", told)


@pytest.mark.usefixtures("renamed")
def test_readings_of_a_renamed_version_are_like_with_like():
    assert newest_name("2") == METHOD_VERSION
    assert newest_name("2 by darkness") == BY_DARKNESS
    assert newest_name("2, two lights 1") == f"{METHOD_VERSION}, two lights 1"
    assert newest_name(METHOD_VERSION) == METHOD_VERSION


def test_other_versions_stay_what_they_are():
    for version in ("", "1", "2", "2.5", "2.deadbeef", "20", "mixed"):
        assert newest_name(version) == version
    told = method.SAME_RESULTS
    assert all(newest_name(name) == METHOD_VERSION for name in told)


@pytest.mark.usefixtures("renamed")
def test_a_table_with_both_names_is_compared_and_followed_whole():
    text = "piece,pour,method_version,void_area_percent,face_area_mm2\n" + "".join(
        f"{at},{pour},{version},0.4,9000\n"
        for at, (pour, version) in enumerate(
            [("A", "2"), ("A", METHOD_VERSION), ("B", "2"), ("B", METHOD_VERSION)]
        )
    )
    table = read_table(text)
    levels = (table.text["pour"] == "A").astype(float)
    chosen = Chosen(table=table, value=levels, notes=())
    assert one_stage(chosen, "mix", levels).all()
    assert set(take_in(table).pieces.method_version.tolist()) == {METHOD_VERSION}


@pytest.mark.usefixtures("renamed")
def test_two_photos_of_a_piece_by_both_names_are_one_piece():
    table = read_table(
        f"piece,pour,method_version\n1,A,2\n1,A,{METHOD_VERSION}\n1,A,1\n"
    )
    assert pieces_of(table)[1].tolist() == [0, 0, 1]
