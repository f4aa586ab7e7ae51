"""A backup written again with one change."""

from __future__ import annotations

import zipfile


def remade(source, target, change):
    """Write a zip again with one change."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        entries = {entry.filename: old.read(entry) for entry in old.infolist()}
        change(entries)
        for name, data in entries.items():
            new.writestr(name, data)
    return target
