"""Which face becomes the back, which grain lines leave inside the bow, and what the rings say about it."""

import math

import numpy as np

from service.board.phrase import length_text, one_in_text, side_text, slope_text
from service.board.types import BoardReading, RunOffPoint
from service.grain.follow import follow_lines
from service.judge.combined import running_mean
from service.judge.lattice import fill_bridges
from service.judge.limits import Limits
from service.judge.record import Back, RunOffsInBow, Section
from service.judge.score import Choice
from service.judge.section import Search, line_slope, section_bounds
from service.judge.side_answer import run_off
from service.sides import FACES, side_above, side_below


def back_of(reading: BoardReading, found: Search, choice: Choice) -> tuple[Back | None, str | None]:
    """Choose the straighter face as the back; return it, or why there is none.

    It is sure when the faces' steepest slopes in the section differ by more than their errors together.
    """
    unread = [face for face in FACES if reading.sides[face].status != "read"]
    if unread:
        return None, f"{side_text(unread[0]).capitalize()} was not read, so the faces cannot be compared."
    bounds = section_bounds(found, choice.start)
    face, other = FACES if choice.back_row == 0 else FACES[::-1]
    slope, error = {}, {}
    for name in FACES:
        at = int(np.argmax(bounds[name].measured))
        slope[name] = float(bounds[name].measured[at])
        error[name] = float(bounds[name].upper[at]) - slope[name]
    sure = slope[other] - slope[face] > math.hypot(error[face], error[other]) and reading.spiral_seen
    if one_in_text(slope[face]) == one_in_text(slope[other]):
        return Back(
            face=face,
            sure=sure,
            why=f"Both faces reach {slope_text(slope[face])}, so either may serve.",
            lower_limb="either",
            lower_limb_why="",
        ), None
    why = (
        f"{side_text(face).capitalize()} is no steeper than {slope_text(slope[face])} in the section, "
        f"{side_text(other)} reaches {slope_text(slope[other])}"
    )
    why += "." if sure else "; the difference is within the error, so the other face may serve as well."
    return Back(face=face, sure=sure, why=why, lower_limb="either", lower_limb_why=""), None


def runoffs_in_bow(reading: BoardReading, found: Search, section: Section, back: Back) -> RunOffsInBow:
    """Follow nine grain lines from the section's start through it, on the back and on the belly.

    Lines are told against the section's own straight centre line; the bow is as wide as the side.
    """
    lattice = found.slopes.lattice
    start = int(np.argmin(np.abs(lattice.starts_mm - section.start_mm)))
    told = {}
    for face in FACES:
        laid = found.slopes.laid[face]
        slope = np.where(laid.read, laid.slope, np.nan) - line_slope(found.slopes, found.lay, face)[start]
        error = np.radians(np.interp(lattice.points_mm, reading.positions_mm, reading.sides[face].angle_error_deg))
        across_mm = reading.size.across_mm(face)
        ends = follow_lines(lattice.points_mm, slope, error, across_mm, section.start_mm, section.end_mm)
        over = {"upper": side_above(face), "lower": side_below(face)}
        told[face] = [
            run_off(RunOffPoint(end.position_mm, over[end.corner], end.slope, end.line, end.position_error_mm))
            for end in ends
        ]
    belly = FACES[1] if back.face == FACES[0] else FACES[0]
    return RunOffsInBow(back=told[back.face], belly=told[belly])


def ring_caution(reading: BoardReading, found: Search, choice: Choice, limits: Limits) -> str | None:
    """Warn when ring lines on the back run out more steeply than its limit though the fibre does not."""
    face = FACES[choice.back_row]
    lattice = found.slopes.lattice
    side = reading.sides[face]
    inside = slice(choice.start, choice.start + lattice.section_steps + 1)
    points_mm = lattice.points_mm[inside]
    zeros = np.zeros(side.line_deg.shape)
    line_deg, _ = fill_bridges(reading.positions_mm, side.line_deg, zeros, points_mm, limits)
    fibre_deg, _ = fill_bridges(reading.positions_mm, side.angle_deg, zeros, points_mm, limits)
    # The laid-out slope is the fibre's against the board's line: what it has beyond the fibre's own
    # angle is the warp, which turns the ring lines just as much.
    turn = (
        found.slopes.laid[face].slope[inside]
        - np.tan(np.radians(fibre_deg))
        - line_slope(found.slopes, found.lay, face)[choice.start]
    )
    slope = np.abs(running_mean(np.tan(np.radians(line_deg)) + turn, lattice.mean_steps))
    if not np.isfinite(slope).any() or float(np.nanmax(slope)) <= limits.back_slope:
        return None
    at = int(np.nanargmax(slope))
    position_mm = float(points_mm[at + lattice.mean_steps // 2])
    return (
        f"Ring lines on {side_text(face)} run out at {slope_text(float(slope[at]))} near {length_text(position_mm)} "
        "although the fibres run straighter: the back cuts through rings there, so think of backing the bow."
    )
