"""What there is at a place of a side: how far along and across, how the grain runs, what else was found."""

import math
from dataclasses import dataclass
from typing import Final

from service.board.phrase import one_in_text
from service.judge.record import Answer
from service.judge.record_side import Side, SideAnswer
from service.language import say
from service.lengths import Units, length_in

TOLD_EVERY_MM: Final = 12.7
"""The table has a line each half inch, though more is known: the grain is a mean over longer stretches anyway."""


@dataclass(frozen=True)
class PlaceRow:
    """One line of the table of positions.

    Attributes
    ----------
    position_mm, place
        Where, and the same in words.
    grain, finds
        How the grain runs there, and what else is there; `finds` may be empty.
    """

    position_mm: float
    place: str
    grain: str
    finds: str


def grain_words(angle_deg: float | None) -> str:
    """Say how the grain runs, as one goes away from the marked end; an unread place is never called straight.

    >>> grain_words(2.1211), grain_words(-4.0), grain_words(0.0), grain_words(None)
    ('1 in 27, rising', '1 in 14, falling', 'straight', 'could not be read here')
    """
    if angle_deg is None:
        return say("could not be read here")
    slope = one_in_text(math.tan(math.radians(angle_deg)))
    if abs(math.tan(math.radians(angle_deg))) < 0.001:
        return say("straight")
    return say("{slope}, rising", slope=slope) if angle_deg > 0 else say("{slope}, falling", slope=slope)


def place_rows(answer: Answer, side: Side, units: Units) -> list[PlaceRow]:
    """List the positions of a side, half an inch apart, from the marked end on."""
    read = answer.sides[side]
    rows: list[PlaceRow] = []
    for at_mm, angle_deg in zip(read.positions_mm, read.angle_deg, strict=True):
        if not rows or at_mm - rows[-1].position_mm > TOLD_EVERY_MM - 0.1:
            told = grain_words(angle_deg), finds_at(answer, read, at_mm)
            rows.append(PlaceRow(at_mm, length_in(at_mm, units), *told))
    return rows


def finds_at(answer: Answer, side: SideAnswer, position_mm: float) -> str:
    """Say what else there is at a position: knots, V shapes, wood that is cut away."""
    told = []
    if any(knot.from_mm <= position_mm <= knot.to_mm for knot in side.knots):
        told.append(say("a knot"))
    if any(part.kind == "cathedral" and part.from_mm <= position_mm < part.to_mm for part in side.pattern):
        told.append(say("V shapes of rings"))
    section = answer.section
    if section is not None and not section.start_mm <= position_mm <= section.end_mm:
        told.append(say("cut away"))
    return ", ".join(told)


def place_lines(answer: Answer, side: Side, position_mm: float, below_mm: float, units: Units) -> list[str]:
    """Say where a place lies and how the grain runs there.

    Parameters
    ----------
    answer, side
        The side of the answer that is looked at.
    position_mm, below_mm
        The place: from the marked end, and below the upper long corner.
    units
        Units of the words.

    Returns
    -------
    list of str
        How far along, how far across, how the grain runs: as the nearest line of the table has it.
    """
    rows = place_rows(answer, side, units)
    nearest = min(rows, key=lambda row: abs(row.position_mm - position_mm), default=None)
    told = [say("could not be read here")] if nearest is None else [nearest.grain, nearest.finds]
    return [
        say("{along} from the marked end", along=length_in(position_mm, units)),
        say("{across} from the upper long corner", across=length_in(below_mm, units)),
        say("Grain: {grain}", grain=", ".join(filter(None, told))),
    ]
