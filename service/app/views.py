"""What each page shows, as plain values; the templates only lay it out."""

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS
from service.board.entered import METHODS
from service.board.phrase import slope_text
from service.errors import StavesightError
from service.judge.record import Answer, SideAnswer
from service.line_tests import PAGE_PARTS, SIGNS
from service.reading import Outcome
from service.settings import Settings
from service.show.units import length_in
from service.show.words import VERDICT_SENTENCES, VERDICT_WORDS, runoff_line, runoff_places
from service.sides import FACES, SIDES
from service.sizes import STORE_SIZES, StoreSize, Units

SIDE_WORDS: Final = {"face_1": "Face 1", "edge_1": "Edge 1", "face_2": "Face 2", "edge_2": "Edge 2"}

_SIDE_HINTS: Final = {
    "face_1": "A wide side. Choose either, and call it face 1.",
    "edge_1": "The narrow side that the roll brings up.",
    "face_2": "The other wide side.",
    "edge_2": "The other narrow side.",
}

_SEEN_WORDS: Final = {
    "closeup": "in close-ups",
    "ink": "by an ink test entered by hand",
    "scribe": "by a scribe test entered by hand",
}

_HEADINGS: Final = {"busy": "All readers are at work", "unfinished": "The reading stopped"}


@dataclass(frozen=True)
class SizeGroup:
    """Store sizes under one heading of the list."""

    words: str
    sizes: Sequence[StoreSize]


@dataclass(frozen=True)
class SideField:
    """One side's photo field."""

    name: str
    words: str
    hint: str
    wide: bool


@dataclass(frozen=True)
class StartPage:
    """The form, with what was typed before and, when it was refused, why."""

    typed: Mapping[str, str]
    units: Units
    refusal: str | None
    refusal_heading: str
    refused_field: str | None
    photo_bytes: int
    request_bytes: int
    sides: Sequence[SideField]
    test_sides: Sequence[tuple[str, str]]
    test_methods: Sequence[tuple[str, str]]
    test_corners: Sequence[tuple[str, str]]
    store_sizes: Sequence[SizeGroup]
    anchors: frozenset[str]

    @property
    def more_open(self) -> bool:
        """Whether the refused field is one of those folded away."""
        return self.refused_field is not None and self.refused_field.startswith(("close_", "end"))

    @property
    def test_open(self) -> bool:
        """Whether a test was entered; the choice of ink or scribe alone is none."""
        return any(self.typed.get(field) for part, field in PAGE_PARTS.items() if part != "method") or (
            self.refused_field in PAGE_PARTS.values()
        )


def start_page(settings: Settings, typed: Mapping[str, str], refused: StavesightError | None = None) -> StartPage:
    """Show the form."""
    by_thickness = {
        "Softwood sizes, and hardwood sold by them": [size for size in STORE_SIZES.values() if size.width_mm],
        "Hardwood quarters, any width": [size for size in STORE_SIZES.values() if not size.width_mm],
    }
    return StartPage(
        typed=typed,
        units="mm" if typed.get("units") == "mm" else "in",
        refusal=refused.text if refused else None,
        refusal_heading=_HEADINGS.get(refused.code, "Something needs another look") if refused else "",
        refused_field=refused.field if refused else None,
        photo_bytes=settings.photo_bytes,
        request_bytes=settings.request_bytes,
        sides=[SideField(side, SIDE_WORDS[side], _SIDE_HINTS[side], side in FACES) for side in SIDES],
        test_sides=[("", "No test"), *SIDE_WORDS.items()],
        test_methods=[(method, method.capitalize()) for method in METHODS],
        test_corners=[("", "Choose"), *((corner, f"{corner.capitalize()} corner") for corner in SIGNS)],
        store_sizes=[SizeGroup(words, sizes) for words, sizes in by_thickness.items()],
        anchors=frozenset(field.name for field in (*TEXT_FIELDS, *PAGE_FIELDS, *FILE_FIELDS)),
    )


@dataclass(frozen=True)
class ProblemPage:
    """What is wrong, when there is no form to show it on."""

    heading: str
    text: str


@dataclass(frozen=True)
class Plan:
    """The stretch to cut on a board drawn a thousand units long, and the same in words."""

    start: float
    end: float
    words: str


@dataclass(frozen=True)
class Picture:
    """A side's marked picture."""

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
class AnswerPage:
    """The answer."""

    answer: Answer
    units: Units
    word: str
    sentence: str
    plan: Plan | None
    leaving: Sequence[str]
    pictures: Sequence[Picture]
    board_rows: Sequence[Row]
    side_tables: Sequence[SideTable]
    again: str

    def length(self, length_mm: float) -> str:
        """Write a length in the units that were chosen."""
        return length_in(length_mm, self.units)


