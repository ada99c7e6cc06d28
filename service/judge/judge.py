"""From the reading of a board to the whole answer."""

import math
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from service.board.phrase import length_text
from service.board.types import BoardReading
from service.errors import BadInput
from service.judge.alternatives import Stock, chosen_section, other_sections, two_sections
from service.judge.back_warnings import rings_cut
from service.judge.crooked import crook_note
from service.judge.doubts import borderline_reasons, mirrored, retake_reasons
from service.judge.facing import choose_back
from service.judge.figure import figure_notes
from service.judge.instead import longest_section, narrow_section
from service.judge.leaving import runoffs_in_bow
from service.judge.limits import DEFAULT, Limits, limit_cautions, limits_told
from service.judge.margin import margin_of
from service.judge.reasons import fail_reasons, pass_reason, steepest_of, too_short_reason
from service.judge.record import Answer, Back, Board, EndCheck, Question, Rings, Section
from service.judge.record_side import Reason, Side
from service.judge.score import BORDERLINE, FAIL, PASS, RETAKE, VERDICTS, Choice, Weighed, choose, score_parts
from service.judge.section import usable_mm
from service.judge.shape import BowShape
from service.judge.side_answer import combined_slope, side_answer
from service.judge.strength import strength_left
from service.judge.turning import turning_notes
from service.language import mark, say
from service.sides import SIDES

# A bow this little longer than the board is a matter of how the two were measured.
SAW_KERF_MM = 0.5

CAUTIONS = (
    mark("This answer is an aid to judgement, not a promise. Look along the board yourself before you buy or cut it."),
    mark(
        "A bow can break when it is drawn and hurt whoever stands near. Wear eye protection, bend it little by little "
        "and never draw past what it was tillered for."
    ),
    mark(
        "Cutting tools, wood dust and glue hurt hands, eyes and lungs: guard the blades, keep the dust out of the air "
        "you breathe, follow the glue's label."
    ),
    mark(
        "What an experienced bowyer says with the board in hand, the rules of the shooting range and local law come "
        "before anything said here."
    ),
)


@dataclass
class _Case:
    """What has been found out about the wanted length."""

    verdict: int
    reasons: list[Reason]
    stock: Stock
    questions: list[Question] = field(default_factory=list)
    weighed: Weighed | None = None
    choice: Choice | None = None
    shape: BowShape | None = None
    back: Back | None = None
    back_reason: str | None = None


def judge(
    reading: BoardReading,
    bow_length_mm: float,
    limits: Limits = DEFAULT,
    nominal: str | None = None,
    species: str | None = None,
    *,
    bow_width_mm: float | None = None,
) -> Answer:
    """Judge whether a bow can come out of a board, which stretch of it, and which way round.

    Parameters
    ----------
    reading
        The four sides on one grid of positions.
    bow_length_mm
        Wanted length of the section.
    limits
        What a section must keep to.
    nominal, species
        Store size and wood as the user named them; handed through.
    bow_width_mm
        Width of the bow at its widest, when it may be narrower than the board: it is laid at its best offset and
        slant, and knots beside its outline do not count. None for a bow as wide as the board.

    Raises
    ------
    BadInput
        When a size of the bow or the board is not a finite number above zero, or the bow wider than the board.
    """
    _check(reading, bow_length_mm, bow_width_mm)
    case = _look(reading, bow_length_mm, limits, bow_width_mm)
    notes = [Reason(code=note.code, text=note.text) for note in reading.notes]
    parts = score_parts(case.weighed)
    combined = combined_slope(reading, limits)
    return Answer(
        verdict=VERDICTS[case.verdict],
        score=round(sum(part.points for part in parts), 2),
        score_parts=parts,
        reasons=[*case.reasons, *turning_notes(reading, limits), *figure_notes(reading), *notes],
        board=Board(**asdict(reading.size), nominal=nominal, species=species),
        bow_length_mm=bow_length_mm,
        bow_width_mm=bow_width_mm,
        end_checks=_end_checks(reading),
        limits=limits_told(limits),
        sides={name: side_answer(reading, name, limits) for name in SIDES},
        rings=_rings(reading),
        rings_reason=None if reading.rings else say("The photos do not tell how the rings lie; one of the end would."),
        combined_slope=combined,
        combined_slope_reason=None if combined else say("It takes at least one face and one edge that were read."),
        alternatives=_alternatives(bow_length_mm, case),
        two_bows=two_sections(case.weighed, limits) if case.weighed is not None else [],
        open_questions=case.questions,
        **_bow(reading, limits, case),
        **_strength(limits, case),
    )


_NO_LENGTH = {
    "bow_length": mark("The bow length cannot be {length} mm; give a length above zero."),
    "bow_width": mark("The bow width cannot be {length} mm; give a length above zero."),
    "length": mark("The length cannot be {length} mm; give a length above zero."),
    "width": mark("The width cannot be {length} mm; give a length above zero."),
    "thickness": mark("The thickness cannot be {length} mm; give a length above zero."),
}


def _check(reading: BoardReading, bow_length_mm: float, bow_width_mm: float | None) -> None:
    """Refuse sizes that mean nothing."""
    size = reading.size
    lengths = {
        "bow_length": bow_length_mm,
        "bow_width": size.width_mm if bow_width_mm is None else bow_width_mm,
        "length": size.length_mm,
        "width": size.width_mm,
        "thickness": size.thickness_mm,
    }
    for name, value_mm in lengths.items():
        if not math.isfinite(value_mm) or value_mm <= 0:
            raise BadInput(say(_NO_LENGTH[name], length=value_mm), name)
    if bow_width_mm is not None and bow_width_mm > size.width_mm + SAW_KERF_MM:
        text = say(
            "A bow {bow} wide cannot come out of a board {board} wide: give the bow's width at its widest, or leave it "
            "empty.",
            bow=length_text(bow_width_mm),
            board=length_text(size.width_mm),
        )
        raise BadInput(text, "bow_width")


