"""Slope of the lines one sees along a side, measured on coordinates that follow the lines."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from service.grain.prepare import CONTRAST_WINDOW_MM, detrend_columns, even_contrast, trim_rows
from service.grain.steer import steered_sums
from service.grain.tensor import Direction, Double, Float, Scale, line_direction

ALONG_MM_PER_PX = 0.55
"""Strips finer than this are averaged along the board: lines run along, so nothing is lost but time."""

STAGES = (Scale(4, 1.2), Scale(10, 1.2), Scale(24, 1.2))
"""Kernels from short to long; each is laid along what the one before it found."""

WINDOWS_MM = (100.0, 50.0, 25.0)
"""Sigma of the window along the board over which tensors are added, a stage each: long at first, so
that a stretch of saw marks does not lead the later stages astray; about 4 in in effect at the end."""

SLOPE_CHANGE = 0.008
"""Standard deviation of a grain line's slope about its mean over a foot: how far a faint stretch is
held to the wood around it. Wide on purpose: half a degree, about what wavy but sound wood shows."""

AROUND_MM = 100.0
"""Sigma of the window that stands for "the wood around it"."""

WOOD_ERROR = 2.0
"""Wood is no plane wave under white noise: its lines wander and differ, and the scatter of readings
on drawn boards is this many times what noise alone would give."""

STEEPEST = 0.36
"""Slopes beyond 20 degrees are no grain line of a board but a mark across it."""

SEEN_BASE, SEEN_NOISE = 0.06, 5.0
"""Grain counts as seen where the tensor's leaning along the board, (across - along) / (across + along),
exceeds the first plus this many deviations of what bare noise shows, 1 / sqrt(n)."""

BIN_MM = 3.0
"""Tensors are summed over bins of this length before they are windowed."""

FEWEST_ROWS = 0.25
"""Where steep lines leave less than this share of the rows inside the strip, nothing is concluded."""


@dataclass(frozen=True)
class LineField:
    """Slope of the lines along a side.

    Attributes
    ----------
    positions_mm
        Shape (n,): from the strip's own left border.
    slope, error
        Shape (n,): rise toward the upper corner over length, and its standard error.
    seen
        Shape (n,), bool: whether any grain stands out from noise at that place itself. A slope is
        given everywhere, held to the wood around; where nothing was seen it must not be used.
    long_slope, long_error
        Shape (n,): the same from the longest kernel only. Rings make long lines, fibre short ones,
        so this follows the rings where the two differ, while `slope` lies between them.
    band_slope, band_error
        Shape (3, n): the same in the upper, middle and lower third of the width.
    """

    positions_mm: Double
    slope: Double
    error: Double
    seen: NDArray[np.bool_]
    long_slope: Double
    long_error: Double
    band_slope: Double
    band_error: Double


def measure_lines(strip: Float, mm_per_px: float, hop_mm: float = 6.35) -> LineField:
    """Measure the slope of the lines along a straightened side.

    Each stage resamples the side along the slope found so far, so that its lines lie level, and
    measures the rest with a longer kernel. A long kernel on sloping lines would see only those that
    happen to run along it; on levelled lines it sees them all, and its answer does not lean toward
    straight. The stages' answers are joined by their own stated errors.

    Parameters
    ----------
    strip
        float32, shape (rows, cols), 0 to 1: one side from long corner to long corner.
    mm_per_px
        Millimetres per pixel, along and across.
    hop_mm
        Distance of the positions at which the slope is given.

    Returns
    -------
    LineField
    """
    image, mm_along = _thin_along(strip, mm_per_px)
    cut = trim_rows(image.shape[0])
    even = even_contrast(detrend_columns(image[cut:-cut]), CONTRAST_WINDOW_MM / mm_along)
    aspect, steepest = mm_per_px / mm_along, STEEPEST * mm_along / mm_per_px
    starts = np.arange(0, even.shape[1], max(1, round(BIN_MM / mm_along)))
    bin_mm = mm_along * float(starts[1] - starts[0]) if starts.size > 1 else mm_along
    middles = starts + (np.append(starts[1:], even.shape[1]) - starts - 1) / 2
    slope = np.zeros(starts.size)
    seen = np.zeros(starts.size, bool)
    found: list[Direction] = []
    for scale, window_mm in zip(STAGES, WINDOWS_MM, strict=True):
        by_column = np.interp(np.arange(even.shape[1]), middles, slope)
        sums, rows = (np.add.reduceat(part, starts, axis=-1) for part in steered_sums(even, by_column, scale))
        here = _windowed(sums, rows, scale, WINDOWS_MM[-1] / bin_mm)
        narrow = _direction(here)
        found.append(replace(narrow, slope=slope + narrow.slope))
        seen |= _seen(here)
        if scale is not STAGES[-1]:
            turn = _direction(_windowed(sums, rows, scale, window_mm / bin_mm)).slope[-1]
            slope = np.clip(slope + np.clip(turn, -0.2, 0.2), -steepest, steepest)
    joined = _hold(_join(found), AROUND_MM / bin_mm, SLOPE_CHANGE / aspect)
    longest = _hold(found[-1], AROUND_MM / bin_mm, SLOPE_CHANGE / aspect)
    positions_mm = np.arange(hop_mm / 2, even.shape[1] * mm_along, hop_mm)
    bins_mm = (middles + 0.5) * mm_along

    def at(values: Double) -> Double:
        return np.asarray(np.interp(positions_mm, bins_mm, values))

    return LineField(
        positions_mm=positions_mm,
        slope=at(joined.slope[-1]) * aspect,
        error=at(joined.error[-1]) * aspect,
        seen=at(seen.astype(np.float64)) > 0.5,
        long_slope=at(longest.slope[-1]) * aspect,
        long_error=at(longest.error[-1]) * aspect,
        band_slope=np.stack([at(band) for band in joined.slope[:-1]]) * aspect,
        band_error=np.stack([at(band) for band in joined.error[:-1]]) * aspect,
    )


def _thin_along(strip: Float, mm_per_px: float) -> tuple[Float, float]:
    step = max(1, int(ALONG_MM_PER_PX / mm_per_px + 0.3))
    if step == 1:
        return strip, mm_per_px
    cols = strip.shape[1] // step
    thin = cv2.resize(strip[:, : cols * step], (cols, strip.shape[0]), interpolation=cv2.INTER_AREA)
    return np.asarray(thin, np.float32), mm_per_px * step


@dataclass(frozen=True)
class _Window:
    """Tensors added up over a window along the board: parts (3, bands, bins), rows and samples (bands, bins)."""

    parts: Double
    rows: Double
    independent: Double
    scale: Scale


def _windowed(sums: Double, rows: Double, scale: Scale, window_bins: float) -> _Window:
    """Add up over the window along the board, and count the independent samples it holds."""
    wide = gaussian_filter1d(sums, window_bins, axis=-1, mode="reflect")
    height = gaussian_filter1d(rows, window_bins, axis=-1, mode="reflect")
    return _Window(wide, height, height * 2 * np.sqrt(np.pi) * window_bins / scale.noise_area_px, scale)


def _direction(window: _Window) -> Direction:
    """Turn a window's tensors into directions."""
    independent = np.maximum(window.independent / WOOD_ERROR**2, 0.5)
    j_aa, j_ac, j_cc = window.parts
    found = line_direction(j_aa, j_ac, j_cc, window.scale, independent)
    full = window.rows.max(axis=-1, keepdims=True)
    return replace(found, error=np.where(window.rows < FEWEST_ROWS * full, 1.0, found.error))


