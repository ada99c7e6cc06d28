"""The values that grain hands on."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Double = NDArray[np.float64]


@dataclass(frozen=True)
class KnotBox:
    """A knot as the rectangle around it, millimetres: along from the marked end, across from the lower corner."""

    from_mm: float
    to_mm: float
    across_from_mm: float
    across_to_mm: float


@dataclass(frozen=True)
class KnotSign:
    """A dark place that may be a knot.

    Attributes
    ----------
    box
        The rectangle around it.
    log_odds
        Natural logarithm of how many times likelier it is a knot than anything else, seen by itself:
        0 is even, 2 is 7 to 1.
    """

    box: KnotBox
    log_odds: float


@dataclass(frozen=True)
class SideGrain:
    """What one side's photos tell of its lines, on the board's common grid of positions.

    Slopes are rise toward the side's upper long corner over length; errors are standard errors.

    Attributes
    ----------
    line, line_error
        Shape (n,): slope of the lines one sees. NaN where nothing could be read.
    ring, ring_error
        Shape (n,): slope of the longest lines, which are rings where there are rings. NaN as above.
    texture, texture_error
        Shape (n,): slope of what is finest. It follows the fibre where rings draw no lines along the
        side; elsewhere it is much the same as `line`. NaN as above.
    spread
        Shape (n,): how far the slopes of the upper, middle and lower third lie apart beyond their
        errors; large where rings make V shapes.
    knots
        Dark places that may be knots; the board's four sides together settle which are.
    rings_per_mm
        Mean frequency of ring lines across the side; 0 when it could not be told.
    """

    line: Double
    line_error: Double
    ring: Double
    ring_error: Double
    texture: Double
    texture_error: Double
    spread: Double
    knots: tuple[KnotSign, ...] = ()
    rings_per_mm: float = 0.0


@dataclass(frozen=True)
class CloseGrain:
    """What a close-up of a side tells, as means over what it shows.

    Attributes
    ----------
    line, line_error
        Slope of the longest lines and its standard error.
    texture, texture_error
        Slope of the fine texture, carried on to where it no longer leans toward ring lines, and its
        standard error.
    """

    line: float
    line_error: float
    texture: float
    texture_error: float
