"""What a person may choose or change about the limits and the bow's width, as typed texts."""

import math
import re
from collections.abc import Mapping
from typing import Final

from service.errors import BadInput
from service.judge.limits import Limits, make_limits
from service.judge.purposes import PURPOSES
from service.language import mark, say
from service.lengths import Units, both_units
from service.sides import BoardSize
from service.sizes import Span, parse_length

STEEPEST: Final = 1 / 5
FLATTEST: Final = 1 / 200
"""Slopes that can be set as a limit. Wood as steep as 1 in 5 has lost about half its strength (Wood Handbook, from
memory: 55 %); 1 in 200 lies below what photos can tell. Common practice, no source."""

SAME_MM: Final = 0.5
"""Widths that differ by less are the same, measured twice. Common practice, no source."""

_BOW_WIDTH: Final = Span(mark("the bow's width"), 15.0, 100.0, mark("1-1/2 in, 1.5 in or 38 mm"))

_SLOPES: Final = {
    "back_limit": ("back_slope", "Steepest slope of grain allowed on the back, as 1 in so many, percent or degrees."),
    "belly_limit": (
        "belly_slope",
        "Steepest slope of grain allowed on the belly, as 1 in so many, percent or degrees.",
    ),
}
"""Field to the limit it changes and its help."""

_LENGTHS: Final = {
    "mean_length": (
        "mean_length_mm",
        Span(mark("the length over which slopes are averaged"), 25.4, 304.8, mark("3 in or 76 mm")),
        "Length over which slopes are averaged, so that a short wave of the grain does not decide.",
    ),
    "knot_margin": (
        "knot_margin_mm",
        Span(mark("the sound wood beside a knot"), 0.0, 304.8, mark("1/4 in or 6 mm")),
        "Sound wood wanted between a knot and the bow.",
    ),
    "end_trim": (
        "end_trim_mm",
        Span(mark("the wood sawn off at either end"), 0.0, 609.6, mark("1 in or 25 mm")),
        "Wood to be sawn off at either end of the board before anything is cut from it.",
    ),
    "kerf": (
        "kerf_mm",
        Span(mark("the width of a saw cut"), 0.0, 12.7, mark("1/8 in or 3 mm")),
        "Wood that a saw cut between two bows turns to dust.",
    ),
}
"""Field to the limit it changes, what is believable, and its help."""

LIMIT_FIELDS: Final = (
    ("bow_width", "Width of the bow at its widest; left empty the bow is as wide as the board.", "1-1/4 in"),
    (
        "purpose",
        "What the bow is for, which sets the slopes of grain allowed. "
        f"{'. '.join(f'{name}: {one.words[0].lower()}{one.words[1:]}' for name, one in PURPOSES.items())}. "
        "Left empty: unbacked.",
        "unbacked",
    ),
    (
        "tolerance",
        "How the slopes allowed are taken: strict (four fifths of them), usual or lenient (five quarters). "
        "Left empty: usual.",
        "usual",
    ),
    *((field, f"{words} Goes before purpose and tolerance.", "1 in 18") for field, (_, words) in _SLOPES.items()),
    *((field, words, span.examples.split(" or ", maxsplit=1)[0]) for field, (_, span, words) in _LENGTHS.items()),
)
"""Name, help and example of each text."""

_NUMBER: Final = r"\d{1,6}(?:[.,]\d{1,6})?"
_RATIO: Final = re.compile(rf"({_NUMBER})\s*(?:in|:|/|to)\s*({_NUMBER})")
_PERCENT: Final = re.compile(rf"({_NUMBER})\s*(?:%|percent|per cent)")
_ANGLE: Final = re.compile(rf"({_NUMBER})\s*(?:°|deg|degree|degrees)\.?")
_BARE: Final = re.compile(_NUMBER)

_HOW: Final = mark("Write the slope like 1 in 20, 5 % or 3 deg.")

