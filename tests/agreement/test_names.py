"""Names a stranger can rely on: a file or a class is called alike in one place only."""

import ast
from collections import Counter
from pathlib import Path

HOUSE = Path(__file__).parents[2]
FILES = [
    file
    for room in ("analysis", "ui")
    for file in sorted((HOUSE / room).rglob("*.py"))
    if "migrations" not in file.parts
]
# A screen holds its own page and words; the others are Python's.
IN_EVERY_ROOM = {"page", "words", "__init__", "__main__"}


def test_no_file_name_stands_in_more_than_two_rooms():
    rooms = Counter(file.stem for file in FILES if file.stem not in IN_EVERY_ROOM)

    assert len(rooms) > 400
    assert [name for name, count in rooms.items() if count > 2] == []


def test_no_class_name_stands_twice():
    names = Counter(
        one.name
        for file in FILES
        for one in ast.parse(file.read_text(encoding="utf-8")).body
        if isinstance(one, ast.ClassDef) and not one.name.startswith("_")
    )

    assert [name for name, count in names.items() if count > 1] == []
