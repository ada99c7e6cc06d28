"""The bow drawn over a row of a side: its outline, the wood that is cut away, where it begins and ends."""

from typing import Final
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from service.judge.record import Answer, Section
from service.judge.record_side import Side
from service.judge.shape import BowShape
from service.language import say
from service.lengths import Units, length_in
from service.show.marks import INK, PAPER, put, put_text
from service.show.rows import MARGIN, Row
from service.sides import FACES

Float = NDArray[np.float64]

LABEL_ROOM: Final = 150.0
AWAY_ROOM: Final = 60.0
STEP_MM: Final = 25.0
"""Distance between the points of the outline, which bends only where the taper begins."""


def bow_outline(answer: Answer, section: Section, side: Side, at_mm: Float) -> tuple[Float, Float]:
    """Return where the bow's two long sides lie on a side of the board.

    Parameters
    ----------
    answer
        The answer: the board and the side's own crook.
    section
        The section the bow is cut from.
    side
        A face shows the bow's outline, and the face opposite the back shows it mirrored; an edge shows its full height.
    at_mm
        Shape (n,): positions inside the section, from the marked end.

    Returns
    -------
    lower_mm, upper_mm
        Shape (n,): above the side's lower long corner, inside the side.
    """
    board = answer.board
    if side not in FACES:
        return np.zeros(at_mm.shape), np.full(at_mm.shape, board.thickness_mm)
    sign = 1.0 if side == section.back_face else -1.0
    ends_mm = np.array([section.start_mm, section.end_mm])
    centre_mm = sign * np.interp(at_mm, ends_mm, [section.offset_start_mm, section.offset_end_mm])
    # The straightened photo follows the board's mid-line; a straight bow in a crooked board bends against it.
    read = answer.sides[side]
    crook = [(place, bend) for place, bend in zip(read.positions_mm, read.crook_mm, strict=False) if bend is not None]
    if crook:
        places_mm, bends_mm = np.array(crook).T
        centre_mm += np.interp(at_mm, ends_mm, np.interp(ends_mm, places_mm, bends_mm))
        centre_mm -= np.interp(at_mm, places_mm, bends_mm)
    shape = BowShape(section.end_mm - section.start_mm, min(section.width_mm, board.width_mm))
    half_mm = 0.5 * shape.width_at(at_mm - section.start_mm)
    middle_mm = 0.5 * board.width_mm + centre_mm
    return np.clip(middle_mm - half_mm, 0.0, board.width_mm), np.clip(middle_mm + half_mm, 0.0, board.width_mm)


def put_section(parent: Element, row: Row, side: Side, answer: Answer, units: Units) -> None:
    """Outline the bow, dim the wood that is cut away, and write where it begins and ends."""
    section = answer.section
    if section is None:
        return
    for from_mm, to_mm in ((0.0, section.start_mm), (section.end_mm, answer.board.length_mm)):
        _put_away(parent, row, row.cut(from_mm, to_mm))
    kept = row.cut(section.start_mm, section.end_mm)
    if kept is not None:
        at_mm = np.linspace(*kept, max(2, round((kept[1] - kept[0]) / STEP_MM)))
        lower_mm, upper_mm = bow_outline(answer, section, side, at_mm)
        _put_outline(parent, row, at_mm, lower_mm, upper_mm, (section.start_mm, section.end_mm))
    for starts, place_mm in ((True, section.start_mm), (False, section.end_mm)):
        if row.holds(place_mm) or place_mm == row.to_mm == answer.board.length_mm:
            _put_end(parent, row, starts, place_mm, units)


def _put_away(parent: Element, row: Row, away: tuple[float, float] | None) -> None:
    """Dim what is sawn off at one end, with its word where there is room."""
    if away is None or away[1] - away[0] <= 1.0:
        return
    width = (away[1] - away[0]) * row.scale
    box = put(parent, "rect", x=row.along(away[0]), y=row.top, width=width, height=row.height, class_="away")
    box.attrib.update({"fill": PAPER, "fill-opacity": "0.72"})
    if width > AWAY_ROOM:
        put_text(parent, say("cut away"), row.along(away[0]) + 4, row.top + 0.5 * row.height + 4)


def _put_outline(
    parent: Element, row: Row, at_mm: Float, lower_mm: Float, upper_mm: Float, ends_mm: tuple[float, float]
) -> None:
    """Draw the bow's long sides and its ends, and dim the wood beside it."""
    above = [f"{row.along(at):.1f} {row.down(up):.1f}" for at, up in zip(at_mm, upper_mm, strict=True)]
    below = [f"{row.along(at):.1f} {row.down(low):.1f}" for at, low in zip(at_mm, lower_mm, strict=True)]
    around = f"M{'L'.join([*above, *reversed(below)])}z"
    left, right, bottom = row.along(at_mm[0]), row.along(at_mm[-1]), row.top + row.height
    whole = f"M{left:.1f} {row.top:.1f}H{right:.1f}V{bottom:.1f}H{left:.1f}z"
    put(parent, "path", d=whole + around, fill=PAPER, fill_opacity="0.72", fill_rule="evenodd", class_="beside")
    line = f"M{'L'.join(above)}M{'L'.join(below)}"
    for at, number in ((ends_mm[0], 0), (ends_mm[1], -1)):
        line += f"M{above[number]}L{below[number]}" if at_mm[number] == at else ""
    put(parent, "path", d=line, fill="none", stroke=INK, stroke_width="2.2", class_="section")


def _put_end(parent: Element, row: Row, starts: bool, place_mm: float, units: Units) -> None:
    """Write where the bow starts or ends, on the side where there is room."""
    across = row.along(place_mm)
    inward, outward = ("start", "end") if starts else ("end", "start")
    room = (row.along(row.to_mm) - across) if inward == "start" else (across - MARGIN)
    anchor = inward if room > LABEL_ROOM else outward
    place = length_in(place_mm, units)
    text = say("bow starts {place}", place=place) if starts else say("bow ends {place}", place=place)
    put_text(
        parent, text, across + (4 if anchor == "start" else -4), row.top + 14, text_anchor=anchor, font_weight="bold"
    )
