"""Where across a wider board a bow fits: offsets that keep its outline in the wood and clear of knots.

At the middle u = 0 of a section the bow's straight centre line lies `offset` above the straight line between
the two points where the section's ends cross the board's mid-line, up as face 1 shows it, and runs at the slope
`turn` to that line: q(u) = offset + turn * u - sag(u) above the mid-line, where sag is the mid-line's own bend.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.board.types import BoardReading
from service.judge.branches import Branch, branches
from service.judge.lattice import Lattice
from service.judge.limits import Limits
from service.judge.shape import BowShape

Float = NDArray[np.float64]
Bool = NDArray[np.bool_]
Int = NDArray[np.int64]

PLACES: Final = 41
"""Places along the bow at which its outline is held against the board's corners, some 45 mm apart."""

OFFSETS: Final = 25
"""Offsets tried between the two corners where knots are in the way, besides those that just touch a knot."""

SLACK_MM: Final = 0.5
"""So much of the bow may stand out over a corner: what a saw cut takes is not known better."""

MOST_LOST: Final = 0.5
"""A bow laid along a crooked board may lose this share of its width to the bend, for it can be made narrower there or
the board be bent straight; beyond, it is not the bow that was asked for. Common practice, no source."""

FAR_MM: Final = 12.0
"""Half an inch beside a knot is as good as more: the grain runs straight again there. Common practice, no source."""


@dataclass(frozen=True)
class Ground:
    """The board's mid-line and branches, as the search needs them.

    Attributes
    ----------
    line_mm
        Shape (count,): the mid-line on the lattice, up as face 1 shows it.
    """

    lattice: Lattice
    line_mm: Float
    width_mm: float
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class Placing:
    """The best offset of each bow tried; all of one shape (n,).

    Attributes
    ----------
    offset_mm
        Of the bow's centre line at the middle of the section.
    knots
        Number of branches that touch the bow.
    lost_mm
        How much of its width the bow loses to the bend of the board.
    """

    offset_mm: Float
    knots: Int
    lost_mm: Float

    @property
    def fits(self) -> Bool:
        """Whether the outline lies in the board."""
        return self.lost_mm <= 2 * SLACK_MM


def make_ground(reading: BoardReading, lattice: Lattice, line_mm: Float) -> Ground:
    """Gather what placing needs of a board."""
    return Ground(lattice, line_mm, reading.size.width_mm, tuple(branches(reading)))


def steepest_turn(shape: BowShape, board_width_mm: float) -> float:
    """Return the largest slope at which a bow still fits into a straight board.

    At its tips the bow is 1/2 in wide: (88.9 - 12.7) / 1727.2.

    >>> round(steepest_turn(BowShape(1727.2, 38.1), 88.9), 4)
    0.0441
    >>> steepest_turn(BowShape(1727.2, 38.1), 38.1)
    0.0
    """
    along_mm = np.linspace(0.0, 0.5 * shape.length_mm, PLACES)[:-1]
    room_mm = 0.5 * (board_width_mm - shape.width_at(along_mm))
    return max(float((room_mm / (0.5 * shape.length_mm - along_mm)).min()), 0.0)


def place(ground: Ground, shape: BowShape, starts: Int, turn: Float, limits: Limits) -> Placing:
    """Find for each bow the offset that touches fewest knots, then stays clear of them, then is smallest.

    Parameters
    ----------
    ground, shape
        The board and the bow.
    starts
        Shape (n,): numbers of the lattice points at which the sections begin.
    turn
        Shape (n,): the bow's slope in the board, up as face 1 shows it.
    """
    low_mm, high_mm = _between_corners(ground, shape, starts, turn)
    lost_mm = np.maximum(low_mm - high_mm, 0.0)
    low_mm, high_mm = np.where(low_mm > high_mm, 0.5 * (low_mm + high_mm), [low_mm, high_mm])
    offset_mm = np.clip(0.0, low_mm, high_mm)
    knots = np.zeros(starts.shape, np.int64)
    blocked = _blocked(ground, shape, starts, turn, limits)
    if blocked is not None:
        from_mm, to_mm = blocked
        beyond_mm = np.maximum(from_mm - offset_mm[:, None], offset_mm[:, None] - to_mm).min(axis=1)
        near = np.flatnonzero(beyond_mm < FAR_MM)
        if near.size:
            offset_mm[near], knots[near] = _clear_of_knots(low_mm[near], high_mm[near], from_mm[near], to_mm[near])
    return Placing(offset_mm, knots, lost_mm)


