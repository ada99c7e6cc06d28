"""The ink and the scribe test: the fibre's slope on a side, found at the bench and entered by hand.

Ink from a pen runs along the pores, and a needle trailing from a swivel follows the fibre. Both are tests of the
fibre, not of the rings (ANC-19, 1943, 2.3023; the scribe and its slope, deviation over length: EN 1310:1997, 4.4.1).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from service.board.phrase import either, is_straight, one_in_text, side_text, word_of
from service.board.plane import DIAGONAL_SPREAD, LEAST_TURN, UPWARD, in_plane
from service.board.types import Source, Turn
from service.errors import BadInput, Problem
from service.language import mark, say
from service.lengths import both_units
from service.sides import SIDES, BoardSize

Double = NDArray[np.float64]
Method = Literal["ink", "scribe"]

METHODS: Final[dict[Method, str]] = {"ink": mark("ink line"), "scribe": mark("scribed line")}
"""The two tests, and what one calls the line they leave, marked for the catalogue."""

END_MM: Final = 0.5
"""One sigma with which the height of either end of a line is read against a long corner: a pen's line is about that
wide, and rulers show halves. Common practice, no source."""

WOOD_SPREAD: Final = 0.008
"""One sigma by which the fibre under one line differs from the board's mean (0.5 degrees): wider than for a close-up,
which shows the whole width. Common practice, no source."""

LEAST_RUN_MM: Final = 100.0
"""Shorter lines are refused: on them the ruler alone errs by more than `WOOD_SPREAD`."""

STEEPEST: Final = 0.5
"""Steeper entries are refused, 1 in 2: no board is sold with such grain, so a number or unit is wrong. Common practice,
no source."""

_NAMES: Final[dict[Source, str]] = {"closeup": mark("close-up"), "ink": METHODS["ink"], "scribe": METHODS["scribe"]}

APART: Final = 3.0
"""Readings of s contradict each other when they differ by this many standard errors."""


@dataclass(frozen=True)
class EnteredSlope:
    """A slope of the fibre found by a test at the bench.

    Attributes
    ----------
    side
        On which side the line was drawn.
    slope
        Rise toward the side's upper long corner over length, as the position grows from the marked end.
    run_mm
        Over which length it was followed.
    position_mm
        Middle of the line from the marked end; None when not told.
    method
        Which test it was.
    """

    side: str
    slope: float
    run_mm: float
    position_mm: float | None = None
    method: Method = "ink"

    @property
    def error(self) -> float:
        """Standard error of the slope, a ratio, as a reading of the board's fibre.

        >>> round(EnteredSlope("face_1", 0.0, 100.0).error, 4), round(EnteredSlope("face_1", 0.0, 500.0).error, 4)
        (0.0107, 0.0081)
        """
        return math.hypot(math.sqrt(2) * END_MM / self.run_mm, WOOD_SPREAD)


def enter_slope(
    size: BoardSize, side: str, method: str, rise_mm: float, run_mm: float, position_mm: float | None = None
) -> EnteredSlope:
    """Make a slope of what was measured on a line, or refuse what no such line can be.

    Parameters
    ----------
    size
        The board.
    side, method
        Name of the side, and "ink" or "scribe".
    rise_mm
        How far the line rises toward the side's upper long corner over the run, as the position grows from the marked
        end; negative toward the lower one.
    run_mm, position_mm
        Length along the board, and the middle of the line from the marked end when it is known.

    Raises
    ------
    BadInput
        Its field is "side", "method", "rise", "run" or "position".

    Examples
    --------
    >>> enter_slope(BoardSize(2000.0, 40.0, 20.0), "face_1", "ink", -10.0, 250.0).slope
    -0.04
    """
    known = next((name for name in METHODS if name == method), None)
    if known is None:
        told = say("There is no test “{test}”: choose {tests}.", test=method[:20], tests=either([*METHODS]))
        raise BadInput(told, "method")
    if side not in SIDES:
        told = say("There is no side “{side}”: a line is drawn on {sides}.", side=side[:20], sides=either([*SIDES]))
        raise BadInput(told, "side")
    _check_run(size, run_mm, position_mm)
    _check_rise(size, side, rise_mm, run_mm)
    return EnteredSlope(side, rise_mm / run_mm, run_mm, position_mm, known)


def _check_run(size: BoardSize, run_mm: float, position_mm: float | None) -> None:
    """Refuse lines that are too short or not on the board."""
    if run_mm < LEAST_RUN_MM:
        told = say(
            "A run of {run} is too short to read a slope on: follow the line over {least} at least, better over twice "
            "that.",
            run=both_units(run_mm),
            least=both_units(LEAST_RUN_MM),
        )
        raise BadInput(told, "run")
    board = both_units(size.length_mm)
    if run_mm > size.length_mm:
        told = say(
            "A run of {run} is longer than the board, {length}: check both.", run=both_units(run_mm), length=board
        )
        raise BadInput(told, "run")
    if position_mm is not None and not 0 <= position_mm <= size.length_mm:
        told = say(
            "The middle of the line cannot lie at {place} from the marked end: the board is {length} long.",
            place=both_units(position_mm),
            length=board,
        )
        raise BadInput(told, "position")


def _check_rise(size: BoardSize, side: str, rise_mm: float, run_mm: float) -> None:
    """Refuse lines steeper than any grain, or higher than their side."""
    if abs(rise_mm) > STEEPEST * run_mm:
        told = say(
            "A rise of {rise} over {run} is steeper than {steepest}, which no board's grain is over such a length: "
            "check both numbers and their units.",
            rise=both_units(abs(rise_mm)),
            run=both_units(run_mm),
            steepest=say("1 in {run}", run=f"{1 / STEEPEST:.0f}"),
        )
        raise BadInput(told, "rise")
    if abs(rise_mm) > size.across_mm(side):
        told = say(
            "A line cannot rise by {rise} on {side}, which is only {width} wide: check the rise and the side.",
            rise=both_units(abs(rise_mm)),
            side=side_text(side),
            width=both_units(size.across_mm(side)),
        )
        raise BadInput(told, "rise")


def entered_turn(test: EnteredSlope, normal_yz: tuple[float, float], diagonal: Double, length_mm: float) -> Turn | None:
    """Turn an entered slope into a reading of s: s = (slope - d * within) / beside.

    Parameters
    ----------
    test
        What was entered.
    normal_yz
        The unit vector across the rings at the middle of the test's side.
    diagonal
        Shape (n,): d along the board, a ratio, evenly spaced over its length; NaN where unread.
    length_mm
        Length of the board.

    Returns
    -------
    None on a side that cuts straight across the rings, which shows no s.

    Examples
    --------
    Flat-sawn, the rings along the board: on face 1 the fibre falls where s is positive, on face 2 it rises.

    >>> fall, rise = EnteredSlope("face_1", -0.04, 200.0), EnteredSlope("face_2", 0.04, 200.0)
    >>> [entered_turn(test, (0.0, 1.0), np.zeros(3), 900.0).value for test in (fall, rise)]
    [0.04, 0.04]
    """
    within, beside = in_plane(normal_yz, test.side)
    if abs(beside) < LEAST_TURN:
        return None
    local, spread = _local(test, diagonal, length_mm)
    value = (UPWARD[test.side] * test.slope - local * within) / beside
    return Turn(test.side, value, math.hypot(test.error, spread * within) / abs(beside), test.method)


def _local(test: EnteredSlope, diagonal: Double, length_mm: float) -> tuple[float, float]:
    """Return d under a line and how uncertain that is: the mean there, or else that of the whole board."""
    known = np.isfinite(diagonal)
    if test.position_mm is not None:
        middles_mm = (np.arange(diagonal.size) + 0.5) * length_mm / diagonal.size
        under = known & (np.abs(middles_mm - test.position_mm) <= test.run_mm / 2)
        if under.any():
            return float(diagonal[under].mean()), 0.0
    return (float(diagonal[known].mean()) if known.any() else 0.0), DIAGONAL_SPREAD


def entered_notes(
    entered: Mapping[EnteredSlope, Turn | None],
    closeups: Sequence[Turn],
    normals: Mapping[str, tuple[float, float]],
    seen_error: float,
) -> list[Problem]:
    """Tell what became of entered slopes: used, on a side that tells too little, or against another reading.

    Parameters
    ----------
    entered
        What was entered, with its reading of s.
    closeups
        The readings of s from close-ups.
    normals
        Side name to the unit vector (y, z) across the rings at its middle.
    seen_error
        A reading of s counts as fibre seen when its error lies below this.
    """
    best = max(normals, key=lambda side: abs(in_plane(normals[side], side)[1]))
    notes, others = [], list(closeups)
    for test, turn in entered.items():
        enough = turn is not None and turn.error < seen_error
        notes.append(_counted(test) if enough else _too_little(test, best))
        if turn is not None:
            against = next((other for other in others if _apart(turn, other)), None)
            notes += [] if against is None else [_contradiction(turn, against)]
            others.append(turn)
    return notes


def _counted(test: EnteredSlope) -> Problem:
    slope = one_in_text(test.slope)
    if not is_straight(test.slope):
        corner = word_of("upper" if test.slope > 0 else "lower")
        slope = say("{slope} toward the {corner} corner", slope=slope, corner=corner)
    text = say(
        "The {line} on {side}, {slope}, was entered by hand and counts as fibre seen: the answer is as good as that "
        "test.",
        line=say(METHODS[test.method]),
        side=side_text(test.side),
        slope=slope,
    )
    return Problem("test_entered", text)


def _too_little(test: EnteredSlope, best: str) -> Problem:
    text = say(
        "The {line} on {side} tells too little: that side cuts across the rings, where a turn of the fibre hardly "
        "shows. Repeat the test on {better}.",
        line=say(METHODS[test.method]),
        side=side_text(test.side),
        better=side_text(best),
    )
    return Problem("test_wrong_side", text)


def _apart(turn: Turn, other: Turn) -> bool:
    return abs(turn.value - other.value) > APART * math.hypot(turn.error, other.error)


def _contradiction(turn: Turn, other: Turn) -> Problem:
    text = say(
        "The {first} on {first_side} and the {second} on {second_side} contradict each other by more than their "
        "errors. Repeat the test and check toward which corner the line runs; if it stays so, the fibre turns from "
        "place to place or inside the board.",
        first=say(_NAMES[turn.source]),
        first_side=side_text(turn.side),
        second=say(_NAMES[other.source]),
        second_side=side_text(other.side),
    )
    return Problem("test_contradicts", text)


def unused_note(test: EnteredSlope) -> Problem:
    """Say that an entered slope could not be used because nothing tells how the rings lie.

    >>> unused_note(EnteredSlope("face_1", 0.0, 200.0)).code
    'test_unused'
    """
    text = say(
        "The {line} on {side} could not be used, because nothing tells how the rings lie. Photograph the marked end "
        "head on, face 1 up.",
        line=say(METHODS[test.method]),
        side=side_text(test.side),
    )
    return Problem("test_unused", text)