def _look(reading: BoardReading, bow_length_mm: float, limits: Limits, bow_width_mm: float | None) -> _Case:
    """Weigh the wanted length and find its verdict."""
    stock = Stock(reading, limits, bow_width_mm)
    first_mm, last_mm = usable_mm(reading, limits)
    if bow_length_mm > last_mm - first_mm + SAW_KERF_MM:
        return _Case(FAIL, [too_short_reason(reading, bow_length_mm, last_mm - first_mm)], stock)
    weighed = stock.weigh(min(bow_length_mm, reading.size.length_mm))
    choice = choose(weighed, limits)
    case = _Case(choice.verdict, [], stock, weighed=weighed, choice=choice)
    if choice.verdict >= BORDERLINE:
        width_mm = reading.size.width_mm if bow_width_mm is None else bow_width_mm
        case.shape = BowShape(weighed.search.slopes.lattice.section_mm, width_mm)
        case.back, case.back_reason, row = choose_back(reading, weighed, choice, case.shape, limits)
        case.choice = choice = replace(choice, back_row=row)
    if choice.verdict == PASS:
        taken = [reason for reason, _ in mirrored(reading, weighed.search, choice)]
        case.reasons = [pass_reason(weighed.search, choice, limits), *taken]
    elif choice.verdict == BORDERLINE:
        case.reasons, case.questions = borderline_reasons(reading, weighed.search, choice, limits)
    elif choice.verdict == RETAKE:
        case.reasons, case.questions = retake_reasons(reading, weighed.search, choice)
    else:
        case.reasons = fail_reasons(reading, weighed, choice, limits)
    if choice.verdict >= BORDERLINE:
        case.reasons += crook_note(weighed.search, choice.start)
    return case


def _end_checks(reading: BoardReading) -> list[EndCheck]:
    """List the cracks at the ends in the record's words."""
    marked_mm, far_mm = reading.end_checks_mm
    ends = (EndCheck(end="marked", length_mm=marked_mm), EndCheck(end="far", length_mm=far_mm))
    return [end for end in ends if end.length_mm > 0]


def _alternatives(bow_length_mm: float, case: _Case) -> list[Section]:
    """List other sections: of the same length when it can be had, a narrower bow's, the longest that does better."""
    told = []
    if case.weighed is not None and case.choice is not None and case.verdict >= BORDERLINE:
        told += other_sections(case.weighed, case.choice, case.stock.limits)
    if case.verdict in (FAIL, BORDERLINE):
        passing_only = case.verdict == BORDERLINE
        others = [longest_section(case.stock, bow_length_mm, passing_only=passing_only)]
        if case.stock.width_mm is None and case.weighed is not None:
            others.insert(0, narrow_section(case.stock, bow_length_mm, case.verdict))
        told += [other for other in others if other is not None]
    return told


def _rings(reading: BoardReading) -> Rings | None:
    """Return the record's words about the rings."""
    rings = reading.rings
    if rings is None:
        return None
    return Rings(
        pith_mm=rings.pith_mm,
        tilt_deg=rings.tilt_deg,
        error_deg=rings.error_deg,
        sources=list(rings.sources),
        sawing=rings.sawing,
    )


def _bow(reading: BoardReading, limits: Limits, case: _Case) -> dict[str, Any]:
    """Return the record's fields about the section, its back and its run-offs, and the cautions."""
    if case.weighed is None or case.choice is None or case.shape is None:
        if case.weighed is None:
            why = say("The bow is longer than the wood there is.")
        elif case.verdict == RETAKE:
            why = say("Take the photos asked for first.")
        else:
            why = say("No section of this length keeps to the limits.")
        return {
            "section": None,
            "section_reason": why,
            "back": None,
            "back_reason": why,
            "runoffs_in_bow": None,
            "runoffs_in_bow_reason": why,
            "margin": None,
            "margin_reason": why,
            "cautions": [*limit_cautions(limits), *map(say, CAUTIONS)],
        }
    found, choice = case.weighed.search, case.choice
    face: Side = "face_1" if choice.back_row == 0 else "face_2"
    ring = rings_cut(reading, found, choice.start, face, limits)
    return {
        "section": chosen_section(case.weighed, choice, limits),
        "back": case.back,
        "back_reason": case.back_reason,
        "runoffs_in_bow": runoffs_in_bow(reading, found, choice.start, case.shape, face) if case.back else None,
        "runoffs_in_bow_reason": case.back_reason,
        "margin": margin_of(found, choice, case.shape, face),
        "cautions": [*([ring.text] if ring else []), *limit_cautions(limits), *map(say, CAUTIONS)],
    }


def _strength(limits: Limits, case: _Case) -> dict[str, Any]:
    """Return the record's fields about strength: of the section, or of the least bad one."""
    if case.weighed is None or case.choice is None or case.verdict == RETAKE:
        return {"strength": None, "strength_reason": say("There is no section whose slope is known.")}
    places = steepest_of(case.weighed.search, case.choice, limits)
    return {"strength": strength_left(max(place.slope for place in places.values()))}
