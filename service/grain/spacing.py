"""How closely ring lines follow one another across a side."""

from typing import Final

import cv2
import numpy as np

from service.grain.prepare import CONTRAST_WINDOW_MM, detrend_columns, even_contrast, trim_rows
from service.grain.steer import levelled
from service.grain.tensor import Double, Float

ALONG_MM: Final = 2.0
"""Columns are averaged to this length: rings run on for far longer."""

CHUNK_MM: Final = 150.0
"""Lines are levelled and averaged over this length at a time; what does not run on so far is no ring."""

NOISE_FROM: Final = 0.8
"""Frequencies above this share of the highest hold noise alone."""

FINEST: Final = 0.6
"""Frequencies up to this share of the highest are counted; finer than that the lens has blurred."""

FEWEST_LINES: Final = 1.5
"""Fewer lines than this across the side are no frequency."""


def lines_per_mm(strip: Float, mm_per_px: float, slope: Double) -> float:
    """Measure the mean frequency of ring lines across a side.

    Lines are laid level and averaged along, so that only what runs on is left; the power of the
    averages over frequency, noise taken off, has this mean.

    Parameters
    ----------
    strip
        float32, shape (rows, cols): one side from long corner to long corner.
    mm_per_px
        Millimetres per pixel, along and across.
    slope
        Shape (n,): slope of the lines at n places evenly along the strip.

    Returns
    -------
    Cycles per mm; NaN when nothing but noise is there.
    """
    cut = trim_rows(strip.shape[0])
    step = max(1, round(ALONG_MM / mm_per_px))
    rows, cols = strip.shape[0] - 2 * cut, strip.shape[1] // step
    mm_along = mm_per_px * step
    chunk = max(4, round(CHUNK_MM / mm_along))
    if cols < chunk or rows < 8:
        return float("nan")
    thin = cv2.resize(strip[cut : cut + rows, : cols * step], (cols, rows), interpolation=cv2.INTER_AREA)
    even = even_contrast(detrend_columns(np.asarray(thin, np.float32)), CONTRAST_WINDOW_MM / mm_along)
    place = (np.arange(cols) + 0.5) / cols * slope.size - 0.5
    by_column = np.interp(place, np.arange(slope.size), slope) * mm_along / mm_per_px
    taper = np.hanning(rows + 2)[1:-1]
    power = np.zeros(rows // 2 + 1)
    for start in range(0, cols - chunk + 1, chunk):
        level, _, _ = levelled(even, by_column, start, start + chunk)
        profile = level.mean(axis=1, dtype=np.float64)
        power += np.abs(np.fft.rfft((profile - profile.mean()) * taper)) ** 2
    frequency = np.fft.rfftfreq(rows, mm_per_px)
    power = np.maximum(power - np.median(power[frequency > NOISE_FROM * frequency[-1]]), 0)
    counted = (frequency > FEWEST_LINES / (rows * mm_per_px)) & (frequency < FINEST * frequency[-1])
    total = float(power[counted].sum())
    return float((power * frequency)[counted].sum() / total) if total > 0 else float("nan")
