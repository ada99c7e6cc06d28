"""The chosen section in words, and the other sections worth considering."""

import math

import numpy as np

from service.board.phrase import length_text, one_in_text
from service.board.types import BoardReading
from service.judge.limits import Limits
from service.judge.reasons import steepest_of
from service.judge.record import Section
from service.judge.score import BORDERLINE, PASS, Choice, Weighed, choose, weigh
from service.judge.section import prepare, search
from service.sizes import MM_PER_IN

# Lengths to offer instead are first looked for on a lattice this many times coarser.
COARSE = 3


def weigh_length(reading: BoardReading, bow_length_mm: float, limits: Limits, step_mm: float | None = None) -> Weighed:
    """Weigh every section of one length; the length must fit in the board."""
    found = search(reading, prepare(reading, bow_length_mm, limits, step_mm), limits)
    return weigh(found, can_pass=reading.spiral_seen)


def section_of(weighed: Weighed, choice: Choice, limits: Limits, opening: str) -> Section:
    """Tell a section in the record's words.

    Parameters
    ----------
    opening
        First words of the reason, such as "Straightest of 238 places tried".
    """
    found, lattice = weighed.search, weighed.search.slopes.lattice
    places = steepest_of(found, choice, limits)
    worst = max(places.values(), key=lambda place: place.slope)
    start_mm = float(lattice.starts_mm[choice.start])
    told = (
        f"{role} no steeper than {one_in_text(place.slope)}, at {length_text(place.position_mm)}"
        for role, place in places.items()
    )
    return Section(
        start_mm=round(start_mm, 1),
        end_mm=round(start_mm + lattice.section_mm, 1),
        offset_start_mm=0.0,
        offset_end_mm=0.0,
        worst_slope=round(worst.slope, 5),
        worst_position_mm=round(worst.position_mm, 1),
        width_mm=0.0,
        starts_from_mm=round(start_mm, 1),
        starts_to_mm=round(start_mm, 1),
        limit_used=round(float(found.measured[choice.back_row, choice.start]), 4),
        limit_used_upper=round(float(found.upper[choice.back_row, choice.start]), 4),
        why=f"{opening}: {'; '.join(told)}.",
    )


def chosen_section(weighed: Weighed, choice: Choice, limits: Limits) -> Section:
    """Tell the chosen section and why it is the one."""
    count = weighed.search.slopes.lattice.starts_mm.size
    if count == 1:
        return section_of(weighed, choice, limits, "The board is just as long as the bow")
    away_mm = float(weighed.search.clearance_mm[choice.start])
    opening = f"Best of {count} places tried, {length_text(away_mm)} clear of bad wood and of the board's ends"
    return section_of(weighed, choice, limits, opening)


def other_sections(weighed: Weighed, choice: Choice, limits: Limits) -> list[Section]:
    """Tell up to two more sections of the same length and verdict that begin well away from the better ones."""
    starts_mm = weighed.search.slopes.lattice.starts_mm
    points = np.where(weighed.verdicts == choice.verdict, weighed.points, -np.inf)
    best = points.max(axis=0)
    told: list[Section] = []
    near = np.abs(starts_mm - starts_mm[choice.start]) < limits.apart_mm
    while len(told) < 2 and np.any(np.isfinite(best) & ~near):
        start = int(np.argmax(np.where(near, -np.inf, best)))
        other = Choice(choice.verdict, start, int(np.argmax(points[:, start])))
        told.append(section_of(weighed, other, limits, "Another place for a bow of the same length"))
        near |= np.abs(starts_mm - starts_mm[start]) < limits.apart_mm
    return told


def longest_section(reading: BoardReading, below_mm: float, limits: Limits, *, passing_only: bool) -> Section | None:
    """Tell the longest section, in whole inches, that passes; failing that, the longest that is not ruled out.

    Parameters
    ----------
    below_mm
        Only shorter bows than this are tried, down to `limits.shortest_bow_mm`.
    passing_only
        Whether a section that is not ruled out is no news, because the wanted length is not either.

    Returns
    -------
    Section or None
        None when there is none.
    """
    openings = {PASS: "A {} in bow passes here", BORDERLINE: "A {} in bow is not ruled out here"}
    sought = ([PASS] if reading.spiral_seen else []) + ([] if passing_only else [BORDERLINE])
    for wanted in sought:
        found = _longest(reading, below_mm, limits, wanted)
        if found is not None:
            weighed, choice, length_in = found
            return section_of(weighed, choice, limits, openings[wanted].format(length_in))
    return None


def _longest(reading: BoardReading, below_mm: float, limits: Limits, wanted: int) -> tuple[Weighed, Choice, int] | None:
    """Return the longest length in whole inches that reaches a verdict, with its best section.

    A stretch of a passing section passes too (but for the little that its own centre line turns), so
    halving the range finds the longest.
    """
    low = math.ceil(limits.shortest_bow_mm / MM_PER_IN - 1e-9)
    high = math.ceil(min(below_mm, reading.size.length_mm + 1e-6) / MM_PER_IN) - 1
    step_mm = limits.start_step_mm * COARSE
    reached = low - 1
    while low <= high:
        middle = (low + high) // 2
        weighed = weigh_length(reading, middle * MM_PER_IN, limits, step_mm)
        if int(weighed.verdicts.max()) >= wanted:
            reached, low = middle, middle + 1
        else:
            high = middle - 1
    # The coarse lattice may have stepped over the steepest place: the fine one has the last word.
    while reached >= limits.shortest_bow_mm / MM_PER_IN - 1e-9:
        weighed = weigh_length(reading, reached * MM_PER_IN, limits)
        choice = choose(weighed, limits)
        if choice.verdict >= wanted:
            return weighed, choice, reached
        reached -= 1
    return None
