"""Grain lines followed along a side until they leave it over a long corner."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Double = NDArray[np.float64]

LINES = 9
"""Lines followed: line k starts k tenths of the width above the lower corner."""

LONGEST_BRIDGE_MM = 101.6
"""Unread stretches up to this length (4 in: a sticker, a knot with the wood it turns, tape at the marked
end) are bridged in a straight run from slope to slope."""

LARGEST_ERROR_MM = 999.0
"""A place known less well than this is called known this well: nothing hangs on the difference."""


@dataclass(frozen=True)
class LineEnd:
    """Where a grain line leaves its side.

    Attributes
    ----------
    position_mm
        Distance from the marked end.
    corner
        The long corner it leaves over, "upper" or "lower" as the side is seen upright.
    slope
        Slope of the line there, rise over length.
    line
        1 to 9: the tenth of the width, counted from the lower corner, at which it started.
    position_error_mm
        Half-width of the interval of its position, as wide as that of the slopes.
    """

    position_mm: float
    corner: Literal["upper", "lower"]
    slope: float
    line: int
    position_error_mm: float


def line_rise(positions_mm: Double, slope: Double, start_mm: float, end_mm: float) -> tuple[Double, Double, Double]:
    """Follow the grain from a start and tell how far it has risen.

    rise(p) = integral of slope from start to p

    Parameters
    ----------
    positions_mm, slope
        Shape (n,): increasing positions, and rise over length there; NaN where unread. Between two
        positions the slope runs straight on; before the first and after the last it stays as it is, over
        `LONGEST_BRIDGE_MM` at the most.
    start_mm, end_mm
        From where to where.

    Returns
    -------
    stops_mm, rise_mm, stops_slope
        Shape (m,): places from the start on, how far the line stands above its own start there, and
        the slope. They end early at the first unread stretch longer than `LONGEST_BRIDGE_MM`; empty when
        the start itself lies in one.

    >>> places, rise, _ = line_rise(np.array([0.0, 100.0, 200.0]), np.array([0.1, 0.1, 0.1]), 50.0, 200.0)
    >>> places.tolist(), rise.tolist()
    ([50.0, 100.0, 200.0], [0.0, 5.0, 15.0])
    """
    nothing = np.zeros(0)
    known = np.isfinite(slope)
    if not known.any():
        return nothing, nothing, nothing
    read_mm, read_slope = positions_mm[known], slope[known]
    spacing_mm = float(np.median(np.diff(positions_mm))) if positions_mm.size > 1 else 0.0
    longest_mm = LONGEST_BRIDGE_MM + 1.01 * spacing_mm
    if not read_mm[0] - longest_mm <= start_mm <= read_mm[-1] + longest_mm:
        return nothing, nothing, nothing
    gap_starts_mm = read_mm[:-1][np.diff(read_mm) > longest_mm]
    gap_ends_mm = read_mm[1:][np.diff(read_mm) > longest_mm]
    if np.any((start_mm > gap_starts_mm) & (start_mm < gap_ends_mm)):
        return nothing, nothing, nothing
    reach_mm = end_mm if end_mm <= read_mm[-1] + longest_mm else read_mm[-1]
    stop_mm = min([reach_mm, *gap_starts_mm[gap_starts_mm >= start_mm]])
    if stop_mm <= start_mm:
        return nothing, nothing, nothing
    between = (read_mm > start_mm) & (read_mm < stop_mm)
    stops_mm = np.concatenate(([start_mm], read_mm[between], [stop_mm]))
    stops_slope = np.interp(stops_mm, read_mm, read_slope)
    steps_mm = np.diff(stops_mm) * 0.5 * (stops_slope[1:] + stops_slope[:-1])
    return stops_mm, np.concatenate(([0.0], np.cumsum(steps_mm))), stops_slope


def follow_lines(
    positions_mm: Double, slope: Double, slope_error: Double, width_mm: float, start_mm: float, end_mm: float
) -> tuple[LineEnd, ...]:
    """Follow nine grain lines and tell where they leave the side.

    The lines start at tenths of the width, counted from the lower corner, at `start_mm`. Lines that
    reach `end_mm`, or an unread stretch longer than `LONGEST_BRIDGE_MM`, do not leave. Errors of the
    slope are mostly the same all along a side, so they add up like the slopes themselves; where a line
    crosses the corner, the error of its height over its slope is that of its place.

    Parameters
    ----------
    positions_mm, slope
        Shape (n,), as in `line_rise`.
    slope_error
        Shape (n,): half-width of the slope's interval; NaN counts as its mean.
    width_mm
        Distance between the two long corners.

    Returns
    -------
    tuple of LineEnd
        In the order of the lines.

    At 1 in 10 line 9, 4 mm below the corner, leaves after 40 mm; slopes good to 0.01 place it within 4 mm.

    >>> level = np.array([0.1, 0.1])
    >>> ends = follow_lines(np.array([0.0, 500.0]), level, level / 10, 40.0, 0.0, 300.0)
    >>> [(end.line, round(end.position_mm, 6), round(end.position_error_mm, 6)) for end in ends][-2:]
    [(8, 80.0, 8.0), (9, 40.0, 4.0)]
    """
    stops_mm, rise_mm, stops_slope = line_rise(positions_mm, slope, start_mm, end_mm)
    if stops_mm.size < 2:
        return ()
    known = np.isfinite(slope_error)
    usual = float(slope_error[known].mean()) if known.any() else 0.0
    errors = np.interp(stops_mm, positions_mm, np.where(known, slope_error, usual))
    apart_mm = np.concatenate(([0.0], np.cumsum(np.diff(stops_mm) * 0.5 * (errors[1:] + errors[:-1]))))
    lines = np.arange(1, LINES + 1)
    heights_mm = width_mm * lines[:, None] / (LINES + 1) + rise_mm
    outside = (heights_mm >= width_mm) | (heights_mm <= 0.0)
    first = np.argmax(outside, axis=1)
    ends = []
    for line, at in zip(lines, first, strict=True):
        if not outside[line - 1, at]:
            continue
        before_mm, after_mm = heights_mm[line - 1, at - 1 : at + 1]
        upper = after_mm >= width_mm
        share = ((width_mm if upper else 0.0) - before_mm) / (after_mm - before_mm)
        position_mm = stops_mm[at - 1] + share * (stops_mm[at] - stops_mm[at - 1])
        steepness = stops_slope[at - 1] + share * (stops_slope[at] - stops_slope[at - 1])
        off_mm = apart_mm[at - 1] + share * (apart_mm[at] - apart_mm[at - 1])
        error_mm = min(float(off_mm / max(abs(steepness), 1e-9)), LARGEST_ERROR_MM)
        corner: Literal["upper", "lower"] = "upper" if upper else "lower"
        ends.append(LineEnd(float(position_mm), corner, float(steepness), int(line), error_mm))
    return tuple(ends)
