"""Two answers side by side, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.app.views.answer import Picture
from service.app.views.answer_tables import sawn_text, slope_at, stretch_text
from service.app.views.kept_board import units_of
from service.board.phrase import side_text, side_title
from service.errors import BadInput
from service.judge.ranking import make_ranking
from service.judge.record import Answer
from service.language import say
from service.lengths import Units, length_in, use_units
from service.show.cut_words import end_text, share_text
from service.show.words import verdict_word
from service.store.rows import BoardRow

Told = tuple[BoardRow, Answer, bool, Picture | None]
"""A board, its answer, whether that is from before the last change, and the place that decides."""


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
    name, its = one[0].told.name or say("Board"), other[0].told.name or say("Board")
    if its == name:
        its = f"{name} (2)"
    with use_units(units_of(one[0].told)):
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
    place = stretch_text(section.start_mm, section.end_mm, units) if section else say("none")
    limb = say("not known")
    if back is not None:
        limb = say("either end") if back.lower_limb == "either" else end_text(back.lower_limb)
    word = verdict_word(answer.verdict)
    if stale:
        word = say("{verdict}, from before the last change", verdict=word)
    board_mm = (answer.board.length_mm, answer.board.width_mm, answer.board.thickness_mm)
    bending = answer.strength.bending if answer.strength else None
    return [
        (say("Answer"), word),
        (say("Why"), answer.reasons[0].text),
        (say("Board"), " x ".join(length_in(mm, units) for mm in board_mm)),
        (say("Wood"), answer.board.species or ""),
        (say("Price"), row.told.price),
        (say("Stretch to cut"), place),
        (say("Back"), _back(answer)),
        (say("Lower limb"), limb),
        (say("Steepest grain in the stretch"), _steepest(answer, units)),
        (say("Grain lines that leave"), _leaving(answer)),
        (say("Strength left in bending"), share_text(bending.low, bending.high) if bending else say("not known")),
        (say("Rings"), sawn_text(answer.rings.sawing) if answer.rings else say("not known")),
        (say("Knots"), _knots(answer)),
        (say("Points"), say("{points} of {out_of}", points=f"{answer.score:.0f}", out_of=100)),
        (say("Still open"), " ".join(question.text for question in answer.open_questions) or say("nothing")),
    ]


def _back(answer: Answer) -> str:
    if answer.back is None:
        return say("not known")
    face = answer.back.face
    return side_title(face) if answer.back.sure else say("either, rather {face}", face=side_text(face))


def _steepest(answer: Answer, units: Units) -> str:
    section = answer.section
    if section is None or section.worst_slope is None or section.worst_position_mm is None:
        return say("not known")
    return slope_at(section.worst_slope, length_in(section.worst_position_mm, units))


def _leaving(answer: Answer) -> str:
    bow = answer.runoffs_in_bow
    if bow is None:
        return say("not known")
    return say("{back} on the back, {belly} on the belly", back=len(bow.back), belly=len(bow.belly))


def _knots(answer: Answer) -> str:
    told = [
        say("{count} on {side}", count=len(side.knots), side=side_text(name))
        for name, side in answer.sides.items()
        if side.knots
    ]
    return ", ".join(told) or say("none seen")
