"""What improves the finish: joints of pieces to compare; how typical pieces look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.compare.typical import typical_pieces
from analysis.compare.within_piece import joint_table
from analysis.imaging.cutout import cutout, face_extent_mm
from analysis.imaging.joint_bands import joint_band_shares
from analysis.imaging.overlay import encoded
from analysis.imaging.photo import read_photo
from analysis.imaging.viewing import seen
from analysis.pieces.likeness import common_size
from analysis.pieces.pooling import by_area
from analysis.pieces.standing import standing_readings
from analysis.storage.castings import list_castings
from analysis.storage.photo_store import photo_bytes
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison, PieceTable
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.reading import Reading
    from analysis.services.log import Log

__all__ = [
    "TypicalPiece",
    "joints_of_log",
    "looks",
]

_PICTURE_PX = 480
_MOST_PX_PER_MM = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalPiece:
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
    found: list[tuple[Casting, list[Reading]]] = []
    standing = _with_scale(log)
    for casting in list_castings(log):
        several = {state.sealing for state in casting.piece.joints if state.joint}
        lines = standing.get(casting.piece.id or 0)
        if len(several) > 1 and lines:
            found.append((casting, [load_reading(log, line.id) for line in lines]))
    floor = common_size(
        reading.summary.smallest_counted_mm
        for _, readings in found
        for reading in readings
    )
    rows = []
    for casting, readings in found:
        shares = [joint_band_shares(one, smallest_mm=floor) for one in readings]
        areas = [one.summary.face_area_mm2 for one in readings]
        for state in casting.piece.joints:
            share = by_area([one.get(state.joint) for one in shares], areas)
            if share is not None:
                rows.append(
                    {
                        "piece": casting.piece.name,
                        "pour": casting.pour.name,
                        "cast_on": casting.pour.cast_on,
                        "joint": state.joint,
                        "joint_sealing": state.sealing,
                        "joint_band_percent": 100 * share,
                    }
                )
    return joint_table(rows)


def looks(
    log: Log, comparison: Comparison, levels: tuple[str, str] | None = None
) -> tuple[TypicalPiece, ...]:
    """Return a typical piece of each of two levels, the first two if not said.

    All are shown at one scale.

    Only pieces with a measured photo and a scale are taken.
    """
    standing = _with_scale(log)
    with_photo = {
        casting.piece.name: standing[casting.piece.id or 0][0]
        for casting in list_castings(log)
        if (casting.piece.id or 0) in standing
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
        TypicalPiece(
            level=level,
            piece=piece,
            jpeg=encoded(
                cutout(photo.pixels, face, mm_per_px, side_mm, px_per_mm), "JPEG"
            ),
            side_mm=side_mm,
        )
        for level, piece, photo, face, mm_per_px in shown
    )


def _with_scale(log: Log) -> dict[int, tuple[ReadingLine, ...]]:
    """Return the readings that stand for each piece, where they have a scale."""
    standing = standing_readings(list_readings(log))
    return {
        piece_id: lines
        for piece_id, lines in standing.items()
        if all(line.smallest_counted_mm is not None for line in lines)
    }
