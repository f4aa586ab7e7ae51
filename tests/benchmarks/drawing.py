"""How long a drawn face takes: ``python tests/benchmarks/drawing.py``.

Processor time of one thread, so that other work on the machine hardly shows.
"""

import sys
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.synthetic import (
    Aggregate,
    Camera,
    FaceRecipe,
    Honeycomb,
    Joint,
    PitPopulation,
    Surface,
    draw_face,
)

SIZE = {"height_px": 1000, "width_px": 1000, "mm_per_px": 0.2}
FACES = {
    "no voids": FaceRecipe(**SIZE),
    "100 pits": FaceRecipe(**SIZE, pits=(PitPopulation(per_m2=2_500),)),
    "2,000 pits": FaceRecipe(
        **SIZE, pits=(PitPopulation(per_m2=50_000, median_mm=0.8),)
    ),
    "5,000 pits": FaceRecipe(
        **SIZE, pits=(PitPopulation(per_m2=125_000, median_mm=0.5, largest_mm=4),)
    ),
    "every mark": FaceRecipe(
        **SIZE,
        pits=(PitPopulation(per_m2=5_000),),
        honeycomb=(Honeycomb(row_mm=100, col_mm=100, diameter_mm=60),),
        joints=(
            Joint(
                start_mm=(0, 50),
                end_mm=(199, 50),
                fin_height_mm=0.8,
                leak_width_mm=6,
                leak_pits_per_m=900,
                gap_mm=0.3,
            ),
        ),
        surface=Surface(
            stains=4,
            bloom=5,
            cracks=2,
            scratches=3,
            board_contrast=0.03,
            board_relief_mm=0.03,
            aggregate=(Aggregate(share=0.1),),
        ),
        camera=Camera(jpeg_quality=80),
    ),
}
ROUNDS = 5


def main() -> None:
    cv2.setNumThreads(1)
    sys.stdout.write(f"{'1 Mpx face':12} {'pits':>6} {'median s':>9} {'worst s':>8}\n")
    for name, recipe in FACES.items():
        draw_face(recipe, seed=0)
        times = []
        for seed in range(ROUNDS):
            start = time.process_time()
            face = draw_face(recipe, seed=seed)
            times.append(time.process_time() - start)
        sys.stdout.write(
            f"{name:12} {len(face.area_mm2):6d} "
            f"{np.median(times):9.2f} {max(times):8.2f}\n"
        )


if __name__ == "__main__":
    main()
