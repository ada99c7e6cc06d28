"""The place that decides about a board, in words and as a small picture to tell boards apart by."""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final, Literal
from xml.etree.ElementTree import Element, tostring

import cv2
import numpy as np
from numpy.typing import NDArray

from service.board.phrase import one_in_text, side_text
from service.judge.record import Answer
from service.judge.record_side import Side, SideAnswer
from service.language import say
from service.lengths import Units, length_in
from service.photo.types import Strip
from service.show.marks import ALARM, GRAIN, INK, PAPER, grey_of, jpeg_address, put
from service.sides import EDGES, SIDES, BoardSize

PLACE: Final = "place"
"""Name of the picture of that place."""

WIDTH: Final = 160.0
HEIGHT: Final = 80.0
PIXELS: Final = 2
"""Pixels of the photo for each unit of the picture, as many as phones show."""

MOST_BYTES: Final = 6000
QUALITIES: Final = (70, 50, 35)
SHARES: Final = (1.0, 0.7, 0.5)
"""Of its pixels along and across, when a rough photo is too large at every quality."""

ROOM: Final = 7.0
"""Above and below the side, so that its long corners are seen."""

STRAIGHT: Final = 0.001
"""Below this no photo shows a slope."""

NEAR_MM: Final = 38.1
"""Half the 3 in over which the limits average the slope."""

Grey = NDArray[np.uint8]
Kind = Literal["grain", "knot", "unread"]

KINDS: Final[dict[str, Kind]] = {
    "knot": "knot",
    "unread": "unread",
    "slope": "grain",
    "slope_unsure": "grain",
    "close_to_limit": "grain",
    "within_limits": "grain",
}
"""What lies at the place that a reason names, by the reason's code; other reasons name no place that decides."""


@dataclass(frozen=True)
class WorstPlace:
    """The place that decides.

    Attributes
    ----------
    side, position_mm
        Where.
    kind
        What is there.
    slope
        The grain's slope on that side, rise over length with its sign; None where it was not read.
    """

    side: Side
    position_mm: float
    kind: Kind
    slope: float | None


def worst_place(answer: Answer, shown: Collection[str]) -> WorstPlace | None:
    """Find the place that decides: where the first reason lies, else where section or board is steepest.

    Parameters
    ----------
    answer
        The answer.
    shown
        Names of the sides of which there is a photo.

    Returns
    -------
    WorstPlace or None
        Of a slope, which counts face and edge together, the side on which the grain itself is steepest there; None
        when no side is shown, and when photos have to be taken again for another reason than wood left unread.
    """
    sides: list[Side] = [side for side in SIDES if side in shown and side in answer.sides]
    for reason in answer.reasons:
        if reason.code not in KINDS or reason.position_mm is None or reason.side not in sides:
            continue
        kind = KINDS[reason.code]
        if kind == "grain":
            return _steepest_at(answer, [side for side in sides if side in (reason.side, *EDGES)], reason.position_mm)
        middle_mm = reason.position_mm + 0.5 * (reason.length_mm or 0.0)
        return WorstPlace(reason.side, middle_mm, kind, slope_near(answer.sides[reason.side], middle_mm))
    if answer.verdict == "retake":
        return None
    if answer.section is not None and answer.section.worst_position_mm is not None:
        return _steepest_at(answer, sides, answer.section.worst_position_mm)
    places = [
        _steepest_at(answer, [side], told.position_mm) for side in sides if (told := answer.sides[side].slope_one_in)
    ]
    return max((place for place in places if place), key=_steepness, default=None)


def _steepest_at(answer: Answer, sides: Sequence[Side], position_mm: float) -> WorstPlace | None:
    """Choose the side whose own grain is steepest near a position."""
    places = [WorstPlace(side, position_mm, "grain", slope_near(answer.sides[side], position_mm)) for side in sides]
    best = max(places, key=_steepness, default=None)
    return replace(best, kind="unread") if best is not None and best.slope is None else best


def _steepness(place: WorstPlace) -> float:
    return -1.0 if place.slope is None else abs(place.slope)


def slope_near(side: SideAnswer, position_mm: float) -> float | None:
    """Return a side's mean slope in the three inches around a position; None where nothing of them was read.

    >>> side = SideAnswer(status="read", positions_mm=[0.0, 25.0, 500.0], angle_deg=[45.0, None, 10.0])
    >>> slope_near(side, 20.0), slope_near(side, 250.0)
    (1.0, None)
    """
    near = [
        math.tan(math.radians(angle_deg))
        for at_mm, angle_deg in zip(side.positions_mm, side.angle_deg, strict=True)
        if angle_deg is not None and abs(at_mm - position_mm) <= NEAR_MM
    ]
    return round(sum(near) / len(near), 9) if near else None


