"""What a slope of grain leaves of straight-grained strength, as a range over published sources."""

import math

import numpy as np

from service.judge.record import Spread, Strength

# Wood Handbook (FPL-GTR-190, 2010), chapter 5, Table 5-12: share of straight-grained modulus of
# rupture at the steepest slope of grain. The cells are from memory.
TABLE_SLOPE = (0.0, 1 / 25, 1 / 20, 1 / 15, 1 / 10, 1 / 5)
TABLE_BENDING = (1.0, 0.96, 0.93, 0.89, 0.81, 0.55)

# Ratio of strength across to strength along the fibre, and the exponent, of Hankinson's formula.
BENDING = (0.10, 1.5)
IMPACT = (0.05, 1.5)
TENSION = ((0.04, 1.5), (0.07, 1.5))

SOURCES = (
    "Wood Handbook (FPL-GTR-190, 2010) p. 5-31: Hankinson's formula, bending, across/along 0.1, exponent 1.5",
    "The same: impact bending, across/along 0.05, exponent 1.5",
    "Wood Handbook, table of exponents (from memory): tension, across/along 0.04 to 0.07, exponent 1.5",
    "Wood Handbook Table 5-12 (from memory): modulus of rupture by slope of grain",
)


def hankinson(slope: float, across_over_along: float, exponent: float) -> float:
    """Return the share of the strength along the fibre that is left at a slope of grain.

    N / P = (Q/P) / (sin^n t + (Q/P) cos^n t),  tan t = slope

    Parameters
    ----------
    slope
        Rise over length, any sign.
    across_over_along
        Q/P, strength across the fibre as a share of that along it.
    exponent
        n, 1.5 to 2.5 by the property.

    References
    ----------
    R. L. Hankinson, Air Service Information Circular III no. 259 (1921); Wood Handbook
    (FPL-GTR-190, 2010), chapter 5, p. 5-31.

    >>> hankinson(0.0, 0.1, 1.5), round(hankinson(1 / 10, 0.1, 1.5), 3), round(hankinson(1e9, 0.1, 1.5), 3)
    (1.0, 0.765, 0.1)
    """
    angle_rad = math.atan(abs(slope))
    along, across = math.cos(angle_rad) ** exponent, math.sin(angle_rad) ** exponent
    return float(across_over_along / (across + across_over_along * along))


def strength_left(slope: float) -> Strength:
    """Return what a slope leaves of straight-grained strength, as a range over the published sources.

    Parameters
    ----------
    slope
        Combined slope of grain, rise over length, any sign. The remembered table ends at 1 in 5;
        beyond it only the formula is used.

    >>> left = strength_left(1 / 20)
    >>> round(left.tension.low, 2), round(left.tension.high, 2)
    (0.78, 0.86)
    """
    bending = [hankinson(slope, *BENDING)]
    if abs(slope) <= TABLE_SLOPE[-1]:
        bending.append(float(np.interp(abs(slope), TABLE_SLOPE, TABLE_BENDING)))
    return Strength(
        slope=round(abs(slope), 5),
        bending=_spread(bending),
        tension=_spread([hankinson(slope, *fit) for fit in TENSION]),
        impact=_spread([hankinson(slope, *IMPACT)]),
        sources=list(SOURCES),
    )


def _spread(shares: list[float]) -> Spread:
    return Spread(low=round(min(shares), 4), high=round(max(shares), 4))