def answer_page(outcome: Outcome, typed: Mapping[str, str], units: Units) -> AnswerPage:
    """Show the answer in the units that were chosen."""
    answer = outcome.answer
    sentence = VERDICT_SENTENCES[answer.verdict].format(length=length_in(answer.bow_length_mm, units))
    kept = {name: text for name, text in typed.items() if text and not name.startswith("corners_")}
    return AnswerPage(
        answer=answer,
        units=units,
        word=VERDICT_WORDS[answer.verdict],
        sentence=f"{sentence[0].upper()}{sentence[1:]}",
        plan=_plan(answer, units),
        leaving=_leaving(answer, units),
        pictures=[_picture(side, outcome.pictures[side]) for side in SIDES if side in outcome.pictures],
        board_rows=_board_rows(answer, units),
        side_tables=[SideTable(SIDE_WORDS[side], _side_rows(read, units)) for side, read in answer.sides.items()],
        again=f"/?{urlencode(kept)}",
    )


def _leaving(answer: Answer, units: Units) -> list[str]:
    """Say which grain lines leave the bow, or why that is not known unless it was said already."""
    lines = answer.runoffs_in_bow
    if lines is not None:
        return [runoff_line("back", lines.back, units), runoff_line("belly", lines.belly, units)]
    reason = answer.runoffs_in_bow_reason
    return [reason] if reason and reason not in (answer.back_reason, answer.section_reason) else []


def _plan(answer: Answer, units: Units) -> Plan | None:
    """Lay out the section, or without one the best of the other stretches."""
    shown = answer.section or next(iter(answer.alternatives), None)
    if shown is None:
        return None
    start, end = (1 + 998 * place_mm / answer.board.length_mm for place_mm in (shown.start_mm, shown.end_mm))
    begins, ends = length_in(shown.start_mm, units), length_in(shown.end_mm, units)
    words = f"The board from its marked end. Cut out from {begins} to {ends}."
    return Plan(round(start, 1), round(end, 1), words)


def _picture(side: str, drawing: str) -> Picture:
    """Make a picture that stands by itself: its own styles and names cannot meet the page's."""
    data = base64.b64encode(drawing.encode()).decode()
    words = SIDE_WORDS[side]
    alt = f"{words} with its grain lines, and where they leave it; the numbers stand in the table below."
    return Picture(side, words, alt, f"data:image/svg+xml;base64,{data}")


def _board_rows(answer: Answer, units: Units) -> list[Row]:
    board, rings, strength = answer.board, answer.rings, answer.strength
    rows = [
        Row("Board", " x ".join(length_in(mm, units) for mm in (board.length_mm, board.width_mm, board.thickness_mm))),
        Row("Bow", length_in(answer.bow_length_mm, units)),
    ]
    if answer.section is not None and answer.section.worst_slope is not None:
        place = length_in(answer.section.worst_position_mm or 0.0, units)
        rows.append(Row("Steepest in the section", f"{slope_text(answer.section.worst_slope)}, at {place}"))
    if board.nominal:
        rows.append(Row("Store size", board.nominal))
    if board.species:
        rows.append(Row("Wood", board.species))
    rows.extend(
        Row(f"Points for {part.name}", f"{part.points:.0f} of {part.out_of:.0f}") for part in answer.score_parts
    )
    fibre_words = answer.combined_slope_reason or "not known"
    if answer.combined_slope is not None:
        seen = " and ".join(_SEEN_WORDS[source] for source in answer.combined_slope.spiral_from)
        fibre_words = f"yes, {seen}" if seen else "no, only the lines that rings make"
    rows.append(Row("Fibre itself seen", fibre_words))
    ring_words = f"{rings.sawing}-sawn, {rings.tilt_deg:.0f}° ± {rings.error_deg:.0f}° to face 1" if rings else None
    rows.append(Row("Rings", ring_words or answer.rings_reason or "not known"))
    strength_words = f"{strength.tension.low:.0%} to {strength.bending.high:.0%} of straight wood" if strength else None
    rows.append(Row("Strength left at the worst slope", strength_words or answer.strength_reason or "not known"))
    return rows


def _side_rows(side: SideAnswer, units: Units) -> list[Row]:
    if side.status != "read":
        return [Row("Read", side.status_reason.text if side.status_reason else "no")]
    rows = [Row("Read", "yes")]
    if side.slope_one_in is not None:
        one_in, place = side.slope_one_in.one_in, length_in(side.slope_one_in.position_mm, units)
        rows.append(Row("Steepest", f"{slope_text(1 / one_in) if one_in else 'straight'}, at {place}"))
    errors = [error for error in side.angle_error_deg if error is not None]
    if errors:
        rows.append(Row("Error of the angle", f"± {max(errors):.1f}° at most"))
    rows.append(Row("Grain lines that leave it", runoff_places(side.runoffs, units) or "none"))
    knots = [f"{length_in(knot.from_mm, units)} to {length_in(knot.to_mm, units)}" for knot in side.knots]
    rows.append(Row("Knots", "; ".join(knots) or "none"))
    for photo in side.photos:
        rows.append(Row(photo.file, " ".join(photo.problems) or "used"))
    return rows
