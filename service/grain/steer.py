"""Tensors on coordinates that follow the lines."""

import cv2
import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from service.grain.tensor import Double, Float, Scale, whitened_gradient

BANDS = 3
"""The side is also measured in this many bands across, to see whether its lines run together."""


def levelled(image: Float, slope: Double, left: int, right: int) -> tuple[Float, Double, Float]:
    """Shift the columns of a stretch of an image so that lines of a given slope lie level.

    Parameters
    ----------
    image
        float32, shape (rows, cols).
    slope
        Shape (cols,): rise toward row 0 per column.
    left, right
        The stretch: left <= column < right.

    Returns
    -------
    level
        Shape (rows, right - left); what lies beyond the image is mirrored at its border.
    rise
        Shape (right - left,): how far each column was moved down; 0 in the middle.
    source
        Shape (rows, right - left): the row of the image that each value comes from.
    """
    rise = np.cumsum(slope[left:right])
    rise -= rise[(right - left) // 2]
    source = np.arange(image.shape[0], dtype=np.float32)[:, None] - rise[None].astype(np.float32)
    if not rise.any():
        return image[:, left:right], rise, source
    column = np.broadcast_to(np.arange(left, right, dtype=np.float32), source.shape)
    level = cv2.remap(image, column, source, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return np.asarray(level, np.float32), rise, source


def steered_sums(image: Float, slope: Double, scale: Scale, chunk_cols: int) -> tuple[Double, Double]:
    """Resample a strip so that lines of a given slope lie level, and sum its tensors down each column.

    Parameters
    ----------
    image
        float32, shape (rows, cols): detrended, of even contrast.
    slope
        Shape (cols,): rise toward row 0 per column, of the lines to lay level.
    scale
        The kernel.
    chunk_cols
        Columns levelled at a time: on steep lines few enough that they stay on the side.

    Returns
    -------
    sums
        Shape (3, BANDS + 1, cols): along*along, along*across, across*across, in the bands from the
        top and last over the whole width.
    rows
        Shape (BANDS + 1, cols): how many rows each sum holds; rows whose kernel reaches beyond the
        strip are left out.
    """
    rows, cols = image.shape
    sums, counts = np.zeros((3, BANDS + 1, cols)), np.zeros((BANDS + 1, cols))
    reach = int(np.ceil(3.5 * scale.along_px))
    keep_off = scale.margin_rows
    row = np.arange(rows, dtype=np.float32)[:, None]
    for start in range(0, cols, chunk_cols):
        stop = min(start + chunk_cols, cols)
        left, right = max(0, start - reach), min(cols, stop + reach)
        level, rise, source = levelled(image, slope, left, right)
        along, across = whitened_gradient(level, scale)
        core = np.s_[start - left : stop - left]
        span = 2 * int(2 * scale.along_px) + 1
        high = maximum_filter1d(rise, span, mode="nearest")[core]
        low = minimum_filter1d(rise, span, mode="nearest")[core]
        inside = (row - high >= keep_off) & (row - low <= rows - 1 - keep_off)
        place = np.where(inside, source[:, core] * (BANDS / rows), -1.0)
        along, across = along[:, core], across[:, core]
        products = (along * along, along * across, across * across)
        for band in range(BANDS):
            picked = ((place >= band) & (place < band + 1)).astype(np.float32)
            counts[band, start:stop] = picked.sum(axis=0)
            for part, product in enumerate(products):
                sums[part, band, start:stop] = np.einsum("rc,rc->c", product, picked)
    sums[:, BANDS], counts[BANDS] = sums[:, :BANDS].sum(axis=1), counts[:BANDS].sum(axis=0)
    return sums, counts
