"""What a printed sheet says, and how it looks."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pypdfium2

if TYPE_CHECKING:
    from numpy.typing import NDArray


def words_of(pdf: bytes) -> str:
    """Return the text of all pages, as a search finds it."""
    with pypdfium2.PdfDocument(pdf) as document:
        return "\n".join(
            page.get_textpage().get_text_range() for page in document
        ).replace("\r\n", "\n")


def run_on(pdf: bytes) -> str:
    """Return the text with its line ends and blanks taken out."""
    return "".join(words_of(pdf).replace("\ufffe", "").split())


def page_sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    """Return the size of each page."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [
            (round(width * 25.4 / 72, 1), round(height * 25.4 / 72, 1))
            for width, height in (page.get_size() for page in document)
        ]


def rendered(pdf: bytes, name: str = "", dpi: int = 60) -> list[NDArray[np.uint8]]:
    """Return each page as a grey picture; SHEETS_TO names a folder to keep them in."""
    pages = []
    with pypdfium2.PdfDocument(pdf) as document:
        for number, page in enumerate(document, start=1):
            image = page.render(scale=dpi / 72).to_pil()
            if os.environ.get("SHEETS_TO") and name:
                folder = Path(os.environ["SHEETS_TO"])
                folder.mkdir(parents=True, exist_ok=True)
                larger = page.render(scale=90 / 72).to_pil()
                larger.save(folder / f"{name}-{number}.png")
            pages.append(np.asarray(image.convert("L")))
    return pages


def margins_are_clear(pages: list[NDArray[np.uint8]], dpi: int = 60) -> bool:
    """Tell whether nothing is printed within 8 mm of the sides and the head."""
    edge = round(8 / 25.4 * dpi)
    return all(
        bool(
            (page[:, :edge] > 250).all()
            and (page[:, -edge:] > 250).all()
            and (page[:edge] > 250).all()
        )
        for page in pages
    )
