"""Direction of the fibre from its own short streaks: pores, flecks of colour, fine rays along.

Rings make long bands; vessels and streaks are short and follow the fibre. The median of the wood
taken along the lines over more than a streak's length holds the bands but not the streaks. What
stands out darker or brighter is measured one streak at a time, by its second moments, so a ring
band that slopes differently does not pull the answer toward itself.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from service.grain.tensor import Double, Float

BAND_MM = 14.0
"""Longer than vessels look on a planed side, shorter than ring bands run level."""

STANDS_OUT = 3.0
"""A streak differs from its background by this many deviations of the fine texture."""

LEAST_AREA_PX, LEAST_LENGTH_PX, LEAST_ASPECT = 25, 12.0, 5.0
"""Smaller or rounder blobs say little about direction."""

WIDEST_OFF_SLOPE = 0.25
"""Streaks further than this from the lines' slope are scratches, not fibre."""

FEWEST = 20
"""Below this many streaks the fibre counts as unseen."""


@dataclass(frozen=True)
class Streaks:
    """What the streaks of one stretch say.

    Attributes
    ----------
    slope, error
        Slope of the fibre, rise over length, and its standard error.
    count
        How many streaks were measured.
    """

    slope: float
    error: float
    count: int


def measure_streaks(strip: Float, mm_per_px: float, line_slope: float) -> Streaks | None:
    """Measure the fibre's slope from streaks.

    Parameters
    ----------
    strip
        float32, shape (rows, cols), 0 to 1, borders already trimmed; finer than about 0.1 mm a pixel.
    mm_per_px
        Millimetres per pixel.
    line_slope
        Slope of the lines one sees, rise over length, along which ring bands are taken out.

    Returns
    -------
    Streaks, or None when fewer than `FEWEST` could be told from the background.
    """
    level = _level(strip, line_slope)
    texture = level - _bands(level, BAND_MM / mm_per_px)
    texture -= cv2.GaussianBlur(texture, (0, 0), sigmaX=40, sigmaY=12)
    fine = cv2.GaussianBlur(texture, (0, 0), sigmaX=3, sigmaY=1.5)
    limit = STANDS_OUT * 1.4826 * float(np.median(np.abs(fine)))
    parts = [_blobs(sign * fine, limit, BAND_MM / mm_per_px) for sign in (-1.0, 1.0)]
    slopes = np.concatenate([slope for slope, _ in parts]) + line_slope
    weights = np.concatenate([weight for _, weight in parts])
    near = np.abs(slopes - line_slope) < WIDEST_OFF_SLOPE
    slopes, weights = slopes[near], weights[near]
    if len(slopes) < FEWEST:
        return None
    middle, error = weighted_median(slopes, weights)
    return Streaks(middle, error, len(slopes))


def weighted_median(values: Double, weights: Double) -> tuple[float, float]:
    """Return the weighted median and its standard error.

    Parameters
    ----------
    values, weights
        Shape (n,), n at least 1.

    Examples
    --------
    >>> weighted_median(np.array([1.0, 2.0, 9.0]), np.ones(3))[0]
    2.0
    """
    order = np.argsort(values)
    share = np.cumsum(weights[order]) / weights.sum()
    middle = float(values[order][np.searchsorted(share, 0.5)])
    # Normal scatter: standard error of a median, 1.2533 sigma / sqrt(n), n the effective count.
    sigma = 1.4826 * float(np.median(np.abs(values - middle)))
    effective = weights.sum() ** 2 / (weights**2).sum()
    return middle, float(1.2533 * sigma / np.sqrt(effective))


def _level(strip: Float, slope: float) -> Float:
    rows, cols = strip.shape
    column = np.arange(cols, dtype=np.float32)[None].repeat(rows, axis=0)
    rise = np.float32(slope) * (column - np.float32(cols / 2))
    row = np.arange(rows, dtype=np.float32)[:, None] - rise
    return np.asarray(cv2.remap(strip, column, row, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT), np.float32)


def _bands(level: Float, length_px: float) -> Float:
    """Median along the rows over `length_px`, worked out on a picture thinned along the board."""
    thin = 8
    rows, cols = level.shape
    small = cv2.resize(level, (max(1, cols // thin), rows), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (1, 0), sigmaX=0.01, sigmaY=1.0)
    width = int(length_px / thin) | 1
    middle = median_filter(small, size=(1, width), mode="reflect")
    return np.asarray(cv2.resize(middle, (cols, rows), interpolation=cv2.INTER_LINEAR), np.float32)


def _blobs(height: Float, limit: float, longest_px: float) -> tuple[Double, Double]:
    """Slopes and weights of the elongated blobs above `limit`.

    Shape from the plain second moments, direction from the moments weighted by height.
    """
    count, marks = cv2.connectedComponents((height > limit).astype(np.uint8), connectivity=8)
    row, col = np.nonzero(marks)
    mark = marks[row, col]
    area, (down, along, _) = _moments(row, col, mark, np.ones(row.size), count)
    weighed, (w_down, w_along, w_both) = _moments(row, col, mark, height[row, col] - limit / 2, count)
    length, width = 4 * np.sqrt(np.maximum(along, down)), np.maximum(4 * np.sqrt(np.minimum(along, down)), 1.0)
    good = (weighed > 0) & (area > LEAST_AREA_PX) & (length > LEAST_LENGTH_PX) & (length < longest_px)
    good &= length > LEAST_ASPECT * width
    slope = np.tan(-0.5 * np.arctan2(2 * w_both, w_along - w_down))
    return slope[good], length[good] / width[good]


def _moments(
    row: NDArray[Any], col: NDArray[Any], mark: NDArray[Any], weight: NDArray[Any], count: int
) -> tuple[Double, tuple[Double, Double, Double]]:
    """Mass of each mark, and its second moments about its middle: down, along, both."""

    def total(values: NDArray[Any]) -> Double:
        return np.asarray(np.bincount(mark, weights=values, minlength=count), np.float64)

    mass = total(weight)
    some = np.maximum(mass, 1e-12)
    middle_row, middle_col = total(weight * row) / some, total(weight * col) / some
    off_row, off_col = row - middle_row[mark], col - middle_col[mark]
    return mass, (
        total(weight * off_row**2) / some,
        total(weight * off_col**2) / some,
        total(weight * off_row * off_col) / some,
    )
