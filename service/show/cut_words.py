"""Where to cut, which way round, and what the bow is left with, in short sentences."""

from typing import Final

from service.board.phrase import listed, side_text, slope_text
from service.judge.record import Answer, Back, Section, Strength
from service.language import mark, say
from service.lengths import Units, length_in

TOLD_MM: Final = 0.8
"""Lengths below half of 1/16 in would be written as nothing, so they are not told."""

_ENDS: Final = {"marked": mark("marked end"), "far": mark("far end")}


def end_text(end: str) -> str:
    """Write which end of the board is meant.

    >>> end_text("far")
    'far end'
    """
    return say(_ENDS[end])


def cut_line(section: Section, units: Units) -> str:
    """Write where a section begins and ends, and why."""
    start, end = length_in(section.start_mm, units), length_in(section.end_mm, units)
    return say("Cut from {start} to {end}, measured from the marked end. {why}", start=start, end=end, why=section.why)


def from_to(section: Section, units: Units) -> str:
    """Write where a section begins and ends, for the middle of a sentence."""
    start, end = length_in(section.start_mm, units), length_in(section.end_mm, units)
    return say("from {begin} to {end}", begin=start, end=end)


def place_lines(answer: Answer, units: Units) -> list[str]:
    """Write what else there is to know of the section's place: how free its start is, its width, where it lies."""
    section = answer.section
    if section is None:
        return []
    lines = []
    if section.starts_to_mm - section.starts_from_mm > TOLD_MM:
        first, last = length_in(section.starts_from_mm, units), length_in(section.starts_to_mm, units)
        lines.append(say("Any start from {first} to {last} is as good.", first=first, last=last))
    if is_narrow(section, answer.board.width_mm):
        width, board = length_in(section.width_mm, units), length_in(answer.board.width_mm, units)
        lines.append(
            say(
                "It was judged for a bow {width} wide at its widest; the board is {board} wide.",
                width=width,
                board=board,
            )
        )
    offset = offset_line(section, units)
    return [*lines, offset] if offset else lines


def is_narrow(section: Section, board_mm: float) -> bool:
    """Tell whether a section leaves wood of the board's width."""
    return section.width_mm < board_mm - TOLD_MM


def offset_line(section: Section, units: Units) -> str:
    """Write where a section's centre line lies across the board; nothing when that is the board's middle.

    >>> part = {"worst_slope": None, "worst_position_mm": None, "width_mm": 30.0, "starts_from_mm": 0.0}
    >>> part |= {"starts_to_mm": 0.0, "limit_used": 0.5, "limit_used_upper": 0.6, "why": "", "back_face": "face_1"}
    >>> aslant = Section(start_mm=0.0, end_mm=1500.0, offset_start_mm=12.7, offset_end_mm=-9.525, **part)
    >>> offset_line(aslant, "in").partition(", its ")[2]
    "centre line lies 1/2 in above the board's middle at the start and 3/8 in below it at the end."
    """
    where = _centre_line(section, units)
    if not where:
        return ""
    return say("As {side} faces you, marked end left, {where}.", side=side_text(section.back_face), where=where)


def _centre_line(section: Section, units: Units) -> str:
    """Write where a section's centre line begins and ends; nothing when that is the board's middle."""
    start_mm, end_mm = (0.0 if abs(mm) < TOLD_MM else mm for mm in (section.offset_start_mm, section.offset_end_mm))
    if not start_mm and not end_mm:
        return ""
    start, end = _beside(start_mm, _FROM_MIDDLE, units), _beside(end_mm, _FROM_IT, units)
    if start == _beside(end_mm, _FROM_MIDDLE, units):
        return say("its centre line lies {start} all along", start=start)
    return say("its centre line lies {start} at the start and {end} at the end", start=start, end=end)


_FROM_MIDDLE: Final = (
    mark("{length} above the board's middle"),
    mark("{length} below the board's middle"),
    mark("on the board's middle"),
)
_FROM_IT: Final = (mark("{length} above it"), mark("{length} below it"), mark("on it"))


