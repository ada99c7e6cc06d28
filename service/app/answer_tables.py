"""The numbers of an answer as tables of names and values."""

from dataclasses import dataclass
from typing import Final

from service.board.phrase import slope_text
from service.judge.record import Answer
from service.judge.record_side import SideAnswer
from service.show.cut_words import END_WORDS, share_text
from service.show.units import length_in
from service.show.words import hand_text, runoff_places
from service.sizes import Units

_SEEN_WORDS: Final = {
    "closeup": "in close-ups",
    "ink": "by an ink test entered by hand",
    "scribe": "by a scribe test entered by hand",
}


@dataclass(frozen=True)
class Row:
    """One line of a table."""

    name: str
    value: str


def board_rows(answer: Answer, units: Units) -> list[Row]:
    """Write the numbers of the board and the bow."""
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


def side_rows(side: SideAnswer, units: Units) -> list[Row]:
    """Write the numbers of one side."""
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
