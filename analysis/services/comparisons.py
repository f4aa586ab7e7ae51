"""What improves the finish: comparisons, what they are worth, how pieces look."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from analysis.compare.table import piece_table
from analysis.compare.typical import typical_pieces
from analysis.compare.within_piece import joint_table
from analysis.imaging.cutout import cutout, face_extent_mm
from analysis.imaging.joint_bands import joint_band_shares
from analysis.imaging.overlay import encoded
from analysis.imaging.photo import read_photo
from analysis.imaging.viewing import seen
from analysis.services.tables import NO_SETTINGS
from analysis.storage.castings import list_castings
from analysis.storage.photo_store import photo_bytes
from analysis.storage.piece_table import outcomes_of_pieces
from analysis.storage.piece_table import piece_table as rows_of_log
from analysis.storage.readings import list_readings, load_reading

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison, PieceTable
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.reading import Reading
    from analysis.services.log import Log

__all__ = [
    "Look",
    "joints_of_log",
    "looks",
    "trials_of_log",
]

_PICTURE_PX = 480
_MOST_PX_PER_MM = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a typical piece of a level looks.

    Attributes
    ----------
    level, piece : str
        Names.
    jpeg : bytes
        The middle of its face, at the scale of its neighbours.
    side_mm : float
        Side of the square shown.
    """

    level: str
    piece: str
    jpeg: bytes
    side_mm: float


def trials_of_log(log: Log, *, stage: str | None = None) -> PieceTable:
    """Return the log's pieces with all outcomes, counted from one smallest size.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        Only readings at this stage; by default each piece's earliest.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(trials_of_log(open_log(folder)))
    0
    """
    further = outcomes_of_pieces(log, stage=stage)
    rows = (asdict(row) for row in rows_of_log(log, stage=stage, common_floor=True))
    return piece_table(
        {name: cell for name, cell in row.items() if name not in NO_SETTINGS}
        | dict.fromkeys(("largest_void_mm", "repair_minutes", "second"))
        | further.get(str(row["piece"]), {})
        for row in rows
    )


def joints_of_log(log: Log) -> PieceTable:
    """Return one row per joint of the pieces with sealed and open joints.

    Joints count where the casting names them and a joint line of a representative
    photo has the same name. Bands are counted from one smallest size.

    Raises
    ------
    TableError
        No piece has such joints.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> from analysis.errors import TableError
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     try:
    ...         joints_of_log(open_log(folder))
    ...     except TableError as error:
    ...         print(str(error).split(":")[0])
    The table of joints has no joint
    """
    found: list[tuple[Casting, Reading]] = []
    lines = _representative(log)
    for casting in list_castings(log):
        several = {state.sealing for state in casting.piece.joints if state.joint}
        line = lines.get(casting.piece.id or 0)
        if len(several) > 1 and line is not None:
            found.append((casting, load_reading(log, line.id)))
    sizes = [reading.summary.smallest_counted_mm for _, reading in found]
    floor = max((size for size in sizes if size is not None), default=None)
    rows = []
    for casting, reading in found:
        shares = joint_band_shares(reading, smallest_mm=floor)
        rows += [
            {
                "piece": casting.piece.name,
                "pour": casting.pour.name,
                "cast_on": casting.pour.cast_on,
                "joint": state.joint,
                "joint_sealing": state.sealing,
                "joint_band_percent": 100 * shares[state.joint],
            }
            for state in casting.piece.joints
            if state.joint in shares
        ]
    return joint_table(rows)


def looks(
    log: Log, comparison: Comparison, levels: tuple[str, str] | None = None
) -> tuple[Look, ...]:
    """Return a typical piece of each of two levels, the first two if not said.

    All are shown at one scale.

    Only pieces with a measured photo and a scale are taken.

    Examples
    --------
    >>> looks.__name__
    'looks'
    """
    lines = _representative(log)
    with_photo = {
        casting.piece.name: lines[casting.piece.id or 0]
        for casting in list_castings(log)
        if (casting.piece.id or 0) in lines
    }
    pair = next((one for one in comparison.pairs if one.levels == levels), None)
    chosen = typical_pieces(comparison, pair, among=with_photo)
    shown = []
    for level, piece in chosen.items():
        line = with_photo[piece]
        reading = load_reading(log, line.id)
        photo = seen(
            read_photo(photo_bytes(log, line.photo_sha256), line.photo_name),
            reading.face.view,
        )
        if reading.scale is not None:
            shown.append((level, piece, photo, reading.face, reading.scale.mm_per_px))
    if not shown:
        return ()
    side_mm = min(
        extent
        for _, _, photo, face, mm_per_px in shown
        for extent in face_extent_mm(face, mm_per_px, photo.pixels.shape[:2])
    )
    px_per_mm = min(_PICTURE_PX / side_mm, _MOST_PX_PER_MM)
    return tuple(
        Look(
            level=level,
            piece=piece,
            jpeg=encoded(
                cutout(photo.pixels, face, mm_per_px, side_mm, px_per_mm), "JPEG"
            ),
            side_mm=side_mm,
        )
        for level, piece, photo, face, mm_per_px in shown
    )


def _representative(log: Log) -> dict[int, ReadingLine]:
    """Return the latest reading with a scale of each piece's representative photo."""
    of_piece: defaultdict[int, list[ReadingLine]] = defaultdict(list)
    for line in list_readings(log):
        sized = line.smallest_counted_mm is not None
        if line.use.purpose == "representative" and sized:
            of_piece[line.piece_id].append(line)
    return {
        piece: max(lines, key=lambda line: (line.measured_at, line.id))
        for piece, lines in of_piece.items()
    }