def _clear_of_knots(low_mm: Float, high_mm: Float, from_mm: Float, to_mm: Float) -> tuple[Float, Int]:
    """Return the best offset between two corners, and the number of branches it touches.

    Parameters
    ----------
    low_mm, high_mm
        Shape (n,): the lowest and the highest offset.
    from_mm, to_mm
        Shape (n, branches): the offsets between which each branch touches the bow.
    """
    steps = np.linspace(0.0, 1.0, OFFSETS)
    tried_mm = low_mm[:, None] + (high_mm - low_mm)[:, None] * steps
    touching_mm = np.concatenate((from_mm, to_mm, np.zeros((low_mm.size, 1))), axis=1)
    touching_mm = np.where(np.isfinite(touching_mm), touching_mm, 0.0)
    tried_mm = np.concatenate((tried_mm, np.clip(touching_mm, low_mm[:, None], high_mm[:, None])), axis=1)
    beyond_mm = np.maximum(from_mm[:, None, :] - tried_mm[:, :, None], tried_mm[:, :, None] - to_mm[:, None, :])
    knots = (beyond_mm < 0).sum(axis=2)
    near_mm = np.clip(beyond_mm.min(axis=2), 0.0, FAR_MM)
    best = np.argmin(1e6 * knots - near_mm + 1e-3 * np.abs(tried_mm), axis=1)
    row = np.arange(low_mm.size)
    return tried_mm[row, best], knots[row, best].astype(np.int64)


def touching(
    ground: Ground, shape: BowShape, start: int, turn: float, offset_mm: float, limits: Limits
) -> list[Branch]:
    """List the branches that touch one bow."""
    blocked = _blocked(ground, shape, np.array([start]), np.array([turn]), limits)
    if blocked is None:
        return []
    spans = zip(ground.branches, blocked[0][0], blocked[1][0], strict=True)
    return [branch for branch, from_mm, to_mm in spans if from_mm < offset_mm < to_mm]


def _sag(ground: Ground, starts: Int, steps: Int) -> Float:
    """Return the mid-line above the straight line between a section's ends.

    Parameters
    ----------
    steps
        Shape (places,) or (n, places): steps from the section's start.

    Returns
    -------
    ndarray, shape (n, places)
    """
    line_mm, length = ground.line_mm, ground.lattice.section_steps
    share = steps / length
    ends_mm = line_mm[starts][:, None] * (1.0 - share) + line_mm[starts + length][:, None] * share
    sag: Float = line_mm[starts[:, None] + steps] - ends_mm
    return sag


def _between_corners(ground: Ground, shape: BowShape, starts: Int, turn: Float) -> tuple[Float, Float]:
    """Return the lowest and the highest offset that keep the outline between the two long corners."""
    lattice = ground.lattice
    steps = np.unique(np.linspace(0, lattice.section_steps, PLACES).round().astype(np.int64))
    along_mm: Float = steps * np.float64(lattice.section_mm / lattice.section_steps)
    room_mm = 0.5 * (ground.width_mm - shape.width_at(along_mm))
    shift_mm = turn[:, None] * (along_mm - 0.5 * lattice.section_mm) - _sag(ground, starts, steps)
    return (-room_mm - shift_mm).max(axis=1), (room_mm - shift_mm).min(axis=1)


def _blocked(ground: Ground, shape: BowShape, starts: Int, turn: Float, limits: Limits) -> tuple[Float, Float] | None:
    """Return the offsets between which each branch touches the bow, shape (n, branches).

    A branch beside the section's ends touches at no offset: its first is infinite, its last minus infinite.

    None when there are no branches.
    """
    if not ground.branches:
        return None
    lattice, margin_mm = ground.lattice, limits.knot_margin_mm
    length_mm = lattice.section_mm
    starts_mm = lattice.starts_mm[starts]
    lows_mm, highs_mm = [], []
    for branch in ground.branches:
        first_mm = np.clip(branch.from_mm - margin_mm - starts_mm, 0.0, length_mm)
        last_mm = np.clip(branch.to_mm + margin_mm - starts_mm, 0.0, length_mm)
        along_mm: Float = np.stack((first_mm, 0.5 * (first_mm + last_mm), last_mm), axis=1, dtype=np.float64)
        steps = np.rint(along_mm / length_mm * lattice.section_steps).astype(np.int64)
        shift_mm = turn[:, None] * (along_mm - 0.5 * length_mm) - _sag(ground, starts, steps)
        reach_mm = 0.5 * shape.width_at(along_mm).max(axis=1) + margin_mm
        inside = last_mm > first_mm
        lows_mm.append(np.where(inside, branch.low_mm - reach_mm - shift_mm.max(axis=1), np.inf))
        highs_mm.append(np.where(inside, branch.high_mm + reach_mm - shift_mm.min(axis=1), -np.inf))
    return np.stack(lows_mm, axis=1), np.stack(highs_mm, axis=1)
