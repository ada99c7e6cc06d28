"""What an answer or a problem shows on its page, as plain values; the templates only lay it out."""

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

import numpy as np

from service.app.start_view import SIDE_WORDS
from service.board.phrase import slope_text
from service.judge.purposes import PURPOSES, TOLERANCES
from service.judge.record import Answer, Section
from service.judge.record_side import Side, SideAnswer
from service.reading import Outcome
from service.show.cut_words import END_WORDS, further_sections, limb_line, place_lines, share_text, two_bows_lines
from service.show.limit_words import changed_limits, changed_line, limit_name, limit_text
from service.show.margin_picture import TITLE, margin_words
from service.show.section_marks import bow_outline
from service.show.units import length_in
from service.show.words import (
    VERDICT_SENTENCES,
    VERDICT_WORDS,
    hand_text,
    leaving_lines,
    other_text,
    runoff_places,
    strength_lines,
)
from service.sides import SIDES
from service.sizes import Units

_OUTLINE_POINTS: Final = 70
"""Points along a drawn bow, about an inch apart."""

_SEEN_WORDS: Final = {
    "closeup": "in close-ups",
    "ink": "by an ink test entered by hand",
    "scribe": "by a scribe test entered by hand",
}


@dataclass(frozen=True)
class ProblemPage:
    """What is wrong, when there is no form to show it on."""

    heading: str
    text: str


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
    """A picture that can be saved."""

    name: str
    words: str
    alt: str
    uri: str


@dataclass(frozen=True)
class Row:
    """One line of a table."""

    name: str
    value: str


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
    meant: Sequence[str]
    limits: Sequence[LimitRow]
    board_rows: Sequence[Row]
    point_rows: Sequence[Row]
    side_tables: Sequence[SideTable]
    again: str

    def length(self, length_mm: float) -> str:
        """Write a length in the units that were chosen."""
        return length_in(length_mm, self.units)

    def other(self, section: Section) -> str:
        """Write what there is to know of another stretch."""
        return other_text(section, self.units)


def answer_page(outcome: Outcome, typed: Mapping[str, str], units: Units) -> AnswerPage:
    """Show the answer in the units that were chosen."""
    answer = outcome.answer
    sentence = VERDICT_SENTENCES[answer.verdict].format(length=length_in(answer.bow_length_mm, units))
    kept = {name: text for name, text in typed.items() if text and not name.startswith("corners_")}
    best = answer.section or next(iter(answer.alternatives), None)
    return AnswerPage(
        answer=answer,
        units=units,
        word=VERDICT_WORDS[answer.verdict],
        sentence=f"{sentence[0].upper()}{sentence[1:]}",
        changed=changed_line(answer, units),
        plan=_plan(answer, [best], units) if best else None,
        place=place_lines(answer, units),
        others=further_sections(answer),
        two_plan=_plan(answer, answer.two_bows, units) if answer.two_bows else None,
        two_words=two_bows_lines(answer, units),
        limb=limb_line(answer.back) if answer.back else "",
        leaving=_leaving(answer, units),
        margin=_margin(outcome, units),
        left=_left(answer),
        pictures=[_side_picture(side, outcome.pictures[side]) for side in SIDES if side in outcome.pictures],
        meant=_meant(answer),
        limits=_limit_rows(answer, units),
        board_rows=_board_rows(answer, units),
        point_rows=[Row(part.name, f"{part.points:.0f} of {part.out_of:.0f}") for part in answer.score_parts],
        side_tables=[SideTable(SIDE_WORDS[side], _side_rows(read, units)) for side, read in answer.sides.items()],
        again=f"/?{urlencode(kept)}",
    )


def _leaving(answer: Answer, units: Units) -> list[str]:
    """Say which grain lines leave the bow, or why that is not known unless it was said already."""
    reason = answer.runoffs_in_bow_reason
    untold = [reason] if reason and reason not in (answer.back_reason, answer.section_reason) else []
    return leaving_lines(answer, units) or untold


def _plan(answer: Answer, sections: Sequence[Section], units: Units) -> Plan:
    """Lay out bows on the board, as the first one's back faces the viewer."""
    told = [f"{length_in(one.start_mm, units)} to {length_in(one.end_mm, units)}" for one in sections]
    pieces = [_piece(answer, section, sections[0].back_face) for section in sections]
    return Plan(pieces, f"The board from its marked end. Cut out from {' and from '.join(told)}.")


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


