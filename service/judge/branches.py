"""Knots of the four sides put together: where across the board's width each branch passes through the wood."""

from dataclasses import dataclass
from typing import Final

from service.board.types import BoardReading
from service.grain.types import KnotBox
from service.sides import EDGES, FACES, SIDES

SAME_MM: Final = 12.0
"""Knots on two sides, this far apart along the board at most, are one branch: how far a branch that leans by 30 degrees
moves over the thickness of a board, and the error of place between two photos."""

KnotSpan = tuple[str, float, float]


@dataclass(frozen=True)
class Branch:
    """The wood a branch takes: a stretch along the board, and across it above the mid-line as face 1 shows it.

    `knots` are those that show it, as (side, from_mm, to_mm).
    """

    from_mm: float
    to_mm: float
    low_mm: float
    high_mm: float
    knots: tuple[KnotSpan, ...]


def branches(reading: BoardReading) -> list[Branch]:
    """Put the knots of all sides together, in order along the board.

    A knot on a face passes straight through, or slantwise to its partner on the other face. One that shows
    on an edge reaches from there to its partner on a face; without a partner nothing tells how deep it
    goes, and it counts as going through the whole width.

    Parameters
    ----------
    reading
        The board.

    Returns
    -------
    list of Branch
        One or more for each branch; they may overlap.
    """
    half_mm = 0.5 * reading.size.width_mm
    faces = [(name, knot, _across(name, knot, half_mm)) for name in FACES for knot in reading.sides[name].knots]
    found = []
    for name, knot, (low_mm, high_mm) in faces:
        met = [(other, side, span) for side, other, span in faces if side != name and _meet(knot, other)]
        for other, side, span in met or [(knot, name, (low_mm, high_mm))]:
            found.append(_branch((name, knot), (side, other), min(low_mm, span[0]), max(high_mm, span[1])))
    for name in EDGES:
        for knot in reading.sides[name].knots:
            met = [(other, side, span) for side, other, span in faces if _meet(knot, other)]
            for other, side, span in met or [(knot, name, (-half_mm, half_mm))]:
                low_mm, high_mm = (-half_mm, span[1]) if name == "edge_1" else (span[0], half_mm)
                found.append(_branch((name, knot), (side, other), low_mm, high_mm))
    return sorted(found, key=lambda branch: (branch.from_mm, branch.to_mm, branch.low_mm))


def _branch(one: tuple[str, KnotBox], other: tuple[str, KnotBox], low_mm: float, high_mm: float) -> Branch:
    """Put a branch together from the knot that shows it and its partner, which may be the same."""
    knots = tuple(dict.fromkeys((name, knot.from_mm, knot.to_mm) for name, knot in (one, other)))
    first_mm, last_mm = min(knot[1] for knot in knots), max(knot[2] for knot in knots)
    return Branch(first_mm, last_mm, low_mm, high_mm, knots)


def _across(face: str, knot: KnotBox, half_mm: float) -> tuple[float, float]:
    """Return a face knot's lower and upper end above the mid-line, up as face 1 shows it."""
    if face == "face_1":
        return knot.across_from_mm - half_mm, knot.across_to_mm - half_mm
    return half_mm - knot.across_to_mm, half_mm - knot.across_from_mm


def _meet(one: KnotBox, other: KnotBox) -> bool:
    return max(one.from_mm, other.from_mm) - min(one.to_mm, other.to_mm) < SAME_MM


def knot_spans(reading: BoardReading) -> list[KnotSpan]:
    """List every knot as (side, from_mm, to_mm), in order along the board."""
    spans = [(name, knot.from_mm, knot.to_mm) for name in SIDES for knot in reading.sides[name].knots]
    return sorted(spans, key=lambda span: (span[1], span[2], span[0]))
