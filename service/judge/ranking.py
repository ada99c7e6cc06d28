"""Several boards for the same bow, put in order: which to take first, and why."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pydantic import Field

from service.board.phrase import length_text
from service.errors import BadInput
from service.judge.record import Answer
from service.judge.record_side import Part
from service.judge.score import VERDICTS, Verdict
from service.language import mark, say

SAME_MM: Final = 0.5
"""Bows whose sizes differ by less are the same bow, typed in another unit. Common practice, no source."""

LONGEST_NAME: Final = 200  # characters; a name may be a file's path

MOST: Final = 1e6
"""No number that is compared is as large in an answer of this program."""

_ITS_VERDICT: Final[dict[Verdict, str]] = {
    "pass": mark("It passes"),
    "borderline": mark("Its answer is still open"),
    "retake": mark("It has to be photographed again"),
    "fail": mark("It does not keep to the limits"),
}

_OTHER_VERDICT: Final[dict[Verdict, str]] = {
    "pass": mark("{name} passes"),
    "borderline": mark("the answer of {name} is still open"),
    "retake": mark("{name} has to be photographed again"),
    "fail": mark("{name} does not keep to the limits"),
}


class Ranked(Part):
    """One board and its place among others."""

    place: int = Field(description="Its place, 1 for the best; boards equal in all that is compared share one.")
    name: str = Field(description="The board's name as given.")
    verdict: Verdict = Field(description="Its verdict.")
    limit_left: float | None = Field(
        description="Share of the limit left at the worst place of its section at the far end of the error, in whole "
        "hundredths; below 0 where the limit is passed; null without a section."
    )
    score: float = Field(description="Its score.")
    spare_mm: float = Field(description="How much longer than the bow it is; below 0 when it is too short.")
    why: str = Field(description="Why it stands before the next board, or that it is equal to it.")


class Ranking(Part):
    """Boards in order, best first."""

    boards: list[Ranked] = Field(description="The boards, best first.")
    caution: str = Field(description="What to mind about the order.")


@dataclass(frozen=True)
class _Weighed:
    """What of a board is compared, in this order; less is better in each.

    Whole hundredths of the limit, tenths of a point and millimetres are compared, for smaller differences lie below
    what any reading can tell.
    """

    verdict: int
    no_section: bool
    limit_used_upper: int
    score_lost: int
    length_lacking_mm: int
    limit_used: int

    @property
    def key(self) -> tuple[int, bool, int, int, int, int]:
        """All of it, for comparing."""
        return (
            self.verdict,
            self.no_section,
            self.limit_used_upper,
            self.score_lost,
            self.length_lacking_mm,
            self.limit_used,
        )


@dataclass(frozen=True)
class _Entry:
    """A board with what of it is compared."""

    name: str
    answer: Answer
    weighed: _Weighed


def rank(boards: Sequence[tuple[str, Answer]]) -> list[Ranked]:
    """Put boards in order, best first; the order in which they are given does not matter.

    Compared are the verdict, then how much of a limit is left at the worst place with the error of the reading counted
    in (of boards without a section the score), then how much longer than the bow the board is, then how straight it
    reads as measured.

    Parameters
    ----------
    boards
        Name and answer of each.

    Returns
    -------
    list of Ranked
        Boards equal in all that is compared share a place and stand in the order of their names.

    Raises
    ------
    BadInput
        No board, a name that is missing, too long or given twice, or boards judged for different bows or limits.
    """
    _check_names([name for name, _ in boards])
    _check_numbers(boards)
    _check_same_bow(boards)
    entries = sorted(
        (_Entry(name, answer, _weigh(answer)) for name, answer in boards), key=lambda one: (one.weighed.key, one.name)
    )
    ranked: list[Ranked] = []
    for index, one in enumerate(entries):
        shared = index > 0 and one.weighed == entries[index - 1].weighed
        ranked.append(
            Ranked(
                place=ranked[-1].place if shared else index + 1,
                name=one.name,
                verdict=one.answer.verdict,
                limit_left=None if one.weighed.no_section else 1 - one.weighed.limit_used_upper / 100,
                score=one.answer.score,
                spare_mm=one.answer.board.length_mm - one.answer.bow_length_mm,
                why=_why(entries, index),
            )
        )
    return ranked


def make_ranking(boards: Sequence[tuple[str, Answer]]) -> Ranking:
    """Put boards in order, as `rank` does, with what to mind about it."""
    ranked = rank(boards)
    caution = say(
        "The order is an aid to judgement, not a promise: look along each board yourself, and ask an experienced "
        "bowyer before you cut or bend one."
    )
    if ranked[0].verdict != "pass":
        none = say("None of these boards passes as it was read; the order only tells which comes nearest.")
        caution = f"{none} {caution}"
    return Ranking(boards=ranked, caution=caution)


def _check_names(names: Sequence[str]) -> None:
    if not names:
        raise BadInput(say("Give at least one board to rank, better two."), "boards")
    for name in names:
        if not name.strip() or len(name) > LONGEST_NAME:
            text = say("Give each board a name of at most {count} letters.", count=LONGEST_NAME)
            raise BadInput(text, "boards")
        if names.count(name) > 1:
            text = say("Two boards are named {name}: give each board once, under a name of its own.", name=name)
            raise BadInput(text, "boards")


def _check_numbers(boards: Sequence[tuple[str, Answer]]) -> None:
    """Refuse answers whose numbers cannot be compared, such as those of a file that was changed."""
    for name, answer in boards:
        used = (answer.section.limit_used, answer.section.limit_used_upper) if answer.section else ()
        values = (answer.score, answer.board.length_mm, answer.bow_length_mm, *used)
        if not all(abs(value) < MOST for value in values):  # false for what is no number, too
            text = say("The answer of {name} holds numbers that mean nothing: read that board again.", name=name)
            raise BadInput(text, "boards")


def _check_same_bow(boards: Sequence[tuple[str, Answer]]) -> None:
    """Refuse boards that were judged for different bows or by different limits."""
    first_name, first = boards[0]
    for name, answer in boards[1:]:
        pair = {"one": first_name, "other": name}
        if abs(first.bow_length_mm - answer.bow_length_mm) > SAME_MM:
            text = say(
                "{one} and {other} were read for bows of different lengths, {one_length} and {other_length}. Read both "
                "for the same bow.",
                one_length=length_text(first.bow_length_mm),
                other_length=length_text(answer.bow_length_mm),
                **pair,
            )
            raise BadInput(text, "boards")
        if not _same_width(first.bow_width_mm, answer.bow_width_mm):
            text = say("{one} and {other} were read for bows of different widths. Read both for the same bow.", **pair)
            raise BadInput(text, "boards")
        changed = _different_limit(first, answer)
        if changed is not None:
            text = say(
                "{one} and {other} were held to different limits ({changed}). Read both with the same purpose, "
                "tolerance and limits.",
                changed=changed,
                **pair,
            )
            raise BadInput(text, "boards")


def _same_width(one_mm: float | None, other_mm: float | None) -> bool:
    if one_mm is None or other_mm is None:
        return one_mm is other_mm
    return abs(one_mm - other_mm) <= SAME_MM


def _different_limit(one: Answer, other: Answer) -> str | None:
    """Tell a limit that differs, with both values; none when all are the same."""
    given = {item.name: item for item in other.limits.items}
    for item in one.limits.items:
        match = given.pop(item.name, None)
        if match is None or not math.isclose(item.value, match.value, rel_tol=1e-9):
            return say(
                "{limit}: {one} and {other}",
                limit=item.name,
                one=item.text,
                other=match.text if match else say("none"),
            )
    return next(iter(given), None)


def _weigh(answer: Answer) -> _Weighed:
    section = answer.section
    return _Weighed(
        verdict=-VERDICTS.index(answer.verdict),
        no_section=section is None,
        limit_used_upper=0 if section is None else round(100 * section.limit_used_upper),
        score_lost=round(10 * (100 - answer.score)) if section is None else 0,
        length_lacking_mm=round(answer.bow_length_mm - answer.board.length_mm),
        limit_used=0 if section is None else round(100 * section.limit_used),
    )


def _why(entries: Sequence[_Entry], index: int) -> str:
    """Say why a board stands before the next one."""
    one = entries[index]
    if len(entries) == 1:
        return say("It is the only board.")
    if index + 1 == len(entries):
        before = entries[index - 1]
        return _equal_text(before.name) if one.weighed == before.weighed else say("All others go before it.")
    return _before_text(one, entries[index + 1])


def _equal_text(name: str) -> str:
    return say("It is equal to {name} in all that is compared: choose between them by eye and hand.", name=name)


def _before_text(one: _Entry, other: _Entry) -> str:
    """Say what puts one board before another: the first thing in which they differ."""
    mine, its, name = one.weighed, other.weighed, other.name
    if mine.verdict != its.verdict:
        return say(
            "{one}; {other}.",
            one=say(_ITS_VERDICT[one.answer.verdict]),
            other=say(_OTHER_VERDICT[other.answer.verdict], name=name),
        )
    if mine.no_section != its.no_section:
        return say("A stretch for the bow was found on it, on {name} none.", name=name)
    if mine.limit_used_upper != its.limit_used_upper:
        return say(
            "At its worst place {left}, with the error of the reading counted in; on {name} {other_left}.",
            left=_left_text(mine.limit_used_upper),
            name=name,
            other_left=_left_text(its.limit_used_upper),
        )
    if mine.score_lost != its.score_lost:
        scores = {"score": f"{one.answer.score:.1f}", "other_score": f"{other.answer.score:.1f}"}
        return say("It scores {score} of 100, {name} {other_score}.", name=name, **scores)
    so_far = say("the score is the same") if mine.no_section else say("as much of the limit is left on both")
    if mine.length_lacking_mm != its.length_lacking_mm:
        return say(
            "Otherwise {so_far}, but {one}, while {other}.",
            so_far=so_far,
            one=say(_how_long(mine.length_lacking_mm, _IT_IS), length=length_text(abs(mine.length_lacking_mm))),
            other=say(
                _how_long(its.length_lacking_mm, _OTHER_IS), name=name, length=length_text(abs(its.length_lacking_mm))
            ),
        )
    if mine.limit_used != its.limit_used:
        return say(
            "With the error counted in {so_far} and they are equally long, but as measured it uses {used} % of the "
            "limit, {name} {other_used} %.",
            so_far=so_far,
            used=mine.limit_used,
            name=name,
            other_used=its.limit_used,
        )
    return _equal_text(name)


def _left_text(used: int) -> str:
    """Say what of the limit is left.

    >>> _left_text(65), _left_text(112)
    ('35 % of the slope limit is left', 'the slope limit is passed by 12 %')
    """
    if used <= 100:
        return say("{share} % of the slope limit is left", share=100 - used)
    return say("the slope limit is passed by {share} %", share=used - 100)


_IT_IS: Final = (
    mark("it is {length} longer than the bow"),
    mark("it is just as long as the bow"),
    mark("it is {length} shorter than the bow"),
)
_OTHER_IS: Final = (
    mark("{name} is {length} longer than the bow"),
    mark("{name} is just as long as the bow"),
    mark("{name} is {length} shorter than the bow"),
)


def _how_long(lacking_mm: int, longer_even_shorter: tuple[str, str, str]) -> str:
    """Choose what is said of a board's length beside the bow's.

    >>> _how_long(-254, _IT_IS), _how_long(0, _IT_IS)
    ('it is {length} longer than the bow', 'it is just as long as the bow')
    """
    return longer_even_shorter[1 + (lacking_mm > 0) - (lacking_mm < 0)]
