"""The measuring as the benchmarks see it: the command line, in this process."""

from __future__ import annotations

import io
import json
import sys
import tempfile
import time
from contextlib import redirect_stderr
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2

if TYPE_CHECKING:
    import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What `measure` said: its figures, its mask if asked for, how long it took."""

    figures: dict
    mask: np.ndarray | None
    seconds: float
    cpu_seconds: float

    @property
    def centres(self):
        return [(void["row_px"], void["col_px"]) for void in self.figures["voids"]]


def measure(data, mm_per_px=None, *, suffix=".jpg", with_mask=True, outline=None):
    """Measure a photo given as the bytes of its file.

    Parameters
    ----------
    data : bytes
    mm_per_px : float, optional
    suffix : str
        Ending of the file's name.
    with_mask : bool
        Whether the mask of the counted voids is wanted.
    outline : ndarray, (n, 2), optional
        Outline of the face, (x, y) with the origin at the centre of the first px.

    Raises
    ------
    RuntimeError
        When the command refuses; its sentence is passed on.
    """
    from analysis.cli import main  # noqa: PLC0415  the rest of this file works without

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        photo, figures = folder / f"photo{suffix}", folder / "figures.json"
        photo.write_bytes(data)
        command = ["measure", str(photo), "--json", str(figures)]
        if mm_per_px is not None:
            command += ["--mm-per-px", repr(mm_per_px)]
        if outline is not None:
            points = " ".join(f"{x:.2f},{y:.2f}" for x, y in outline)
            command.append(f"--outline={points}")
        mask = folder / "mask.png"
        if with_mask:
            command += ["--mask", str(mask)]
        said = io.StringIO()
        start, cpu_start = time.perf_counter(), time.process_time()
        with redirect_stderr(said):
            code = main(command)
        seconds = time.perf_counter() - start
        cpu_seconds = time.process_time() - cpu_start
        if code != 0:
            refusal = f"measure refused: {said.getvalue().strip()}"
            raise RuntimeError(refusal)
        return Found(
            figures=json.loads(figures.read_text(encoding="utf-8")),
            mask=cv2.imread(str(mask), cv2.IMREAD_GRAYSCALE) > 127
            if with_mask
            else None,
            seconds=seconds,
            cpu_seconds=cpu_seconds,
        )
