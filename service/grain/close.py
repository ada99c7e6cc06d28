"""Close-ups: the fibre's own direction, from texture finer than rings.

Pores, streaks and rays are short and fine and follow the fibre; ring bands are long and coarse. The
texture is read twice. With tensors: a short, fine kernel leans little toward the rings, a longer,
coarser one leans more; the two leans stand in a steady proportion, so their difference tells how
much is left in the finer one. And from the spectrum, where rings and fibre are told apart. The mean
of both is handed on; how far they differ tells how far to trust it.
"""

import cv2
import numpy as np

from service.grain.lines import WOOD_ERROR, measure_lines
from service.grain.prepare import detrend_columns, even_contrast, trim_rows
from service.grain.spectrum import spectral_fibre
from service.grain.tensor import Direction, Float, Scale, line_direction, whitened_gradient
from service.grain.types import CloseGrain
from service.photo.types import Strip

MIDDLE_MM = 32.0
"""So much of the middle of a close-up's width is enough, and keeps memory and time in bounds."""

RINGS_MM = 0.2
"""Ring lines are measured at this many millimetres per pixel: finer, and the texture between them is
taken for lines."""

FINE_MM, COARSE_MM = (0.3, 0.05), (0.6, 0.16)
"""Kernels along and across. On drawn close-ups the fine one leans 0.16 of the way from fibre to ring
lines, the coarse one 0.41, in the median."""

CARRIED_ON = 0.4
"""What is left of the lean, as a share of the difference between fine and coarse: 0.16 / (0.41 - 0.16),
less a third, because the proportion varies from wood to wood."""

DOUBT = 0.5
"""Standard error of what was carried on, as a share of the same difference."""

TWICE = 0.5
"""Standard error of the mean of both readings, as a share of their difference."""

RING_ERROR = 0.006
"""Lines with a standard error below this (0.3 degrees) are ring lines that can be laid level."""

LEAN_LEFT = 0.08
"""Both readings may still lean toward the rings by this share of the way."""

LEAST_ALONG_PX, LEAST_ACROSS_PX = 2.0, 1.0

LEVEL = 1.0
"""Texture is clipped at this many deviations, so that a few large pores do not outvote the rest."""

CONTRAST_MM = 10.0
"""Contrast is made even over this length."""


def read_close(strip: Strip) -> CloseGrain:
    """Read the long lines and the fine texture of a close-up.

    Parameters
    ----------
    strip
        The close-up straightened; where along the board it was taken does not matter.

    Returns
    -------
    CloseGrain, means over the strip.
    """
    shrink = min(1.0, strip.mm_per_px / RINGS_MM)
    small = cv2.resize(strip.image, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    field = measure_lines(np.asarray(small, np.float32), strip.mm_per_px / shrink)
    weight = 1 / field.long_error**2
    line = float((weight * field.long_slope).sum() / weight.sum())
    rows = strip.image.shape[0]
    cut = max(2 * trim_rows(rows), int((rows - MIDDLE_MM / strip.mm_per_px) / 2))
    flat = detrend_columns(np.ascontiguousarray(strip.image[cut:-cut]))
    fine, coarse = (_texture(flat, strip.mm_per_px, *scale_mm) for scale_mm in (FINE_MM, COARSE_MM))
    apart = float(fine.slope - coarse.slope)
    texture, error = float(fine.slope) + CARRIED_ON * apart, float(np.hypot(fine.error, DOUBT * apart))
    line_error = float(np.median(field.long_error))
    rings = line_error < RING_ERROR
    columns_mm = (np.arange(flat.shape[1]) + 0.5) * strip.mm_per_px
    level = np.interp(columns_mm, field.positions_mm, field.long_slope) if rings else np.full(flat.shape[1], texture)
    again = spectral_fibre(flat, strip.mm_per_px, level, texture, rings)
    if again is not None:
        differ = texture - float(again.slope)
        texture, error = texture - differ / 2, float(np.hypot(again.error, TWICE * differ))
    if rings:
        error = float(np.hypot(error, LEAN_LEFT * (line - texture)))
    return CloseGrain(line=line, line_error=line_error, texture=texture, texture_error=error)


def _texture(flat: Float, mm_per_px: float, along_mm: float, across_mm: float) -> Direction:
    """Measure the direction of texture at one scale, coarser bands taken out."""
    scale = Scale(max(along_mm / mm_per_px, LEAST_ALONG_PX), max(across_mm / mm_per_px, LEAST_ACROSS_PX))
    bands = cv2.GaussianBlur(flat, (0, 0), sigmaX=0.01, sigmaY=max(4 * scale.across_px, 3.0))
    even = even_contrast(np.asarray(flat - bands, np.float32), CONTRAST_MM / mm_per_px)
    along, across = whitened_gradient(np.clip(even, -LEVEL, LEVEL), scale)
    edge = int(2 * scale.along_px)
    core = np.s_[scale.margin_rows : -scale.margin_rows, edge:-edge]
    along, across = along[core], across[core]
    independent = along.size / (WOOD_ERROR**2 * scale.noise_area_px)
    parts = [
        np.mean(one * other, dtype=np.float64) for one, other in ((along, along), (along, across), (across, across))
    ]
    return line_direction(parts[0], parts[1], parts[2], scale, independent)
