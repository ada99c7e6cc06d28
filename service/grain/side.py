"""One side's strips to slopes on the board's grid."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.ndimage import minimum_filter1d

from service.grain.departure import departure
from service.grain.knots import find_knots
from service.grain.lines import LineField, measure_lines
from service.grain.spacing import lines_per_mm
from service.grain.tensor import Double
from service.grain.texture import STEEP, measure_texture, rings_draw_no_lines
from service.grain.types import KnotSign, SideGrain
from service.grain.unreadable import BLACK, BURNT, unreadable
from service.photo.types import Strip

LOST_SHARE = 0.8
"""A column of the strip with more than this share burnt out or black is lost."""

MEASURES = ("line", "ring", "texture", "spread")

END_MM = 12.0
"""So near an end of a strip a slope leans on half a window; its error is doubled."""


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
    totals = {name: (np.zeros(shape), np.zeros(shape)) for name in MEASURES}
    knots: list[KnotSign] = []
    per_mm: list[float] = []
    for strip in strips:
        surface = departure(strip.image, strip.mm_per_px)
        blank = unreadable(surface, strip.image.shape)
        field = measure_lines(strip.image, strip.mm_per_px, blank=blank)
        vees = _band_spread(field)
        fine = measure_texture(strip.image, strip.mm_per_px, blank) if rings_draw_no_lines(field, vees) else field
        lost = _lost(field.positions_mm, strip)
        clear = _clearer(field, fine)
        at_mm = field.positions_mm + strip.from_mm
        near_end = np.minimum(at_mm - strip.from_mm, strip.to_mm - at_mm) < END_MM
        stretch = np.where(near_end, 2.0, 1.0)
        for name, value, error, seen in (
            ("line", clear.slope, clear.error * stretch, clear.seen),
            ("ring", field.long_slope, field.long_error * stretch, clear.seen),
            ("texture", fine.slope, fine.error * stretch, fine.seen),
            ("spread", vees, np.full_like(vees, 0.01), clear.seen),
        ):
            # Where photos were put together, a slope may belong a little aside.
            aside = strip.along_error_mm / 2 * np.abs(np.gradient(value, at_mm)) if at_mm.size > 1 else 0.0
            scale = np.sqrt(error**2 + (strip.scale_error / 2 * value) ** 2 + aside**2)
            _gather(totals[name], positions_mm, at_mm, value, scale, ~seen | lost)
        knots += find_knots(surface, strip.from_mm)
        per_mm.append(lines_per_mm(strip.image, strip.mm_per_px, field.long_slope))
    line, ring, texture, spread = (_mean(totals[name]) for name in MEASURES)
    rings_per_mm = float(np.mean([value for value in per_mm if value > 0] or [0.0]))
    return SideGrain(*line, *ring, *texture, spread[0], tuple(knots), rings_per_mm)


def _clearer(field: LineField, texture: LineField) -> LineField:
    """Take the texture where the lines were lost or run too steep for a grain line."""
    better = texture.seen & (~field.seen | (np.abs(field.slope) > STEEP))
    return replace(
        field,
        slope=np.where(better, texture.slope, field.slope),
        error=np.where(better, texture.error, field.error),
        seen=field.seen | texture.seen,
    )


def _lost(positions_mm: Double, strip: Strip) -> np.ndarray:
    """Tell which positions of a strip are burnt out or black."""
    lost = ((strip.image > BURNT) | (strip.image < BLACK)).mean(axis=0) > LOST_SHARE
    column = np.clip((positions_mm / strip.mm_per_px).astype(int), 0, strip.image.shape[1] - 1)
    around = max(1, round(12.7 / strip.mm_per_px))
    mostly = 1 - minimum_filter1d(1 - lost.astype(np.uint8), around)
    return np.asarray(mostly[column] > 0)


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
