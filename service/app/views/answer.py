"""What an answer or a problem shows on its page, as plain values; the templates only lay it out."""

import base64
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final
from urllib.parse import urlencode

import numpy as np

from service.app.views.answer_tables import Row, board_rows, side_rows
from service.board.phrase import listed, side_title
from service.judge.purposes import PURPOSES, TOLERANCES
from service.judge.record import Answer, ScorePart, Section
from service.judge.record_side import Side
from service.language import say
from service.lengths import Units, length_in
from service.reading import Outcome
from service.show.cut_words import from_to, further_sections, limb_line, place_lines, two_bows_lines
from service.show.limit_words import changed_limits, changed_line, limit_name, limit_text
from service.show.margin_picture import TITLE, margin_words
from service.show.section_marks import bow_outline
from service.show.why import why_code, why_part, why_verdict
from service.show.words import leaving_lines, other_text, strength_lines, verdict_sentence, verdict_word
from service.show.worst_place import PLACE, worst_place, worst_words
from service.sides import SIDES

_OUTLINE_POINTS: Final = 70
"""Points along a drawn bow, about an inch apart."""


@dataclass(frozen=True)
class ProblemPage:
    """What is wrong, when there is no form to show it on, and where to go on."""

    heading: str
    text: str
    href: str = "/"
    words: str = field(default_factory=lambda: say("Go to your boards"))


@dataclass(frozen=True)
class Piece:
    """A bow on the drawn board: where the saw cuts off its ends, and the points of its outline."""

    start: float
    end: float
    points: str


@dataclass(frozen=True)
class Plan:
    """The bows to cut on a board drawn a thousand units long, and the same in words."""

    pieces: Sequence[Piece]
    words: str


@dataclass(frozen=True)
class Picture:
    """A picture, and where it leads when it is touched; nowhere when `href` is empty."""

    name: str
    words: str
    alt: str
    uri: str
    href: str = ""


@dataclass(frozen=True)
class SideTable:
    """The numbers of one side."""

    words: str
    rows: Sequence[Row]


@dataclass(frozen=True)
class LimitRow:
    """One limit: its value, the usual one when it was changed, and why it is so."""

    name: str
    value: str
    usual: str
    reason: str
    source: str


@dataclass(frozen=True)
class Around:
    """What stands around an answer.

    Attributes
    ----------
    href, words
        Where to go on; none when `href` is empty.
    name
        What the board is called; empty when nothing is kept of it.
    stale
        Whether something was changed since the answer was made.
    shared
        Whether somebody else than its owner looks at it.
    sides_at
        Address of the sides' own pages, to which a side's name is added; empty when they have none.
    """

    href: str = ""
    words: str = ""
    name: str = ""
    stale: bool = False
    shared: bool = False
    sides_at: str = ""


@dataclass(frozen=True)
class AnswerPage:
    """The answer."""

    answer: Answer
    units: Units
    word: str
    sentence: str
    changed: str
    plan: Plan | None
    place: Sequence[str]
    others: Sequence[Section]
    two_plan: Plan | None
    two_words: Sequence[str]
    limb: str
    leaving: Sequence[str]
    margin: Picture | None
    left: Sequence[str]
    pictures: Sequence[Picture]
    worst: Picture | None
    meant: Sequence[str]
    limits: Sequence[LimitRow]
    board_rows: Sequence[Row]
    point_rows: Sequence[Row]
    side_tables: Sequence[SideTable]
    around: Around

    def length(self, length_mm: float) -> str:
        """Write a length in the units that were chosen."""
        return length_in(length_mm, self.units)

    @property
    def lines_off(self) -> str:
        """How many of the nine grain lines leave the back and the belly; empty when that is not known."""
        runoffs = self.answer.runoffs_in_bow
        if runoffs is None:
            return ""
        return say(
            "{back} of 9 over the back, {belly} of 9 over the belly", back=len(runoffs.back), belly=len(runoffs.belly)
        )

    def why(self, code: str) -> str:
        """Explain a reason, a warning or a question."""
        return why_code(code)

    def why_part(self, part: str) -> str:
        """Explain how a part of the answer was found."""
        return why_part(part)

    def why_verdict(self) -> str:
        """Explain how the verdict comes about."""
        return why_verdict(self.answer.verdict)

    def other(self, section: Section) -> str:
        """Write what there is to know of another stretch."""
        return other_text(section, self.units)


def worst_side(answer: Answer, pictures: Iterable[str]) -> str | None:
    """Name the side to show first: the one whose grain runs steepest; None without a picture of a side."""
    sides = [side for side in SIDES if side in pictures]

    def one_in(side: str) -> float:
        steepest = answer.sides[side].slope_one_in if side in answer.sides else None
        return (steepest.one_in if steepest else None) or math.inf

    return min(sides, key=one_in) if sides else None


def once_page(outcome: Outcome, typed: Mapping[str, str], units: Units) -> AnswerPage:
    """Show an answer of which nothing is kept: its pictures stand in the page, its sizes in the way back."""
    kept = {name: text for name, text in typed.items() if text and not name.startswith("corners_")}
    shown = {**outcome.pictures, **{name: text for name, text in outcome.looks.items() if name == PLACE}}
    pictures = {name: _address(drawing) for name, drawing in shown.items()}
    around = Around(f"/once?{urlencode(kept)}", say("Change photos or sizes"))
    return answer_page(outcome.answer, pictures, units, around)


