"""The verb `find-face`: the face of a photo, before any figure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from analysis.cli.files import check_targets, path_of, read_bytes, say, write_json
from analysis.services.faces import face_answer, face_overlay, face_sentence, find_face
from analysis.services.photos import encoded, read_photo

if TYPE_CHECKING:
    import argparse


def add_find_face(parser: argparse.ArgumentParser) -> None:
    """Add what `find-face` takes.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_find_face(parser)
    >>> parser.parse_args(["trough.jpg"]).photo
    'trough.jpg'
    """
    parser.add_argument("photo", metavar="PHOTO")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.add_argument("--overlay", metavar="FILE")
    parser.set_defaults(run=_find_face)


def _find_face(options: argparse.Namespace) -> None:
    path = path_of(options.photo)
    targets = (options.overlay, options.json)
    check_targets(path, [path_of(name) for name in targets if name not in {None, "-"}])
    photo = read_photo(read_bytes(path, "photo"), path.name)
    found = find_face(photo)
    if options.overlay is not None:
        suffix = Path(options.overlay).suffix.lower()
        kind = "JPEG" if suffix in {".jpg", ".jpeg"} else "PNG"
        Path(options.overlay).write_bytes(encoded(face_overlay(photo, found), kind))
    if options.json is None:
        say(face_sentence(found))
    else:
        write_json(face_answer(found), options.json)
