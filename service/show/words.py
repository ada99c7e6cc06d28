"""The answer in short sentences, for the page and the command line."""

from typing import Final

from service.board.phrase import is_straight, side_text, side_title, slope_text, word_of
from service.grain.follow import LONGEST_BRIDGE_MM
from service.judge.record import Answer, Section
from service.judge.record_side import Knot, RunOff, Side, SideAnswer
from service.language import mark, say, say_many
from service.lengths import Units, length_in
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
from service.sides import SIDES

VERDICT_WORDS: Final = {
    "pass": mark("Take it"),
    "borderline": mark("Not sure yet"),
    "fail": mark("Leave it"),
    "retake": mark("Photograph again"),
}

_SENTENCES: Final = {
    "pass": mark("A {length} bow can come out of this board."),
    "borderline": mark("A {length} bow may come out of this board, but the photos leave it open."),
    "fail": mark("No {length} bow can be cut out of this board within the limits."),
    "retake": mark("Nothing can be said before the photos below have been taken."),
}

_LINES: Final = {
    "pass": mark("{word}: a {length} bow can come out of this board. Score {points} of 100."),
    "borderline": mark(
        "{word}: a {length} bow may come out of this board, but the photos leave it open. Score {points} of 100."
    ),
    "fail": mark("{word}: no {length} bow can be cut out of this board within the limits. Score {points} of 100."),
    "retake": mark("{word}: nothing can be said before the photos below have been taken. Score {points} of 100."),
}


def verdict_word(verdict: str) -> str:
    """Say a verdict in short.

    >>> verdict_word("pass")
    'Take it'
    """
    return say(VERDICT_WORDS[verdict])


def verdict_sentence(answer: Answer, units: Units) -> str:
    """Write the verdict as one sentence."""
    return say(_SENTENCES[answer.verdict], length=length_in(answer.bow_length_mm, units))


def verdict_line(answer: Answer, units: Units) -> str:
    """Write the verdict as one sentence with the score."""
    return say(
        _LINES[answer.verdict],
        word=verdict_word(answer.verdict),
        length=length_in(answer.bow_length_mm, units),
        points=f"{answer.score:.0f}",
    )


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
        *(
            say("Still open: {question} What would tell: {photo}", question=question.text, photo=question.photo)
            for question in answer.open_questions
        ),
        *alternative_lines(answer, units),
        *(side_line(answer.sides[name], name, units) for name in SIDES),
        *(say("Mind: {caution}", caution=caution) for caution in answer.cautions),
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
        lines.append(say("Which face becomes the back is open. {why}", why=answer.back_reason))
    lines += leaving_lines(answer, units)
    if answer.margin is not None:
        lines.append(answer.margin.text)
    return [*lines, *strength_lines(answer)]


def strength_lines(answer: Answer) -> list[str]:
    """Write what strength is left; nothing when it is not known."""
    if answer.strength is None:
        return []
    return [strength_line(answer.strength, answer.section is not None)]


def leaving_lines(answer: Answer, units: Units) -> list[str]:
    """Write which grain lines leave the back and the belly, and from where on they could not be followed."""
    if answer.runoffs_in_bow is None:
        return []
    back: Side = answer.back.face if answer.back is not None else "face_2"
    belly: Side = "face_2" if back == "face_1" else "face_1"
    told = (("back", back, answer.runoffs_in_bow.back), ("belly", belly, answer.runoffs_in_bow.belly))
    return [
        f"{runoff_line(role, runoffs, units)} {_lost_lines_text(answer, face, units)}".rstrip()
        for role, face, runoffs in told
    ]


