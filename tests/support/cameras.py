"""Flat and round faces seen by a camera that stands askew. Truth by construction."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.imaging.markers import marker_cells
from analysis.model.sheet import MARKER_MM, SHEET_MARKERS, WHITE_EDGE_MM

FOCAL_PX = 1500.0


def paper_sheet(px_per_mm, *, markers=SHEET_MARKERS, size=1.0):
    """Draw a sheet with its white edge; marker 0 begins at (edge, edge)."""
    width = max(x for x, _ in markers.values()) + MARKER_MM + 2 * WHITE_EDGE_MM
    height = max(y for _, y in markers.values()) + MARKER_MM + 2 * WHITE_EDGE_MM
    scale = px_per_mm * size
    paper = np.full((round(height * scale), round(width * scale)), 245, np.uint8)
    for number, (x, y) in markers.items():
        side = round(MARKER_MM * scale)
        drawn = np.where(marker_cells(number), 10, 245).astype(np.uint8)
        left, top = (round((at + WHITE_EDGE_MM) * scale) for at in (x, y))
        paper[top : top + side, left : left + side] = cv2.resize(
            drawn, (side, side), interpolation=cv2.INTER_NEAREST
        )
    return np.repeat(paper[..., None], 3, axis=2)


def pasted(face, patch, top, left):
    """Lay a patch on a face."""
    face = face.copy()
    face[top : top + len(patch), left : left + patch.shape[1]] = patch
    return face


def face_to_photo(
    size_mm,
    *,
    tilt_deg=0.0,
    turn_deg=0.0,
    roll_deg=0.0,
    far_mm=900.0,
    photo_px=(1500, 2000),
    focal_px=FOCAL_PX,
):
    """Return the homography from (x, y) mm of a face to (x, y) px of its photo."""
    tilt, turn, roll = np.radians([tilt_deg, turn_deg, roll_deg])
    about_x = cv2.Rodrigues(np.array([tilt, 0, 0]))[0]
    about_y = cv2.Rodrigues(np.array([0, turn, 0]))[0]
    about_z = cv2.Rodrigues(np.array([0, 0, roll]))[0]
    turned = about_z @ about_x @ about_y
    to_middle = np.array(
        [[1, 0, -size_mm[0] / 2], [0, 1, -size_mm[1] / 2], [0, 0, 1.0]]
    )
    pose = np.column_stack([turned[:, 0], turned[:, 1], [0, 0, far_mm]])
    rows, cols = photo_px
    lens = np.array(
        [[focal_px, 0, (cols - 1) / 2], [0, focal_px, (rows - 1) / 2], [0, 0, 1]]
    )
    return lens @ pose @ to_middle


def seen(face, px_per_mm, mm_to_photo, photo_px=(1500, 2000)):
    """Photograph a face, four samples to the pixel each way."""
    fine = 3
    to_mm = np.array(
        [
            [1 / px_per_mm, 0, 0.5 / px_per_mm],
            [0, 1 / px_per_mm, 0.5 / px_per_mm],
            [0, 0, 1],
        ]
    )
    finer = np.array(
        [[fine, 0, (fine - 1) / 2], [0, fine, (fine - 1) / 2], [0, 0, 1.0]]
    )
    rows, cols = photo_px
    big = cv2.warpPerspective(
        face,
        finer @ mm_to_photo @ to_mm,
        (cols * fine, rows * fine),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(90, 95, 100),
    )
    return cv2.resize(big, (cols, rows), interpolation=cv2.INTER_AREA)


def moved(matrix, points):
    """Map (n, 2) points by a homography."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return mapped[:, :2] / mapped[:, 2:]


def wrapped(
    face, px_per_mm, radius_mm, far_mm, *, focal_px=2400.0, photo_px=(1200, 1600)
):
    """Photograph a flat face wrapped round an upright cylinder.

    Lines of sight are met with the cylinder one by one; the face's middle looks at the
    camera, which stands `far_mm` from the axis. Returns the photo and the columns of
    the left and right edge.
    """
    rows, cols = photo_px
    fine = 2
    v, u = np.mgrid[: rows * fine, : cols * fine]
    u = ((u + 0.5) / fine - cols / 2) / focal_px
    v = ((v + 0.5) / fine - rows / 2) / focal_px
    # |(t u, t - far)| = radius
    a, b, c = u**2 + 1, -2 * far_mm, far_mm**2 - radius_mm**2
    root = b**2 - 4 * a * c
    t = (-b - np.sqrt(np.maximum(root, 0))) / (2 * a)
    angle = np.arctan2(t * u, far_mm - t)
    tall, wide = face.shape[:2]
    x = (radius_mm * angle * px_per_mm + (wide - 1) / 2).astype(np.float32)
    y = (t * v * px_per_mm + (tall - 1) / 2).astype(np.float32)
    x[root <= 0] = -9
    big = cv2.remap(
        face,
        x,
        y,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(90, 95, 100),
    )
    photo = cv2.resize(big, (cols, rows), interpolation=cv2.INTER_AREA)
    half = focal_px * radius_mm / np.sqrt(far_mm**2 - radius_mm**2)
    middle = (cols - 1) / 2
    return photo, (middle - half, middle + half)