def _side_picture(side: str, drawing: str) -> Picture:
    words = SIDE_WORDS[side]
    alt = f"{words} with its grain lines, and where they leave it; the numbers stand in the table below."
    return Picture(side, words, alt, _address(drawing))


def _margin(outcome: Outcome, units: Units) -> Picture | None:
    margin = outcome.answer.margin
    if margin is None or "margin" not in outcome.pictures:
        return None
    return Picture("margin", TITLE, margin_words(margin, units), _address(outcome.pictures["margin"]))


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
    told = [f"{purpose.words}. {purpose.reason}"] if purpose else []
    return [*told, f"{tolerance.reason} {tolerance.caution}".rstrip()] if tolerance else told


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


def _board_rows(answer: Answer, units: Units) -> list[Row]:
    board, rings = answer.board, answer.rings
    width = f", {length_in(answer.bow_width_mm, units)} wide" if answer.bow_width_mm is not None else ""
    rows = [
        Row("Board", " x ".join(length_in(mm, units) for mm in (board.length_mm, board.width_mm, board.thickness_mm))),
        Row("Bow", f"{length_in(answer.bow_length_mm, units)}{' long' if width else ''}{width}"),
    ]
    if board.nominal:
        rows.append(Row("Store size", board.nominal))
    if board.species:
        rows.append(Row("Wood", board.species))
    rows += [
        Row(f"Crack in the {END_WORDS[check.end]} (entered by hand)", length_in(check.length_mm, units))
        for check in answer.end_checks
    ]
    rows += _section_rows(answer, units)
    fibre_words = answer.combined_slope_reason or "not known"
    if answer.combined_slope is not None:
        seen = " and ".join(_SEEN_WORDS[source] for source in answer.combined_slope.spiral_from)
        fibre_words = f"yes, {seen}" if seen else "no, only the lines that rings make"
    rows.append(Row("Fibre itself seen", fibre_words))
    ring_words = f"{rings.sawing}-sawn, {rings.tilt_deg:.0f}° ± {rings.error_deg:.0f}° to face 1" if rings else None
    rows.append(Row("Rings", ring_words or answer.rings_reason or "not known"))
    return rows + _strength_rows(answer, units)


def _section_rows(answer: Answer, units: Units) -> list[Row]:
    section = answer.section
    if section is None:
        return []
    rows = []
    if section.worst_slope is not None:
        place = length_in(section.worst_position_mm or 0.0, units)
        rows.append(Row("Steepest in the section", f"{slope_text(section.worst_slope)}, at {place}"))
    used = f"{section.limit_used:.0%} as measured, {section.limit_used_upper:.0%} at the far end of the error"
    return [*rows, Row("Share of a limit used there", used)]


def _strength_rows(answer: Answer, units: Units) -> list[Row]:
    strength, margin = answer.strength, answer.margin
    if strength is None:
        rows = [Row("Strength left at the worst slope", answer.strength_reason or "not known")]
    else:
        kinds = {"in bending": strength.bending, "in tension": strength.tension, "under a blow": strength.impact}
        rows = [Row(f"Strength left {kind}", share_text(left.low, left.high)) for kind, left in kinds.items()]
    if margin is None:
        return [*rows, Row("Least to spare", answer.margin_reason or "not known")]
    place = length_in(margin.least_position_mm, units)
    words = f"{margin.least:.2f} of strength for each part of the peak strain, at {place}"
    return [*rows, Row("Least to spare", words)]


def _side_rows(side: SideAnswer, units: Units) -> list[Row]:
    knots = [
        f"{length_in(knot.from_mm, units)} to {length_in(knot.to_mm, units)}{hand_text(knot)}" for knot in side.knots
    ]
    if side.status != "read":
        unread = Row("Read", side.status_reason.text if side.status_reason else "no")
        return [unread, Row("Knots", "; ".join(knots))] if knots else [unread]
    rows = [Row("Read", "yes")]
    if side.slope_one_in is not None:
        one_in, place = side.slope_one_in.one_in, length_in(side.slope_one_in.position_mm, units)
        rows.append(Row("Steepest", f"{slope_text(1 / one_in) if one_in else 'straight'}, at {place}"))
    errors = [error for error in side.angle_error_deg if error is not None]
    if errors:
        rows.append(Row("Error of the angle", f"± {max(errors):.1f}° at most"))
    rows.append(Row("Grain lines that leave it", runoff_places(side.runoffs, units) or "none"))
    rows.append(Row("Knots", "; ".join(knots) or "none"))
    for photo in side.photos:
        rows.append(Row(photo.file, " ".join(photo.problems) or "used"))
    return rows
