"""The chosen section in words, and the other sections worth considering."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.board.phrase import is_straight, length_text, one_in_text
from service.board.types import BoardReading
from service.judge.limits import Limits
from service.judge.reasons import Extreme, steepest_of
from service.judge.record import Section
from service.judge.score import BORDERLINE, PASS, Choice, Weighed, best_lay, weigh
from service.judge.section import Wood, lay_wood, prepare, search, straight_lay
from service.judge.shape import BowShape
from service.judge.slant import lays
from service.language import say, say_many

# What may be offered instead is first looked for on a lattice this many times coarser.
COARSE = 3

SAME_TURN = 0.001
"""Sections slanted this much alike belong to one range of starts: 1.7 mm over a bow."""


def weigh_length(
    reading: BoardReading,
    bow_length_mm: float,
    limits: Limits,
    width_mm: float | None = None,
    wood: Wood | None = None,
) -> Weighed:
    """Weigh every section of one length; the length must fit in the board.

    Parameters
    ----------
    width_mm
        Width of the bow, at most the board's; it is laid at its best slant and offset. None for a bow as wide
        as the board, which every knot beside it touches.
    wood
        The board laid out for these limits; made when it is not given.
    """
    slopes = prepare(wood or lay_wood(reading, limits), bow_length_mm, limits)
    if width_mm is None:
        ways = [straight_lay(reading, slopes, limits)]
    else:
        ways = lays(reading, slopes, BowShape(bow_length_mm, width_mm), limits)
    weighed = [weigh(search(reading, slopes, lay, limits), reading.spiral_seen, limits) for lay in ways]
    return best_lay(weighed, limits)


@dataclass(frozen=True)
class Stock:
    """A board held to one set of limits, and the width of the bow to come out of it."""

    reading: BoardReading
    limits: Limits
    width_mm: float | None

    @cached_property
    def fine(self) -> Wood:
        """The board laid out."""
        return lay_wood(self.reading, self.limits)

    @cached_property
    def coarse(self) -> Wood:
        """The same for a first look."""
        return lay_wood(self.reading, self.limits, self.limits.start_step_mm * COARSE)

    def weigh(self, bow_length_mm: float, *, coarse: bool = False) -> Weighed:
        """Weigh every section of one length."""
        wood = self.coarse if coarse else self.fine
        return weigh_length(self.reading, bow_length_mm, self.limits, self.width_mm, wood)


def section_of(weighed: Weighed, choice: Choice, limits: Limits, opening: str) -> Section:
    """Tell a section in the record's words.

    Parameters
    ----------
    opening
        First words of the reason, such as "Best of 238 places tried".
    """
    found, lattice = weighed.search, weighed.search.slopes.lattice
    places = steepest_of(found, choice, limits)
    worst = max(places.values(), key=lambda place: place.slope)
    start_mm = float(lattice.starts_mm[choice.start])
    first, last = plateau(weighed, choice, limits)
    # Up in the photo of the back: face 2 shows the board the other way up.
    sign = 1.0 if choice.back_row == 0 else -1.0
    middle_mm, rise_mm = float(found.lay.offset_mm[choice.start]), float(found.lay.turn[choice.start]) * 0.5
    rise_mm *= lattice.section_mm
    return Section(
        start_mm=round(start_mm, 1),
        end_mm=round(start_mm + lattice.section_mm, 1),
        back_face="face_1" if choice.back_row == 0 else "face_2",
        offset_start_mm=round(sign * (middle_mm - rise_mm), 1) + 0.0,
        offset_end_mm=round(sign * (middle_mm + rise_mm), 1) + 0.0,
        worst_slope=round(worst.slope, 5),
        worst_position_mm=round(worst.position_mm, 1),
        width_mm=round(found.width_mm, 1),
        starts_from_mm=round(float(lattice.starts_mm[first]), 1),
        starts_to_mm=round(float(lattice.starts_mm[last]), 1),
        limit_used=round(float(found.measured[choice.back_row, choice.start]), 4),
        limit_used_upper=round(float(found.upper[choice.back_row, choice.start]), 4),
        why=say(
            "{opening}: back {back}; belly {belly}.",
            opening=opening,
            back=_at_most_text(places["back"]),
            belly=_at_most_text(places["belly"]),
        ),
    )


def _at_most_text(place: Extreme) -> str:
    """Tell the steepest place of back or belly.

    >>> _at_most_text(Extreme("face_1", "back", 1 / 40, 1 / 20, 254.0, 0.0))
    '1 in 40 at most, at 10 in (254 mm)'
    """
    told = one_in_text(place.slope)
    if is_straight(place.slope):
        return told
    return say("{slope} at most, at {place}", slope=told, place=length_text(place.position_mm))


def slant_text(turn: float) -> str:
    """Tell how a bow is laid in a wider board; slants too flat to be marked out count as none.

    >>> slant_text(-1 / 40), slant_text(0.0002)
    ('at a slant of 1 in 40', 'along the board')
    """
    return say("at a slant of {slope}", slope=one_in_text(turn)) if _slants(turn) else say("along the board")


def _slants(turn: float) -> bool:
    return abs(turn) >= SAME_TURN


def plateau(weighed: Weighed, choice: Choice, limits: Limits) -> tuple[int, int]:
    """Return the first and the last of the starts around the chosen one that are as good, slanted alike."""
    row, turn = choice.back_row, weighed.search.lay.turn
    points = np.where(weighed.verdicts[row] == choice.verdict, weighed.points[row], -np.inf)
    good = points >= points[choice.start] - limits.equal_points
    good &= np.abs(turn - turn[choice.start]) < SAME_TURN
    bad = np.flatnonzero(~good)
    before, after = bad[bad < choice.start], bad[bad > choice.start]
    return (int(before[-1]) + 1 if before.size else 0), (int(after[0]) - 1 if after.size else good.size - 1)


def chosen_section(weighed: Weighed, choice: Choice, limits: Limits) -> Section:
    """Tell the chosen section and why it is the one."""
    count = int(weighed.search.allowed.sum())
    if count == 1:
        return section_of(weighed, choice, limits, say("The only place at which the bow fits"))
    clear = length_text(float(weighed.search.clearance_mm[choice.start]))
    turn = float(weighed.search.lay.turn[choice.start])
    if _slants(turn):
        opening = say_many(
            "Laid {slant} along the grain, best of {count} place tried, {clear} clear of bad wood and of the board's "
            "ends",
            "Laid {slant} along the grain, best of {count} places tried, {clear} clear of bad wood and of the board's "
            "ends",
            count,
            slant=slant_text(turn),
            clear=clear,
        )
    else:
        opening = say_many(
            "Best of {count} place tried, {clear} clear of bad wood and of the board's ends",
            "Best of {count} places tried, {clear} clear of bad wood and of the board's ends",
            count,
            clear=clear,
        )
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
        told.append(section_of(weighed, other, limits, say("Another place for a bow of the same length")))
        near |= np.abs(starts_mm - starts_mm[start]) < limits.apart_mm
    return told


def two_sections(weighed: Weighed, limits: Limits) -> list[Section]:
    """Tell the two best sections that can be cut one after the other; none when two do not fit."""
    lattice = weighed.search.slopes.lattice
    worth = (1000.0 * weighed.verdicts + weighed.points).max(axis=0)
    worth = np.where(weighed.verdicts.max(axis=0) >= BORDERLINE, worth, -np.inf)
    apart = math.ceil((lattice.section_mm + limits.kerf_mm) / lattice.step_mm - 1e-9)
    if worth.size <= apart or not np.isfinite(worth).any():
        return []
    # For every second section the best first one before it; the worse of the two counts.
    best_before = np.maximum.accumulate(worth)[:-apart]
    pairs = np.minimum(best_before, worth[apart:])
    if not np.isfinite(pairs).any():
        return []
    second = int(np.argmax(pairs)) + apart
    first = int(np.argmax(worth[: second - apart + 1]))
    told = []
    for start, passes, may_pass in (
        (first, say("The first of two bows passes here"), say("The first of two bows is not ruled out here")),
        (second, say("The second of two bows passes here"), say("The second of two bows is not ruled out here")),
    ):
        verdict = int(weighed.verdicts[:, start].max())
        row = int(np.argmax(np.where(weighed.verdicts[:, start] == verdict, weighed.points[:, start], -np.inf)))
        opening = passes if verdict == PASS else may_pass
        told.append(section_of(weighed, Choice(verdict, start, row), limits, opening))
    return told
