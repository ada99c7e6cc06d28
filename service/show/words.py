"""The answer in short sentences, for the page and the command line."""

from typing import Final

from service.board.phrase import one_in_text, side_text, slope_text
from service.grain.follow import LONGEST_BRIDGE_MM
from service.judge.record import Answer, Section
from service.judge.record_side import Knot, RunOff, Side, SideAnswer
from service.show.cut_words import (
    back_lines,
    cut_line,
    further_sections,
    offset_line,
    place_lines,
    strength_line,
    two_bows_lines,
)
from service.show.limit_words import changed_line
from service.show.units import length_in
from service.sides import SIDES
from service.sizes import Units

VERDICT_WORDS: Final = {
    "pass": "Take it",
    "borderline": "Not sure yet",
    "fail": "Leave it",
    "retake": "Photograph again",
}

VERDICT_SENTENCES: Final = {
    "pass": "a {length} bow can come out of this board.",
    "borderline": "a {length} bow may come out of this board, but the photos leave it open.",
    "fail": "no {length} bow can be cut out of this board within the limits.",
    "retake": "nothing can be said before the photos below have been taken.",
}


def verdict_line(answer: Answer, units: Units) -> str:
    """Write the verdict as one sentence with the score."""
    length = length_in(answer.bow_length_mm, units)
    sentence = VERDICT_SENTENCES[answer.verdict].format(length=length)
    return f"{VERDICT_WORDS[answer.verdict]}: {sentence} Score {answer.score:.0f} of 100."


def summary_lines(answer: Answer, units: Units) -> list[str]:
    """Write the whole answer as short sentences, the verdict first and the cautions last.

    Parameters
    ----------
    answer
        The answer.
    units
        "in" for inches with fractions to 1/16, "mm" for millimetres.

    Returns
    -------
    list of str
        One sentence or a few a line.
    """
    return [
        verdict_line(answer, units),
        *(reason.text for reason in answer.reasons),
        *section_lines(answer, units),
        *filter(None, [changed_line(answer, units)]),
        *(f"Still open: {question.text} What would tell: {question.photo}" for question in answer.open_questions),
        *alternative_lines(answer, units),
        *(side_line(answer.sides[name], name, units) for name in SIDES),
        *(f"Mind: {caution}" for caution in answer.cautions),
    ]


def section_lines(answer: Answer, units: Units) -> list[str]:
    """Write where to cut, which face is the back, what runs off in the bow and what strength is left."""
    lines = []
    if answer.section is not None:
        lines += [cut_line(answer.section, units), *place_lines(answer, units)]
    lines += two_bows_lines(answer, units)
    if answer.back is not None:
        lines += back_lines(answer.back)
    elif answer.section is not None:
        lines.append(f"Which face becomes the back is open. {answer.back_reason}")
    lines += leaving_lines(answer, units)
    if answer.margin is not None:
        lines.append(answer.margin.text)
    return [*lines, *strength_lines(answer)]


def strength_lines(answer: Answer) -> list[str]:
    """Write what strength is left; nothing when it is not known."""
    if answer.strength is None:
        return []
    where = "in that section" if answer.section is not None else "even in the best section"
    return [strength_line(answer.strength, where)]


def leaving_lines(answer: Answer, units: Units) -> list[str]:
    """Write which grain lines leave the back and the belly, and from where on they could not be followed."""
    if answer.runoffs_in_bow is None:
        return []
    back: Side = answer.back.face if answer.back is not None else "face_2"
    belly: Side = "face_2" if back == "face_1" else "face_1"
    told = (("back", back, answer.runoffs_in_bow.back), ("belly", belly, answer.runoffs_in_bow.belly))
    return [runoff_line(role, runoffs, units) + _lost_lines_text(answer, face, units) for role, face, runoffs in told]


def runoff_line(role: str, runoffs: list[RunOff], units: Units) -> str:
    """Write which of the nine lines leave the back or the belly.

    >>> off = RunOff(position_mm=254.0, over="edge_2", slope=0.05, line=9, position_error_mm=25.0)
    >>> runoff_line("back", [off], "in")
    'Of nine grain lines started across the section, 1 leaves the back: line 9 over edge 2 at 10 in.'
    >>> runoff_line("belly", [], "in")
    'Of nine grain lines started across the section, none leaves the belly.'
    """
    opening = "Of nine grain lines started across the section,"
    if not runoffs:
        return f"{opening} none leaves the {role}."
    verb = "leaves" if len(runoffs) == 1 else "leave"
    return f"{opening} {len(runoffs)} {verb} the {role}: {runoff_places(runoffs, units)}."


