"""Knots and cracks as people enter them: one text each, several things parted by semicolons."""

import re
from collections.abc import Mapping
from typing import Final

from service.board.by_hand import ByHand, DismissedKnot, EnteredKnot, check_end_check, dismiss_knot, enter_knot
from service.board.phrase import word_of
from service.errors import BadInput
from service.language import mark, say
from service.lengths import Units
from service.line_tests import parted, read_line_tests
from service.sides import BoardSize
from service.sizes import Span, parse_length

HAND_FIELDS: Final = (
    (
        "knot",
        "A knot that counts although no photo may show it: side, where along the board it begins and ends from the "
        "marked end, and, if only part of the width is meant, across from where to where above the lower long corner "
        "of that side's upright photo. “at” and one place stand for a small knot. Several with a semicolon between "
        "them.",
        "face_1 from 35-1/2 in to 36-1/2 in, across 0 in to 1/2 in",
    ),
    (
        "no_knot",
        "A place at which a knot was found where there is none: side and distance from the marked end. Knots found "
        "within an inch of it no longer count. Several with a semicolon between them.",
        "face_1 at 36 in",
    ),
    (
        "end_check",
        "A crack in an end of the board: marked or far, and how far it reaches into the board. Both ends with a "
        "semicolon between them.",
        "marked 3 in; far 2 in",
    ),
)
"""Name, help and example of each text."""

_PLACE: Final = Span(mark("the place of the knot"), 0.0, 6000.0, mark("36 in or 900 mm"))
_HEIGHT: Final = Span(mark("the knot's height on its side"), 0.0, 400.0, mark("1/2 in or 12 mm"))
_CHECK: Final = Span(mark("the length of the crack"), 1.0, 6000.0, mark("3 in or 75 mm"))

_SIDE: Final = r"(?P<side>\S+?(?:[ _-][12])?) "
_ACROSS: Final = r"(?: ?,? across (?P<low>.+?) to (?P<high>.+))?"
_AT: Final = re.compile(rf"{_SIDE}at (?P<start>.+?){_ACROSS}")
_FROM_TO: Final = re.compile(rf"{_SIDE}from (?P<start>.+?) to (?P<end>.+?){_ACROSS}")
_GAP: Final = re.compile(r"(face|edge)[ _-]?(\d)")
_END: Final = re.compile(r"(?P<end>marked|far)(?: end)? (?P<length>.+)")


def read_by_hand(typed: Mapping[str, str], size: BoardSize, units: Units | None) -> ByHand:
    """Read all that was entered by hand, each thing once.

    Parameters
    ----------
    typed
        Texts by the names in `HAND_FIELDS` and those of ink and scribe tests; a missing one counts as empty.
    size
        The board.
    units
        The unit of a plain number; None refuses plain numbers.

    Raises
    ------
    BadInput
        A text that cannot be read, or a thing that cannot be; its field says which.

    Examples
    --------
    >>> size = BoardSize(2000.0, 40.0, 20.0)
    >>> read_by_hand({"knot": "edge_1 from 900 mm to 910 mm", "end_check": "far 75 mm"}, size, None).end_checks_mm
    (0.0, 75.0)
    >>> read_by_hand({"no_knot": "face_2 at 90 cm"}, size, None).no_knots
    (DismissedKnot(side='face_2', position_mm=900.0),)
    """
    matter = say("what matters most")
    return ByHand(
        read_line_tests(typed, size, units),
        tuple(dict.fromkeys(_read_knot(one, size, units) for one in parted(typed, "knot", matter))),
        tuple(dict.fromkeys(_read_no_knot(one, size, units) for one in parted(typed, "no_knot", matter))),
        _read_end_checks(parted(typed, "end_check", matter), size, units),
    )


def _side(told: str) -> str:
    """Return the fixed name of a side, also when it was written as “face 1”, “face-1” or “face1”."""
    return _GAP.sub(r"\1_\2", told)


def _read_knot(text: str, size: BoardSize, units: Units | None) -> EnteredKnot:
    told = _FROM_TO.fullmatch(text) or _AT.fullmatch(text)
    if told is None:
        refusal = say(
            "“{knot}” is no knot that can be read. Write the side and its place, such as: {example}, or "
            "{longer_example}.",
            knot=text[:40],
            example=HAND_FIELDS[1][2],
            longer_example=HAND_FIELDS[0][2],
        )
        raise BadInput(refusal, "knot")
    parts = told.groupdict()
    from_mm = parse_length(parts["start"], _PLACE, "knot", units)
    to_mm = parse_length(parts["end"], _PLACE, "knot", units) if "end" in parts else from_mm
    across_mm = None
    if parts["low"] is not None:
        low_mm, high_mm = (parse_length(parts[name], _HEIGHT, "knot", units) for name in ("low", "high"))
        across_mm = (low_mm, high_mm)
    return enter_knot(size, _side(parts["side"]), from_mm, to_mm, across_mm)


def _read_no_knot(text: str, size: BoardSize, units: Units | None) -> DismissedKnot:
    told = _AT.fullmatch(text)
    if told is None or told["low"] is not None:
        refusal = say(
            "“{place}” is no place that can be read. Write the side and the distance from the marked end, such as: "
            "{example}.",
            place=text[:40],
            example=HAND_FIELDS[1][2],
        )
        raise BadInput(refusal, "no_knot")
    return dismiss_knot(size, _side(told["side"]), parse_length(told["start"], _PLACE, "no_knot", units))


def _read_end_checks(texts: list[str], size: BoardSize, units: Units | None) -> tuple[float, float]:
    found: dict[str, float] = {}
    for text in texts:
        told = _END.fullmatch(text)
        if told is None:
            refusal = say(
                "“{crack}” is no crack that can be read. Write marked or far and how far it reaches into the board, "
                "such as: {example}.",
                crack=text[:40],
                example="marked 3 in",
            )
            raise BadInput(refusal, "end_check")
        end, length_mm = told["end"], parse_length(told["length"], _CHECK, "end_check", units)
        check_end_check(size, end, length_mm)
        if end in found and found[end] != length_mm:
            refusal = say(
                "Two cracks were told for the {end} end: write only the one that reaches farther.", end=word_of(end)
            )
            raise BadInput(refusal, "end_check")
        found[end] = length_mm
    return found.get("marked", 0.0), found.get("far", 0.0)
