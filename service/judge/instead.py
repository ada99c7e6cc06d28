"""What else may come out of a board: a narrower bow, or a shorter one."""

import math
from collections.abc import Callable
from dataclasses import replace

from service.board.phrase import length_text
from service.judge.alternatives import Stock, section_of, slant_text
from service.judge.record import Section
from service.judge.score import BORDERLINE, PASS, RETAKE, Choice, Weighed, choose
from service.judge.section import usable_mm
from service.judge.shape import USUAL_WIDTH_MM
from service.language import mark, say
from service.lengths import MM_PER_IN
from service.lengths import length_in as length_words


def narrow_section(stock: Stock, bow_length_mm: float, verdict: int) -> Section | None:
    """Tell where a bow of usual width does better than one as wide as the board; None when it does not.

    Parameters
    ----------
    verdict
        What the bow as wide as the board reaches.
    """
    reading, limits = stock.reading, stock.limits
    width_mm = min(USUAL_WIDTH_MM, reading.size.width_mm)
    if verdict >= BORDERLINE and not reading.spiral_seen:
        return None
    if reading.size.width_mm - width_mm < 1.0 and not any(side.knots for side in reading.sides.values()):
        return None
    narrow = replace(stock, width_mm=width_mm)
    wanted = max(verdict, RETAKE) + 1
    if int(narrow.weigh(bow_length_mm, coarse=True).verdicts.max()) < wanted:
        return None
    weighed = narrow.weigh(bow_length_mm)
    choice = choose(weighed, limits)
    if choice.verdict < wanted:
        return None
    width, slant = length_text(width_mm), slant_text(float(weighed.search.lay.turn[choice.start]))
    if choice.verdict == PASS:
        opening = say("A bow {width} wide, laid {slant}, passes here", width=width, slant=slant)
    else:
        opening = say("A bow {width} wide, laid {slant}, is not ruled out here", width=width, slant=slant)
    return section_of(weighed, choice, limits, opening)


def longest_section(stock: Stock, below_mm: float, *, passing_only: bool) -> Section | None:
    """Tell the longest section, in whole inches, that passes; failing that, the longest that is not ruled out.

    Parameters
    ----------
    below_mm
        Only shorter bows than this are tried, down to `Limits.shortest_bow_mm`.
    passing_only
        Whether a section that is not ruled out is no news, because the wanted length is not either.

    Returns
    -------
    Section or None
        None when there is none.
    """
    first_mm, last_mm = usable_mm(stock.reading, stock.limits)
    shortest_in = math.ceil(stock.limits.shortest_bow_mm / MM_PER_IN - 1e-9)
    longest_in = math.ceil(min(below_mm, last_mm - first_mm + 1e-6) / MM_PER_IN) - 1
    lengths_in = range(shortest_in, longest_in + 1)
    openings = {
        PASS: mark("A {length} bow passes here"),
        BORDERLINE: mark("A {length} bow is not ruled out here"),
    }
    sought = ([PASS] if stock.reading.spiral_seen else []) + ([] if passing_only else [BORDERLINE])
    reached: dict[int, int] = {}
    for wanted in sought:
        found = _longest(stock, lengths_in, wanted, reached)
        if found is not None:
            weighed, choice, length_in = found
            opening = say(openings[wanted], length=length_words(length_in * MM_PER_IN))
            return section_of(weighed, choice, stock.limits, opening)
    return None


def _longest(
    stock: Stock, lengths_in: range, wanted: int, reached: dict[int, int]
) -> tuple[Weighed, Choice, int] | None:
    """Return the longest length in whole inches that reaches a verdict, with its best section.

    A stretch of a passing section passes too (but for the little that its own centre line turns), so
    halving the range finds the longest.

    Parameters
    ----------
    reached
        What lengths looked at before reach at a first look; more are noted there.
    """

    def roughly(length_in: int) -> bool:
        if length_in not in reached:
            reached[length_in] = int(stock.weigh(length_in * MM_PER_IN, coarse=True).verdicts.max())
        return reached[length_in] >= wanted

    # The coarse lattice may have stepped over the steepest place: the fine one has the last word.
    surely: dict[int, tuple[Weighed, Choice]] = {}

    def truly(length_in: int) -> bool:
        weighed = stock.weigh(length_in * MM_PER_IN)
        surely[length_in] = weighed, choose(weighed, stock.limits)
        return surely[length_in][1].verdict >= wanted

    rough_in = _last(lengths_in, roughly)
    if rough_in is None:
        return None
    length_in = rough_in if truly(rough_in) else _last(lengths_in[: lengths_in.index(rough_in)], truly)
    return None if length_in is None else (*surely[length_in], length_in)


def _last(lengths_in: range, holds: Callable[[int], bool]) -> int | None:
    """Return the last length for which something holds that holds for all shorter ones; None when for none."""
    if not lengths_in or not holds(lengths_in[0]):
        return None
    low, high = 0, len(lengths_in) - 1
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if holds(lengths_in[middle]) else (low, middle - 1)
    return lengths_in[low]
