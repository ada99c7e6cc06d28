"""Put what four sides gave onto one board: fibre, crook, run-offs, and whether the photos agree."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.board.by_hand import ByHand, with_hand_entries
from service.board.fibre import Fibre, find_fibre
from service.board.knots import settle_knots
from service.board.phrase import side_text, side_title
from service.board.plane import UPWARD
from service.board.types import BoardReading, PhotoNote, RunOffPoint, SideReading
from service.errors import Problem
from service.grain.follow import follow_lines
from service.grain.rings import EndRings
from service.grain.types import CloseGrain, SideGrain
from service.language import say
from service.photo.types import Strip
from service.sides import SIDES, BoardSize, side_above, side_below, side_opposite

Double = NDArray[np.float64]

GRID_MM = 6.35
"""Spacing of the positions at which everything is given: a quarter inch."""

VEE_SPREAD = 0.02
"""Thirds of a side whose lines lie further apart than this (1.1 degrees) make V shapes."""

CLEARLY = 3.0
"""Photos contradict each other when one reading fits this many times worse than another."""


NOTHING_BY_HAND = ByHand()


@dataclass(frozen=True)
class SideGiven:
    """One side as photographed: its grain or why there is none."""

    grain: SideGrain | None
    problem: Problem | None
    strips: tuple[Strip, ...] = ()
    notes: tuple[PhotoNote, ...] = ()


def board_grid(length_mm: float) -> Double:
    """Return the positions at which a board is read, evenly spaced and centred on it.

    >>> board_grid(20.0).round(2).tolist()
    [3.65, 10.0, 16.35]
    """
    count = max(2, int(length_mm // GRID_MM))
    return np.asarray(length_mm / 2 + (np.arange(count) - (count - 1) / 2) * GRID_MM)


def assemble(
    size: BoardSize,
    given: Mapping[str, SideGiven],
    closeups: Mapping[str, Sequence[CloseGrain]],
    end: EndRings | None,
    notes: Sequence[Problem] = (),
    by_hand: ByHand = NOTHING_BY_HAND,
) -> BoardReading:
    """Combine the sides.

    Parameters
    ----------
    size
        The board.
    given
        The sides of which photos were given.
    closeups, end
        What close-ups and the end photo told.
    notes
        Things already noticed about the photos.
    by_hand
        What was entered by hand.

    Returns
    -------
    BoardReading with an entry for every side.
    """
    positions_mm = board_grid(size.length_mm)
    grains = {side: got.grain for side, got in given.items() if got.grain is not None}
    unknown = np.full(positions_mm.shape, np.nan)
    if not grains:
        fibre = Fibre({}, {}, unknown, unknown, spiral_from=(), rings=None)
    else:
        fibre = find_fibre(size, grains, closeups, end, by_hand.tests)
    crooks_mm = _crooks(size.length_mm, given, positions_mm)
    knots = settle_knots({side: grain.knots for side, grain in grains.items()})
    sides = {}
    for side in SIDES:
        got = given.get(side)
        if got is None or got.grain is None:
            sides[side] = _unread_side(got, unknown)
        else:
            read = _read_side(side, got, got.grain, fibre, crooks_mm[side], positions_mm, size)
            sides[side] = replace(read, knots=knots[side])
    sides, entered = with_hand_entries(sides, by_hand)
    return BoardReading(
        size=size,
        positions_mm=positions_mm,
        sides=sides,
        rings=fibre.rings,
        diagonal=fibre.diagonal,
        spiral=fibre.spiral,
        spiral_seen=fibre.spiral_seen,
        spiral_from=fibre.spiral_from,
        notes=(*notes, *fibre.notes, *contradictions(grains), *entered),
        end_checks_mm=by_hand.end_checks_mm,
    )


def _unread_side(got: SideGiven | None, unknown: Double) -> SideReading:
    problem = got.problem if got is not None else Problem("missing", say("No photo of this side was given."))
    return SideReading(
        status="missing" if got is None else "retake",
        problem=problem,
        angle_deg=unknown,
        angle_error_deg=unknown,
        line_deg=unknown,
        crook_mm=unknown,
        cathedral=np.zeros(unknown.shape, bool),
        photos=got.notes if got is not None else (),
    )


def _read_side(
    side: str, got: SideGiven, grain: SideGrain, fibre: Fibre, crook_mm: Double, positions_mm: Double, size: BoardSize
) -> SideReading:
    slope = np.tan(np.radians(fibre.angle_deg[side]))
    return SideReading(
        status="read",
        problem=None,
        angle_deg=fibre.angle_deg[side],
        angle_error_deg=fibre.error_deg[side],
        line_deg=_visible_lines(grain),
        crook_mm=crook_mm,
        cathedral=grain.spread > VEE_SPREAD,
        runoffs=_runoffs(positions_mm, slope, np.radians(fibre.error_deg[side]), side, size),
        pixels_per_mm=float(np.mean([strip.photo_px_per_mm for strip in got.strips])),
        sharpness=float(np.mean([strip.sharpness for strip in got.strips])),
        photos=got.notes,
    )


def contradictions(grains: Mapping[str, SideGrain]) -> tuple[Problem, ...]:
    """Notice opposite sides that do not mirror each other as the two sides of one board must.

    Opposite sides show the same rings from behind: their line slopes are equal with the sign turned.
    A side photographed with the marked end on the right shows them in reverse order; the same side
    photographed twice shows them with the sign unturned.
    """
    found = []
    for first in ("face_1", "edge_1"):
        second = side_opposite(first)
        if first not in grains or second not in grains:
            continue
        one, other = (np.where(grains[side].spread > VEE_SPREAD, np.nan, grains[side].line) for side in (first, second))
        other = -other
        error = np.hypot(grains[first].line_error, grains[second].line_error)
        as_is = _misfit(one, other, error)
        if as_is > 4 and _misfit(one, other[::-1], error) * CLEARLY < as_is:
            text = say(
                "{side} fits {other} only when read from the far end. Was it photographed with the marked end on the "
                "right?",
                side=side_title(second),
                other=side_text(first),
            )
            found.append(Problem("turned_round", text))
        elif as_is > 4 and _misfit(one, -other, error) * CLEARLY < as_is:
            text = say(
                "{side} shows the slopes of {other}, not their mirror image. Was one side photographed twice, or "
                "upside down?",
                side=side_title(second),
                other=side_text(first),
            )
            found.append(Problem("same_side", text))
    return tuple(found)


def _misfit(one: Double, other: Double, error: Double) -> float:
    known = np.isfinite(one) & np.isfinite(other)
    if known.sum() < 20:
        return 0.0
    return float(np.median(((one - other)[known] / np.hypot(error, 0.01)[known]) ** 2))


def _visible_lines(grain: SideGrain) -> Double:
    """Angle of the lines one sees; none where V shapes have no direction of their own."""
    return np.where(grain.spread > VEE_SPREAD, np.nan, np.degrees(np.arctan(grain.line)))


def _runoffs(
    positions_mm: Double, slope: Double, slope_error: Double, side: str, size: BoardSize
) -> tuple[RunOffPoint, ...]:
    over = {"upper": side_above(side), "lower": side_below(side)}
    ends = follow_lines(positions_mm, slope, slope_error, size.across_mm(side), 0.0, size.length_mm)
    return tuple(
        RunOffPoint(end.position_mm, over[end.corner], end.slope, end.line, end.position_error_mm) for end in ends
    )


def _crooks(length_mm: float, given: Mapping[str, SideGiven], positions_mm: Double) -> dict[str, Double]:
    """Crook of each side, from whole-length strips.

    A lens bows all pictures the same way, while the board's crook shows mirrored on opposite sides:
    half the difference of the two is crook, half the sum is lens. With one side only the two cannot
    be told apart, and the crook is unknown.
    """
    seen: dict[str, Double] = {}
    for side, got in given.items():
        whole = [s for s in got.strips if s.to_mm - s.from_mm > 0.9 * length_mm and s.crook_positions_mm.size > 2]
        if whole:
            seen[side] = np.interp(positions_mm, whole[0].crook_positions_mm, whole[0].crook_mm)
    unknown = np.full(positions_mm.shape, np.nan)
    crooks = dict.fromkeys(SIDES, unknown)
    for first in ("face_1", "edge_1"):
        second = side_opposite(first)
        if first in seen and second in seen:
            half = (seen[first] - seen[second]) / 2
            crooks[first], crooks[second] = UPWARD[first] * half, UPWARD[second] * half
    return crooks
