"""The picture of a side: its photo straightened, with everything that was found drawn over it."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Final
from xml.etree.ElementTree import Element, tostring

from service.board.phrase import side_text, side_title
from service.judge.record import Answer
from service.judge.record_side import Side, SideAnswer
from service.language import say
from service.lengths import Units, length_in
from service.photo.types import Strip
from service.show.marks import (
    INK,
    PAPER,
    grain_lines,
    put,
    put_grain,
    put_image,
    put_ruler,
    put_runoffs,
    put_stretches,
    put_text,
)
from service.show.rows import MARGIN, MARK_ROOM, PICTURE_WIDTH, ROW_MM, TEXT_HEIGHT, make_rows, row_count, times_higher
from service.show.section_marks import put_section
from service.show.words import side_line
from service.sides import BoardSize, side_above, side_below

HEAD_HEIGHT: Final = 62.0
NOTE_LETTERS: Final = 50


def side_picture(strips: Strip | Sequence[Strip], side: Side, answer: Answer, units: Units = "in") -> str:
    """Draw a side's strip with its grain lines, run-offs, section, unread stretches and knots.

    Parameters
    ----------
    strips
        The side straightened, rows across, columns along; one strip, or one of each of its photos.
    side
        Which side it is.
    answer
        The whole answer.
    units
        Units of the ruler and the words.

    Returns
    -------
    str
        An SVG document: rows of about two feet under each other, drawn higher than they are, as it says;
        390 units wide, so that its words are legible on a phone.
    """
    read, board = answer.sides[side], answer.board
    across_mm = BoardSize(board.length_mm, board.width_mm, board.thickness_mm).across_mm(side)
    notes = [
        _runoff_notes(read, number * ROW_MM[units], (number + 1) * ROW_MM[units], units)
        for number in range(row_count(board.length_mm, units))
    ]
    head = HEAD_HEIGHT + (TEXT_HEIGHT if _is_hatched(read) else 0.0)
    rows, bottom = make_rows(board.length_mm, across_mm, units, head, [len(lines) for lines in notes])
    svg = _put_frame(side, answer, units, bottom)
    _put_head(svg, side, answer, times_higher(across_mm, ROW_MM[units]))
    lines = grain_lines(read, board.length_mm, across_mm)
    for number, (row, below) in enumerate(zip(rows, notes, strict=True)):
        put_image(svg, row, [strips] if isinstance(strips, Strip) else strips)
        put_ruler(svg, row, units)
        put_grain(svg, row, lines, f"clip-{side}-{number}")
        put_stretches(svg, row, read, f"hatch-{side}")
        put_section(svg, row, side, answer, units)
        put_runoffs(svg, row, read, side)
        for line, text in enumerate(below):
            put_text(svg, text, MARGIN, row.top + row.height + MARK_ROOM + 12.0 + line * TEXT_HEIGHT)
    return tostring(svg, encoding="unicode")


def _put_frame(side: Side, answer: Answer, units: Units, bottom: float) -> Element:
    """Begin the document: its size, its words for those who cannot see it, its paper."""
    svg = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {PICTURE_WIDTH:.0f} {bottom:.0f}",
            "width": "100%",
            "role": "img",
            "aria-labelledby": f"title-{side} desc-{side}",
            "font-family": "system-ui, sans-serif",
        },
    )
    put(svg, "title", _title(side, answer), id=f"title-{side}")
    put(svg, "desc", _description(side, answer, units), id=f"desc-{side}")
    _put_hatch(svg, side)
    put(svg, "rect", x=0.0, y=0.0, width=PICTURE_WIDTH, height=bottom, fill=PAPER)
    return svg


def _title(side: Side, answer: Answer) -> str:
    """Name the side, and what it becomes in the bow."""
    name = side_title(side)
    if answer.back is None or not side.startswith("face"):
        return name
    back = side == answer.back.face
    return say("{side}, the back of the bow", side=name) if back else say("{side}, the belly of the bow", side=name)


def _description(side: Side, answer: Answer, units: Units) -> str:
    """Say in words what the picture shows."""
    told = [side_line(answer.sides[side], side, units)]
    if answer.section is not None:
        start, end = length_in(answer.section.start_mm, units), length_in(answer.section.end_mm, units)
        told.append(say("The bow is cut from {start} to {end}.", start=start, end=end))
    runoffs = answer.sides[side].runoffs
    told += (
        _runoff_notes(answer.sides[side], 0.0, float("inf"), units)
        if runoffs
        else [say("No grain line leaves this side.")]
    )
    return " ".join(told)


def _runoff_notes(side: SideAnswer, from_mm: float, to_mm: float, units: Units) -> list[str]:
    """List the run-offs of a stretch by the corner they leave over, in lines that fit a phone."""
    offs = sorted((off for off in side.runoffs if from_mm <= off.position_mm < to_mm), key=lambda off: off.position_mm)
    told = []
    for over in dict.fromkeys(off.over for off in offs):
        places = (
            say("line {number} at {place}", number=off.line, place=length_in(off.position_mm, units))
            for off in offs
            if off.over == over
        )
        # Kept together, so that no line of text ends between a number and what it counts.
        joined = ", ".join(places).replace(" ", "\u00a0").replace(",\u00a0", ", ")
        told += wrap(say("Off over {side}: {places}.", side=side_text(over), places=joined), NOTE_LETTERS)
    return [line.replace("\u00a0", " ") for line in told]


def _put_head(svg: Element, side: Side, answer: Answer, higher: int) -> None:
    """Write the title, which corner borders on which side, and how the height is drawn."""
    put_text(svg, _title(side, answer), MARGIN, 20.0, font_size=16.0, font_weight="bold")
    above, below = side_text(side_above(side)), side_text(side_below(side))
    put_text(svg, say("Marked end left. Above: {above}. Below: {below}.", above=above, below=below), MARGIN, 38.0)
    drawn = say("Drawn true to scale.")
    if higher > 1:
        drawn = say("Drawn {times} times as high as it is, so slopes look steeper.", times=higher)
    put_text(svg, drawn, MARGIN, 54.0)
    if _is_hatched(answer.sides[side]):
        put_text(svg, say("Hatched: could not be read."), MARGIN, 70.0)


def _is_hatched(side: SideAnswer) -> bool:
    """Tell whether anything of a side could not be read."""
    return any(part.kind == "unreadable" for part in side.pattern)


def _put_hatch(svg: Element, side: Side) -> None:
    """Define the hatching of unread stretches."""
    pattern = put(put(svg, "defs"), "pattern", id=f"hatch-{side}", width=8.0, height=8.0, patternUnits="userSpaceOnUse")
    put(pattern, "rect", width=8.0, height=8.0, fill=PAPER, fill_opacity="0.75")
    put(pattern, "path", d="M0 8L8 0M-2 2L2 -2M6 10L10 6", stroke=INK, stroke_width="1.4")
