"""Slope of the lines one sees along a side, measured on coordinates that follow the lines."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from service.grain.prepare import CONTRAST_WINDOW_MM, detrend_columns, even_contrast, fade_out, trim_rows
from service.grain.steer import steered_sums
from service.grain.tensor import Direction, Double, Float, Scale, line_direction

ALONG_MM_PER_PX = 0.55
"""Strips finer than this are averaged along the board: lines run along, so nothing is lost but time."""


@dataclass(frozen=True)
class Stage:
    """One round of measuring.

    Attributes
    ----------
    thin
        Columns averaged into one beforehand: a long kernel loses nothing by it but time.
    scale
        The kernel, in pixels of what is left.
    window_mm
        Sigma of the window along the board over which tensors are added before the next round.
    """

    thin: int
    scale: Scale
    window_mm: float


@dataclass(frozen=True)
class Plan:
    """How lines are looked for.

    Attributes
    ----------
    stages
        Kernels from short to long; each is laid along what the one before it found.
    steepest
        Steeper slopes are none of what is looked for.
    most_turn
        One stage turns the next by this slope at most.
    """

    stages: tuple[Stage, ...]
    steepest: float
    most_turn: float

    @property
    def thinnest(self) -> int:
        """The thinnest stage's columns, each a whole number of every other stage's."""
        return max(stage.thin for stage in self.stages)


ANY_LINES = Plan(
    (Stage(2, Scale(2.5, 1.0), 100.0), Stage(2, Scale(5, 0.9), 50.0), Stage(4, Scale(8, 0.8), 25.0)),
    steepest=0.36,
    most_turn=0.2,
)
"""The longer a kernel, the less noise it leaves, and the narrower it may be across to keep fine lines.
Windows are long at first, so that a stretch of saw marks does not lead the later stages astray; about
4 in in effect at the end. Slopes beyond 20 degrees are no grain line of a board but a mark across it."""

SLOPE_CHANGE = 0.008
"""Standard deviation of a grain line's slope about its mean over a foot: how far a faint stretch is
held to the wood around it. Wide on purpose: half a degree, about what wavy but sound wood shows."""

AROUND_MM = 100.0
"""Sigma of the window that stands for "the wood around it"."""

WOOD_ERROR = 2.0
"""Wood is no plane wave under white noise: its lines wander and differ, and the scatter of readings
on drawn boards is this many times what noise alone would give."""

SEEN_BASE, SEEN_NOISE = 0.06, 5.0
"""Grain counts as seen where the tensor's leaning along the board, (across - along) / (across + along),
exceeds the first plus this many deviations of what bare noise shows, 1 / sqrt(n)."""

BIN_MM = 3.0
"""Tensors are summed over bins of about this length before they are windowed."""

CHUNK_MM = 176.0
"""Lines are levelled over this length at a time; short enough that they stay on the side."""


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


def measure_lines(
    strip: Float,
    mm_per_px: float,
    hop_mm: float = 6.35,
    plan: Plan = ANY_LINES,
    blank: NDArray[np.bool_] | None = None,
) -> LineField:
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
    plan
        How to look for lines.
    blank
        Shape (rows, cols): pixels that show no grain.

    Returns
    -------
    LineField
    """
    image, mm_along = _thin_along(strip, mm_per_px, plan.thinnest)
    cut = trim_rows(image.shape[0])
    even = even_contrast(detrend_columns(image[cut:-cut]), CONTRAST_WINDOW_MM / mm_along)
    if blank is not None and blank.any():
        even *= _thin_along(fade_out(blank), mm_per_px, plan.thinnest)[0][cut:-cut]
    bin_cols = plan.thinnest * max(1, round(BIN_MM / (plan.thinnest * mm_along)))
    bin_mm = bin_cols * mm_along
    bins_mm = bin_mm * (np.arange(-(-even.shape[1] // bin_cols)) + 0.5)
    found, seen = _by_stages(even, mm_along, mm_per_px, bins_mm, plan)
    joined = _hold(_join(found), AROUND_MM / bin_mm)
    longest = _hold(found[-1], AROUND_MM / bin_mm)
    positions_mm = np.arange(hop_mm / 2, even.shape[1] * mm_along, hop_mm)

    def at(values: Double) -> Double:
        return np.asarray(np.interp(positions_mm, bins_mm, values))

    return LineField(
        positions_mm=positions_mm,
        slope=at(joined.slope[-1]),
        error=at(joined.error[-1]),
        seen=at(seen.astype(np.float64)) > 0.5,
        long_slope=at(longest.slope[-1]),
        long_error=at(longest.error[-1]),
        band_slope=np.stack([at(band) for band in joined.slope[:-1]]),
        band_error=np.stack([at(band) for band in joined.error[:-1]]),
    )


def _by_stages(
    even: Float, mm_along: float, mm_per_px: float, bins_mm: Double, plan: Plan
) -> tuple[list[Direction], NDArray[np.bool_]]:
    """Measure in bins along the board, a stage after the other, and tell where any of them saw grain."""
    bin_mm = 2 * float(bins_mm[0])
    slope = np.zeros(bins_mm.size)
    seen = np.zeros(bins_mm.size, bool)
    found: list[Direction] = []
    for stage in plan.stages:
        thin, mm = _thinned(even, stage.thin), mm_along * stage.thin
        aspect = mm_per_px / mm
        by_column = np.interp((np.arange(thin.shape[1]) + 0.5) * mm, bins_mm, slope) / aspect
        starts = np.arange(0, thin.shape[1], round(bin_mm / mm))
        steered = steered_sums(thin, by_column, stage.scale, max(1, round(CHUNK_MM / mm)))
        sums, rows = (np.add.reduceat(part, starts, axis=-1) for part in steered)
        here = _windowed(sums, rows, stage.scale, plan.stages[-1].window_mm / bin_mm)
        narrow = _direction(here)
        found.append(Direction(slope + narrow.slope * aspect, narrow.error * aspect))
        seen |= _seen(here)
        if stage is not plan.stages[-1]:
            turn = _direction(_windowed(sums, rows, stage.scale, stage.window_mm / bin_mm)).slope[-1] * aspect
            turn = np.clip(turn, -plan.most_turn, plan.most_turn)
            slope = np.clip(slope + turn, -plan.steepest, plan.steepest)
    return found, seen


def _thin_along(strip: Float, mm_per_px: float, whole: int) -> tuple[Float, float]:
    """Thin a strip as far as lines allow, to a whole number of so many columns."""
    step = max(1, int(ALONG_MM_PER_PX / mm_per_px + 0.3))
    thin = _thinned(strip, step)
    return thin[:, : max(1, thin.shape[1] // whole) * whole], mm_per_px * step


def _thinned(image: Float, step: int) -> Float:
    """Average every `step` columns; what is left over at the far end is dropped."""
    if step == 1:
        return image
    cols = max(1, image.shape[1] // step)
    thin = cv2.resize(image[:, : cols * step], (cols, image.shape[0]), interpolation=cv2.INTER_AREA)
    return np.asarray(thin, np.float32)


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


def _hold(found: Direction, around_bins: float) -> Direction:
    """Hold uncertain stretches to the wood around them, as far as wood changes its slope."""
    weight = 1 / np.maximum(found.error, 1e-6) ** 2
    mass = gaussian_filter1d(weight, around_bins, axis=-1, mode="reflect")
    around = gaussian_filter1d(weight * found.slope, around_bins, axis=-1, mode="reflect") / mass
    apart = 1 / (SLOPE_CHANGE**2 + 1 / (mass * np.sqrt(2)))
    slope = (weight * found.slope + apart * around) / (weight + apart)
    return Direction(slope, 1 / np.sqrt(weight + apart))