_TOO_STEEP: Final = mark(
    "A limit of {slope} is steeper than 1 in 5: write one between 1 in 200 and 1 in 5. Usual are 1 in 20 on the back "
    "and 1 in 12 on the belly."
)
_TOO_FLAT: Final = mark(
    "A limit of {slope} is flatter than 1 in 200: write one between 1 in 200 and 1 in 5. Usual are 1 in 20 on the back "
    "and 1 in 12 on the belly."
)


def read_slope(text: str, field: str) -> float:
    """Read a typed slope of grain and return it as a ratio, rise over length.

    Parameters
    ----------
    text
        ``1 in 18``, ``1:18``, ``5 %``, or an angle such as ``3 deg``.
    field
        The form field or option it was typed into.

    Raises
    ------
    BadInput
        It is no slope, does not say which kind, or is steeper than 1 in 5 or flatter than 1 in 200.

    Examples
    --------
    >>> read_slope("1 in 18", "back_limit") == 1 / 18, read_slope("5 %", "back_limit")
    (True, 0.05)
    >>> round(1 / read_slope("3 deg", "back_limit"), 1)
    19.1
    """
    shown = text.strip()[:20]
    tidy = " ".join(text.lower().split())
    if ratio := _RATIO.fullmatch(tidy):
        rise, run = _number(ratio[1]), _number(ratio[2])
        slope = rise / run if run else math.inf
    elif percent := _PERCENT.fullmatch(tidy):
        slope = _number(percent[1]) / 100
    elif angle := _ANGLE.fullmatch(tidy):
        # Whoever types degrees of a quarter turn and more means no slope along a board.
        slope = math.tan(math.radians(min(_number(angle[1]), 89.0)))
    elif _BARE.fullmatch(tidy):
        number = _number(tidy)
        meant = f"1 in {shown}" if number >= 1 else f"{100 * number:g} %"
        refusal = say("“{slope}” alone does not say what it counts. Is {meant} meant?", slope=shown, meant=meant)
        raise BadInput(f"{refusal} {say(_HOW)}", field)
    else:
        refusal = say("“{slope}” is no slope that can be read.", slope=shown)
        raise BadInput(f"{refusal} {say(_HOW)}", field)
    if not FLATTEST <= round(slope, 9) <= STEEPEST:
        raise BadInput(say(_TOO_STEEP if slope > STEEPEST else _TOO_FLAT, slope=shown), field)
    return slope


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def read_limits(typed: Mapping[str, str], units: Units | None) -> Limits:
    """Make the limits of the typed texts, by the names in `LIMIT_FIELDS`; a missing one counts as left empty.

    Raises
    ------
    BadInput
        A choice, slope or length that cannot be used; its field says which.

    Examples
    --------
    >>> read_limits({"purpose": "backed", "kerf": "2 mm"}, None).kerf_mm
    2.0
    """
    given = {field: text for field in (*_SLOPES, *_LENGTHS) if (text := typed.get(field, "").strip())}
    changes = {}
    for field, text in given.items():
        if field in _SLOPES:
            changes[_SLOPES[field][0]] = read_slope(text, field)
        else:
            name, span, _ = _LENGTHS[field]
            changes[name] = parse_length(text, span, field, units)
    return make_limits(typed.get("purpose", ""), typed.get("tolerance", ""), changes)


def read_bow_width(text: str, size: BoardSize, units: Units | None) -> float | None:
    """Read the bow's width in millimetres; none when nothing was typed.

    Raises
    ------
    BadInput
        It is no believable width, or wider than the board.

    Examples
    --------
    >>> read_bow_width("1-1/4 in", BoardSize(2438.4, 38.1, 19.05), None)
    31.75
    """
    if not text.strip():
        return None
    width_mm = parse_length(text, _BOW_WIDTH, "bow_width", units)
    if width_mm > size.width_mm + SAME_MM:
        refusal = say(
            "A bow {bow} wide cannot be cut from a board {board} wide. Correct one of the two, or leave the bow's "
            "width empty.",
            bow=both_units(width_mm),
            board=both_units(size.width_mm),
        )
        raise BadInput(refusal, "bow_width")
    return min(width_mm, size.width_mm)
