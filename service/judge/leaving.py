"""Grain lines that leave inside the bow: followed from one tip on, on both faces."""

import numpy as np

from service.board.types import BoardReading, RunOffPoint
from service.grain.follow import follow_lines
from service.judge.record import RunOffsInBow
from service.judge.record_side import RunOff, Side
from service.judge.section import Search, line_slope
from service.judge.shape import BowShape
from service.judge.side_answer import run_off
from service.sides import FACES, side_above, side_below

FULL_WIDTH_MM = 0.01
"""A bow narrower than its widest by more than this is tapering."""


def lines_leaving(reading: BoardReading, found: Search, start: int, shape: BowShape) -> dict[str, list[RunOff]]:
    """Follow nine grain lines on each face from the section's start and tell which leave inside the bow.

    The lines start at tenths of the bow's full width and run through the straight strip that is sawn out first, as
    wide as the bow at its widest, against its own centre line. Those count that leave over a long corner of the
    strip where the bow keeps its full width, for there the corner is the bow's own. Where the limbs narrow, the
    strip's corners are cut away; the bow's slanting sides cut through grain lines there in every tapered bow,
    however straight the grain, so that such lines tell nothing and do not count.

    Parameters
    ----------
    reading, found
        The board and its search.
    start
        Number of the section's start.
    shape
        The bow.

    Returns
    -------
    dict
        Face to its run-offs, in the order of the lines.
    """
    lattice = found.slopes.lattice
    start_mm = float(lattice.starts_mm[start])
    told = {}
    for face in FACES:
        laid = found.slopes.laid[face]
        slope = np.where(laid.read, laid.slope, np.nan) - line_slope(found.slopes, found.lay, face)[start]
        error = np.radians(np.interp(lattice.points_mm, reading.positions_mm, reading.sides[face].angle_error_deg))
        across_mm = min(shape.width_mm, reading.size.across_mm(face))
        ends = follow_lines(lattice.points_mm, slope, error, across_mm, start_mm, start_mm + lattice.section_mm)
        over = {"upper": side_above(face), "lower": side_below(face)}
        told[face] = [
            run_off(RunOffPoint(end.position_mm, over[end.corner], end.slope, end.line, end.position_error_mm))
            for end in ends
            if float(shape.width_at(np.array(end.position_mm - start_mm))) >= across_mm - FULL_WIDTH_MM
        ]
    return told


def runoffs_in_bow(reading: BoardReading, found: Search, start: int, shape: BowShape, back: Side) -> RunOffsInBow:
    """Tell the grain lines that leave inside the bow on its back and on its belly; see `lines_leaving`."""
    told = lines_leaving(reading, found, start, shape)
    belly = FACES[1] if back == FACES[0] else FACES[0]
    return RunOffsInBow(back=told[back], belly=told[belly])
