"""What stands between a board and a clear answer, and which photo or test would settle it."""

from typing import Final

from service.board.phrase import (
    either,
    length_text,
    one_in_text,
    side_text,
    side_title,
    slope_text,
    stretch_text,
    word_of,
)
from service.board.types import BoardReading
from service.errors import Problem
from service.judge.limits import Limits
from service.judge.reasons import Extreme, UnreadStretch, unread_stretches, worst_of
from service.judge.record import Question
from service.judge.record_side import Reason, Side
from service.judge.score import Choice
from service.judge.section import Search
from service.language import mark, say, say_many
from service.sides import SIDES, side_opposite

HOW_TO_TEST: Final = mark(
    "Or, instead of the close-up, an ink or scribe test: draw a line along the grain with ink from a pen, which runs "
    "along the pores, or with a needle that trails from a swivel, and enter how far it rises over 4 in (100 mm) or "
    "more. Move a sharp point away from yourself and from the hand that holds the board."
)
"""The ink and the scribe test, ANC-19 (1943) 2.3023; moving points away from oneself is common practice, no source."""

_PAIRS: Final[dict[tuple[Side, Side], tuple[str, str]]] = {
    ("face_1", "face_2"): (
        mark("No photo shows either face: take one of {sides}, better both."),
        mark("How the grain runs on the faces."),
    ),
    ("edge_1", "edge_2"): (
        mark("No photo shows either edge: take one of {sides}, better both."),
        mark("How the grain runs on the edges."),
    ),
}
"""What is said when neither of two opposite sides was photographed, and what is unknown then."""


def borderline_reasons(
    reading: BoardReading, search: Search, choice: Choice, limits: Limits
) -> tuple[list[Reason], list[Question]]:
    """Say what stands between the section and a pass, and what would settle it."""
    reasons, questions = [], []
    place = worst_of(search, choice, limits)
    measured_outside = place.slope > place.limit
    if not measured_outside:
        place = worst_of(search, choice, limits, upper=True)
    taken = mirrored(reading, search, choice)
    # The search rounds finer than it tells: where nothing else is in doubt, the limit is.
    if place.slope > place.limit or (reading.spiral_seen and not taken):
        reason, question = _close_call(place, flatter_sawn(reading), measured_outside=measured_outside)
        reasons.append(reason)
        questions.append(question)
    if not reading.spiral_seen:
        reason, question = _spiral_unknown(reading, good_so_far=not reasons)
        reasons.append(reason)
        questions.append(question)
    for reason, question in taken:
        reasons.append(reason)
        questions.append(question)
    return reasons, questions


def mirrored(reading: BoardReading, search: Search, choice: Choice) -> list[tuple[Reason, Question]]:
    """Say which stretches of the section were taken from the opposite side, and ask for the photos that show them."""
    stretches = unread_stretches(search, choice.start, assumed=True)
    by_side = ([stretch for stretch in stretches if stretch.side == name] for name in SIDES)
    return [_assumed(reading, own) for own in by_side if own]


def _close_call(place: Extreme, flatter: Side, *, measured_outside: bool) -> tuple[Reason, Question]:
    """Say that the error of the reading reaches across a limit; a test on the flatter-sawn side narrows it too."""
    where = {
        "side": side_text(place.face),
        "role": word_of(place.role),
        "place": length_text(place.position_mm),
        "limit": one_in_text(place.limit),
    }
    if measured_outside:
        code = "slope_unsure"
        text = say(
            "The grain on {side} as the {role} at {place} was measured as {slope}, face and edge together, past the "
            "limit of {limit}, but within the error of the reading it may keep to it.",
            slope=slope_text(place.slope),
            **where,
        )
    else:
        code = "close_to_limit"
        text = say(
            "The grain on {side} as the {role} at {place} was measured inside the limit of {limit}, but could be as "
            "steep as {slope}, face and edge together, within the error of the reading.",
            slope=slope_text(place.slope),
            **where,
        )
    question = Question(
        code=code,
        text=say("Whether the grain on {side} as the {role} at {place} keeps to {limit}.", **where),
        photo=say(
            "A close-up of {side} around {place}, or an ink or scribe test on {flatter} there.",
            flatter=side_text(flatter),
            **where,
        ),
        shots=[f"close_{place.face}"],
        test_side=flatter,
    )
    reason = Reason(
        code=code,
        text=text,
        side=place.face,
        position_mm=round(place.position_mm, 1),
        length_mm=round(place.over_mm, 1),
    )
    return reason, question


def flatter_sawn(reading: BoardReading) -> Side:
    """Name the side whose texture shows spiral grain: a face, or an edge of a quarter-sawn board.

    ANC-19 (1943) section 2.302: spiral grain shows on the flat-sawn (tangential) surface.
    """
    quarter = reading.rings is not None and reading.rings.sawing == "quarter"
    pair: tuple[Side, Side] = ("edge_1", "edge_2") if quarter else ("face_1", "face_2")
    first, second = pair
    return second if reading.sides[first].status != "read" and reading.sides[second].status == "read" else first


