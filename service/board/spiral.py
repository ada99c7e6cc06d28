"""The spiral part of the grain: the fibre's turn within the ring surface, from what shows the fibre."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.board.plane import CUTS_WELL, UPWARD, in_plane
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES

Double = NDArray[np.float64]

CLOSE_FLOOR = 0.008
"""One sigma of a close-up's fibre slope beyond its own scatter (0.5 degrees): outline, and wood."""

TEXTURE_LEAN, STREAK_LEAN = 0.25, 0.15
"""How far texture leans toward the ring lines and streaks away from them, as shares of the distance
between the two; measured on drawn boards (medians 0.16 and 0.14)."""

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
    usual = float(np.nanmean(diagonal)) if np.isfinite(diagonal).any() else 0.0
    found = []
    for side, closes in closeups.items():
        within, beside = in_plane(normals[side], side)
        if abs(beside) < LEAST_TURN:
            continue
        for close in closes:
            rings_show = abs(within) >= CUTS_WELL
            local = UPWARD[side] * close.line * within if rings_show else usual
            for slope, error in _fibre_readings(close, not rings_show):
                turn = (UPWARD[side] * slope - local * within) / beside
                found.append(_Reading(side, turn, error / abs(beside)))
    return found


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


def _fibre_readings(close: CloseGrain, no_rings: bool) -> list[tuple[float, float]]:
    """Return the fibre slopes a close-up gives, with standard errors.

    Where rings make no lines the fine texture is the fibre. Where they do, the texture leans toward
    them and the streaks, with the bands taken out from under them, lean away; the two leans nearly
    cancel, and each stands in its error.
    """
    off_line = 0.0 if no_rings else 1.0
    lean = TEXTURE_LEAN * off_line * abs(close.texture - close.line)
    readings = [(close.texture, float(np.sqrt(close.texture_error**2 + CLOSE_FLOOR**2 + lean**2)))]
    if not no_rings and close.streak is not None and close.streak_error is not None:
        lean = STREAK_LEAN * abs(close.streak - close.line)
        readings.append((close.streak, float(np.sqrt(close.streak_error**2 + CLOSE_FLOOR**2 + lean**2))))
    return readings
