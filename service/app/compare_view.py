"""Two answers side by side, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.app.kept_board import units_of
from service.app.start_view import SIDE_WORDS
from service.app.views import Picture
from service.board.phrase import slope_text
from service.errors import BadInput
from service.judge.ranking import make_ranking
from service.judge.record import Answer
from service.show.cut_words import END_WORDS, share_text
from service.show.units import length_in
from service.show.words import VERDICT_WORDS
from service.sizes import Units
from service.store.rows import BoardRow

Told = tuple[BoardRow, Answer, bool, Picture | None]
"""A board, its answer, whether that is from before the last change, and the place that decides."""

UNKNOWN = "not known"


@dataclass(frozen=True)
class CompareRow:
    """One thing, as it is on either board."""

    words: str
    one: str
    other: str


@dataclass(frozen=True)
class ComparePage:
    """Two boards.

    Attributes
    ----------
    names, ids
        Of the two.
    first
        Which goes before the other and why, or why that cannot be said.
    places
        The place that decides, of each.
    """

    names: tuple[str, str]
    ids: tuple[str, str]
    first: str
    caution: str
    rows: Sequence[CompareRow]
    places: tuple[Picture | None, Picture | None]


def compare_page(one: Told, other: Told) -> ComparePage:
    """Show two boards side by side."""
    name, its = one[0].told.name or "Board", other[0].told.name or "Board"
    if its == name:
        its = f"{name} (2)"
    first, caution = _first(((name, one[1]), (its, other[1])))
    rows = [CompareRow(words, left, right) for (words, left), (_, right) in zip(_told(one), _told(other), strict=True)]
    told = [row for row in rows if row.one or row.other]
    return ComparePage((name, its), (one[0].id, other[0].id), first, caution, told, (one[3], other[3]))


def _first(pair: tuple[tuple[str, Answer], tuple[str, Answer]]) -> tuple[str, str]:
    """Say which board goes before the other."""
    try:
        ranking = make_ranking(pair)
    except BadInput as refused:
        return refused.text, ""
    best = ranking.boards[0]
    return f"{best.name}: {best.why}", ranking.caution


def _told(board: Told) -> list[tuple[str, str]]:
    """Tell of one board all that is compared, always in the same order."""
    row, answer, stale, _ = board
    units = units_of(row.told)
    section, back = answer.section, answer.back
    place = f"{length_in(section.start_mm, units)} to {length_in(section.end_mm, units)}" if section else "none"
    limb = END_WORDS.get(back.lower_limb, "either end") if back else UNKNOWN
    board_mm = (answer.board.length_mm, answer.board.width_mm, answer.board.thickness_mm)
    bending = answer.strength.bending if answer.strength else None
    return [
        ("Answer", VERDICT_WORDS[answer.verdict] + (", from before the last change" if stale else "")),
        ("Why", answer.reasons[0].text),
        ("Board", " x ".join(length_in(mm, units) for mm in board_mm)),
        ("Wood", answer.board.species or ""),
        ("Price", row.told.price),
        ("Stretch to cut", place),
        ("Back", _back(answer)),
        ("Lower limb", limb),
        ("Steepest grain in the stretch", _steepest(answer, units)),
        ("Grain lines that leave", _leaving(answer)),
        ("Strength left in bending", share_text(bending.low, bending.high) if bending else UNKNOWN),
        ("Rings", f"{answer.rings.sawing}-sawn" if answer.rings else UNKNOWN),
        ("Knots", _knots(answer)),
        ("Points", f"{answer.score:.0f} of 100"),
        ("Still open", " ".join(question.text for question in answer.open_questions) or "nothing"),
    ]


def _back(answer: Answer) -> str:
    if answer.back is None:
        return UNKNOWN
    face = SIDE_WORDS[answer.back.face]
    return face if answer.back.sure else f"either, rather {face.lower()}"


def _steepest(answer: Answer, units: Units) -> str:
    section = answer.section
    if section is None or section.worst_slope is None or section.worst_position_mm is None:
        return UNKNOWN
    return f"{slope_text(section.worst_slope)}, at {length_in(section.worst_position_mm, units)}"


def _leaving(answer: Answer) -> str:
    bow = answer.runoffs_in_bow
    return f"{len(bow.back)} on the back, {len(bow.belly)} on the belly" if bow is not None else UNKNOWN


def _knots(answer: Answer) -> str:
    told = [f"{len(side.knots)} on {SIDE_WORDS[name].lower()}" for name, side in answer.sides.items() if side.knots]
    return ", ".join(told) or "none seen"
