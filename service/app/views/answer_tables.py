"""The numbers of an answer as tables of names and values."""

from dataclasses import dataclass
from typing import Final

from service.board.phrase import listed, slope_text
from service.judge.record import Answer
from service.judge.record_side import SideAnswer
from service.language import mark, say
from service.lengths import Units, length_in
from service.show.cut_words import end_text, share_text
from service.show.words import knot_place, runoff_places

_SEEN_WORDS: Final = {
    "closeup": mark("in close-ups"),
    "ink": mark("by an ink test entered by hand"),
    "scribe": mark("by a scribe test entered by hand"),
}

_SAWN_WORDS: Final = {
    "flat": mark("flat-sawn"),
    "rift": mark("rift-sawn"),
    "quarter": mark("quarter-sawn"),
}


@dataclass(frozen=True)
class Row:
    """One line of a table."""

    name: str
    value: str


def sawn_text(sawing: str) -> str:
    """Say how a board was sawn through the rings.

    >>> sawn_text("flat")
    'flat-sawn'
    """
    return say(_SAWN_WORDS[sawing])


def board_rows(answer: Answer, units: Units) -> list[Row]:
    """Write the numbers of the board and the bow."""
    board, rings = answer.board, answer.rings
    sizes = (board.length_mm, board.width_mm, board.thickness_mm)
    bow = length_in(answer.bow_length_mm, units)
    if answer.bow_width_mm is not None:
        bow = say("{length} long, {width} wide", length=bow, width=length_in(answer.bow_width_mm, units))
    rows = [Row(say("Board"), " x ".join(length_in(mm, units) for mm in sizes)), Row(say("Bow"), bow)]
    if board.nominal:
        rows.append(Row(say("Store size"), board.nominal))
    if board.species:
        rows.append(Row(say("Wood"), board.species))
    rows += [
        Row(say("Crack in the {end} (entered by hand)", end=end_text(check.end)), length_in(check.length_mm, units))
        for check in answer.end_checks
    ]
    rows += _section_rows(answer, units)
    fibre_words = answer.combined_slope_reason or say("not known")
    if answer.combined_slope is not None:
        seen = [say(_SEEN_WORDS[source]) for source in answer.combined_slope.spiral_from]
        fibre_words = say("yes, {how}", how=listed(seen)) if seen else say("no, only the lines that rings make")
    rows.append(Row(say("Fibre itself seen"), fibre_words))
    ring_words = answer.rings_reason or say("not known")
    if rings is not None:
        tilt = {"tilt": f"{rings.tilt_deg:.0f}°", "error": f"{rings.error_deg:.0f}°"}
        ring_words = say("{sawn}, {tilt} ± {error} to face 1", sawn=sawn_text(rings.sawing), **tilt)
    rows.append(Row(say("Rings"), ring_words))
    return rows + _strength_rows(answer, units)


def _section_rows(answer: Answer, units: Units) -> list[Row]:
    section = answer.section
    if section is None:
        return []
    rows = []
    if section.worst_slope is not None:
        place = length_in(section.worst_position_mm or 0.0, units)
        rows.append(Row(say("Steepest in the section"), slope_at(section.worst_slope, place)))
    used = say(
        "{measured} as measured, {most} at the far end of the error",
        measured=f"{section.limit_used:.0%}",
        most=f"{section.limit_used_upper:.0%}",
    )
    return [*rows, Row(say("Share of a limit used there"), used)]


def slope_at(slope: float, place: str) -> str:
    """Write how steep the grain is at a place.

    >>> slope_at(0.05, "36 in")
    '1 in 20 (2.9 deg), at 36 in'
    """
    return say("{slope}, at {place}", slope=slope_text(slope), place=place)


def _strength_rows(answer: Answer, units: Units) -> list[Row]:
    strength, margin = answer.strength, answer.margin
    if strength is None:
        rows = [Row(say("Strength left at the worst slope"), answer.strength_reason or say("not known"))]
    else:
        kinds = {
            say("Strength left in bending"): strength.bending,
            say("Strength left in tension"): strength.tension,
            say("Strength left under a blow"): strength.impact,
        }
        rows = [Row(kind, share_text(left.low, left.high)) for kind, left in kinds.items()]
    if margin is None:
        return [*rows, Row(say("Least to spare"), answer.margin_reason or say("not known"))]
    words = say(
        "{share} of strength for each part of the peak strain, at {place}",
        share=f"{margin.least:.2f}",
        place=length_in(margin.least_position_mm, units),
    )
    return [*rows, Row(say("Least to spare"), words)]


def stretch_text(from_mm: float, to_mm: float, units: Units) -> str:
    """Write where a stretch begins and ends.

    >>> stretch_text(254.0, 508.0, "in")
    '10 in to 20 in'
    """
    return say("{start} to {end}", start=length_in(from_mm, units), end=length_in(to_mm, units))


def side_rows(side: SideAnswer, units: Units) -> list[Row]:
    """Write the numbers of one side."""
    knots = [knot_place(knot, stretch_text(knot.from_mm, knot.to_mm, units)) for knot in side.knots]
    if side.status != "read":
        unread = Row(say("Read"), side.status_reason.text if side.status_reason else say("no"))
        return [unread, Row(say("Knots"), "; ".join(knots))] if knots else [unread]
    rows = [Row(say("Read"), say("yes"))]
    if side.slope_one_in is not None:
        one_in, place = side.slope_one_in.one_in, length_in(side.slope_one_in.position_mm, units)
        rows.append(Row(say("Steepest"), slope_at(1 / one_in if one_in else 0.0, place)))
    errors = [error for error in side.angle_error_deg if error is not None]
    if errors:
        rows.append(Row(say("Error of the angle"), say("± {error} at most", error=f"{max(errors):.1f}°")))
    rows.append(Row(say("Grain lines that leave it"), runoff_places(side.runoffs, units) or say("none")))
    rows.append(Row(say("Knots"), "; ".join(knots) or say("none")))
    for photo in side.photos:
        rows.append(Row(photo.file, " ".join(photo.problems) or say("used")))
    return rows
