"""How long a page of the library takes on a log of many pieces.

Run: python tests/benchmarks/library.py [--pieces 10000] [--write]
Prints a table; --write keeps it in tests/benchmarks/results/library.md. A page is to
take less than a second. Times are the least of several runs in one process.
"""

import argparse
import platform
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.model.library import LibraryAsk
from analysis.services import piece_library
from tests.support.library_log import many_pieces

LIMIT_S = 1.0
RUNS = 5
HERE = Path(__file__).parent / "results" / "library.md"


def timed(work, runs=RUNS):
    """Return the least time of some work and its processor's, s, and what it gave.

    The least, since other work on the machine only ever adds to it.
    """
    seconds, busy = [], []
    for _ in range(runs):
        start, used = time.perf_counter(), time.process_time()
        given = work()
        seconds.append(time.perf_counter() - start)
        busy.append(time.process_time() - used)
    return min(seconds), min(busy), given


def asks(count):
    """Return what is asked, by name, and where the page begins."""
    return {
        "newest, first page": (LibraryAsk(), 0),
        "newest, last page": (LibraryAsk(), count - piece_library.PAGE),
        "one form": (LibraryAsk(form_id=1), 0),
        "one form type": (LibraryAsk(form_type="pot"), 0),
        "search of two words": (LibraryAsk(text="pot b"), 0),
        "joints open": (LibraryAsk(sealing="open"), 0),
        "one vibration method": (LibraryAsk(method="poker"), 0),
        "above the target": (LibraryAsk(place="above"), 0),
        "ground": (LibraryAsk(stage="ground"), 0),
        "most voids first": (LibraryAsk(order="most voids"), 0),
        "by name": (LibraryAsk(order="name"), 0),
    }


def pictures(log):
    """Return the time of a page's pictures, first made and then kept, s."""
    cards = piece_library.library_page(log, LibraryAsk()).cards
    faces = piece_library.faces_of(log, [card.shown.id for card in cards])

    def work():
        return [
            piece_library.small_picture(log, card.shown, faces[card.shown.id])
            for card in cards
        ]

    made, busy, _ = timed(work, runs=1)
    kept, busy_kept, _ = timed(work)
    return (made, busy), (kept, busy_kept)


def row(name, count, times):
    """Return a line of the table."""
    return f"{name:32} {count:7,} {times[0]:8.3f} {times[1]:10.3f}"


def table(count):
    """Yield the lines of the table."""
    size = piece_library.PAGE
    with tempfile.TemporaryDirectory() as folder:
        log = many_pieces(folder, count, on_disk=size)
        head = f"page of {size}"
        yield f"{head:32} {'found':>7} {'seconds':>8} {'processor':>10}"
        worst = 0.0
        for name, (ask, start) in asks(count).items():
            *times, page = timed(
                lambda ask=ask, start=start: piece_library.library_page(
                    log, ask, start=start
                )
            )
            worst = max(worst, times[0])
            yield row(name, page.count, times)
        *times, _ = timed(lambda: piece_library.neighbours(log, LibraryAsk(), 1))
        yield row("pieces beside one", count, times)
        made, kept = pictures(log)
        yield row("pictures of a page, kept", size, kept)
        yield row("pictures of a page, first time", size, made)
        worst += kept[0]
        met = "met" if worst < LIMIT_S else "NOT met"
        yield f"slowest page with its pictures {worst:.3f} s, limit 1 s: {met}"


def main():
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--pieces", type=int, default=10_000)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    lines = []
    for line in table(asked.pieces):
        sys.stdout.write(f"{line}\n")
        lines.append(line)
    if asked.write:
        text = (
            "# The library of pieces\n\n"
            f"`python tests/benchmarks/library.py --pieces {asked.pieces} --write` on "
            f"{platform.machine()}, Python {platform.python_version()}: one measured "
            "photo of each piece, SQLite, the log's own verbs without the drawing of "
            "the screen. Pictures that are not kept yet (12-megapixel JPEGs) come in "
            "after the page is shown.\n\n```\n" + "\n".join(lines) + "\n```\n"
        )
        HERE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
