"""The spiral part of the grain: the fibre's turn within the ring surface, from what shows the fibre."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.board.entered import EnteredSlope, entered_notes, entered_turn
from service.board.plane import CUTS_WELL, DIAGONAL_SPREAD, LEAST_TURN, UPWARD, in_plane
from service.board.types import Source, Turn
from service.errors import Problem
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES, side_opposite

Double = NDArray[np.float64]

CLOSE_FLOOR = 0.005
"""One sigma of a close-up's fibre slope beyond its own scatter (0.3 degrees): the wood there need not
be the board's mean."""

FRAME = 0.004
"""One sigma by which a close-up's outline is turned (0.2 degrees)."""

SEEN_ERROR = 0.02
"""Fibre counts as seen when a close-up or a test gives it with an error below this (1.1 degrees, one sigma)."""

FIGURE_FLOOR = 0.012
"""One sigma of a whole side's texture as fibre, where rings make no lines (0.7 degrees): mostly less, but
it errs alike on opposite sides."""

LEAN = 0.5
"""Where ring lines run less steeply than `STEEP_RINGS`, texture may lean so far toward them."""

STEEP_RINGS = 0.14
"""Ring lines steeper than this (8 degrees) are not taken for texture."""

UNSEEN_SPIRAL = 0.022
"""Least one sigma of the spiral where no close-up showed the fibre (1.3 degrees): photos of whole sides
show texture faintly, and it may lean toward the rings."""

UNREAD_SPIRAL = 0.033
"""The same where no side showed any texture: some boards turn far more than is ordinary, 1 in 15 and more."""

HINT = 0.5
"""Share of what texture of whole sides hints at, beyond what is believed, that widens the error."""

PLAIN_SHARE = 0.9
"""Texture seen on less of a side than this is too faint to be told from rings cut at a slant."""

STEEP_FIBRE = 0.09
"""Texture steeper than this (5 degrees), in the mean, may be rings cut at a slant."""

SPIRAL_CHANGE = 0.004
"""One sigma by which spiral grain changes along a side of a board."""

TEXTURE_FLOOR = 0.004
"""Places of a side's texture surer than this count alike: wood differs from place to place."""

ORDINARY_SPIRAL = 0.017
"""Spread of spiral grain over ordinary boards (1 in 60), common practice, no source."""


@dataclass(frozen=True)
class Spiral:
    """Spiral grain as it meets each side.

    Attributes
    ----------
    value, error
        Side name to s, a ratio, and its standard error.
    sources
        What showed the fibre; empty when nothing did.
    notes
        What became of the tests that were entered by hand.
    """

    value: dict[str, float]
    error: dict[str, float]
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
    values, errors = _by_side(turns, _from_whole_sides(sides, normals, diagonal), seen=bool(sources))
    return Spiral(values, errors, sources, tuple(entered_notes(entered, closes, normals, SEEN_ERROR)))


def _by_side(
    turns: Sequence[Turn], whole: Mapping[str, _Reading], *, seen: bool
) -> tuple[dict[str, float], dict[str, float]]:
    """Put the readings of s together: its value and standard error for each side."""
    found = [_Reading(turn.side, turn.value, turn.error) for turn in turns]
    floor = 0.0 if seen else UNSEEN_SPIRAL if whole else UNREAD_SPIRAL
    if not seen:
        # Never mixed with fibre that was seen from close by: these pull toward straight.
        found += whole.values()
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
        hints = [abs(hint.value - mean) for hint in whole.values()] if not seen else []
        error = float(np.hypot(error, HINT * max(hints, default=0.0)))
        values[side] = mean
        errors[side] = float(np.hypot(max(error, floor), SPIRAL_CHANGE))
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


def _from_whole_sides(
    sides: Mapping[str, SideGrain], normals: Mapping[str, tuple[float, float]], diagonal: Double
) -> dict[str, _Reading]:
    """Read s from every side on which rings draw no lines, so that its texture is the fibre's."""
    usual = float(np.nanmean(diagonal)) if np.isfinite(diagonal).any() else 0.0
    straight = np.where(np.isfinite(diagonal), diagonal, usual)
    found = {}
    for side, grain in sides.items():
        within, beside = in_plane(normals[side], side)
        known = np.isfinite(grain.texture)
        if abs(within) >= CUTS_WELL or known.mean() < PLAIN_SHARE * np.isfinite(grain.line).mean():
            continue
        slopes = (UPWARD[side] * grain.texture - straight * within)[known] / beside
        mean = float(np.average(slopes, weights=1 / np.maximum(grain.texture_error[known], TEXTURE_FLOOR) ** 2))
        if abs(mean) > STEEP_FIBRE:
            continue
        rings = abs(usual) / max(abs(within), 1e-6)
        lean = LEAN * rings if rings < STEEP_RINGS else 0.0
        noise = float(np.median(grain.texture_error[known]))
        error = float(np.sqrt(noise**2 + FIGURE_FLOOR**2 + lean**2)) / abs(beside)
        found[side] = _Reading(side, mean, error)
    return {side: _doubted(side, found) for side in found}


def _doubted(side: str, found: Mapping[str, _Reading]) -> _Reading:
    """Widen the error of a side's reading by what the opposite side makes of the same fibre."""
    own, other = found[side], found.get(side_opposite(side))
    return own if other is None else replace(own, error=float(np.hypot(own.error, own.value - other.value)))
