"""The spiral part of the grain: the fibre's turn within the ring surface, from what shows the fibre."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from service.board.entered import EnteredSlope, entered_notes, entered_turn
from service.board.plane import CUTS_WELL, DIAGONAL_SPREAD, LEAST_TURN, UPWARD, in_plane
from service.board.types import Source, Turn
from service.errors import Problem
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES, side_opposite

Double = NDArray[np.float64]

CLOSE_FLOOR = 0.006
"""One sigma of a close-up's fibre slope beyond its own scatter (0.35 degrees): the wood there need not
be the board's mean."""

FRAME = 0.005
"""One sigma by which a close-up's outline is turned (0.3 degrees)."""

SEEN_ERROR = 0.02
"""Fibre counts as seen when a close-up or a test gives it with an error below this (1.1 degrees, one sigma)."""

FIGURE_FLOOR = 0.012
"""One sigma of a whole side's texture as fibre, where rings make no lines (0.7 degrees): mostly less, but
it errs alike on opposite sides."""

LEAN = 0.5
"""Where ring lines run less steeply than `STEEP_RINGS`, texture may lean so far toward them."""

STEEP_RINGS = 0.14
"""Ring lines steeper than this (8 degrees) are not taken for texture."""

UNSEEN_SPIRAL = 0.014
"""Least one sigma of the spiral where no close-up showed the fibre (0.8 degrees): photos of whole sides
show texture faintly, and it may lean toward the rings."""

UNREAD_SPIRAL = 0.022
"""The same where no side showed any texture: a few boards turn far more than is ordinary."""

HINT = 0.5
"""Share of what texture of whole sides hints at, beyond what is believed, that widens the error."""

PLAIN_SHARE = 0.9
"""Texture seen on less of a side than this is too faint to be told from rings cut at a slant."""

STEEP_FIBRE = 0.09
"""Texture steeper than this (5 degrees), in the mean, may be rings cut at a slant."""

SPIRAL_CHANGE = 0.005
"""One sigma by which spiral grain changes along a side of a board."""

CHANGE_BINS = 12.0
"""Sigma of the window over which changes along a side are followed, in steps of the board's grid."""

PROFILE_FLOOR = 0.004
"""One sigma of such a followed change, beyond what noise gives."""

ORDINARY_SPIRAL = 0.017
"""Spread of spiral grain over ordinary boards (1 in 60), common practice, no source."""


@dataclass(frozen=True)
class Spiral:
    """Spiral grain as it meets each side.

    Attributes
    ----------
    value, error
        Side name to shape (n,): s along the board, a ratio, and its standard error.
    sources
        What showed the fibre; empty when nothing did.
    notes
        What became of the tests that were entered by hand.
    """

    value: dict[str, Double]
    error: dict[str, Double]
    sources: tuple[Source, ...]
    notes: tuple[Problem, ...]


@dataclass(frozen=True)
class _Reading:
    """One reading of s: where from (None: what is usual), value and standard error."""

    side: str | None
    value: float
    error: float


def read_spiral(
    sides: Mapping[str, SideGrain],
    closeups: Mapping[str, Sequence[CloseGrain]],
    normals: Mapping[str, tuple[float, float]],
    diagonal: Double,
    tests: Sequence[EnteredSlope],
    length_mm: float,
) -> Spiral:
    """Read the spiral part from close-ups, from tests entered by hand and from sides on which rings draw no lines.

    Readings of different sides that differ by more than their errors say that the turn differs
    through the board (interlocked grain). Then a side's own reading counts fully for it and the
    others' only within that difference. Readings of one side that differ so widen that side's error.

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
    tests, length_mm
        Ink and scribe tests, and the length of the board.

    Returns
    -------
    Spiral, with an entry for every side.
    """
    closes = _close_turns(closeups, normals, diagonal)
    entered = {test: entered_turn(test, normals[test.side], diagonal, length_mm) for test in tests}
    turns = [*closes, *(turn for turn in entered.values() if turn is not None)]
    sources = tuple(dict.fromkeys(turn.source for turn in turns if turn.error < SEEN_ERROR))
    values, errors = _by_side(turns, _profiles(sides, normals, diagonal), diagonal, seen=bool(sources))
    return Spiral(values, errors, sources, tuple(entered_notes(entered, closes, normals, SEEN_ERROR)))


