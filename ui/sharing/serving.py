"""What is served, alone or shared: the app, its own names, its backups as files."""

from __future__ import annotations

import logging
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from starlette.middleware import Middleware
from starlette.responses import FileResponse, PlainTextResponse
from starlette.routing import Route

from analysis.errors import StruckfaceError
from analysis.services import photo_queue
from analysis.services.log import open_log
from analysis.services.records import backup_folder, locate
from analysis.services.share import log_folder
from ui.sharing import words
from ui.sharing.own_names import OwnNames, own_names
from ui.sharing.owner import own

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


class Parts(TypedDict):
    """What `streamlit.starlette.App` is given beside its pages."""

    routes: list[Route]
    middleware: list[Middleware]


# What the server ends with where another app has the data folder (EX_TEMPFAIL).
OWNED_ELSEWHERE = 75
_NAME = re.compile(r"(?:log|whole)-[0-9-]+\.zip")


_LOGGER = logging.getLogger(__name__)
PAGES = Path(__file__).parents[1] / "app.py"


def parts(*more: Middleware) -> Parts:
    """Return what stands beside and before the pages.

    Where another app has the data folder, this one ends here. Streamlit finds what to
    serve by the name `App` in the file it is given, so that file makes it.

    Parameters
    ----------
    *more : Middleware
        What else stands before the pages, inside of the app's own names.
    """
    address = os.environ.get("STRUCKFACE_ADDRESS", "")
    if address and not own(log_folder(), address):
        sys.stdout.flush()
        os._exit(OWNED_ELSEWHERE)  # the server would go on after an exception
    names = own_names(os.environ.get("STRUCKFACE_SHARED_AT", ""))
    return {
        "routes": [Route("/backups/{name}", backup_file)],
        "middleware": [
            Middleware(OwnNames, names=names),
            *more,
        ],
    }


def go_on_measuring() -> None:
    """Measure what waits in the photo queue since before the start, without a page."""
    try:
        photo_queue.start(open_log(os.environ.get("STRUCKFACE_DATA") or None))
    except StruckfaceError:
        _LOGGER.exception("Photos that wait are not measured yet")


async def backup_file(request: Request) -> Response:
    """Send a backup piece by piece: it may be larger than the memory."""
    name = request.path_params["name"]
    path = backup_folder(locate(log_folder())) / name
    if not _NAME.fullmatch(name) or not path.is_file():
        return PlainTextResponse(words.NO_SUCH_BACKUP, status_code=404)
    return FileResponse(path, filename=name, media_type="application/zip")
