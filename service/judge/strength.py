"""What a slope of grain leaves of straight-grained strength, as a range over published sources that disagree.

Four sources are set side by side: the curves that the Wood Handbook fits to its tests, its table, the reductions
for aircraft wood, and the ratios for grading lumber. Each speaks of some slopes only; outside them it is carried on
at the same share of the handbook's curve that it has at the last slope it speaks of, and never above 1. So every
source tells something of every slope, falls steadily with it and starts from 1, and so does the range over them.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.judge.record import Spread, Strength
from service.language import mark, say

Float = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """A fit of Hankinson's formula: strength across over strength along the fibre, and the exponent."""

    across_over_along: float
    exponent: float


@dataclass(frozen=True)
class Cells:
    """A table: shares of strength at increasing slopes, straight lines between them."""

    slopes: tuple[float, ...]
    shares: tuple[float, ...]


BENDING: Final = Curve(0.10, 1.5)
IMPACT: Final = Curve(0.05, 1.5)
"""Wood Handbook (FPL-GTR-190, 2010), chapter 5, p. 5-31 and following: the fits to its Table 5-12."""

TENSION: Final = (Curve(0.04, 1.5), Curve(0.07, 2.0))
"""The same chapter's table of exponents (from memory): for tension 0.04 to 0.07 and 1.5 to 2; its weakest and its
strongest pair."""

TABLE_SLOPES: Final = (0.0, 1 / 25, 1 / 20, 1 / 15, 1 / 10, 1 / 5)
TABLE_BENDING: Final = Cells(TABLE_SLOPES, (1.0, 0.96, 0.93, 0.89, 0.81, 0.55))
TABLE_IMPACT: Final = Cells(TABLE_SLOPES, (1.0, 0.95, 0.90, 0.81, 0.62, 0.36))
"""Wood Handbook Table 5-12 (from memory): modulus of rupture, and height of drop that breaks a beam."""

GRADING: Final = Cells(
    (1 / 20, 1 / 18, 1 / 16, 1 / 15, 1 / 14, 1 / 12, 1 / 10, 1 / 8, 1 / 6),
    (1.0, 0.85, 0.80, 0.76, 0.74, 0.69, 0.61, 0.53, 0.40),
)
"""ASTM D245, strength ratios in bending and tension (from memory). The standard holds a piece to the cell it reaches;
here straight lines join the cells. Flatter than 1 in 20 it takes nothing off."""

AIRCRAFT_SLOPES: Final = (1 / 15, 1 / 12, 1 / 10, 1 / 8)
AIRCRAFT_BENDING: Final = Cells(AIRCRAFT_SLOPES, (1.0, 0.88, 0.78, 0.67))
AIRCRAFT_TENSION: Final = Cells(AIRCRAFT_SLOPES, (1.0, 0.85, 0.75, 0.60))
"""ANC-18 (1944) Table 2-4, shares of the design value, which already allows 1 in 15. That wood of 1 in 15 keeps what
the handbook's curve says, so that the two may be multiplied, is an inference and stands in no source."""

SOURCES: Final = (
    mark(
        "Wood Handbook (FPL-GTR-190, 2010) p. 5-31: Hankinson's formula, strength across the fibre 0.1 of that along "
        "it in bending and 0.05 under a blow, exponent 1.5."
    ),
    mark("Wood Handbook, table of exponents (from memory): in tension 0.04 to 0.07, exponent 1.5 to 2."),
    mark("Wood Handbook Table 5-12 (from memory): bending and blow, up to 1 in 5."),
    mark(
        "ASTM D245 (from memory): ratios for grading lumber in bending and tension, 1 in 20 to 1 in 6; flatter than 1 "
        "in 20 it takes nothing off."
    ),
    mark(
        "ANC-18 (1944) Table 2-4: bending and tension of aircraft wood, 1 in 15 to 1 in 8, as shares of wood of 1 in "
        "15; multiplied by what the handbook's curve leaves at 1 in 15, which is an inference, not a published "
        "statement."
    ),
    mark(
        "Beyond the slopes it tells, each table is carried on in proportion to the handbook's curve, which is an "
        "inference too."
    ),
)


def hankinson(slope: float | Float, curve: Curve) -> Float:
    """Return the share of the strength along the fibre that is left at a slope of grain.

    N / P = (Q/P) / (sin^n t + (Q/P) cos^n t),  tan t = slope

    Parameters
    ----------
    slope
        Any shape: rise over length, any sign.
    curve
        Q/P and n.

    Returns
    -------
    ndarray
        Of the slope's shape.

    References
    ----------
    R. L. Hankinson, Air Service Information Circular III no. 259 (1921); Wood Handbook
    (FPL-GTR-190, 2010), chapter 5, p. 5-31.

    >>> hankinson(np.array([0.0, 1 / 10, 1e9]), Curve(0.1, 1.5)).round(3).tolist()
    [1.0, 0.765, 0.1]
    """
    angle_rad = np.arctan(np.abs(np.asarray(slope, dtype=np.float64)))
    along, across = np.cos(angle_rad) ** curve.exponent, np.sin(angle_rad) ** curve.exponent
    left: Float = curve.across_over_along / (across + curve.across_over_along * along)
    return left