def _lost_lines_text(answer: Answer, face: Side, units: Units) -> str:
    """Say from where on lines could not be followed, when the section holds wood unread on that face."""
    section = answer.section
    gaps = [
        part
        for part in answer.sides[face].pattern
        if part.kind == "unreadable" and part.to_mm - part.from_mm > LONGEST_BRIDGE_MM
    ]
    if section is None or not any(gap.to_mm > section.start_mm and gap.from_mm < section.end_mm for gap in gaps):
        return ""
    lost_mm = max(section.start_mm, min(gap.from_mm for gap in gaps if gap.to_mm > section.start_mm))
    return f" Past {length_in(lost_mm, units)} they could not be followed."


def runoff_places(runoffs: list[RunOff], units: Units) -> str:
    """Write where lines leave, in order along the board.

    >>> off = RunOff(position_mm=254.0, over="edge_2", slope=0.05, line=9, position_error_mm=25.0)
    >>> runoff_places([off], "mm")
    'line 9 over edge 2 at 254 mm'
    """
    ordered = sorted(runoffs, key=lambda off: off.position_mm)
    return "; ".join(
        f"line {off.line} over {side_text(off.over)} at {length_in(off.position_mm, units)}" for off in ordered
    )


def alternative_lines(answer: Answer, units: Units) -> list[str]:
    """Write the other sections worth considering."""
    return [
        f"Or from {length_in(other.start_mm, units)} to {length_in(other.end_mm, units)}. {other_text(other, units)}"
        for other in further_sections(answer)
    ]


def other_text(other: Section, units: Units) -> str:
    """Write why another section is worth considering, and where it lies across the board unless in its middle."""
    return f"{other.why} {offset_line(other, units)}".rstrip()


def side_line(side: SideAnswer, name: str, units: Units) -> str:
    """Write what was read on one side."""
    title = side_text(name).capitalize()
    if side.status != "read":
        why = side.status_reason.text if side.status_reason is not None else ""
        knots = f" {knots_text(side.knots, units).capitalize()}." if side.knots else ""
        return f"{title}: not read. {why}".rstrip() + knots
    told = [f"{title}: {_steepest_text(side, units)}"]
    if side.knots:
        told.append(knots_text(side.knots, units))
    unread_mm = sum(part.to_mm - part.from_mm for part in side.pattern if part.kind == "unreadable")
    if unread_mm > 0:
        told.append(f"{length_in(unread_mm, units)} of it could not be read")
    return "; ".join(told) + "."


def knots_text(knots: list[Knot], units: Units) -> str:
    """Write how many knots there are, where each begins, and which were not found but pointed at.

    >>> found, shown = ({"from_mm": at, "to_mm": at + 9.0} for at in (254.0, 508.0))
    >>> across = {"across_from_mm": 0.0, "across_to_mm": 9.0}
    >>> knots_text([Knot(**found, **across), Knot(**shown, **across, by_hand=True)], "in")
    '2 knots, at 10 in, 20 in (pointed at by hand)'
    """
    places = ", ".join(f"{length_in(knot.from_mm, units)}{hand_text(knot)}" for knot in knots)
    return f"{len(knots)} knot{'s' if len(knots) > 1 else ''}, at {places}"


def hand_text(knot: Knot) -> str:
    """Say of a knot that it was pointed at by hand; nothing when it was found."""
    return " (pointed at by hand)" if knot.by_hand else ""


def _steepest_text(side: SideAnswer, units: Units) -> str:
    """Write the steepest stretch of a side."""
    if side.slope_one_in is None:
        return "no grain was read"
    if side.slope_one_in.one_in is None:
        return "the grain runs straight along it"
    slope = 1.0 / side.slope_one_in.one_in
    if one_in_text(slope) == "straight":
        return "the grain runs straight along it"
    return f"steepest {slope_text(slope)} around {length_in(side.slope_one_in.position_mm, units)}"
