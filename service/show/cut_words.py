"""Where to cut, which way round, and what the bow is left with, in short sentences."""

from typing import Final

from service.board.phrase import listed, side_text, slope_text
from service.judge.record import Answer, Back, Section, Strength
from service.show.units import length_in
from service.sizes import Units

TOLD_MM: Final = 0.8
"""Lengths below half of 1/16 in would be written as nothing, so they are not told."""

END_WORDS: Final = {"marked": "marked end", "far": "far end"}


def cut_line(section: Section, units: Units) -> str:
    """Write where a section begins and ends, and why."""
    return f"Cut {_from_to(section, units)}, measured from the marked end. {section.why}"


def _from_to(section: Section, units: Units) -> str:
    return f"from {length_in(section.start_mm, units)} to {length_in(section.end_mm, units)}"


def place_lines(answer: Answer, units: Units) -> list[str]:
    """Write what else there is to know of the section's place: how free its start is, its width, where it lies."""
    section = answer.section
    if section is None:
        return []
    lines = []
    if section.starts_to_mm - section.starts_from_mm > TOLD_MM:
        first, last = length_in(section.starts_from_mm, units), length_in(section.starts_to_mm, units)
        lines.append(f"Any start from {first} to {last} is as good.")
    if is_narrow(section, answer.board.width_mm):
        width, board = length_in(section.width_mm, units), length_in(answer.board.width_mm, units)
        lines.append(f"It was judged for a bow {width} wide at its widest; the board is {board} wide.")
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
    start, end = (_across(offset_mm, units) for offset_mm in (section.offset_start_mm, section.offset_end_mm))
    if not start and not end:
        return ""
    if start == end:
        where = f"lies {start} the board's middle all along"
    elif not start:
        where = f"lies on the board's middle at the start and {end} it at the end"
    else:
        where = f"lies {start} the board's middle at the start and {f'{end} it' if end else 'on it'} at the end"
    return f"As {side_text(section.back_face)} faces you, marked end left, its centre line {where}."


def _across(offset_mm: float, units: Units) -> str:
    """Write how far a place lies above or below a line; nothing when it lies on it."""
    if abs(offset_mm) < TOLD_MM:
        return ""
    return f"{length_in(abs(offset_mm), units)} {'above' if offset_mm > 0 else 'below'}"


def two_bows_lines(answer: Answer, units: Units) -> list[str]:
    """Write where two bows come out of the board, and where they lie across it unless in its middle."""
    if not answer.two_bows:
        return []
    places = listed([_from_to(bow, units) for bow in answer.two_bows])
    across = zip(("first", "second"), (offset_line(bow, units) for bow in answer.two_bows), strict=True)
    return [
        f"Two such bows fit, one after the other: {places}.",
        *(f"The {number} of the two: {line[0].lower()}{line[1:]}" for number, line in across if line),
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
    choice = f"Make {face} the back." if back.sure else f"Either face may serve; rather make {face} the back."
    return [f"{choice} {back.why}", *(warning.text for warning in back.warnings), limb_line(back)]


def limb_line(back: Back) -> str:
    """Write which end of the section becomes the lower limb."""
    if back.lower_limb == "either":
        return back.lower_limb_why or "Either end may become the lower limb."
    return f"Make the end toward the {END_WORDS[back.lower_limb]} the lower limb. {back.lower_limb_why}".rstrip()


def strength_line(strength: Strength, where: str) -> str:
    """Write what the steepest grain leaves of strength of each kind.

    >>> half = {"low": 0.5, "high": 0.62}
    >>> strength_line(Strength(slope=0.1, bending=half, tension=half, impact=half, sources=[]), "in it")
    'The steepest grain in it, 1 in 10 (5.7 deg), leaves of the strength of straight-grained wood 50 to 62 % in \
bending, 50 to 62 % in tension and 50 to 62 % under a blow. Published sources disagree, so these are ranges.'
    """
    kinds = {"in bending": strength.bending, "in tension": strength.tension, "under a blow": strength.impact}
    told = listed([f"{share_text(spread.low, spread.high)} {kind}" for kind, spread in kinds.items()])
    return (
        f"The steepest grain {where}, {slope_text(strength.slope)}, leaves of the strength of straight-grained wood "
        f"{told}. Published sources disagree, so these are ranges."
    )


def share_text(low: float, high: float) -> str:
    """Write a range of shares in percent.

    >>> share_text(0.619, 0.81), share_text(0.931, 0.934)
    ('62 to 81 %', '93 %')
    """
    least, most = round(100 * low), round(100 * high)
    return f"{least} to {most} %" if least < most else f"{most} %"