def worst_words(place: WorstPlace, units: Units) -> str:
    """Say what the picture of that place shows.

    >>> worst_words(WorstPlace("face_2", 787.4, "grain", -1 / 12), "in")
    'Grain 1 in 12 on face 2 at 31 in'
    """
    told = {"side": side_text(place.side), "place": length_in(place.position_mm, units)}
    if place.kind == "knot":
        return say("Knot on {side} at {place}", **told)
    if place.kind == "unread" or place.slope is None:
        return say("Not read on {side} at {place}", **told)
    if abs(place.slope) < STRAIGHT:
        return say("Straight grain on {side} at {place}", **told)
    return say("Grain {slope} on {side} at {place}", slope=one_in_text(place.slope), **told)


def worst_picture(strips: Sequence[Strip], place: WorstPlace, answer: Answer) -> str | None:
    """Draw the piece of a side around a place, true to scale: its long corners and its grain line through the middle.

    Parameters
    ----------
    strips
        The side straightened: one strip of each of its photos.
    place, answer
        The place, and the answer it comes from.

    Returns
    -------
    str or None
        An SVG document, twice as wide as high, of at most `MOST_BYTES`; None when no photo shows the place.
    """
    board = answer.board
    across_mm = BoardSize(board.length_mm, board.width_mm, board.thickness_mm).across_mm(place.side)
    scale = (HEIGHT - 2 * ROOM) / across_mm
    half_mm = 0.5 * WIDTH / scale
    from_mm = place.position_mm - half_mm
    pieces = [piece for strip in strips if (piece := _piece(strip, from_mm, from_mm + 2 * half_mm, scale))]
    if not pieces:
        return None
    drawing = ""
    for share, quality in product(SHARES, QUALITIES):
        smaller = [(begin, width, _made_smaller(grey, share)) for begin, width, grey in pieces]
        drawing = _draw(smaller, place, answer, scale, quality)
        if len(drawing) <= MOST_BYTES:
            break
    return drawing


def _made_smaller(grey: Grey, share: float) -> Grey:
    if share == 1.0:
        return grey
    small: Grey = cv2.resize(grey, None, fx=share, fy=share, interpolation=cv2.INTER_AREA).astype(np.uint8)
    return small


def _piece(strip: Strip, from_mm: float, to_mm: float, scale: float) -> tuple[float, float, Grey] | None:
    """Cut out what a strip shows of a stretch: where it begins in the picture, how wide it is, and its pixels."""
    first, last = (round((at - strip.from_mm) / strip.mm_per_px) for at in (from_mm, to_mm))
    first, last = max(first, 0), min(last, strip.image.shape[1])
    if last - first < 2:
        return None
    width = (last - first) * strip.mm_per_px * scale
    begin = (strip.from_mm + first * strip.mm_per_px - from_mm) * scale
    columns, rows = max(1, round(PIXELS * width)), round(PIXELS * (HEIGHT - 2 * ROOM))
    return begin, width, grey_of(strip.image[:, first:last], columns, rows)


def _draw(
    pieces: Sequence[tuple[float, float, Grey]], place: WorstPlace, answer: Answer, scale: float, quality: int
) -> str:
    box = f"0 0 {WIDTH:.0f} {HEIGHT:.0f}"
    svg = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": box})
    put(svg, "rect", x=0.0, y=0.0, width=WIDTH, height=HEIGHT, fill=PAPER)
    bottom = HEIGHT - ROOM
    for begin, width, grey in pieces:
        size = {"x": begin, "y": ROOM, "width": width, "height": bottom - ROOM}
        put(svg, "image", None, **size, preserveAspectRatio="none", href=jpeg_address(grey, quality))
    left, right = min(piece[0] for piece in pieces), max(piece[0] + piece[1] for piece in pieces)
    put(svg, "path", d=f"M{left:.1f} {ROOM}H{right:.1f}M{left:.1f} {bottom}H{right:.1f}", stroke=INK, stroke_width="2")
    if place.kind == "knot":
        _put_knots(svg, place, answer.sides[place.side], scale)
    elif place.slope is not None:
        run = 0.5 * WIDTH
        if place.slope:
            run = min(run, (0.5 * HEIGHT - ROOM) / abs(place.slope))
        rise, middle = run * place.slope, 0.5 * HEIGHT
        line = f"M{0.5 * WIDTH - run:.1f} {middle + rise:.1f}L{0.5 * WIDTH + run:.1f} {middle - rise:.1f}"
        put(svg, "path", d=line, stroke=PAPER, stroke_width="6", stroke_opacity="0.8")
        put(svg, "path", d=line, stroke=GRAIN, stroke_width="3", class_="grain")
    return tostring(svg, encoding="unicode")


def _put_knots(svg: Element, place: WorstPlace, side: SideAnswer, scale: float) -> None:
    """Box the knots in view."""
    across_mm = (HEIGHT - 2 * ROOM) / scale
    for knot in side.knots:
        left = 0.5 * WIDTH + (knot.from_mm - place.position_mm) * scale
        top = ROOM + (across_mm - knot.across_to_mm) * scale
        width, height = (knot.to_mm - knot.from_mm) * scale, (knot.across_to_mm - knot.across_from_mm) * scale
        box = {"x": left, "y": top, "width": width, "height": height}
        put(svg, "rect", None, **box, fill="none", stroke=ALARM, stroke_width="3", class_="knot")
