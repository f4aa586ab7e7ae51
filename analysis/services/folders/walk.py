"""Which photos a folder holds, and what the names of its folders tell."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import InputError
from analysis.model.folder import FolderFile

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_PICTURES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp")
PHOTO_ENDINGS = frozenset((*_PICTURES, ".heic", ".heif", ".avif"))
PLACES = ("piece", "form_face", "set_up", "stage")
# The folder that a photo lies in bears the name of its piece.
USUAL_NAMES = "{piece}/*"
_PLACE = re.compile(r"(\{[^{}]*\}|\*)")


def checked_folder(name: str) -> Path:
    """Return a folder that is there.

    Raises
    ------
    InputError
        It is no folder, or cannot be looked into.

    Examples
    --------
    >>> checked_folder(".") == Path(".").resolve()
    True
    """
    try:
        folder = Path(name).expanduser().resolve()
        with os.scandir(folder):
            return folder
    except NotADirectoryError:
        msg = f"{name} is no folder: name the folder that holds the photos."
    except (OSError, ValueError, RuntimeError):
        msg = f"There is no folder {name} that can be read: check its name."
    raise InputError(msg)


def photos_in(folder: Path, *, apart: Iterable[Path] = ()) -> tuple[FolderFile, ...]:
    """Return the photos of a folder and of the folders in it, by path.

    Hidden files and folders are passed over, and so are files of other endings. Links
    to folders are not followed, since they may lead round in a circle.

    Parameters
    ----------
    folder : Path
    apart : iterable of Path
        Folders to be passed over, such as the log's own.

    Raises
    ------
    InputError
        The folder is gone.

    Examples
    --------
    >>> photos_in(Path(__file__).parent)
    ()
    """
    left = {one.resolve() for one in apart}
    found = sorted(_walked(checked_folder(str(folder)), "", left), key=_in_order)
    return tuple(found)


def _walked(place: Path, before: str, apart: set[Path]) -> Iterator[FolderFile]:
    try:
        entries = list(os.scandir(place))
    except OSError:
        # A folder inside that is gone, or that may not be read, hides no other.
        return
    for entry in entries:
        path = f"{before}{entry.name}"
        if entry.name.startswith("."):
            continue
        try:
            if entry.is_dir(follow_symlinks=False):
                if Path(entry.path).resolve() not in apart:
                    yield from _walked(Path(entry.path), f"{path}/", apart)
            elif Path(entry.name).suffix.lower() in PHOTO_ENDINGS and entry.is_file():
                told = entry.stat()
                yield FolderFile(
                    path=path, byte_count=told.st_size, changed_ns=told.st_mtime_ns
                )
        except OSError:
            continue


def _in_order(file: FolderFile) -> tuple[tuple[int, int, str], ...]:
    """Order names as people count: photo 9 before photo 10."""
    parts = re.split(r"(\d+)", file.path)
    return tuple(
        (0, int(part), part) if part.isdecimal() else (1, 0, part) for part in parts
    )


def name_pattern(text: str) -> re.Pattern[str]:
    """Return what reads folder names by a pattern.

    Parameters
    ----------
    text : str
        Such as ``{set_up}/{piece}_*``: names in braces stand for what they name, a
        star for anything, ``/`` parts folders; the last part is the file's name
        without its ending. It is held against the end of each path.

    Raises
    ------
    InputError
        A name in braces is unknown or given twice, or there is none.

    Examples
    --------
    >>> told_by_names("May/007/IMG_3.jpg", name_pattern("{piece}/*"))
    {'piece': '007'}
    """
    parts = _PLACE.split(text.strip().strip("/"))
    names = [part[1:-1] for part in parts if part.startswith("{")]
    if not names or set(names) - set(PLACES) or len(set(names)) < len(names):
        msg = (
            f"The pattern of names {text!r} cannot be read: write such as "
            f"'{USUAL_NAMES}', with {', '.join(f'{{{one}}}' for one in PLACES)}, "
            "each at most once."
        )
        raise InputError(msg)
    regex = "".join(
        "[^/]*"
        if part == "*"
        else f"(?P<{part[1:-1]}>[^/]+?)"
        if part.startswith("{")
        else re.escape(part)
        for part in parts
    )
    return re.compile(f"(?:.*/)?{regex}", re.DOTALL)


def told_by_names(path: str, pattern: re.Pattern[str]) -> dict[str, str]:
    """Return what a photo's path tells by a pattern; empty where it does not fit.

    Examples
    --------
    >>> told_by_names("IMG_3.jpg", name_pattern("{piece}/*"))
    {}
    """
    found = pattern.fullmatch(str(Path(path).with_suffix("").as_posix()))
    if found is None:
        return {}
    return {name: text.strip() for name, text in found.groupdict().items()}
