"""Words of taking the log in and out: tables, backups."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import date, datetime
from typing import TYPE_CHECKING

from analysis.model.writing import day
from ui.words import when

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from analysis.services.records import ImportPreview, ImportProblem

_NAMED = re.compile(r"(?:log|whole)-(\d{4}-\d{2}-\d{2})(?:-(\d{2})(\d{2})\d{2})?")

# a table in
TABLE = "Table of pieces, CSV or xlsx"
NEEDS = "One row per piece. Needed: piece, pour, casting date. All rows go in, or none."
DATES = "Dates such as 01.02.2026 are"
DATE_ORDERS = {
    "": "Not said",
    "dmy": "Day first",
    "mdy": "Month first",
    "ymd": "Year first",
}
DECIMAL = "Decimal mark"
DECIMALS = {"": "As found", ",": "Comma: 1,25", ".": "Point: 1.25"}
COLUMNS = "Columns with other names"
LEFT_OUT = "Not imported"
IMPORT_DONE = "Imported:"
PREVIEW_FIRST = "First lines, as they were read"
FOUND = {"": "unknown, as no number shows it", ",": "comma", ".": "point"}

# a table out
EXPORT = "Pieces with their void area, settings and weather: one row per piece."
EXPORTS_CSV = "CSV"
EXPORTS_CSV_COMMA = "CSV with decimal comma"
EXPORTS_XLSX = "Spreadsheet (xlsx)"
EXPORT_KEEPS = (
    "Imported again, it gives the same figures. Photos, single voids and earlier "
    "versions of records are in backups only."
)

# backups
BACK_UP = "Back up now, with photos"
BACK_UP_WHAT = (
    "One zip: the log and every photo unchanged, each with a checksum. The log alone "
    "is backed up every day."
)
BACKED_UP = "Backed up:"
NO_BACKUP = "No backup yet."
DOWNLOAD = "Download"
CHOOSE_BACKUP = "Backup"
RESTORE = "Restore"
RESTORE_WHAT = (
    "Every file is checked first. The log you have now is moved aside, not deleted."
)
OTHER_BACKUP = "A backup file"
SURE = "Replace the log by this backup"
RESTORE_NOW = "Restore this backup"
RESTORED = "Restored, every file checked:"
RESCUE = "Go back to the last good state"
RESCUE_WHAT = (
    "The damaged log is kept beside it. What you logged after the backup is not in it. "
    "Photos stay as they are."
)
LOOKING_FOR_GOOD = "Looking through the backups for the last good one"
BEGIN_ANEW = "Begin an empty log instead"
BEGIN_ANEW_WHAT = (
    "The log that cannot be opened, its backups and its photos stay where they are."
)
SURE_ANEW = "Begin with an empty log"
NO_RESCUE = "There is no backup beside the log. Choose a backup file:"
WHOLE = "with photos"
DAILY = "log alone"
REPLACED = "as it was before a restore"


def problems_line(problems: Sequence[ImportProblem]) -> str:
    """Say that nothing goes in yet.

    Examples
    --------
    >>> problems_line([None])
    'Nothing imported yet: 1 cell cannot be read. Correct the table, or answer above.'
    """
    count = "1 cell" if len(problems) == 1 else f"{len(problems)} cells"
    return (
        f"Nothing imported yet: {count} cannot be read. Correct the table, or answer "
        f"above."
    )


def read_line(preview: ImportPreview) -> str:
    """Say how a table was read."""
    parts = [preview.encoding.removesuffix("-sig").upper()]
    separators = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
    if preview.separator:
        parts.append(f"cells separated by {separators.get(preview.separator, 'marks')}")
    parts.append(f"decimal mark {FOUND[preview.decimal or '']}")
    left_out = ", ".join(preview.columns_left_out)
    parts += [f"not imported: {left_out}"] if left_out else []
    return f"Read as {'; '.join(filter(None, parts))}."


def import_button(count: int) -> str:
    """Say what the import would take in."""
    return f"Import {count} pieces" if count != 1 else "Import 1 piece"


def size(count_bytes: float) -> str:
    """Write the size of a file.

    Examples
    --------
    >>> size(2_500_000), size(900)
    ('2.5 MB', '0.1 MB')
    """
    return f"{max(count_bytes / 1e6, 0.1):.1f} MB"


def backup_line(path: Path) -> str:
    """Name a backup by its day and what is in it.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "log-2026-03-31.zip"
    ...     path.write_bytes(bytes(3_000_000))
    ...     backup_line(path)
    3000000
    '31 March 2026, log alone, 3.0 MB'
    """
    kind = path.name.partition("-")[0]
    what = {"whole": WHOLE, "replaced": REPLACED}.get(kind, DAILY)
    return f"{_moment(path)}, {what}, {size(path.stat().st_size)}"


def _moment(path: Path) -> str:
    """Say when a backup was made: as its name says, else as its file does."""
    found = _NAMED.fullmatch(path.stem)
    if found:
        with suppress(ValueError):
            on = day(date.fromisoformat(found[1]))
            return f"{on}, {found[2]}:{found[3]}" if found[2] else on
    return when(datetime.fromtimestamp(path.stat().st_mtime).astimezone())


def lost(count: int) -> str:
    """Say that photos are missing from a backup.

    Examples
    --------
    >>> lost(1)
    '1 photo is missing or changed and not in the backup:'
    """
    if count == 1:
        return "1 photo is missing or changed and not in the backup:"
    return f"{count} photos are missing or changed and not in the backup:"