def _by_side(
    turns: Sequence[Turn], profiles: Mapping[str, "_Profile"], diagonal: Double, *, seen: bool
) -> tuple[dict[str, Double], dict[str, Double]]:
    """Put the readings of s together: its value and standard error along each side."""
    found = [_Reading(turn.side, turn.value, turn.error) for turn in turns]
    floor = 0.0 if seen else UNSEEN_SPIRAL if profiles else UNREAD_SPIRAL
    if not seen:
        # Never mixed with fibre that was seen from close by: these pull toward straight.
        found += [profile.mean for profile in profiles.values()]
        found.append(_Reading(None, 0.0, ORDINARY_SPIRAL))
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
        mean = float((weight * value).sum() / weight.sum())
        scatter = float((weight * (value - mean) ** 2).sum() / max(len(found) - 1, 1)) if seen else 0.0
        error = float(np.sqrt(max(scatter, 1.0) / weight.sum()))
        # What whole sides only hint at cannot be ruled out either.
        hints = [abs(profile.mean.value - mean) for profile in profiles.values()] if not seen else []
        error = float(np.hypot(error, HINT * max(hints, default=0.0)))
        change, doubt = np.zeros(diagonal.shape), np.full(diagonal.shape, SPIRAL_CHANGE)
        if side in profiles:
            change, doubt = profiles[side].change, profiles[side].doubt
        values[side] = mean + change
        errors[side] = np.hypot(max(error, floor), doubt)
    return values, errors


def _close_turns(
    closeups: Mapping[str, Sequence[CloseGrain]], normals: Mapping[str, tuple[float, float]], diagonal: Double
) -> list[Turn]:
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
            found.append(Turn(side, (slope - local * within) / beside, error / abs(beside), "closeup"))
    return found


def _turned(off: float, line_error: float, within: float) -> tuple[float, float]:
    """Tell how far a close-up's outline is turned, and how uncertain that stays.

    Its ring lines should slope as the board's do in the photos of the whole side. What they are off
    by is shared out between a turned outline and wood that differs there, by how likely each is.
    """
    wood = np.hypot(DIAGONAL_SPREAD / within, line_error)
    share = FRAME**2 / (FRAME**2 + wood**2)
    return float(share * off), float(FRAME * np.sqrt(1 - share))


@dataclass(frozen=True)
class _Profile:
    """What the texture of a whole side tells of s: its mean, and shape (n,) how it changes and how sure that is."""

    mean: _Reading
    change: Double
    doubt: Double


def _profiles(
    sides: Mapping[str, SideGrain], normals: Mapping[str, tuple[float, float]], diagonal: Double
) -> dict[str, _Profile]:
    """Read s along every side on which rings draw no lines, so that its texture is the fibre's."""
    usual = float(np.nanmean(diagonal)) if np.isfinite(diagonal).any() else 0.0
    straight = np.where(np.isfinite(diagonal), diagonal, usual)
    found = {}
    for side, grain in sides.items():
        within, beside = in_plane(normals[side], side)
        known = np.isfinite(grain.texture)
        if abs(within) >= CUTS_WELL or known.mean() < PLAIN_SHARE * np.isfinite(grain.line).mean():
            continue
        slopes = (UPWARD[side] * np.nan_to_num(grain.texture) - straight * within) / beside
        noise = np.where(known, grain.texture_error, np.inf) / abs(beside)
        weight = 1 / np.hypot(noise, PROFILE_FLOOR) ** 2
        mean = float((weight * slopes).sum() / weight.sum())
        if abs(mean) > STEEP_FIBRE:
            continue
        rings = abs(usual) / max(abs(within), 1e-6)
        lean = LEAN * rings if rings < STEEP_RINGS else 0.0
        error = float(np.hypot(np.median(noise[known]), np.hypot(FIGURE_FLOOR, lean) / abs(beside)))
        mass = gaussian_filter1d(weight, CHANGE_BINS, mode="nearest")
        follow = gaussian_filter1d(weight * slopes, CHANGE_BINS, mode="nearest") / mass
        sure = SPIRAL_CHANGE**2 / (SPIRAL_CHANGE**2 + 1 / mass + lean**2)
        change = sure * (follow - mean)
        found[side] = _Profile(_Reading(side, mean, error), change, SPIRAL_CHANGE * np.sqrt(1 - sure))
    return {side: _doubted(side, found) for side in found}


def _doubted(side: str, found: Mapping[str, _Profile]) -> _Profile:
    """Widen the error of a side's mean by what the opposite side makes of the same fibre."""
    own, other = found[side], found.get(side_opposite(side))
    if other is None:
        return own
    error = float(np.hypot(own.mean.error, own.mean.value - other.mean.value))
    return replace(own, mean=replace(own.mean, error=error))