def _spiral_unknown(reading: BoardReading, *, good_so_far: bool) -> tuple[Reason, Question]:
    """Say that the fibre's own turn was not seen, and ask for the close-up or the test that shows it."""
    side = flatter_sawn(reading)
    if good_so_far:
        text = say(
            "Good so far, one close-up to go: ring lines were read, but no photo shows the fine texture that tells "
            "whether the fibres spiral under straight-looking rings."
        )
    else:
        text = say(
            "Ring lines were read, but no photo shows the fine texture that tells whether the fibres spiral under "
            "straight-looking rings."
        )
    if reading.rings is not None:
        photo = say(
            "One close-up of {side}: a hand's length of board across the picture, both long corners in view, marked "
            "end to the left.",
            side=side_text(side),
        )
    else:
        photo = say(
            "One close-up of {side}: a hand's length of board across the picture, both long corners in view, marked "
            "end to the left; and one of the marked end head on, as it takes the rings to read it.",
            side=side_text(side),
        )
    question = Question(
        code="spiral_unknown",
        text=say("Whether the fibres turn within the rings (spiral grain)."),
        photo=f"{photo} {say(HOW_TO_TEST)}",
        shots=[f"close_{side}", *([] if reading.rings is not None else ["end"])],
        test_side=side,
    )
    return Reason(code="spiral_unknown", text=text, side=side), question


def _assumed(reading: BoardReading, stretches: list[UnreadStretch]) -> tuple[Reason, Question]:
    """Say that stretches of one side were taken from the opposite one, and ask for the photo that shows them."""
    side = stretches[0].side
    name, opposite = side_text(side), side_text(side_opposite(side))
    if reading.sides[side].status == "missing":
        text = say(
            "There is no photo of {side}; it was taken to mirror {opposite}, which it does only roughly.",
            side=name,
            opposite=opposite,
        )
        question = Question(
            code="side_missing",
            text=say("How the grain runs on {side}.", side=name),
            photo=say("The whole of {side}.", side=name),
            shots=[side],
        )
        return Reason(code="side_missing", text=text, side=side), question
    where = stretch_text(stretches[0].from_mm, stretches[0].to_mm)
    length_mm = sum(stretch.to_mm - stretch.from_mm for stretch in stretches)
    photo = _closer(stretches[0])
    if len(stretches) > 1:
        where = say_many(
            "{stretch} and in {count} more place, {length} in all",
            "{stretch} and in {count} more places, {length} in all",
            len(stretches) - 1,
            stretch=where,
            length=length_text(length_mm),
        )
        photo = say("The whole of {side} from closer, in part photos.", side=name)
    reason = Reason(
        code="unread",
        text=say(
            "On {side} nothing could be read {where}; it was taken to mirror {opposite}, which it does only roughly.",
            side=name,
            where=where,
            opposite=opposite,
        ),
        side=side,
        position_mm=round(stretches[0].from_mm, 1),
        length_mm=round(length_mm, 1),
    )
    return reason, Question(code="unread", text=_how_it_runs(name, where), photo=photo, shots=[side])


def _how_it_runs(side: str, where: str) -> str:
    return say("How the grain runs on {side} {where}.", side=side, where=where)


def _closer(stretch: UnreadStretch) -> str:
    """Ask for a photo of an unread stretch."""
    return say(
        "A photo of {side} closer up, {where}, without glare, stickers or pencil marks in the way.",
        side=side_text(stretch.side),
        where=stretch_text(stretch.from_mm, stretch.to_mm),
    )


def retake_reasons(reading: BoardReading, search: Search, choice: Choice) -> tuple[list[Reason], list[Question]]:
    """Ask for the sides, and only those, without which nothing can be said."""
    asked = [*_unreadable(reading), *_nowhere(reading)]
    named = {reason.side for reason, _ in asked}
    for stretch in unread_stretches(search, choice.start, assumed=False):
        # A side asked for as a whole, or whose opposite is, needs no word about its stretches.
        if not {stretch.side, side_opposite(stretch.side)} & named and reading.sides[stretch.side].status == "read":
            asked.append(_unread_on_both(stretch))
    return [reason for reason, _ in asked], [question for _, question in asked]


def _unreadable(reading: BoardReading) -> list[tuple[Reason, Question]]:
    """Ask again for the sides whose photos could not be read."""
    asked = []
    for name in SIDES:
        side = reading.sides[name]
        if side.status == "retake":
            problem = side.problem or Problem("unreadable", say("It could not be read; photograph it again."))
            question = Question(
                code=problem.code,
                text=say("How the grain runs on {side}.", side=side_text(name)),
                photo=say("The whole of {side} again.", side=side_text(name)),
                shots=[name],
            )
            text = say("{side}: {problem}", side=side_title(name), problem=problem.text)
            asked.append((Reason(code=problem.code, text=text, side=name), question))
    return asked


def _nowhere(reading: BoardReading) -> list[tuple[Reason, Question]]:
    """Ask for a face, or an edge, when there is no photo of either."""
    asked = []
    for (first, second), (missing, unknown) in _PAIRS.items():
        if reading.sides[first].status == reading.sides[second].status == "missing":
            sides = either([side_text(first), side_text(second)])
            question = Question(
                code="side_missing",
                text=say(unknown),
                photo=say("The whole of {side}.", side=sides),
                shots=[first, second],
            )
            asked.append((Reason(code="side_missing", text=say(missing, sides=sides), side=first), question))
    return asked


def _unread_on_both(stretch: UnreadStretch) -> tuple[Reason, Question]:
    """Ask for a stretch that neither its side nor the opposite one shows."""
    name, where = side_text(stretch.side), stretch_text(stretch.from_mm, stretch.to_mm)
    reason = Reason(
        code="unread",
        text=say("Nothing could be read on {side} {where}, nor opposite; photograph it again.", side=name, where=where),
        side=stretch.side,
        position_mm=round(stretch.from_mm, 1),
        length_mm=round(stretch.to_mm - stretch.from_mm, 1),
    )
    question = Question(code="unread", text=_how_it_runs(name, where), photo=_closer(stretch), shots=[stretch.side])
    return reason, question
