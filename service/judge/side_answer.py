"""The record's part for one side, and the slope in space along the whole board."""

import math
from dataclasses import asdict

import numpy as np
from numpy.typing import NDArray

from service.board.types import BoardReading, PhotoNote, RunOffPoint, SideReading
from service.grain.types import KnotBox
from service.judge.combined import bound_faces
from service.judge.lattice import fill_bridges
from service.judge.limits import Limits
from service.judge.record import CombinedSlope
from service.judge.record_side import Knot, Numbers, PhotoUse, Reason, RunOff, Side, SideAnswer, Steepest, Stretch
from service.language import say
from service.sides import EDGES, FACES, SIDES

Float = NDArray[np.float64]


def numbers(values: Float, digits: int) -> Numbers:
    """Turn an array into the record's numbers, null where it is NaN.

    >>> numbers(np.array([1.23456, np.nan]), 2)
    [1.23, None]
    """
    rounded = np.where(np.isfinite(values), np.round(values, digits), np.nan)
    return [None if math.isnan(value) else value for value in rounded.tolist()]


def mean_along(values: Float, positions_mm: Float, length_mm: float) -> Float:
    """Average over the length around each position, of what is known there; NaN where the place is unread.

    Parameters
    ----------
    values
        Shape (n,), NaN where unread.
    positions_mm
        Shape (n,), evenly spaced.
    length_mm
        Averaging length, cut short at the board's ends and at unread wood.

    >>> mean_along(np.array([0.0, 3.0, 6.0, np.nan]), np.arange(4.0), 2.0).tolist()
    [1.5, 3.0, 4.5, nan]
    """
    if positions_mm.size < 2:
        return values
    reach = round(0.5 * length_mm / float(positions_mm[1] - positions_mm[0]))
    kernel = np.ones(min(2 * reach + 1, 2 * values.size - 1))
    known = np.isfinite(values)
    middle = slice(kernel.size // 2, kernel.size // 2 + values.size)
    total = np.convolve(np.where(known, values, 0.0), kernel)[middle]
    count = np.convolve(known.astype(np.float64), kernel)[middle]
    return np.where(known, total / np.maximum(count, 1.0), np.nan)


def _steepest(side: SideReading, positions_mm: Float, limits: Limits) -> Steepest | None:
    """Return the steepest stretch of the fibre on a side."""
    slope = np.abs(mean_along(np.tan(np.radians(side.angle_deg)), positions_mm, limits.mean_length_mm))
    if not np.isfinite(slope).any():
        return None
    at = int(np.nanargmax(slope))
    one_in = round(1.0 / float(slope[at]), 2) if slope[at] > 1e-9 else None
    return Steepest(one_in=one_in, position_mm=round(float(positions_mm[at]), 1))


def _pattern(side: SideReading, positions_mm: Float, length_mm: float) -> list[Stretch]:
    """Cut a side into stretches by what its grain looks like."""
    kinds = np.where(side.cathedral, "cathedral", "straight")
    kinds = np.where(np.isfinite(side.angle_deg) & np.isfinite(side.angle_error_deg), kinds, "unreadable")
    half_mm = 0.5 * float(positions_mm[1] - positions_mm[0]) if positions_mm.size > 1 else 0.0
    for knot in side.knots:
        kinds[(positions_mm >= knot.from_mm - half_mm) & (positions_mm <= knot.to_mm + half_mm)] = "knot"
    turns = np.flatnonzero(kinds[1:] != kinds[:-1]) + 1
    borders_mm = [0.0, *(0.5 * (positions_mm[turns - 1] + positions_mm[turns])).tolist(), length_mm]
    firsts = [0, *turns.tolist()]
    return [
        Stretch.model_validate({"from_mm": round(begin_mm, 1), "to_mm": round(end_mm, 1), "kind": str(kinds[first])})
        for first, begin_mm, end_mm in zip(firsts, borders_mm[:-1], borders_mm[1:], strict=True)
    ]


def run_off(point: RunOffPoint) -> RunOff:
    """Return the record's words about a grain line leaving a side."""
    return RunOff.model_validate(
        {
            "position_mm": round(point.position_mm, 1),
            "position_error_mm": round(point.position_error_mm, 1),
            "slope": round(point.slope, 5),
            "over": point.over,
            "line": point.line,
        }
    )


def _knot(knot: KnotBox, *, by_hand: bool) -> Knot:
    return Knot(**{key: round(value, 1) for key, value in asdict(knot).items()}, by_hand=by_hand)


def _photo_use(note: PhotoNote) -> PhotoUse:
    """Return the record's words about one photo."""
    used_mm = note.used_mm or (None, None)
    problems = [problem.text for problem in note.problems]
    return PhotoUse(
        file=note.file, outline=note.outline, used_from_mm=used_mm[0], used_to_mm=used_mm[1], problems=problems
    )


def side_answer(reading: BoardReading, name: Side, limits: Limits) -> SideAnswer:
    """Return what was read on one side."""
    side = reading.sides[name]
    photos = [_photo_use(note) for note in side.photos]
    knots = [_knot(knot, by_hand=knot in side.knots_by_hand) for knot in side.knots]
    if side.status != "read":
        code, text = "missing", say("No photo of this side was given.")
        if side.problem is not None:
            code, text = side.problem.code, side.problem.text
        return SideAnswer(
            status=side.status,
            status_reason=Reason(code=code, text=text, side=name),
            knots=knots,
            pixels_per_mm=side.pixels_per_mm,
            sharpness=side.sharpness,
            photos=photos,
        )
    return SideAnswer(
        status="read",
        positions_mm=np.round(reading.positions_mm, 2).tolist(),
        angle_deg=numbers(side.angle_deg, 3),
        line_deg=numbers(side.line_deg, 3),
        angle_error_deg=numbers(side.angle_error_deg, 3),
        slope_one_in=_steepest(side, reading.positions_mm, limits),
        pattern=_pattern(side, reading.positions_mm, reading.size.length_mm),
        runoffs=[run_off(off) for off in side.runoffs],
        knots=knots,
        crook_mm=numbers(side.crook_mm, 2),
        pixels_per_mm=side.pixels_per_mm,
        sharpness=side.sharpness,
        photos=photos,
    )


def combined_slope(reading: BoardReading, limits: Limits) -> CombinedSlope | None:
    """Combine the larger face and the larger edge slope at each position, against the board's mid-line.

    Returns
    -------
    CombinedSlope or None
        None when no face or no edge was read. A position is null where no face or no edge was.
    """
    slope, error = {}, {}
    for name in SIDES:
        side = reading.sides[name]
        known = side.angle_deg if side.status == "read" else np.full(reading.positions_mm.shape, np.nan)
        angle_deg, error_deg = fill_bridges(
            reading.positions_mm, known, side.angle_error_deg, reading.positions_mm, limits
        )
        slope[name] = mean_along(np.tan(np.radians(angle_deg)), reading.positions_mm, limits.mean_length_mm)
        error[name] = mean_along(np.radians(error_deg), reading.positions_mm, limits.mean_length_mm)
    for first, second in (FACES, EDGES):
        for name, other in ((first, second), (second, first)):
            unread = ~np.isfinite(slope[name])
            slope[name] = np.where(unread, slope[other], slope[name])
            # A side taken from its opposite is known less well, so it widens the bounds.
            error[name] = np.where(unread, error[other] + np.radians(limits.mirror_error_deg), error[name])
    if not (np.isfinite(slope["face_1"]).any() and np.isfinite(slope["edge_1"]).any()):
        return None
    bounds = bound_faces(slope, {name: value * (1.0 + slope[name] ** 2) for name, value in error.items()})
    first_face, second_face = FACES
    return CombinedSlope(
        positions_mm=np.round(reading.positions_mm, 2).tolist(),
        slope=numbers(np.maximum(bounds[first_face].measured, bounds[second_face].measured), 5),
        slope_upper=numbers(np.maximum(bounds[first_face].upper, bounds[second_face].upper), 5),
        slope_lower=numbers(np.maximum(bounds[first_face].lower, bounds[second_face].lower), 5),
        diagonal=numbers(reading.diagonal, 5),
        spiral=numbers(reading.spiral, 5),
        spiral_seen=reading.spiral_seen,
        spiral_from=list(reading.spiral_from),
    )