def _seen(window: _Window) -> NDArray[np.bool_]:
    """Tell where the tensor leans along the board more than noise would, over the width or in a band."""
    along, _, across = window.parts
    leaning = (across - along) / np.maximum(across + along, 1e-12)
    noise = 1 / np.sqrt(np.maximum(window.independent, 1e-3))
    return np.asarray((leaning > SEEN_BASE + SEEN_NOISE * noise).any(axis=0))


def _join(found: list[Direction]) -> Direction:
    """Join the stages by inverse variance, widened where they disagree."""
    slopes = np.stack([stage.slope for stage in found])
    weights = 1 / np.maximum(np.stack([stage.error for stage in found]), 1e-6) ** 2
    weights /= weights.sum(axis=0)
    slope = (weights * slopes).sum(axis=0)
    best = np.min([stage.error for stage in found], axis=0)
    scatter = np.sqrt((weights * (slopes - slope) ** 2).sum(axis=0))
    return Direction(slope, np.hypot(best, scatter))


def _hold(found: Direction, around_bins: float, change: float) -> Direction:
    """Hold uncertain stretches to the wood around them, as far as wood changes its slope."""
    weight = 1 / np.maximum(found.error, 1e-6) ** 2
    mass = gaussian_filter1d(weight, around_bins, axis=-1, mode="reflect")
    around = gaussian_filter1d(weight * found.slope, around_bins, axis=-1, mode="reflect") / mass
    apart = 1 / (change**2 + 1 / (mass * np.sqrt(2)))
    slope = (weight * found.slope + apart * around) / (weight + apart)
    return Direction(slope, 1 / np.sqrt(weight + apart))
