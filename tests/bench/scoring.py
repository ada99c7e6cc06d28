"""What one drawn board's answer got right and wrong against the solid it was drawn from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.judge.record import Answer
from service.judge.record_side import Knot, RunOff, SideAnswer
from tests.drawing import Solid, truth_of
from tests.drawing.solid import paths

Double = NDArray[np.float64]
Truth = Mapping[str, Any]

#: Run-offs found within an inch count as right.
RUNOFF_MM: Final = 25.4
#: Angles are not compared in knots and so near to them, where fibres turn within the width of a window.
KNOT_MM: Final = 38.0
#: A knot is found when its box comes this near to the true one.
NEAR_MM: Final = 8.0
#: Missing one's own 95 % interval by more than this is being confidently wrong.
CONFIDENT_DEG: Final = 1.0


@dataclass(frozen=True)
class Score:
    """What was compared on one board.

    Attributes
    ----------
    fibre_deg, straight_deg, half_deg
        Shape (n,): the fibre's error at every position that has an angle, the same with the sign
        turned so that below 0 is too straight, and the stated half-width of the 95 % interval.
    line_deg
        Shape (m,): how far lines lie outside the band between the ring's angle and the fibre's.
    diagonal_deg
        Shape (k,): error of the diagonal part, the sign of the whole board left open.
    given
        Share of all positions of the four sides that have an angle; a refused side has none.
    normal_deg, normal_half_deg
        Error of the ring normal's tilt and its stated half-width; None when no normal was given.
    spiral_seen
        Whether the answer says it saw the fibre.
    runoffs, knots
        Right, false, missed.
    runoff_miss_mm
        Shape (l,): how far off the lines left that leave over the same corner in answer and truth.
    refused
        Sides refused, with their reasons.
    """

    fibre_deg: Double
    straight_deg: Double
    half_deg: Double
    line_deg: Double
    diagonal_deg: Double
    given: float
    normal_deg: float | None
    normal_half_deg: float | None
    spiral_seen: bool
    runoffs: tuple[int, int, int]
    knots: tuple[int, int, int]
    runoff_miss_mm: Double
    refused: tuple[str, ...]


def as_array(values: Sequence[float | None]) -> Double:
    """Return numbers with NaN for null."""
    return np.array([np.nan if value is None else value for value in values], np.float64)


def _clear_of_knots(positions_mm: Double, truth: Truth) -> NDArray[np.bool_]:
    clear = np.ones(positions_mm.shape, bool)
    for knot in truth["knots"]:
        clear &= (positions_mm < knot["from_mm"] - KNOT_MM) | (positions_mm > knot["to_mm"] + KNOT_MM)
    return clear


def _side_errors(side: SideAnswer, truth: Truth) -> tuple[Double, Double, Double, Double]:
    """Return the fibre's error, the same toward straight, the half-widths, and the lines' error."""
    positions_mm = np.array(side.positions_mm)
    clear = _clear_of_knots(positions_mm, truth)
    fibre = np.interp(positions_mm, truth["positions_mm"], as_array(truth["angle_deg"]))
    ring = np.interp(positions_mm, truth["positions_mm"], as_array(truth["ring_deg_mid"]))
    line = as_array(side.line_deg)
    outside = np.maximum(np.fmin(fibre, ring) - line, line - np.fmax(fibre, ring)).clip(0)
    error, half = as_array(side.angle_deg) - fibre, as_array(side.angle_error_deg)
    known = clear & np.isfinite(error)
    lined = clear & np.isfinite(outside)
    return error[known], (error * np.sign(fibre))[known], half[known], outside[lined]


def match_runoffs(found: Sequence[RunOff], true: Sequence[Truth]) -> tuple[int, int, int]:
    """Pair run-offs over the same corner within an inch, each true one once: right, false, missed."""
    left = list(true)
    for one in sorted(found, key=lambda off: off.position_mm):
        near = [t for t in left if t["over"] == one.over and abs(t["position_mm"] - one.position_mm) <= RUNOFF_MM]
        if near:
            left.remove(min(near, key=lambda t: abs(t["position_mm"] - one.position_mm)))
    right = len(true) - len(left)
    return right, len(found) - right, len(left)


def runoff_misses_mm(found: Sequence[RunOff], true: Sequence[Truth]) -> list[float]:
    """Return how far apart answer and truth let the same of the nine lines leave over the same corner."""
    by_line = {(t["line"], t["over"]): t["position_mm"] for t in true}
    return [abs(one.position_mm - by_line[one.line, one.over]) for one in found if (one.line, one.over) in by_line]


def _touches(knot: Knot, true: Truth) -> bool:
    along = knot.from_mm <= true["to_mm"] + NEAR_MM and knot.to_mm >= true["from_mm"] - NEAR_MM
    low, high = true["across_from_mm"] - NEAR_MM, true["across_to_mm"] + NEAR_MM
    return bool(along and knot.across_from_mm <= high and knot.across_to_mm >= low)


def match_knots(found: Sequence[Knot], true: Sequence[Truth]) -> tuple[int, int, int]:
    """Pair knots by their boxes: true ones found, found ones that are none, true ones missed."""
    right = sum(any(_touches(knot, one) for knot in found) for one in true)
    false = sum(not any(_touches(knot, one) for one in true) for knot in found)
    return right, false, len(true) - right


def _diagonal_errors(answer: Answer, solid: Solid) -> Double:
    """Compare the diagonal part; whether the pith lies above or below is not asked here, so its sign is free."""
    combined = answer.combined_slope
    if combined is None:
        return np.zeros(0)
    true = paths(solid, np.array(combined.positions_mm)).diagonal
    found = as_array(combined.diagonal)
    both = [np.abs(np.degrees(np.arctan(way * found) - np.arctan(true))) for way in (1, -1)]
    best: Double = min((error[np.isfinite(error)] for error in both), key=lambda error: float(error.sum()))
    return best


def _share_given(side: SideAnswer) -> float:
    return float(np.isfinite(as_array(side.angle_deg)).mean()) if side.angle_deg else 0.0


def _added(counts: Sequence[tuple[int, int, int]]) -> tuple[int, int, int]:
    right, false, missed = (sum(part) for part in zip(*counts, strict=True))
    return right, false, missed


def score_board(answer: Answer, solid: Solid) -> Score:
    """Compare an answer with the truth; on a side that was refused everything counts as missed."""
    truth = truth_of(solid)
    sides = {name: (side, truth["sides"][name]) for name, side in answer.sides.items()}
    errors = [_side_errors(*both) for both in sides.values()]
    fibre, straight, half, line = (np.concatenate(part) for part in zip(*errors, strict=True))
    rings = answer.rings
    return Score(
        fibre_deg=fibre,
        straight_deg=straight,
        half_deg=half,
        line_deg=line,
        diagonal_deg=_diagonal_errors(answer, solid),
        given=float(np.mean([_share_given(side) for side in answer.sides.values()])),
        normal_deg=None if rings is None else abs(rings.tilt_deg - truth["rings"]["tilt_deg"]),
        normal_half_deg=None if rings is None else rings.error_deg,
        spiral_seen=answer.combined_slope is not None and answer.combined_slope.spiral_seen,
        runoffs=_added([match_runoffs(side.runoffs, true["runoffs"]) for side, true in sides.values()]),
        knots=_added([match_knots(side.knots, true["knots"]) for side, true in sides.values()]),
        runoff_miss_mm=np.array(
            [m for side, true in sides.values() for m in runoff_misses_mm(side.runoffs, true["runoffs"])]
        ),
        refused=tuple(
            f"{name} {side.status_reason.code}" for name, side in answer.sides.items() if side.status_reason is not None
        ),
    )
