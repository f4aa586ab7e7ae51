"""What the background holds beyond a lamp's smooth falling off: damp, glare."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.robust import median
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background

_SET = SETTINGS.slope


def looks_damp(background: Background) -> bool:
    """Tell broad dark patches from a lamp's falling off, which is smooth.

    Examples
    --------
    >>> from analysis.voids.background import background_light
    >>> wet = np.full((400, 500), 0.5, np.float32)
    >>> wet[100:260, 150:350] = 0.25
    >>> looks_damp(background_light(wet, None, 16))
    True
    """
    off = _off_slope(background, -1.0)
    dark = float(np.mean(off < _SET.damp_log))
    return dark > _SET.damp_share and float(median(off)) > _SET.dry_log


def glare_cells(background: Background) -> NDArray[np.bool_] | None:
    """Find where the lamp mirrors on the face; None where it does not.

    A patch of glare is far brighter than the slope of the light, and most of the face
    lies on that slope. The lips of voids mirror too, and so their rims are unsure.

    Parameters
    ----------
    background : Background

    Returns
    -------
    ndarray of bool, (cell rows, cell cols), or None

    Examples
    --------
    >>> from analysis.voids.background import background_light
    >>> down, across = np.mgrid[:400, :500]
    >>> near = np.exp(-((down - 200) ** 2 + (across - 250) ** 2) / 2 / 60**2)
    >>> shiny = np.float32(0.1 + 0.3 * near)
    >>> round(float(glare_cells(background_light(shiny, None, 16)).mean()), 1)
    0.2
    >>> glare_cells(background_light(np.full((400, 500), 0.1, np.float32), None, 16))
    """
    off = _off_slope(background, 1.0)
    bright = float(np.mean(off > _SET.glare_log))
    if bright < _SET.glare_share or float(median(off)) > _SET.dull_log:
        return None
    return np.asarray(off > _SET.glare_edge_log).reshape(background.cells.shape)


def in_cells(
    cells: NDArray[np.bool_],
    row_px: NDArray[np.float64],
    col_px: NDArray[np.float64],
    shape: tuple[int, int],
) -> NDArray[np.bool_]:
    """Tell which points of the photo lie in chosen cells.

    Examples
    --------
    >>> cells = np.array([[True, False]])
    >>> in_cells(cells, np.array([3.0, 3.0]), np.array([2.0, 15.0]), (10, 20)).tolist()
    [True, False]
    """
    tall, wide = cells.shape
    row = np.clip(row_px * tall / shape[0], 0, tall - 1).astype(np.intp)
    col = np.clip(col_px * wide / shape[1], 0, wide - 1).astype(np.intp)
    return np.asarray(cells[row, col])


def _off_slope(background: Background, away: float) -> NDArray[np.float64]:
    """Log of each cell's light over the slope that most of the cells lie on.

    A surface of second degree is fitted again and again; cells that lie off to one
    side, darker (`away` -1) or brighter (1), hardly weigh from the second time on, so
    that a patch does not pull the slope towards itself.
    """
    level = np.log(background.cells.astype(np.float64))
    # Places run from -1 to 1, so that the six terms are of one size and the fit is well
    # conditioned. NumPy takes an imaginary step as the count of points.
    down, across = np.mgrid[-1 : 1 : level.shape[0] * 1j, -1 : 1 : level.shape[1] * 1j]
    terms = [np.ones_like(down), down, across, down * across, down**2, across**2]
    slope = np.stack([term.ravel() for term in terms])
    values = level.ravel()
    weight = np.ones(level.size)
    off = np.zeros(level.size)
    # Asymmetric least squares, reweighted (as baselines are fitted in spectroscopy,
    # from memory). Weights count by their squares. Six terms so alike in size are well
    # fitted by their normal equations, a few sums over all cells. Of a face one cell
    # high or wide some terms are the same: least squares takes the least solution.
    for _ in range(_SET.fit_rounds):
        weighed = slope * weight**2
        products = np.einsum("in,jn->ij", weighed, slope)
        fit = np.linalg.lstsq(products, np.einsum("in,n->i", weighed, values))[0]
        off = values - np.einsum("in,i->n", slope, fit)
        last, weight = weight, np.where(away * off > _SET.off_log, _SET.off_weight, 1.0)
        if np.array_equal(last, weight):  # and so would every fit from here on be
            break
    return off
