"""Readings made by hand: even fibre on each side, with steep, unread and knotty places put in."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from service.board.types import BoardReading, RingReading, SideReading
from service.errors import Problem
from service.grain.types import KnotBox
from service.sides import SIDES, BoardSize

Float = NDArray[np.float64]

SPACING_MM = 12.7
MIRRORED = {"face_1": 1.0, "edge_1": 1.0, "face_2": -1.0, "edge_2": -1.0}


def angle_of(slope: float | Float) -> Float:
    """Turn a slope into an angle in degrees."""
    return np.asarray(np.degrees(np.arctan(slope)), dtype=np.float64)


def make_side(angle_deg: Float, error_deg: float = 0.1, crook_mm: Float | None = None) -> SideReading:
    """Make a side that was read from end to end, its ring lines along the fibre."""
    return SideReading(
        status="read",
        problem=None,
        angle_deg=angle_deg,
        angle_error_deg=np.full(angle_deg.shape, error_deg),
        line_deg=angle_deg.copy(),
        crook_mm=np.zeros(angle_deg.shape) if crook_mm is None else crook_mm,
        cathedral=np.zeros(angle_deg.shape, dtype=bool),
    )


def make_reading(
    slopes: Mapping[str, float | Float] | None = None,
    *,
    length_mm: float = 2438.4,
    error_deg: float = 0.1,
    spiral_seen: bool = True,
    rings: RingReading | None = None,
) -> BoardReading:
    """Make a board whose opposite sides mirror each other.

    `slopes` names sides with their slope in their own photo, a number or one a position; a side not
    named mirrors its opposite, and is straight when neither is named.
    """
    given = dict(slopes or {})
    positions_mm = np.arange(0.0, length_mm + 0.5 * SPACING_MM, SPACING_MM)
    sides = {}
    for name, opposite in zip(SIDES, (*SIDES[2:], *SIDES[:2]), strict=True):
        slope = given[name] if name in given else -np.asarray(given.get(opposite, 0.0))
        sides[name] = make_side(angle_of(np.broadcast_to(slope, positions_mm.shape)), error_deg)
    unknown = np.full(positions_mm.shape, np.nan)
    size = BoardSize(length_mm, 38.1, 19.05)
    return BoardReading(size, positions_mm, sides, rings, unknown, unknown, spiral_seen)


def change_side(reading: BoardReading, name: str, **changes: object) -> BoardReading:
    """Return the reading with fields of one side changed."""
    side = replace(reading.sides[name], **changes)  # type: ignore[arg-type]
    return replace(reading, sides={**reading.sides, name: side})


def unread(reading: BoardReading, name: str, from_mm: float, to_mm: float) -> BoardReading:
    """Return the reading with a stretch of one side unread."""
    inside = (reading.positions_mm >= from_mm) & (reading.positions_mm <= to_mm)
    side = reading.sides[name]
    return change_side(reading, name, angle_deg=np.where(inside, np.nan, side.angle_deg))


def without(reading: BoardReading, name: str, status: str = "missing") -> BoardReading:
    """Return the reading with one side missing, or to be photographed again."""
    nothing = np.full(reading.positions_mm.shape, np.nan)
    problem = None if status == "missing" else Problem("blurred", "The photo is blurred; hold the phone still.")
    return change_side(
        reading,
        name,
        status=status,
        problem=problem,
        angle_deg=nothing,
        angle_error_deg=nothing,
        line_deg=nothing,
        crook_mm=nothing,
    )


def with_knot(reading: BoardReading, name: str, from_mm: float, to_mm: float) -> BoardReading:
    """Return the reading with a knot on one side."""
    return change_side(reading, name, knots=(*reading.sides[name].knots, KnotBox(from_mm, to_mm, 5.0, 15.0)))


def bump(positions_mm: Float, middle_mm: float, width_mm: float, height: float) -> Float:
    """Return a smooth hill of slope, a stretch where the grain steepens and eases again."""
    return np.asarray(height * np.exp(-0.5 * ((positions_mm - middle_mm) / width_mm) ** 2), dtype=np.float64)


def turned_end_for_end(reading: BoardReading) -> BoardReading:
    """Return the same board with the other end marked and face 1 still up.

    Every photo turns by half a turn, which leaves angles as they are and turns crook and the heights of
    knots over; the two edges trade names.
    """
    names = {"face_1": "face_1", "edge_1": "edge_2", "face_2": "face_2", "edge_2": "edge_1"}
    length_mm = reading.size.length_mm
    sides = {}
    for name, old in names.items():
        side, across_mm = reading.sides[old], reading.size.across_mm(name)
        sides[name] = replace(
            side,
            angle_deg=side.angle_deg[::-1].copy(),
            angle_error_deg=side.angle_error_deg[::-1].copy(),
            line_deg=side.line_deg[::-1].copy(),
            crook_mm=-side.crook_mm[::-1],
            cathedral=side.cathedral[::-1].copy(),
            knots=tuple(
                KnotBox(
                    length_mm - k.to_mm, length_mm - k.from_mm, across_mm - k.across_to_mm, across_mm - k.across_from_mm
                )
                for k in side.knots
            ),
        )
    return replace(
        reading,
        sides=sides,
        positions_mm=length_mm - reading.positions_mm[::-1],
        end_checks_mm=(reading.end_checks_mm[1], reading.end_checks_mm[0]),
    )


def faces_swapped(reading: BoardReading) -> BoardReading:
    """Return the same board rolled half a turn: face 2 is called face 1, edge 2 edge 1, and back."""
    opposite = dict(zip(SIDES, (*SIDES[2:], *SIDES[:2]), strict=True))
    return replace(reading, sides={name: reading.sides[opposite[name]] for name in SIDES})
