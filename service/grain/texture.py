"""The slope of texture finer than rings along a whole side, for sides where rings draw no lines along it."""

import cv2
import numpy as np
from numpy.typing import NDArray

from service.grain.lines import LineField, Plan, Stage, measure_lines
from service.grain.tensor import Double, Float, Scale

BANDS_PX = 1.5
"""What is coarser across than this sigma is taken out: ring bands, not pores and streaks."""

FINE_LINES = Plan(
    (Stage(1, Scale(8, 1.0), 100.0), Stage(2, Scale(6, 0.9), 50.0), Stage(4, Scale(8, 0.8), 25.0)),
    steepest=0.12,
    most_turn=0.06,
)
"""Long kernels from the first and small turns: V shapes that run steeper than fibre are passed over."""

VEES = 0.01
"""Thirds of a side whose lines lie further apart than this (0.6 degrees), in the median, hold V shapes."""

STEEP, STEEP_SHARE = 0.1, 0.1
"""Lines steeper than the first (1 in 10), over more than this share of the side, are rings cut at a slant."""

FAINT_SHARE = 0.9
"""Lines seen in less than this share of the side may have been lost for following rings."""


def measure_texture(strip: Float, mm_per_px: float, blank: NDArray[np.bool_] | None = None) -> LineField:
    """Measure the slope of pores and streaks along a straightened side.

    Parameters
    ----------
    strip
        float32, shape (rows, cols), 0 to 1: one side from long corner to long corner.
    mm_per_px
        Millimetres per pixel, along and across.
    blank
        Shape (rows, cols): pixels that show no grain.

    Returns
    -------
    LineField
    """
    bands = cv2.GaussianBlur(strip, (0, 0), sigmaX=0.01, sigmaY=BANDS_PX, borderType=cv2.BORDER_REFLECT)
    return measure_lines(np.asarray(strip - bands, np.float32), mm_per_px, plan=FINE_LINES, blank=blank)


def rings_draw_no_lines(field: LineField, spread: Double) -> bool:
    """Tell whether the lines along a side are V shapes, too steep for fibre, or lost.

    Parameters
    ----------
    field
        The lines.
    spread
        Shape (n,): how far the slopes of the side's thirds lie apart beyond their errors.
    """
    steep = float((np.abs(field.slope) > STEEP).mean()) > STEEP_SHARE
    return bool(steep or np.median(spread) > VEES or field.seen.mean() < FAINT_SHARE)