def answer_page(answer: Answer, pictures: Mapping[str, str], units: Units, around: Around) -> AnswerPage:
    """Show an answer in the units that were chosen, with the addresses of its pictures by name."""
    sides = [side for side in SIDES if side in pictures]
    best = answer.section or next(iter(answer.alternatives), None)
    return AnswerPage(
        answer=answer,
        units=units,
        word=verdict_word(answer.verdict),
        sentence=verdict_sentence(answer, units),
        changed=changed_line(answer, units),
        plan=_plan(answer, [best], units) if best else None,
        place=place_lines(answer, units),
        others=further_sections(answer),
        two_plan=_plan(answer, answer.two_bows, units) if answer.two_bows else None,
        two_words=two_bows_lines(answer, units),
        limb=limb_line(answer.back) if answer.back else "",
        leaving=_leaving(answer, units),
        margin=_margin(answer, pictures, units),
        left=_left(answer),
        pictures=[_side_picture(side, pictures[side], around) for side in sides],
        worst=worst_shown(answer, pictures, units, around.sides_at),
        meant=_meant(answer),
        limits=_limit_rows(answer, units),
        board_rows=board_rows(answer, units),
        point_rows=[_point_row(part) for part in answer.score_parts],
        side_tables=[SideTable(side_title(side), side_rows(read, units)) for side, read in answer.sides.items()],
        around=around,
    )


def _point_row(part: ScorePart) -> Row:
    return Row(part.name, say("{points} of {out_of}", points=f"{part.points:.0f}", out_of=f"{part.out_of:.0f}"))


def _leaving(answer: Answer, units: Units) -> list[str]:
    """Say which grain lines leave the bow, or why that is not known unless it was said already."""
    reason = answer.runoffs_in_bow_reason
    untold = [reason] if reason and reason not in (answer.back_reason, answer.section_reason) else []
    return leaving_lines(answer, units) or untold


def _plan(answer: Answer, sections: Sequence[Section], units: Units) -> Plan:
    """Lay out bows on the board, as the first one's back faces the viewer."""
    places = [from_to(one, units) for one in sections]
    pieces = [_piece(answer, section, sections[0].back_face) for section in sections]
    return Plan(pieces, say("The board from its marked end. Cut out {places}.", places=listed(places)))


def _piece(answer: Answer, section: Section, seen: Side) -> Piece:
    """Draw one bow's outline: the board is 998 units long and 70 high, one and forty units in."""
    board = answer.board
    at_mm = np.linspace(section.start_mm, section.end_mm, _OUTLINE_POINTS)
    lower_mm, upper_mm = bow_outline(answer, section, seen, at_mm)
    along = 1 + 998 * at_mm / board.length_mm
    above, below = (40 + 70 * (1 - edge_mm / board.width_mm) for edge_mm in (upper_mm, lower_mm))
    around = [*zip(along, above, strict=True), *reversed(list(zip(along, below, strict=True)))]
    points = " ".join(f"{across:.1f},{down:.1f}" for across, down in around)
    return Piece(round(float(along[0]), 1), round(float(along[-1]), 1), points)


def worst_shown(answer: Answer, pictures: Mapping[str, str], units: Units, sides_at: str) -> Picture | None:
    """Show the place that decides, which leads to that side from close; None where no picture of it was kept."""
    place = worst_place(answer, pictures)
    if place is None or PLACE not in pictures:
        return None
    words = worst_words(place, units)
    href = f"{sides_at}/{place.side}?at={place.position_mm:.1f}+mm" if sides_at else ""
    return Picture(PLACE, words, words, pictures[PLACE], href)


def _side_picture(side: str, address: str, around: Around) -> Picture:
    words = side_title(side)
    alt = say("{side} with its grain lines, and where they leave it; the numbers stand in the table below.", side=words)
    return Picture(side, words, alt, address, f"{around.sides_at}/{side}" if around.sides_at else "")


def _margin(answer: Answer, pictures: Mapping[str, str], units: Units) -> Picture | None:
    if answer.margin is None or "margin" not in pictures:
        return None
    return Picture("margin", say(TITLE), margin_words(answer.margin, units), pictures["margin"])


def _address(drawing: str) -> str:
    """Make a picture stand by itself: its own styles and names cannot meet the page's."""
    return f"data:image/svg+xml;base64,{base64.b64encode(drawing.encode()).decode()}"


def _left(answer: Answer) -> list[str]:
    """Say what strength is left, or why that is not known unless it was said already."""
    margin = [answer.margin.text] if answer.margin is not None else []
    told = [*margin, *strength_lines(answer)]
    reasons = (answer.margin_reason, answer.strength_reason)
    said = (answer.section_reason, answer.back_reason)
    return told or list(dict.fromkeys(reason for reason in reasons if reason and reason not in said))


def _meant(answer: Answer) -> list[str]:
    """Say what the limits are for, and how strictly they are taken."""
    purpose, tolerance = PURPOSES.get(answer.limits.purpose), TOLERANCES.get(answer.limits.tolerance)
    told = [say("{purpose}. {reason}", purpose=say(purpose.words), reason=say(purpose.reason))] if purpose else []
    if tolerance is None:
        return told
    caution = say(tolerance.caution) if tolerance.caution else ""
    return [*told, f"{say(tolerance.reason)} {caution}".rstrip()]


def _limit_rows(answer: Answer, units: Units) -> list[LimitRow]:
    return [
        LimitRow(
            limit_name(limit),
            limit_text(limit.value, limit.unit, units),
            limit_text(limit.default, limit.unit, units) if limit in changed_limits(answer) else "",
            limit.reason,
            limit.source,
        )
        for limit in answer.limits.items
    ]
