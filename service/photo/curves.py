"""A side's two long corners as one pair of smooth curves: a middle line and a width along it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Rounds of reweighting in `fit`; the weights no longer change after a few.
ROUNDS: Final = 8
#: Points further off than this many times the usual scatter hardly count.
TRUSTED: Final = 2.0


@dataclass(frozen=True)
class Curve:
    """A polynomial over columns, continued straight beyond where it was fitted.

    The straight pieces have the mean slope of the quarter next to them: a slope at the very end would be too unsure.

    Attributes
    ----------
    factors
        Shape (degree + 1,): lowest power first, of (col - centre) / half.
    centre, half
        The fitted columns run from centre - half to centre + half.

    """

    factors: Floats
    centre: float
    half: float

    def __call__(self, cols: Floats) -> Floats:
        """Give the value at each column.

        >>> curve = Curve(np.array([0.0, 0.0, 1.0]), centre=10.0, half=10.0)
        >>> curve(np.array([0.0, 10.0, 30.0])).tolist()
        [1.0, 0.0, 2.5]

        """
        place = (np.asarray(cols, dtype=np.float64) - self.centre) / self.half
        held = np.clip(place, -1.0, 1.0)
        first, second, third, last = polynomial.polyval(np.array([-1.0, -0.5, 0.5, 1.0]), self.factors)
        slope = np.where(place > 0, 2 * (last - third), 2 * (second - first))
        return np.asarray(polynomial.polyval(held, self.factors) + slope * (place - held))


def fit(cols: Floats, values: Floats, weights: Floats, degree: int) -> tuple[Curve, Floats]:
    """Fit a polynomial that a minority of wild points cannot pull away.

    Parameters
    ----------
    cols, values, weights
        Shape (n,): where, what, and how much each point counts (0 or more).
    degree
        Of the polynomial; lowered when there are too few points for it.

    Returns
    -------
    curve, misses
        The fit, and value minus curve, shape (n,).

    >>> cols = np.arange(10.0)
    >>> curve, misses = fit(cols, np.where(cols == 4, 99.0, 2 * cols), np.ones(10), degree=1)
    >>> abs(float(curve(np.array([4.0]))[0]) - 8.0) < 0.01
    True

    """
    centre, half = (cols[0] + cols[-1]) / 2, max((cols[-1] - cols[0]) / 2, 1.0)
    place = (cols - centre) / half
    counted = weights.copy()
    degree = max(0, min(degree, int(np.count_nonzero(weights > 0)) // 3))
    misses = values
    factors = np.zeros(degree + 1)
    powers = place[:, None] ** np.arange(degree + 1)
    ridge = 1e-12 * np.eye(degree + 1)
    for _ in range(ROUNDS):
        # Places run from -1 to 1 and degrees are low, so the normal equations are accurate to a millionth of a pixel.
        weighted = powers * (counted / counted.sum())[:, None]
        factors = np.linalg.solve(weighted.T @ powers + ridge, weighted.T @ values)
        misses = values - powers @ factors
        scatter = max(1.48 * float(np.median(np.abs(misses[weights > 0]))), 0.05)
        counted = weights / (1 + (misses / (TRUSTED * scatter)) ** 2) ** 2
    return Curve(factors, float(centre), float(half)), misses


@dataclass(frozen=True)
class Corners:
    """Upper and lower long corner of a side in a frame, between two columns.

    Attributes
    ----------
    middle, width
        Row of the mid-line, and rows between the two corners, both over columns, in pixels.
    first_col, last_col
        Where the side begins and ends, as far as known.

    """

    middle: Curve
    width: Curve
    first_col: float
    last_col: float

    def rows(self, cols: Floats, share: float | Floats) -> Floats:
        """Row at columns and shares of the width: 0 on the upper corner, 1 on the lower one."""
        return self.middle(cols) + (share - 0.5) * self.width(cols)

    @property
    def mean_width(self) -> float:
        """Mean distance between the corners in pixels."""
        return float(np.mean(self.width(np.linspace(self.first_col, self.last_col, 9))))
