"""Two small drawn photos of one face in two lights, as files."""

import functools

import cv2
import numpy as np


@functools.cache
def pair_of_photos(
    *,
    pits=8,
    grains=25,
    angles=(180.0, 0.0),
    seed=3,
    size=(360, 480),
    turn=0.012,
    shift=(9.0, -6.0),
    touching=False,
):
    """PNG bytes of both photos; the second is moved by `shift` px and turned a little.

    A pit is a bowl: it darkens towards the lamp. Grains
    are flush and dark; with `touching`, one lies against each pit. Mottling lines
    the photos up.
    """
    rng = np.random.default_rng(seed)
    rows, cols = size[0] + 60, size[1] + 60
    y, x = np.mgrid[:rows, :cols].astype(np.float32)
    mottle = sum(
        cv2.GaussianBlur(rng.normal(0, 1, (rows, cols)), (0, 0), sigma) * sigma * weight
        for sigma, weight in ((1.5, 0.035), (4, 0.05), (12, 0.06))
    )
    albedo = 0.35 * np.exp(mottle)
    places = _apart(rng, pits + grains, rows, cols)
    for row, col in places[pits:]:
        albedo[np.hypot(y - row, x - col) < rng.uniform(3, 6)] *= 0.4
    for number, (row, col) in enumerate(places[: pits if touching else 0]):
        down = row + 7 + number % 4 + 4.5
        albedo[np.hypot(y - down, x - col) < 6] *= 0.4
    along = 1 - turn**2 / 2
    motion = np.array([[along, -turn, shift[0]], [turn, along, shift[1]], [0, 0, 1]])
    back = np.array([[1, 0, -30.0], [0, 1, -30.0], [0, 0, 1]])
    files = []
    for angle, moved in zip(angles, (np.eye(3), motion), strict=True):
        light = np.ones_like(albedo)
        towards = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        for number, (row, col) in enumerate(places[:pits]):
            off, radius = np.hypot(y - row, x - col), 7 + number % 4
            side = ((x - col) * towards[0] + (y - row) * towards[1]) / radius
            light[off < radius] = (0.5 - 0.42 * side)[off < radius]
        photo = cv2.warpPerspective(
            (albedo * light).astype(np.float32), moved @ back, size[::-1]
        )
        photo = cv2.GaussianBlur(photo, (0, 0), 0.7)
        codes = 255 * np.clip(photo, 0, 1) ** (1 / 2.2) + rng.normal(0, 1.2, size)
        grey = np.clip(codes, 0, 255).astype(np.uint8)
        files.append(cv2.imencode(".png", cv2.merge([grey] * 3))[1].tobytes())
    return tuple(files)


def _apart(rng, count, rows, cols):
    """Places at least 34 px from each other and from the edge."""
    places = []
    while len(places) < count:
        place = rng.uniform(60, rows - 60), rng.uniform(60, cols - 60)
        if all(np.hypot(place[0] - r, place[1] - c) > 34 for r, c in places):
            places.append(place)
    return places
