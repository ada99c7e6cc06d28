"""Ink and scribe tests as people enter them: as one text, or in the separate fields of the page."""

from collections.abc import Mapping
from typing import Final

from service.board.entered import METHODS, EnteredSlope, Method, enter_slope
from service.errors import BadInput
from service.language import mark, say
from service.lengths import Units
from service.sides import BoardSize
from service.sizes import Span, parse_length

TEXT_EXAMPLE: Final = "face_1 1/8 in up over 10 in at 36 in"
"""The side, how far the line rises on it, toward which long corner, over which length, and where its middle lies."""

PAGE_PARTS: Final = {
    "method": "test_method",
    "side": "test_side",
    "rise": "test_rise",
    "toward": "test_toward",
    "run": "test_run",
    "position": "test_position",
}
"""What is told of a line, and the field of the page it is typed into."""

SIGNS: Final = {"upper": 1.0, "lower": -1.0}
"""The long corner a line runs toward, and the sign of its rise."""

_WAYS: Final = {"up": "upper", "down": "lower"}
_LONGEST_TEXT: Final = 400  # characters; four lines or six knots take two hundred

_RISE: Final = Span(mark("the rise of the line"), 0.0, 400.0, mark("1/8 in or 3 mm"))
_RUN: Final = Span(mark("the run of the line"), 1.0, 6000.0, mark("10 in or 250 mm"))
_POSITION: Final = Span(mark("the place of the line"), 0.0, 6000.0, mark("36 in or 900 mm"))


def read_line_tests(typed: Mapping[str, str], size: BoardSize, units: Units | None) -> tuple[EnteredSlope, ...]:
    """Read all tests that were entered, each once.

    Parameters
    ----------
    typed
        Texts by the names of the fields: "ink", "scribe" and those in `PAGE_PARTS`; a missing one counts as empty.
    size
        The board.
    units
        The unit of a plain number; None refuses plain numbers.

    Raises
    ------
    BadInput
        A text that cannot be read, or a line that cannot be; its field says which.

    Examples
    --------
    >>> size = BoardSize(2000.0, 40.0, 20.0)
    >>> read_line_tests({"ink": "face_1 3 mm up over 250 mm; face_2 3 mm down over 250 mm"}, size, None)[1].slope
    -0.012
    >>> page = {"test_side": "edge_1", "test_rise": "0", "test_run": "250", "test_position": "900"}
    >>> read_line_tests(page, size, "mm")
    (EnteredSlope(side='edge_1', slope=0.0, run_mm=250.0, position_mm=900.0, method='ink'),)
    """
    found = []
    for method in METHODS:
        lines = parted(typed, method, say("the lines that tell most"))
        found += [_enter(_parts(line, method), size, units, method) for line in lines]
    told = {part: typed.get(field, "").strip() for part, field in PAGE_PARTS.items()}
    if any(told[part] for part in ("side", "rise", "run", "position")):
        found.append(_enter(told, size, units))
    return tuple(dict.fromkeys(found))


def parted(typed: Mapping[str, str], field: str, matter: str) -> list[str]:
    """Part a field's text at its semicolons and tidy the parts.

    Parameters
    ----------
    matter
        What a text that is too long should keep.

    Raises
    ------
    BadInput
        The text is too long.

    Examples
    --------
    >>> parted({"ink": " Face_1  at 3 in; ;edge_1 at 4 in"}, "ink", "the first")
    ['face_1 at 3 in', 'edge_1 at 4 in']
    """
    text = " ".join(typed.get(field, "").lower().split())
    if len(text) > _LONGEST_TEXT:
        raise BadInput(say("Write at most {count} letters: {matter}.", count=_LONGEST_TEXT, matter=matter), field)
    return [tidy for part in text.split(";") if (tidy := part.strip())]


def _parts(line: str, method: Method) -> dict[str, str]:
    """Take a line's text apart."""
    head, over, tail = line.partition(" over ")
    side, _, rise = head.partition(" ")
    way = rise.rpartition(" ")[2]
    toward = _WAYS.get(way, "")
    run, at, position = tail.partition(" at ")
    if not over or not rise.strip() or (at and not position.strip()):
        refusal = say(
            "“{line}” is no line that can be read. Write side, rise, up or down, run and, if you know it, where its "
            "middle lies, such as: {example}.",
            line=line[:40],
            example=TEXT_EXAMPLE,
        )
        raise BadInput(refusal, method)
    rise = rise.removesuffix(way) if toward else rise
    names = {"method": method, "side": side.replace("-", "_"), "rise": rise, "toward": toward}
    return {**names, "run": run, "position": position}


def _enter(told: Mapping[str, str], size: BoardSize, units: Units | None, field: str | None = None) -> EnteredSlope:
    """Make a slope of what is told of a line; refusals name `field`, or the page's field of the part at fault."""
    fields = {part: field or name for part, name in PAGE_PARTS.items()}
    if not told["side"]:
        raise BadInput(say("Say on which side the line was drawn."), fields["side"])
    rise_mm = parse_length(told["rise"], _RISE, fields["rise"], units)
    if told["toward"] not in SIGNS and (rise_mm or told["toward"]):
        refusal = say(
            "Say toward which long corner the line runs as you go from the marked end: up is toward the upper corner "
            "of that side's upright photo, down toward the lower."
        )
        raise BadInput(refusal, fields["toward"])
    run_mm = parse_length(told["run"], _RUN, fields["run"], units)
    position_mm = parse_length(told["position"], _POSITION, fields["position"], units) if told["position"] else None
    signed_mm = rise_mm * SIGNS.get(told["toward"], 1.0)
    try:
        return enter_slope(size, told["side"], told["method"] or "ink", signed_mm, run_mm, position_mm)
    except BadInput as error:
        error.field = fields[error.field or "side"]
        raise
