"""The spiral part of the grain: the fibre's turn within the ring surface, from what shows the fibre."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.board.plane import CUTS_WELL, UPWARD, in_plane
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES

Double = NDArray[np.float64]

CLOSE_FLOOR = 0.006
"""One sigma of a close-up's fibre slope beyond its own scatter (0.35 degrees): the wood there need not
be the board's mean."""

FRAME = 0.005
"""One sigma by which a close-up's outline is turned (0.3 degrees)."""

DIAGONAL_SPREAD = 0.005
"""One sigma by which diagonal grain at the close-up differs from the board's mean."""

SEEN_ERROR = 0.02
"""Fibre counts as seen when a close-up gives it with an error below this (1.1 degrees, one sigma)."""

FIGURE_FLOOR = 0.022
"""One sigma of a whole side's lines as fibre, where rings make no lines."""

UNSEEN_SPIRAL = 0.022
"""Least one sigma of the spiral where no fibre was seen: a few boards turn far more than is ordinary."""

LEAST_TURN = 0.05
"""A side on which s shows by less than this share of itself tells nothing of it."""

SPIRAL_CHANGE = 0.004
"""One sigma by which spiral grain changes along a board."""

ORDINARY_SPIRAL = 0.017
"""Spread of spiral grain over ordinary boards (1 in 60), common practice, no source."""


@dataclass(frozen=True)
class Spiral:
    """Spiral grain as it meets each side.

    Attributes
    ----------
    value, error
        Side name to s, a ratio, and its standard error.
    seen
        Whether fibre texture was resolved in any close-up.
    """

    value: dict[str, float]
    error: dict[str, float]
    seen: bool


@dataclass(frozen=True)
class _Reading:
    """One reading of s: where from (None: from no side in particular), value and standard error."""

    side: str | None
    value: float
    error: float


def read_spiral(
    sides: Mapping[str, SideGrain],
    closeups: Mapping[str, Sequence[CloseGrain]],
    normals: Mapping[str, tuple[float, float]],
    diagonal: Double,
) -> Spiral:
    """Read the spiral part from close-ups; without any, from what stands in for them.

    Readings of different sides that differ by more than their errors say that the turn differs
    through the board (interlocked grain). Then a side's own reading counts fully for it and the
    others' only within that difference.

    Parameters
    ----------
    sides
        The sides that were read.
    closeups
        Close-ups by side.
    normals
        Side name to the unit vector (y, z) across the rings at its middle.
    diagonal
        Shape (n,): the diagonal part, NaN where unread.

    Returns
    -------
    Spiral, with an entry for every side.
    """
    found = _close_readings(closeups, normals, diagonal)
    seen = any(reading.error < SEEN_ERROR for reading in found)
    if not seen:
        found += _stand_ins(sides, normals, diagonal)
    value = np.array([reading.value for reading in found])
    each = np.array([reading.error for reading in found])
    middle = float(np.average(value, weights=1 / each**2))
    # How much more the readings differ than their errors allow (Birge's ratio).
    strain = float(((value - middle) ** 2 / each**2).sum() / max(len(found) - 1, 1))
    apart = np.sqrt(2 * max(strain - 1, 0.0)) * each
    values, errors = {}, {}
    for side in SIDES:
        own = np.array([reading.side == side for reading in found])
        wide = np.where(own, each, np.hypot(each, apart))
        weight = 1 / wide**2
        values[side] = float((weight * value).sum() / weight.sum())
        error = float(np.hypot(1 / np.sqrt(weight.sum()), SPIRAL_CHANGE))
        errors[side] = error if seen else max(error, UNSEEN_SPIRAL)
    return Spiral(values, errors, seen)


def _close_readings(
    closeups: Mapping[str, Sequence[CloseGrain]], normals: Mapping[str, tuple[float, float]], diagonal: Double
) -> list[_Reading]:
    known = bool(np.isfinite(diagonal).any())
    usual = float(np.nanmean(diagonal)) if known else 0.0
    found = []
    for side, closes in closeups.items():
        within, beside = in_plane(normals[side], side)
        if abs(beside) < LEAST_TURN:
            continue
        for close in closes:
            turned, doubt, local = 0.0, FRAME, usual
            if known and abs(within) >= CUTS_WELL:
                turned, doubt = _turned(UPWARD[side] * close.line - usual / within, close.line_error, within)
                local = (UPWARD[side] * close.line - turned) * within
            slope = UPWARD[side] * close.texture - turned
            error = float(np.sqrt(close.texture_error**2 + CLOSE_FLOOR**2 + doubt**2))
            found.append(_Reading(side, (slope - local * within) / beside, error / abs(beside)))
    return found


def _turned(off: float, line_error: float, within: float) -> tuple[float, float]:
    """Tell how far a close-up's outline is turned, and how uncertain that stays.

    Its ring lines should slope as the board's do in the photos of the whole side. What they are off
    by is shared out between a turned outline and wood that differs there, by how likely each is.
    """
    wood = np.hypot(DIAGONAL_SPREAD / within, line_error)
    share = FRAME**2 / (FRAME**2 + wood**2)
    return float(share * off), float(FRAME * np.sqrt(1 - share))


def _stand_ins(
    sides: Mapping[str, SideGrain], normals: Mapping[str, tuple[float, float]], diagonal: Double
) -> list[_Reading]:
    """Return what stands in for fibre nobody saw: the lean of V shapes, and that most boards turn little.

    Never mixed with fibre that was seen: both would pull it toward straight.
    """
    found = [_Reading(None, 0.0, ORDINARY_SPIRAL)]
    for side, grain in sides.items():
        within, beside = in_plane(normals[side], side)
        if abs(within) < CUTS_WELL and np.isfinite(grain.line).any():
            straight = np.nan_to_num(diagonal) * within
            slope = float(np.nanmean(UPWARD[side] * grain.line - straight))
            error = float(np.hypot(FIGURE_FLOOR, np.nanmedian(grain.spread) / 2))
            found.append(_Reading(None, slope / beside, error))
    return found
