"""Names of photos in annotation files: each leads to one photo and nowhere else."""

from __future__ import annotations

import pytest

from analysis.report.coco import coco_annotations
from tests.support.stored_readings import reading_of


def names_of(*given):
    found = coco_annotations([(name, reading_of(data)) for name, data in given])
    return [image["file_name"] for image in found["images"]]


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/a.jpg", "a.jpg"),
        ("..\\..\\a.jpg", "a.jpg"),
        ("/a.jpg", "a.jpg"),
        ("C:\\photos\\a.jpg", "a.jpg"),
        ("a\x00b\n.jpg", "ab.jpg"),
        ("..", "photo"),
        ("", "photo"),
        ("a/", "photo"),
        ("façade 1.jpg", "façade 1.jpg"),
    ],
)
def test_name_leads_to_no_other_folder(name, kept):
    assert names_of((name, b"1")) == [kept]


def test_two_photos_of_one_name_are_told_apart():
    first, again, other = names_of(("a.jpg", b"1"), ("a.jpg", b"1"), ("A.jpg", b"2"))
    assert first == again
    assert first != other
    assert first.endswith("_a.jpg")
