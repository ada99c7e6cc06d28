"""What the page of one side shows: the side from close, its layers, and what there is at a place."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.app.views.answer import Around
from service.board.phrase import one_in_text, side_text, side_title
from service.errors import BadInput, NotThere
from service.judge.record import Answer
from service.judge.record_side import Side
from service.language import mark, say
from service.lengths import Units, length_in
from service.show.close_look import CloseLook, close_look, close_name
from service.show.places import PlaceRow, place_lines, place_rows
from service.show.words import side_line
from service.sides import SIDES, BoardSize, side_above, side_below
from service.sizes import Span, parse_length

LAYER_WORDS: Final[Mapping[str, str]] = {
    "photo": mark("Photo"),
    "lines": mark("Grain lines"),
    "runoffs": mark("Run-offs"),
    "section": mark("Bow to cut"),
    "finds": mark("Knots, unread wood"),
}

PLACE: Final = mark("the place on the side")
PLACE_EXAMPLES: Final = mark("24-3/8 in or 620 mm")

MOST_JUMPS: Final = 8
"""Places offered to go to at once; more would be a list to search through."""


@dataclass(frozen=True)
class Layer:
    """A part of the drawing that can be hidden."""

    name: str
    words: str
    shown: bool


@dataclass(frozen=True)
class Jump:
    """A place worth a look: its position, as it is typed and in words."""

    position_mm: float
    typed: str
    words: str


@dataclass(frozen=True)
class SideLink:
    """Another side's page; the one on show has no address."""

    words: str
    href: str


@dataclass(frozen=True)
class SidePage:
    """One side from close.

    Attributes
    ----------
    side, name, line
        Its name in the record and in words, and what was read on it in one line.
    above, below
        The sides that share its long corners.
    look
        The drawing.
    position_mm, below_mm, told
        The place whose numbers are told, and what there is.
    typed, refusal
        What was typed for a place, and why it cannot be used; both empty otherwise.
    rows_picture
        Address of the side drawn in rows.
    """

    side: Side
    name: str
    line: str
    above: str
    below: str
    units: Units
    length_mm: float
    across_mm: float
    look: CloseLook
    has_photo: bool
    layers: Sequence[Layer]
    position_mm: float
    below_mm: float
    told: Sequence[str]
    typed: str
    refusal: str
    jumps: Sequence[Jump]
    rows: Sequence[PlaceRow]
    sides: Sequence[SideLink]
    rows_picture: str
    around: Around


def side_page(
    answer: Answer, name: str, pictures: Mapping[str, str], units: Units, asked: Mapping[str, str], around: Around
) -> SidePage:
    """Show a side from close.

    Parameters
    ----------
    answer, name
        The answer, and which side of it.
    pictures
        Addresses of its pictures by name.
    units
        The board's units.
    asked
        What the address asks for: `at`, a place as people type it; with `chosen`, only the layers that it names.
    around
        What stands around it: its `href` leads back to the answer, its `sides_at`, with a name behind it, to a side.

    Raises
    ------
    NotThere
        There is no such side, or no picture of it.
    """
    side = next((one for one in SIDES if one == name), None)
    if side is None or side not in pictures:
        raise NotThere(say("There is no picture of this side. Photograph it, then read the board again."), "side")
    typed = asked.get("at", "")
    position_mm, refusal = _place(typed, answer, side, units)
    line, below_mm = side_line(answer.sides[side], side, units), 0.5 * _across_mm(answer, side)
    photo = pictures.get(close_name(side), "")
    return SidePage(
        side=side,
        name=side_title(side),
        line=line,
        above=side_text(side_above(side)),
        below=side_text(side_below(side)),
        units=units,
        length_mm=answer.board.length_mm,
        across_mm=2 * below_mm,
        look=close_look(side, answer, units, photo, line, position_mm),
        has_photo=bool(photo),
        layers=[Layer(name, say(words), "chosen" not in asked or name in asked) for name, words in LAYER_WORDS.items()],
        position_mm=position_mm,
        below_mm=below_mm,
        told=place_lines(answer, side, position_mm, below_mm, units),
        typed=typed,
        refusal=refusal,
        jumps=_jumps(answer, side, units),
        rows=place_rows(answer, side, units),
        sides=_links(side, pictures, around),
        rows_picture=pictures[side],
        around=around,
    )


def _across_mm(answer: Answer, side: Side) -> float:
    board = answer.board
    return BoardSize(board.length_mm, board.width_mm, board.thickness_mm).across_mm(side)


def _links(side: Side, pictures: Mapping[str, str], around: Around) -> list[SideLink]:
    return [
        SideLink(side_title(one), "" if one == side else f"{around.sides_at}/{one}") for one in SIDES if one in pictures
    ]


def _place(typed: str, answer: Answer, side: Side, units: Units) -> tuple[float, str]:
    """Return the place that was asked for, or else the first one to look at, and why it cannot be that one."""
    first_mm = _first_place(answer, side)
    if not typed:
        return first_mm, ""
    try:
        return parse_length(typed, Span(PLACE, 0.0, answer.board.length_mm, PLACE_EXAMPLES), "at", units), ""
    except BadInput as refused:
        return first_mm, refused.text


def _first_place(answer: Answer, side: Side) -> float:
    """Choose where to look first: where the side is steepest, else its middle."""
    steepest = answer.sides[side].slope_one_in
    return steepest.position_mm if steepest is not None else 0.5 * answer.board.length_mm


def _jumps(answer: Answer, side: Side, units: Units) -> list[Jump]:
    """List the places worth a look: the steepest, knots, unread stretches and run-offs, then the ends of the bow."""
    read, section = answer.sides[side], answer.section
    found: list[tuple[float, str]] = []
    if read.slope_one_in is not None and read.slope_one_in.one_in is not None:
        slope = one_in_text(1.0 / read.slope_one_in.one_in)
        found.append((read.slope_one_in.position_mm, say("steepest, {slope}", slope=slope)))
    found += [(0.5 * (knot.from_mm + knot.to_mm), say("knot")) for knot in read.knots]
    found += [
        (0.5 * (part.from_mm + part.to_mm), say("not read")) for part in read.pattern if part.kind == "unreadable"
    ]
    found += [(off.position_mm, say("line {number} runs off", number=off.line)) for off in read.runoffs]
    found = found[: MOST_JUMPS - 2]
    if section is not None:
        found += [(section.start_mm, say("bow starts")), (section.end_mm, say("bow ends"))]
    return [
        Jump(at_mm, f"{at_mm:.1f} mm", say("{place}: {what}", place=length_in(at_mm, units), what=what))
        for at_mm, what in found
    ]