def cells_left(slope: float | Float, cells: Cells, curve: Curve) -> Float:
    """Return what a table leaves, carried on beyond its cells in proportion to a curve and never above 1.

    Parameters
    ----------
    slope
        Any shape: rise over length, any sign.

    Between 1 in 10 and 1 in 5 the table falls by 26 points; at 1 in 4 it is carried on.

    >>> cells_left(np.array([1 / 10, 0.15, 1 / 5]), TABLE_BENDING, BENDING).round(3).tolist()
    [0.81, 0.68, 0.55]
    >>> carried = 0.55 * hankinson(1 / 4, BENDING) / hankinson(1 / 5, BENDING)
    >>> bool(np.isclose(cells_left(1 / 4, TABLE_BENDING, BENDING), carried))
    True
    """
    steepness = np.abs(np.asarray(slope, dtype=np.float64))
    nearest = np.clip(steepness, cells.slopes[0], cells.slopes[-1])
    inside = np.interp(nearest, cells.slopes, cells.shares)
    left: Float = np.minimum(inside * hankinson(steepness, curve) / hankinson(nearest, curve), 1.0)
    return left


def aircraft_left(slope: float | Float, cells: Cells, curve: Curve) -> Float:
    """Return what ANC-18's reductions leave, taken from wood of 1 in 15 as the curve has it.

    Its factors are shares of wood of 1 in 15, so 1 in 12 keeps 0.88 of the curve's 0.856 there.

    >>> aircraft_left(np.array([1 / 15, 1 / 12]), AIRCRAFT_BENDING, BENDING).round(3).tolist()
    [0.856, 0.753]
    """
    start = float(hankinson(cells.slopes[0], curve))
    return cells_left(slope, Cells(cells.slopes, tuple(start * share for share in cells.shares)), curve)


def tension_left(slope: float | Float) -> tuple[Float, Float]:
    """Return the least and the most that a slope leaves of the strength in tension along the grain.

    Parameters
    ----------
    slope
        Any shape: rise over length, any sign.

    Returns
    -------
    low, high
        Of the slope's shape, shares of 1; neither ever rises with the slope.

    >>> low, high = tension_left(np.array([0.0, 1 / 20, 1 / 10]))
    >>> low.round(2).tolist(), high.round(2).tolist()
    ([1.0, 0.78, 0.53], [1.0, 1.0, 0.88])
    """
    weakest, strongest = TENSION
    told = [hankinson(slope, curve) for curve in TENSION]
    told += [aircraft_left(slope, AIRCRAFT_TENSION, curve) for curve in TENSION]
    told += [cells_left(slope, GRADING, curve) for curve in (weakest, strongest)]
    return _range(told)


def bending_left(slope: float | Float) -> tuple[Float, Float]:
    """Return the least and the most that a slope leaves of the modulus of rupture; as `tension_left`.

    >>> low, high = bending_left(1 / 10)
    >>> round(float(low), 2), round(float(high), 2)
    (0.61, 0.81)
    """
    return _range(
        [
            hankinson(slope, BENDING),
            cells_left(slope, TABLE_BENDING, BENDING),
            cells_left(slope, GRADING, BENDING),
            aircraft_left(slope, AIRCRAFT_BENDING, BENDING),
        ]
    )


def impact_left(slope: float | Float) -> tuple[Float, Float]:
    """Return the least and the most that a slope leaves of the strength under a blow; as `tension_left`.

    >>> low, high = impact_left(1 / 20)
    >>> round(float(low), 2), round(float(high), 2)
    (0.82, 0.9)
    """
    return _range([hankinson(slope, IMPACT), cells_left(slope, TABLE_IMPACT, IMPACT)])


def strength_left(slope: float) -> Strength:
    """Return what a slope leaves of straight-grained strength, as ranges over the published sources.

    Parameters
    ----------
    slope
        Combined slope of grain, rise over length, any sign.

    >>> left = strength_left(1 / 10)
    >>> (left.bending.low, left.bending.high), (left.impact.low, left.impact.high)
    ((0.61, 0.81), (0.6172, 0.62))
    """
    return Strength(
        slope=round(abs(slope), 5),
        bending=_spread(bending_left(slope)),
        tension=_spread(tension_left(slope)),
        impact=_spread(impact_left(slope)),
        sources=[say(source) for source in SOURCES],
    )


def _range(told: list[Float]) -> tuple[Float, Float]:
    return np.min(told, axis=0), np.max(told, axis=0)


def _spread(ends: tuple[Float, Float]) -> Spread:
    low, high = ends
    return Spread(low=round(float(low), 4), high=round(float(high), 4))