def _beside(offset_mm: float, words: tuple[str, str, str], units: Units) -> str:
    """Write how far a place lies above or below a line, or that it lies on it."""
    above, below, on = words
    return say(above if offset_mm > 0 else below if offset_mm < 0 else on, length=length_in(abs(offset_mm), units))


def two_bows_lines(answer: Answer, units: Units) -> list[str]:
    """Write where two bows come out of the board, and where they lie across it unless in its middle."""
    if not answer.two_bows:
        return []
    places = listed([from_to(bow, units) for bow in answer.two_bows])
    openings = (
        mark("The first of the two: as {side} faces you, marked end left, {where}."),
        mark("The second of the two: as {side} faces you, marked end left, {where}."),
    )
    return [
        say("Two such bows fit, one after the other: {places}.", places=places),
        *(
            say(opening, side=side_text(bow.back_face), where=where)
            for opening, bow in zip(openings, answer.two_bows, strict=True)
            if (where := _centre_line(bow, units))
        ),
    ]


def further_sections(answer: Answer) -> list[Section]:
    """Return the other sections worth telling: not those that only begin elsewhere in the chosen one's free range."""
    chosen = answer.section
    return [
        other
        for other in answer.alternatives
        if chosen is None
        or abs((other.end_mm - other.start_mm) - (chosen.end_mm - chosen.start_mm)) > TOLD_MM
        or not chosen.starts_from_mm <= other.start_mm <= chosen.starts_to_mm
    ]


def back_lines(back: Back) -> list[str]:
    """Write which face becomes the back, what speaks against it, and which end becomes the lower limb."""
    face = side_text(back.face)
    choice = say("Make {face} the back.", face=face)
    if not back.sure:
        choice = say("Either face may serve; rather make {face} the back.", face=face)
    return [f"{choice} {back.why}", *(warning.text for warning in back.warnings), limb_line(back)]


def limb_line(back: Back) -> str:
    """Write which end of the section becomes the lower limb."""
    if back.lower_limb == "either":
        return back.lower_limb_why or say("Either end may become the lower limb.")
    choice = say("Make the end toward the {end} the lower limb.", end=end_text(back.lower_limb))
    return f"{choice} {back.lower_limb_why}".rstrip()


def strength_line(strength: Strength, chosen: bool) -> str:
    """Write what the steepest grain of the section, or of the best one when none was chosen, leaves of strength.

    >>> half = {"low": 0.5, "high": 0.62}
    >>> strength_line(Strength(slope=0.1, bending=half, tension=half, impact=half, sources=[]), True)
    'The steepest grain in that section, 1 in 10 (5.7 deg), leaves of the strength of straight-grained wood 50 to \
62 % in bending, 50 to 62 % in tension and 50 to 62 % under a blow. Published sources disagree, so these are ranges.'
    """
    bending, tension, blow = (
        share_text(spread.low, spread.high) for spread in (strength.bending, strength.tension, strength.impact)
    )
    left = {"slope": slope_text(strength.slope), "bending": bending, "tension": tension, "blow": blow}
    if chosen:
        return say(
            "The steepest grain in that section, {slope}, leaves of the strength of straight-grained wood {bending} in "
            "bending, {tension} in tension and {blow} under a blow. Published sources disagree, so these are ranges.",
            **left,
        )
    return say(
        "The steepest grain even in the best section, {slope}, leaves of the strength of straight-grained wood "
        "{bending} in bending, {tension} in tension and {blow} under a blow. Published sources disagree, so these are "
        "ranges.",
        **left,
    )


def share_text(low: float, high: float) -> str:
    """Write a range of shares in percent.

    >>> share_text(0.619, 0.81), share_text(0.931, 0.934)
    ('62 to 81 %', '93 %')
    """
    least, most = round(100 * low), round(100 * high)
    return say("{least} to {most} %", least=least, most=most) if least < most else say("{share} %", share=most)
