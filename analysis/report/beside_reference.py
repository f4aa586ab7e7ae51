"""A piece beside an approved one, both printed in their true size."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.report.paper import finished, lines, new_paper
from analysis.report.paper_pictures import picture, scale_bar

# Two of them stand beside each other on A4 and on Letter.
SIDE_MM = 85.0
_GAP_MM = 6.0
_HOW = (
    "Print at 100 %: the bar below must be as long as it says. Then both faces are as "
    "large as they are, and can be held against the piece."
)
_NOT = "A photo says nothing about strength, and colours depend on light and printer."


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideFace:
    """A square of a face, cut out of its photo.

    Attributes
    ----------
    title : str
        Whose it is.
    says : str
        Void area of the whole reading, in words.
    picture : bytes
        JPEG or PNG, square.
    """

    title: str
    says: str
    picture: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PairOfFaces:
    """A piece and its reference, cut to one size in mm and in px.

    Attributes
    ----------
    side_mm : float
        Of each square; at most ``SIDE_MM``.
    faces : tuple of BesideFace
        The piece, then the reference.
    """

    side_mm: float
    faces: tuple[BesideFace, BesideFace]


def beside_sheet(pair: PairOfFaces, *, page: str = "A4") -> bytes:
    """Lay out two faces beside each other in their true size, as PDF.

    Parameters
    ----------
    pair : PairOfFaces
        What is shown.
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 40)).save(file, "PNG")
    >>> face = BesideFace(title="Piece 7", says="0.4 %", picture=file.getvalue())
    >>> beside_sheet(PairOfFaces(side_mm=60.0, faces=(face, face)))[:4]
    b'%PDF'
    """
    paper = new_paper("Beside the reference, true size", page=page)
    lines(paper, (_HOW,))
    paper.ln(3)
    top = paper.get_y()
    places = []
    for number, face in enumerate(pair.faces):
        paper.set_y(top)
        places.append(
            picture(
                paper,
                face.picture,
                width_mm=pair.side_mm,
                tallest_mm=pair.side_mm,
                at_mm=number * (pair.side_mm + _GAP_MM),
                alt=face.title,
            )
        )
    scale_bar(paper, places[0], mm_across=pair.side_mm)
    paper.ln(2)
    lines(paper, [f"{face.title}: {face.says}." for face in pair.faces])
    lines(paper, (_NOT,), small=True)
    return finished(paper)
