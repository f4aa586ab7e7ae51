"""Which photos a folder holds, and what the names of its folders tell."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.checks import as_kept
from analysis.errors import InputError
from analysis.model.folder import FolderFile

if TYPE_CHECKING:
    from collections.abc import Iterable

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


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderContent:
    """What a folder holds.

    Attributes
    ----------
    photos : tuple of FolderFile
        By path, as people count; also those that cannot be read, of 0 bytes.
    unread : tuple of str
        Sentences about folders in it that cannot be looked into.
    links : tuple of str
        Paths of links to folders, which are not followed.
    """

    photos: tuple[FolderFile, ...]
    unread: tuple[str, ...] = ()
    links: tuple[str, ...] = ()


def photos_in(folder: Path, *, apart: Iterable[Path] = ()) -> FolderContent:
    """Return the photos of a folder and of the folders in it.

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
    >>> photos_in(Path(__file__).parent).photos
    ()
    """
    photos: list[FolderFile] = []
    unread: list[str] = []
    links: list[str] = []
    left = {one.resolve() for one in apart}
    waiting = [(checked_folder(str(folder)), "")]
    while waiting:
        place, before = waiting.pop()
        try:
            entries = list(os.scandir(place))
        except OSError as error:
            # It hides no other, but what it holds is missed.
            unread.append(
                f"The folder {before.rstrip('/')} cannot be looked into "
                f"({error.strerror}), so its photos are not in the log: allow reading "
                "it and begin again."
            )
            continue
        for entry in entries:
            path = f"{before}{entry.name}"
            if entry.name.startswith("."):
                continue
            if entry.is_dir(follow_symlinks=False):
                if Path(entry.path).resolve() not in left:
                    waiting.append((Path(entry.path), f"{path}/"))
            elif _is_link_to_folder(entry):
                links.append(path)
            elif Path(entry.name).suffix.lower() in PHOTO_ENDINGS:
                photos += _photo(entry, path)
    return FolderContent(
        photos=tuple(sorted(photos, key=_in_order)),
        unread=tuple(sorted(unread)),
        links=tuple(sorted(links)),
    )


def _is_link_to_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:  # a link to itself
        return False


def _photo(entry: os.DirEntry[str], path: str) -> list[FolderFile]:
    """Return a file; one that cannot be read counts too, so that it is told of."""
    try:
        if not entry.is_file() and not entry.is_symlink():
            return []  # what would never end, such as a pipe
        told = entry.stat()
    except OSError as error:
        if isinstance(error, FileNotFoundError) and not entry.is_symlink():
            return []  # taken away since it was listed
        return [FolderFile(path=path, byte_count=0, changed_ns=0)]
    return [FolderFile(path=path, byte_count=told.st_size, changed_ns=told.st_mtime_ns)]


def _in_order(file: FolderFile) -> tuple[tuple[int, int, str], ...]:
    """Order names as people count: photo 9 before photo 10."""
    parts = re.split(r"(\d+)", file.path)
    # Numbers before words: the 0 or 1 in front keeps the two from being compared.
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
    # Star and name stay within a folder, and a name takes as little as fits.
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
    return {name: as_kept(text) for name, text in found.groupdict().items()}
