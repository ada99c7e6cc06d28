"""The answer in short sentences, for the page and the command line."""

from typing import Final

from service.board.phrase import one_in_text, side_text, slope_text
from service.grain.follow import LONGEST_BRIDGE_MM
from service.judge.record import Answer, RunOff, Side, SideAnswer
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
        *(f"Still open: {question.text} What would tell: {question.photo}" for question in answer.open_questions),
        *alternative_lines(answer, units),
        *(side_line(answer.sides[name], name, units) for name in SIDES),
        *(f"Mind: {caution}" for caution in answer.cautions),
    ]


def section_lines(answer: Answer, units: Units) -> list[str]:
    """Write where to cut, which face is the back, what runs off in the bow and what strength is left."""
    lines = []
    back: Side
    belly: Side
    if answer.section is not None:
        start, end = length_in(answer.section.start_mm, units), length_in(answer.section.end_mm, units)
        lines.append(f"Cut from {start} to {end}, measured from the marked end. {answer.section.why}")
    if answer.back is not None:
        likely = "Make" if answer.back.sure else "Rather make"
        lines.append(f"{likely} {side_text(answer.back.face)} the back. {answer.back.why}")
    elif answer.section is not None:
        lines.append(f"Which face becomes the back is open. {answer.back_reason}")
    if answer.runoffs_in_bow is not None:
        belly = "face_2" if answer.back is not None and answer.back.face == "face_1" else "face_1"
        back = "face_1" if belly == "face_2" else "face_2"
        for role, face, runoffs in (
            ("back", back, answer.runoffs_in_bow.back),
            ("belly", belly, answer.runoffs_in_bow.belly),
        ):
            lines.append(runoff_line(role, runoffs, units) + _lost_lines_text(answer, face, units))
    if answer.strength is not None:
        low, high = round(100 * answer.strength.tension.low), round(100 * answer.strength.bending.high)
        where = "in that section" if answer.section is not None else "even in the best section"
        lines.append(
            f"By published tables the steepest grain {where} leaves {low} to {high} % of straight-grained strength."
        )
    return lines


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
        f"Or from {length_in(other.start_mm, units)} to {length_in(other.end_mm, units)}. {other.why}"
        for other in answer.alternatives
    ]


def side_line(side: SideAnswer, name: str, units: Units) -> str:
    """Write what was read on one side."""
    title = side_text(name).capitalize()
    if side.status != "read":
        why = side.status_reason.text if side.status_reason is not None else ""
        return f"{title}: not read. {why}".rstrip()
    told = [f"{title}: {_steepest_text(side, units)}"]
    if side.knots:
        places = ", ".join(length_in(knot.from_mm, units) for knot in side.knots)
        told.append(f"{len(side.knots)} knot{'s' if len(side.knots) > 1 else ''}, at {places}")
    unread_mm = sum(part.to_mm - part.from_mm for part in side.pattern if part.kind == "unreadable")
    if unread_mm > 0:
        told.append(f"{length_in(unread_mm, units)} of it could not be read")
    return "; ".join(told) + "."


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
