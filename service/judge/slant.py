"""The slant at which a bow lies best in a board wider than itself: along the grain, as far as the width lets it.

For one start and one face as the back the largest share of a limit is a convex function of the slant, since
each place's combined slope is. So a coarse row of slants, then finer rows around the best, find its least;
every sixth start stands for those beside it. What is found so is only proposed: the whole search judges it.
"""

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.board.types import BoardReading
from service.judge.limits import Limits
from service.judge.placing import MOST_LOST, make_ground, place, steepest_turn
from service.judge.section import Lay, Slopes, shares_used
from service.judge.shape import BowShape

Float = NDArray[np.float64]
Int = NDArray[np.int64]

TURNS: Final = 11
"""Slants of the first row, from the steepest one way to the steepest the other way."""

FINER: Final = (0.4, 0.12, 0.036)
"""Steps of the finer rows, as shares of the first row's step: within 1 in 4000 on boards of 6 in."""

EVERY_START: Final = 6
EVERY_STRETCH: Final = 5
"""Slopes are means over 76 mm, so neighbours at 18 mm hardly differ."""

SAME_SLANT: Final = 0.0005
"""Slants this close, 0.9 mm over a bow, are one."""

FAIL_COST, OUTSIDE_COST = 1e3, 1e6
"""Any slant that does not surely fail, by a knot or by its slope, is better than one that does; a bow that stands out
of the board is none."""


def lays(reading: BoardReading, slopes: Slopes, shape: BowShape, limits: Limits) -> list[Lay]:
    """Propose how a bow may lie at each start: along the board, and slanted for either face as the back.

    Parameters
    ----------
    reading, slopes
        The board.
    shape
        The bow; at most as wide as the board.

    Returns
    -------
    list of Lay
        Along the board first; that one alone when there is no room to slant.
    """
    lattice = slopes.lattice
    ground = make_ground(reading, lattice, slopes.laid["face_1"].line_mm)
    every = np.arange(lattice.count - lattice.section_steps)
    straight = np.zeros(every.shape)
    proposed = [straight]
    most = steepest_turn(shape, reading.size.width_mm)
    if most > 0:
        some = _some_starts(every.size)

        def costs(turn: Float) -> Float:
            shares = shares_used(slopes, some, turn, limits, EVERY_STRETCH)
            placed = place(ground, shape, np.tile(some, turn.shape[0]), turn.ravel(), limits)
            failed = (placed.knots > 0).reshape(turn.shape) | (shares.lower > 1.0)
            # Both count: the far end of the error for the verdict, the slope as measured for the score.
            cost: Float = shares.upper + shares.measured + FAIL_COST * failed
            return cost + OUTSIDE_COST * ~placed.fits.reshape(turn.shape)

        rows = _least_turns(costs, some.size, most)
        # On boards whose faces mirror each other both ways round want the same slant.
        apart = np.abs(rows[0] - rows[1]).max() > SAME_SLANT
        proposed += [np.interp(every, some, row) for row in (rows if apart else rows[:1])]
    found = []
    for turn in proposed:
        placed = place(ground, shape, every, turn, limits)
        # Along the board a bow may lose some of its width to the board's bend; a slant is there for better.
        fits = placed.fits if turn is not straight else placed.lost_mm <= MOST_LOST * shape.width_mm
        found.append(Lay(turn, placed.offset_mm, placed.knots, placed.lost_mm, fits, shape))
    return found


def _some_starts(count: int) -> Int:
    """Return about every sixth of a number of starts, first and last among them, the same from either end.

    >>> _some_starts(14).tolist()
    [0, 4, 9, 13]
    """
    last = count - 1
    half = math.ceil((last / EVERY_START + 1.0) / 2.0)
    first = np.rint(np.linspace(0.0, last, 2 * half)[:half]).astype(np.int64)
    return np.unique(np.concatenate((first, last - first)))


def _least_turns(costs: Callable[[Float], Float], count: int, most: float) -> Float:
    """Return the slant of least cost for each row (face as the back) and start, shape (2, count).

    Parameters
    ----------
    costs
        Takes slants, shape (k, count), and tells their costs, shape (2, k, count).
    """
    turns = np.linspace(-most, most, TURNS)
    step = float(turns[1] - turns[0])
    tried = np.tile(turns[:, None], (1, count))
    best: Float = turns[costs(tried).argmin(axis=1)]
    nearby = np.arange(-2, 3)[:, None]
    for finer in FINER:
        # Both rows go through together, and as one where they want the same.
        alike = np.array_equal(best[0], best[1])
        near = [np.clip(row + finer * step * nearby, -most, most) for row in best[: 1 if alike else 2]]
        cost = costs(np.concatenate(near))
        for row, own in ((0, 0), (1, len(near) - 1)):
            least = cost[row, own * nearby.size : (own + 1) * nearby.size].argmin(axis=0)
            best[row] = np.take_along_axis(near[own], least[None], axis=0)[0]
    return best