def runoff_line(role: str, runoffs: list[RunOff], units: Units) -> str:
    """Write which of the nine lines leave the back or the belly.

    >>> off = RunOff(position_mm=254.0, over="edge_2", slope=0.05, line=9, position_error_mm=25.0)
    >>> runoff_line("back", [off], "in")
    'Of nine grain lines started across the section, 1 leaves the back: line 9 over edge 2 at 10 in.'
    >>> runoff_line("belly", [], "in")
    'Of nine grain lines started across the section, none leaves the belly.'
    """
    if not runoffs:
        return say("Of nine grain lines started across the section, none leaves the {role}.", role=word_of(role))
    return say_many(
        "Of nine grain lines started across the section, {count} leaves the {role}: {places}.",
        "Of nine grain lines started across the section, {count} leave the {role}: {places}.",
        len(runoffs),
        role=word_of(role),
        places=runoff_places(runoffs, units),
    )


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
    return say("Past {place} they could not be followed.", place=length_in(lost_mm, units))


def runoff_places(runoffs: list[RunOff], units: Units) -> str:
    """Write where lines leave, in order along the board.

    >>> off = RunOff(position_mm=254.0, over="edge_2", slope=0.05, line=9, position_error_mm=25.0)
    >>> runoff_places([off], "mm")
    'line 9 over edge 2 at 254 mm'
    """
    ordered = sorted(runoffs, key=lambda off: off.position_mm)
    return "; ".join(
        say(
            "line {number} over {side} at {place}",
            number=off.line,
            side=side_text(off.over),
            place=length_in(off.position_mm, units),
        )
        for off in ordered
    )


def alternative_lines(answer: Answer, units: Units) -> list[str]:
    """Write the other sections worth considering."""
    return [
        say(
            "Or from {start} to {end}. {why}",
            start=length_in(other.start_mm, units),
            end=length_in(other.end_mm, units),
            why=other_text(other, units),
        )
        for other in further_sections(answer)
    ]


def other_text(other: Section, units: Units) -> str:
    """Write why another section is worth considering, and where it lies across the board unless in its middle."""
    return f"{other.why} {offset_line(other, units)}".rstrip()


def side_line(side: SideAnswer, name: str, units: Units) -> str:
    """Write what was read on one side."""
    title = side_title(name)
    if side.status != "read":
        why = side.status_reason.text if side.status_reason is not None else ""
        knots = say("{knots}.", knots=knots_text(side.knots, units)) if side.knots else ""
        return " ".join(filter(None, (say("{side}: not read.", side=title), why, knots)))
    told = [_steepest_text(side, units)]
    if side.knots:
        told.append(knots_text(side.knots, units))
    unread_mm = sum(part.to_mm - part.from_mm for part in side.pattern if part.kind == "unreadable")
    if unread_mm > 0:
        told.append(say("{length} of it could not be read", length=length_in(unread_mm, units)))
    return say("{side}: {told}.", side=title, told="; ".join(told))


def knots_text(knots: list[Knot], units: Units) -> str:
    """Write how many knots there are, where each begins, and which were not found but pointed at.

    >>> found, shown = ({"from_mm": at, "to_mm": at + 9.0} for at in (254.0, 508.0))
    >>> across = {"across_from_mm": 0.0, "across_to_mm": 9.0}
    >>> knots_text([Knot(**found, **across), Knot(**shown, **across, by_hand=True)], "in")
    '2 knots, at 10 in, 20 in (pointed at by hand)'
    """
    places = ", ".join(knot_place(knot, length_in(knot.from_mm, units)) for knot in knots)
    return say_many("{count} knot, at {places}", "{count} knots, at {places}", len(knots), places=places)


def knot_place(knot: Knot, place: str) -> str:
    """Write a knot's place, and beside it that it was pointed at by hand unless it was found."""
    return say("{place} (pointed at by hand)", place=place) if knot.by_hand else place


def _steepest_text(side: SideAnswer, units: Units) -> str:
    """Write the steepest stretch of a side."""
    if side.slope_one_in is None:
        return say("no grain was read")
    one_in = side.slope_one_in.one_in
    if one_in is None or is_straight(1.0 / one_in):
        return say("the grain runs straight along it")
    place = length_in(side.slope_one_in.position_mm, units)
    return say("steepest {slope} around {place}", slope=slope_text(1.0 / one_in), place=place)
