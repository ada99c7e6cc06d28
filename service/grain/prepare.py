"""Make a strip fit for measuring: the side's own wood only, even in light, without cross marks."""

import cv2
import numpy as np
from numpy.typing import NDArray

from service.grain.tensor import Float

FADE_PX = 1.0
"""Sigma over which the wood beside what is left out fades in: a sharp border would be a line of its own."""

TRIM_SHARE = 0.035
"""Share of the width cut off along each long corner: chamfers, shadow lines, outline error."""

TRIM_LEAST_PX = 2.0
"""Even a few pixels of what lies beside the board pull every tensor by degrees."""

CONTRAST_WINDOW_MM = 60.0
"""Contrast is made even over this length, so that one stretch does not outvote the next."""

CLIP = 3.0
"""Departures beyond this many local deviations (stamps, pencil, stickers) count no more than this."""


def trim_rows(rows: int) -> int:
    """Return how many rows to cut along each long corner of a strip.

    Examples
    --------
    >>> trim_rows(30), trim_rows(180)
    (2, 7)
    """
    return int(np.ceil(max(TRIM_LEAST_PX, TRIM_SHARE * rows)))


def detrend_columns(image: Float) -> Float:
    """Take mean and linear trend out of every column.

    What is constant down a column runs straight across the board: planer marks, shadows across,
    the light's fall along the board. A trend is light falling off across. Neither is grain, and both
    turn a tensor toward "straight".

    Parameters
    ----------
    image
        float32, shape (rows, cols).

    Returns
    -------
    float32, same shape.

    Examples
    --------
    >>> ramp = np.add.outer(np.arange(5.0), [3.0, 7.0]).astype(np.float32)
    >>> bool(np.abs(detrend_columns(ramp)).max() < 1e-5)
    True
    """
    height = np.linspace(-1, 1, image.shape[0], dtype=np.float32)
    height /= np.float32(np.linalg.norm(height))
    flat = image - image.mean(axis=0, keepdims=True)
    return np.asarray(flat - np.outer(height, height @ flat), np.float32)


def even_contrast(image: Float, window_cols: float) -> Float:
    """Divide by the local standard deviation along the board and clip what stands far out.

    Parameters
    ----------
    image
        float32, shape (rows, cols), detrended.
    window_cols
        Sigma of the window along the board, in columns.

    Returns
    -------
    float32, same shape, in local standard deviations, within plus or minus `CLIP`.
    """
    # The median over neighbouring columns keeps one stamp or knot from dimming the wood around it.
    half = image.shape[0] // 2
    power = np.partition(np.abs(image), half, axis=0)[half] ** 2 / 0.455  # median of a squared normal variable
    smooth = cv2.GaussianBlur(
        power[None].astype(np.float32), (0, 0), max(window_cols, 1.0), borderType=cv2.BORDER_REFLECT
    )
    deviation = np.sqrt(smooth[0].astype(np.float64)) + 1e-6
    even = np.clip(image / deviation.astype(np.float32), -CLIP, CLIP)
    return np.asarray(even, np.float32)


def fade_out(blank: NDArray[np.bool_]) -> Float:
    """Return weights that leave out marked pixels and fade in beside them.

    Parameters
    ----------
    blank
        Shape (rows, cols): pixels that show no grain.

    Returns
    -------
    float32, same shape, 0 to 1.

    Examples
    --------
    >>> blank = np.zeros((9, 40), bool)
    >>> blank[:, 20] = True
    >>> [round(float(weight), 1) for weight in fade_out(blank)[4, [20, 21, 22, 30]]]
    [0.0, 0.0, 0.4, 1.0]
    """
    wide = cv2.dilate(blank.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(np.float32)
    return np.asarray(np.clip(2 * cv2.GaussianBlur(1 - wide, (0, 0), FADE_PX) - 1, 0, 1), np.float32)
