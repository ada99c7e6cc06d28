"""The open questions of an answer, asked on the board's page one at a time, and what an answer to one changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.app.views.shots import CLOSE, Shot
from service.board.phrase import one_in_text, side_text
from service.judge.record import Answer, Question
from service.language import say
from service.sides import SIDES
from service.store.rows import BoardTold

BEFORE: Final = "range_before"
"""Name under which a board keeps how steep its answer before the newest one said it may be."""

SHARPER: Final = 0.9
"""A range this much narrower than before is worth telling."""

_HELPS: Final = ("spiral_unknown", "side_missing", "unread", "close_to_limit", "slope_unsure")
"""Which question of a board that is not sure yet helps most. Without the fibre nothing passes, and it widens the range
everywhere; sides that were not seen come next; a close call often settles itself by either."""


@dataclass(frozen=True)
class Ask:
    """One question.

    Attributes
    ----------
    title, text, photo
        What is asked for, what is not known, and which photo would tell; empty where its places say it.
    drawing
        Of the photo: close, end, whole or light.
    shots
        Where the photo can be given.
    adds
        Whether it is one more part of its side, and does not take the place of the photo before.
    test_side, test_words
        The side for an ink test, and its name; empty when none would tell.
    number, count, following
        Which of how many questions it is, counted from 1, and the one that comes when it is skipped.
    is_open
        Whether it was asked for.
    """

    title: str
    text: str
    photo: str
    drawing: str
    shots: Sequence[Shot]
    adds: bool
    test_side: str
    test_words: str
    number: int
    count: int
    following: int
    is_open: bool


def slots_of(question: Question) -> list[str]:
    """Return the places where a question's photo belongs; records of other versions may name others."""
    known = {*SIDES, *(f"{CLOSE}{side}" for side in SIDES), "end"}
    return [slot for slot in question.shots if slot in known]


def ordered(questions: Sequence[Question]) -> list[Question]:
    """Put the question first that helps most; what has to be taken again goes before all.

    >>> asked = [Question(code=code, text="", photo="") for code in ("close_to_limit", "blurred", "spiral_unknown")]
    >>> [question.code for question in ordered(asked)]
    ['blurred', 'spiral_unknown', 'close_to_limit']
    """
    return sorted(questions, key=lambda one: _HELPS.index(one.code) if one.code in _HELPS else -1)


def ask_of(answer: Answer | None, shots: dict[str, Shot], wanted: str) -> Ask | None:
    """Choose the question to ask: the first one, or the one that is wanted by its number.

    Parameters
    ----------
    answer
        The newest answer.
    shots
        Every place for photos, by its name.
    wanted
        A number counted from 1, as typed in the page's address; anything else stands for the first.
    """
    questions = [one for one in ordered(answer.open_questions) if slots_of(one)] if answer is not None else []
    if answer is None or not questions or answer.verdict not in ("borderline", "retake"):
        return None
    number = int(wanted) if wanted.isascii() and wanted.isdecimal() and len(wanted) < 3 else 1
    number = number if 1 <= number <= len(questions) else 1
    question = questions[number - 1]
    slots = slots_of(question)
    retake = answer.verdict == "retake"
    return Ask(
        title=say("A photo is missing or needed again") if retake else say("One more photo would settle it"),
        text=question.text,
        photo="" if question.code == "spiral_unknown" else question.photo,  # its places and its test say the same
        drawing=_drawing(question, slots[0]),
        shots=[shots[slot] for slot in slots],
        adds=question.code == "unread" and not retake,
        test_side=question.test_side or "",
        test_words=side_text(question.test_side) if question.test_side else "",
        number=number,
        count=len(questions),
        following=number % len(questions) + 1,
        is_open=bool(wanted),
    )


def _drawing(question: Question, slot: str) -> str:
    """Choose the drawing of the photo that is asked for."""
    if slot == "end":
        return "end"
    if slot.startswith(CLOSE):
        return "close"
    return "whole" if question.code == "side_missing" else "light"


def steepest_range(answer: Answer) -> tuple[float, float] | None:
    """Return the ends of the 95 % interval of the slope at the steepest place of the section; None without one."""
    combined, section = answer.combined_slope, answer.section
    if combined is None or section is None or section.worst_position_mm is None:
        return None
    at = int(np.abs(np.array(combined.positions_mm) - section.worst_position_mm).argmin())
    low, high = combined.slope_lower[at], combined.slope_upper[at]
    return None if low is None or high is None else (low, high)


def range_text(answer: Answer | None) -> str:
    """Write down how steep an answer says the board may be, for the next answer to be held against."""
    found = steepest_range(answer) if answer is not None else None
    return "" if found is None else f"{found[0]:.5f} {found[1]:.5f}"


def sharpened(answer: Answer | None, told: BoardTold) -> str:
    """Say how much sharper an answer is than the one before; empty when it is not, or nothing is known of that one."""
    now = steepest_range(answer) if answer is not None else None
    before = [float(part) for part in told.asked.get(BEFORE, "").split()]
    if now is None or len(before) != 2 or now[1] - now[0] > SHARPER * (before[1] - before[0]):
        return ""
    return say(
        "Steepest grain: now {low} to {high}, before {low_before} to {high_before}.",
        low=one_in_text(now[1]),
        high=one_in_text(now[0]),
        low_before=one_in_text(before[1]),
        high_before=one_in_text(before[0]),
    )
