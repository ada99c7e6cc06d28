"""One side's strips, and close-ups of it, to slopes on the board's grid."""

from collections.abc import Sequence

import cv2
import numpy as np
from scipy.ndimage import minimum_filter1d

from service.grain.knots import find_knots
from service.grain.lines import WOOD_ERROR, LineField, measure_lines
from service.grain.prepare import detrend_columns, even_contrast, trim_rows
from service.grain.streaks import measure_streaks
from service.grain.tensor import Double, Scale, line_direction, whitened_gradient
from service.grain.types import CloseGrain, KnotBox, SideGrain
from service.photo.types import Strip

BURNT, BLACK = 0.998, 0.004
"""Grey levels at which nothing is left to read; what is merely pale or dark is judged by its grain."""

LOST_SHARE = 0.8
"""A column of the strip with more than this share burnt out or black is lost."""

END_MM = 12.0
"""So near an end of a strip a slope leans on half a window; its error is doubled."""

CLOSE_MM = 32.0
"""So much of the middle of a close-up's width is enough, and keeps memory and time in bounds."""

CLOSE_SCALE_MM = (1.2, 0.09)
"""Kernel for the fine texture of a close-up, along and across."""


def read_side(strips: Sequence[Strip], positions_mm: Double) -> SideGrain:
    """Read the lines and knots of a side from its strips.

    Parameters
    ----------
    strips
        One strip for each photo that showed a known stretch of the side.
    positions_mm
        Shape (n,): the board's grid.

    Returns
    -------
    SideGrain on that grid; where strips overlap, each counts by its own error.
    """
    shape = positions_mm.shape
    totals = {name: (np.zeros(shape), np.zeros(shape)) for name in ("line", "ring", "spread")}
    knots: list[KnotBox] = []
    for strip in strips:
        field = measure_lines(strip.image, strip.mm_per_px)
        unread = _unread(field, strip)
        spread = _band_spread(field)
        at_mm = field.positions_mm + strip.from_mm
        near_end = np.minimum(at_mm - strip.from_mm, strip.to_mm - at_mm) < END_MM
        stretch = np.where(near_end, 2.0, 1.0)
        for name, value, error in (
            ("line", field.slope, field.error * stretch),
            ("ring", field.long_slope, field.long_error * stretch),
            ("spread", spread, np.full_like(spread, 0.01)),
        ):
            scale = np.hypot(error, strip.scale_error / 2 * np.abs(value))
            _gather(totals[name], positions_mm, at_mm, value, scale, unread)
        knots += find_knots(strip.image, strip.mm_per_px, strip.from_mm)
    line, line_error = _mean(totals["line"])
    ring, ring_error = _mean(totals["ring"])
    return SideGrain(line, line_error, ring, ring_error, _mean(totals["spread"])[0], tuple(knots))


def read_close(strip: Strip) -> CloseGrain:
    """Read lines, fine texture and single streaks of a close-up.

    Parameters
    ----------
    strip
        The close-up straightened; where along the board it was taken does not matter.

    Returns
    -------
    CloseGrain, means over the strip.
    """
    field = measure_lines(strip.image, strip.mm_per_px)
    weight = 1 / field.long_error**2
    line = float((weight * field.long_slope).sum() / weight.sum())
    rows = strip.image.shape[0]
    cut = max(2 * trim_rows(rows), int((rows - CLOSE_MM / strip.mm_per_px) / 2))
    wood = np.ascontiguousarray(strip.image[cut:-cut])
    scale = Scale(CLOSE_SCALE_MM[0] / strip.mm_per_px, CLOSE_SCALE_MM[1] / strip.mm_per_px)
    flat = detrend_columns(wood)
    flat = flat - cv2.GaussianBlur(flat, (0, 0), sigmaX=0.01, sigmaY=4 * scale.across_px)
    even, _ = even_contrast(np.asarray(flat, np.float32), 10 / strip.mm_per_px)
    along, across = whitened_gradient(np.clip(even, -1, 1), scale)
    edge = np.s_[scale.margin_rows : -scale.margin_rows]
    along, across = along[edge].astype(np.float64), across[edge].astype(np.float64)
    independent = along.size / (WOOD_ERROR**2 * scale.noise_area_px)
    texture = line_direction(np.mean(along**2), np.mean(along * across), np.mean(across**2), scale, independent)
    streaks = measure_streaks(wood, strip.mm_per_px, float(np.clip(line, -0.2, 0.2)))
    return CloseGrain(
        line=line,
        line_error=float(np.median(field.long_error)),
        texture=float(texture.slope),
        texture_error=float(texture.error),
        streak=streaks.slope if streaks else None,
        streak_error=streaks.error if streaks else None,
        streaks=streaks.count if streaks else 0,
    )


def _unread(field: LineField, strip: Strip) -> np.ndarray:
    """Tell which positions of a strip could not be read: no grain seen, burnt out or black."""
    lost = ((strip.image > BURNT) | (strip.image < BLACK)).mean(axis=0) > LOST_SHARE
    column = np.clip((field.positions_mm / strip.mm_per_px).astype(int), 0, strip.image.shape[1] - 1)
    around = max(1, round(12.7 / strip.mm_per_px))
    mostly = 1 - minimum_filter1d(1 - lost.astype(np.uint8), around)
    return np.asarray(~field.seen | (mostly[column] > 0))


def _band_spread(field: LineField) -> Double:
    """How far the thirds' slopes lie apart, less what their errors explain."""
    apart = np.ptp(field.band_slope, axis=0)
    noise = 1.7 * np.sqrt((field.band_error**2).mean(axis=0))
    return np.asarray(np.sqrt(np.maximum(apart**2 - noise**2, 0)))


def _gather(
    total: tuple[Double, Double], grid_mm: Double, at_mm: Double, value: Double, error: Double, unread: np.ndarray
) -> None:
    """Add a strip's values, weighted by their errors, to the sums on the grid."""
    inside = (grid_mm >= at_mm[0] - 6.5) & (grid_mm <= at_mm[-1] + 6.5)
    inside &= np.interp(grid_mm, at_mm, unread.astype(float)) < 0.5
    weight = 1 / np.interp(grid_mm, at_mm, error)[inside] ** 2
    total[0][inside] += weight * np.interp(grid_mm, at_mm, value)[inside]
    total[1][inside] += weight


def _mean(total: tuple[Double, Double]) -> tuple[Double, Double]:
    known = total[1] > 0
    weight = np.where(known, total[1], 1.0)
    return np.where(known, total[0] / weight, np.nan), np.where(known, 1 / np.sqrt(weight), np.nan)
