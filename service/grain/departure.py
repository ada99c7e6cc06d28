"""How far each place of a side departs from the brightness of the wood along the same line."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from service.grain.tensor import Float

GRID_MM = 0.6
"""Grid on which a side is searched for knots and marks: a 6 mm knot is 10 points long."""

AROUND_MM = 70.0
"""The wood's own brightness is the median this far along on the same line."""

SMOOTH_MM = 3.6
"""Square over which brightness is averaged before the median is taken: pores and pencil lines are finer."""

THIN_MM, EVERY_MM = 6.5, 20.0
"""The median is taken over points this far apart, at places this far apart, and filled in between."""

DARKEST = 0.02
"""Brightness below which a share of it means nothing."""


@dataclass(frozen=True)
class Departure:
    """A side on a coarse grid.

    Attributes
    ----------
    wood
        float32, shape (rows, cols): brightness, 0 to 1.
    line
        float32, same shape: the brightness of the wood around on the same line.
    mm_row, mm_col
        Millimetres per row and per column.
    """

    wood: Float
    line: Float
    mm_row: float
    mm_col: float

    def lighter(self, blur_mm: float) -> Float:
        """Return (brightness / line - 1) at a blur, shape (rows, cols): negative where dark."""
        return np.asarray(blurred(self.wood, self.mm_row, self.mm_col, blur_mm) / self.line - 1, np.float32)


def departure(image: Float, mm_per_px: float) -> Departure:
    """Thin a straightened side to `GRID_MM` and find the brightness of its wood along each line.

    Parameters
    ----------
    image
        float32, shape (rows, cols), 0 to 1: one side from long corner to long corner.
    mm_per_px
        Millimetres per pixel.

    Returns
    -------
    Departure

    Examples
    --------
    >>> spot = np.full((40, 600), 0.8, np.float32)
    >>> spot[15:25, 300:320] = 0.4
    >>> lighter = departure(spot, 0.6).lighter(0.3)
    >>> bool(abs(lighter[20, 310] + 0.5) < 0.01), bool(abs(lighter[20, 100]) < 0.01)
    (True, True)
    """
    rows, cols = image.shape
    thin = max(1, round(GRID_MM / mm_per_px))
    size = (max(1, cols // thin), max(8, rows // thin))
    wood = image if size == (cols, rows) else cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    mm_col, mm_row = mm_per_px * cols / size[0], mm_per_px * rows / size[1]
    square = (max(1, round(SMOOTH_MM / mm_col)), max(1, round(SMOOTH_MM / mm_row)))
    line = _running_median(np.asarray(cv2.blur(wood, square), np.float32), mm_col)
    return Departure(np.asarray(wood, np.float32), np.maximum(line, np.float32(DARKEST)), mm_row, mm_col)


def _running_median(smooth: Float, mm_col: float) -> Float:
    rows, cols = smooth.shape
    step = max(1, round(THIN_MM / mm_col))
    thin = smooth[:, step // 2 :: step] if cols > step else smooth[:, :1]
    reach, every = max(1, int(AROUND_MM / (mm_col * step))), max(1, round(EVERY_MM / (mm_col * step)))
    blocks = -(-cols // (every * step))
    beyond = max(0, blocks * every - thin.shape[1])
    padded = np.pad(thin, ((0, 0), (reach, reach + beyond)), mode="symmetric")
    windows = sliding_window_view(padded, 2 * reach + 1, axis=1)[:, every // 2 :: every][:, :blocks]
    middle = np.ascontiguousarray(np.partition(windows, reach, axis=-1)[..., reach])
    filled = cv2.resize(middle, (blocks * every * step, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(filled[:, :cols], np.float32)


def blurred(wood: Float, mm_row: float, mm_col: float, blur_mm: float) -> Float:
    """Blur by a Gaussian that is round in millimetres; float32, same shape."""
    sigma_row, sigma_col = blur_mm / mm_row, blur_mm / mm_col
    return np.asarray(
        cv2.GaussianBlur(wood, (0, 0), sigma_col, sigmaY=sigma_row, borderType=cv2.BORDER_REFLECT), np.float32
    )
