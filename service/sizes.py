"""Lengths as people type them, and the sizes boards are sold by.

A length carries its unit (`96 in`, `8ft`, `6' 4"`, `1-1/2in`, `2438 mm`). A plain number is
refused, unless the caller says which unit the person chose beforehand.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from service.errors import BadInput
from service.language import mark, say
from service.lengths import Units, both_units, inches_text
from service.sides import BoardSize

_LONGEST_TEXT: Final = 40  # characters; a typed length takes a dozen

_MM_PER_UNIT: Final = {
    "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4,
    "ft": 304.8, "foot": 304.8, "feet": 304.8, "'": 304.8,
    "mm": 1.0, "cm": 10.0, "m": 1000.0,
}  # fmt: skip

_SIGNS: Final = str.maketrans(
    {"’": "'", "′": "'", "‘": "'", "”": '"', "″": '"', "“": '"', "–": "-", "−": "-", "⁄": "/", "×": "x", "\xa0": " "}
)
_VULGAR: Final = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip

# A comma may stand for the decimal point, but "2,438" reads as either of two numbers: refused.
_FRACTION: Final = r"(?:(?P<whole>\d+)(?:\s*-\s*|\s+))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
_NUMBER: Final = rf"(?:{_FRACTION}|(?P<plain>\d+(?:\.\d+|,\d{{1,2}}(?!\d))?|\.\d+))"
_UNIT: Final = r"(?:(?P<unit>inches|inch|in|feet|foot|ft|mm|cm|m|\"|')\.?(?![a-z])|(?!\s*[a-z\d.,/]))"
_TERM: Final = re.compile(_NUMBER + r"\s*" + _UNIT + r"\s*")


@dataclass(frozen=True)
class Span:
    """A measure that is asked for: what is believable in mm (zero only when that is the least), its words and examples.

    Words and examples are marked for the catalogue.
    """

    words: str
    low_mm: float
    high_mm: float
    examples: str

    def said(self, text: str, **values: str) -> str:
        """Say a marked sentence about this measure, whose places `measure` and `examples` it fills.

        >>> THICKNESS.said("Give {measure}, for example {examples}.")
        "Give the board's thickness, for example 3/4 in, 0.75 in or 19 mm."
        """
        return say(text, measure=say(self.words), examples=say(self.examples), **values)


BOARD_LENGTH: Final = Span(mark("the board's length"), 150.0, 6000.0, mark("96 in, 8 ft or 2438 mm"))
WIDTH: Final = Span(mark("the board's width"), 5.0, 400.0, mark("1-1/2 in, 1.5 in or 38 mm"))
THICKNESS: Final = Span(mark("the board's thickness"), 5.0, 400.0, mark("3/4 in, 0.75 in or 19 mm"))
BOW_LENGTH: Final = Span(mark("the bow's length"), 300.0, 2400.0, mark("68 in, 5 ft 8 in or 1727 mm"))

_OUTSIDE: Final = {
    "short": mark(
        "{length} is too short for {measure}: it must lie between {least} and {most}. Check the number and its unit."
    ),
    "long": mark(
        "{length} is too long for {measure}: it must lie between {least} and {most}. Check the number and its unit."
    ),
    "small": mark(
        "{length} is too small for {measure}: it must lie between {least} and {most}. Check the number and its unit."
    ),
    "large": mark(
        "{length} is too large for {measure}: it must lie between {least} and {most}. Check the number and its unit."
    ),
}
"""What is said of a length that is not believable."""


def parse_length(text: str, span: Span, field: str, units: Units | None = None) -> float:
    """Read a typed length and return it in millimetres.

    Parameters
    ----------
    text
        What was typed, such as ``96in`` or ``6 ft 4 in``.
    span
        Which measure it is; says what is believable.
    field
        The form field or option it was typed into.
    units
        The unit of a plain number; None refuses plain numbers.

    Raises
    ------
    BadInput
        It is no length, has no unit, or is not believable. The text names it and gives examples.

    Examples
    --------
    >>> parse_length("1-1/2 in", WIDTH, "width")
    38.1
    >>> parse_length("6ft 4in", BOARD_LENGTH, "length")
    1930.4
    >>> parse_length("68", BOW_LENGTH, "bow_length", units="in")
    1727.2
    """
    tidy, shown = _tidy(text), text.strip()
    if not tidy:
        raise BadInput(span.said(mark("Give {measure}, for example {examples}.")), field)
    if len(tidy) > _LONGEST_TEXT:
        told = span.said(mark("That is no length that can be read. Write {measure} like {examples}."))
        raise BadInput(told, field)
    if tidy.startswith("-") and span.low_mm <= 0:
        raise BadInput(span.said(mark("{length} cannot be {measure}: it must be zero or more."), length=shown), field)
    if tidy.startswith("-") or (length_mm := _total_mm(tidy, shown, span, field, units)) <= 0 < span.low_mm:
        raise BadInput(span.said(mark("{length} cannot be {measure}: it must be more than zero."), length=shown), field)
    if not span.low_mm <= length_mm <= span.high_mm:
        ways = ("small", "large") if span in (WIDTH, THICKNESS) else ("short", "long")
        told = _OUTSIDE[ways[length_mm > span.high_mm]]
        least, most = both_units(span.low_mm), both_units(span.high_mm)
        raise BadInput(span.said(told, length=shown, least=least, most=most), field)
    return length_mm


def _tidy(text: str) -> str:
    """Lower case, plain quotes and dashes, written-out fractions, single spaces."""
    for sign, fraction in _VULGAR.items():
        text = text.replace(sign, f" {fraction}")
    return " ".join(text.translate(_SIGNS).replace("''", '"').lower().split())


def _total_mm(tidy: str, shown: str, span: Span, field: str, units: Units | None) -> float:
    """Add up the terms of a length, largest unit first, each unit once."""
    total_mm, at, smallest = Fraction(0), 0, float("inf")
    while at < len(tidy):
        term = _TERM.match(tidy, at)
        if term is None:
            raise BadInput(_unreadable(shown, span), field)
        unit = term["unit"] or (units if at == 0 and term.end() == len(tidy) else None)
        if unit is None:
            told = mark("“{length}” needs a unit. Write {measure} like {examples}.")
            raise BadInput(span.said(told, length=shown), field)
        mm_per_unit = _MM_PER_UNIT[unit]
        if mm_per_unit >= smallest:
            raise BadInput(_unreadable(shown, span), field)
        total_mm += _number(term, shown, field) * Fraction(str(mm_per_unit))
        smallest, at = mm_per_unit, term.end()
    return float(total_mm)


def _unreadable(shown: str, span: Span) -> str:
    return span.said(mark("“{length}” is no length that can be read. Write {measure} like {examples}."), length=shown)


def _number(term: re.Match[str], shown: str, field: str) -> Fraction:
    if term["plain"]:
        return Fraction(term["plain"].replace(",", "."))
    if int(term["bottom"]) == 0:
        raise BadInput(say("“{length}” divides by zero. Write the fraction like 3/4.", length=shown), field)
    return int(term["whole"] or 0) + Fraction(int(term["top"]), int(term["bottom"]))


@dataclass(frozen=True)
class StoreSize:
    """A size boards are sold by: its name and what it measures; no width means sold in any width."""

    name: str
    thickness_mm: float
    width_mm: float | None

    @property
    def label(self) -> str:
        """Name and measures, such as ``1x2: 3/4 in x 1-1/2 in``."""
        if self.width_mm is None:
            return say("{size}: {thickness} thick, any width", size=self.name, thickness=inches_text(self.thickness_mm))
        thickness, width = inches_text(self.thickness_mm), inches_text(self.width_mm)
        return say("{size}: {thickness} x {width}", size=self.name, thickness=thickness, width=width)


# American Softwood Lumber Standard PS 20, minimum dressed dry sizes in inches; stores sell surfaced
# hardwood by the same names and sizes (common practice, no source).
_PS20_THICKNESS_IN: Final = {"1": "3/4", "1-1/4": "1", "1-1/2": "5/4", "2": "3/2"}
_PS20_WIDTH_IN: Final = {
    "2": "3/2", "3": "5/2", "4": "7/2", "5": "9/2", "6": "11/2", "8": "29/4", "10": "37/4", "12": "45/4",
}  # fmt: skip

# Hardwood quarters of the National Hardwood Lumber Association, thickness in inches: rough, planed on
# one side (S1S), planed on two (S2S). Sold in random widths.
_QUARTERS_IN: Final = {
    "4/4": {"rough": "1", "S1S": "7/8", "S2S": "13/16"},
    "5/4": {"rough": "5/4", "S1S": "9/8", "S2S": "17/16"},
    "6/4": {"rough": "3/2", "S1S": "11/8", "S2S": "21/16"},
    "8/4": {"rough": "2", "S1S": "29/16", "S2S": "7/4"},
    "12/4": {"rough": "3", "S2S": "11/4"},
}


def _mm(inches: str) -> float:
    return float(Fraction(inches) * Fraction("25.4"))


STORE_SIZES: Final[dict[str, StoreSize]] = {
    size.name: size
    for size in (
        *(
            StoreSize(f"{thick}x{wide}", _mm(thick_in), _mm(wide_in))
            for thick, thick_in in _PS20_THICKNESS_IN.items()
            for wide, wide_in in _PS20_WIDTH_IN.items()
        ),
        *(
            StoreSize(f"{quarter} {planed}", _mm(thick_in), None)
            for quarter, planings in _QUARTERS_IN.items()
            for planed, thick_in in planings.items()
        ),
    )
}

_BY_LOWER_NAME: Final = {name.lower(): size for name, size in STORE_SIZES.items()}

#: A measured side may differ this much from the store size named with it, as a share; planed-down and
#: rough-sawn boards stay within it, a mistaken name does not. Common practice, no source.
_STORE_SIZE_PLAY: Final = 0.2


def store_size(name: str, field: str = "size") -> StoreSize:
    """Look up a store size by its name.

    >>> store_size("1x2").width_mm, store_size("4/4 s2s").thickness_mm
    (38.1, 20.6375)
    """
    tidy = _tidy(name[:_LONGEST_TEXT])
    tidy = tidy if "/4 " in tidy else tidy.replace(" ", "")
    size = _BY_LOWER_NAME.get(tidy)
    if size is None:
        told = say(
            "“{size}” is no store size known here. Use a name such as 1x2, 2x4 or 4/4 S2S, or measure the board and "
            "give its width and thickness.",
            size=name.strip()[:_LONGEST_TEXT],
        )
        raise BadInput(told, field)
    return size


def board_size(
    length: str, width: str = "", thickness: str = "", size: str = "", units: Units | None = None
) -> tuple[BoardSize, str | None]:
    """Make the board's size out of what was typed; a measured side goes before the store size's.

    Returns
    -------
    The size in millimetres, and the store size's name when one was given.

    Examples
    --------
    >>> board_size("8ft", size="1x2")
    (BoardSize(length_mm=2438.4, width_mm=38.1, thickness_mm=19.05), '1x2')
    """
    length_mm = parse_length(length, BOARD_LENGTH, "length", units)
    store = store_size(size) if size.strip() else None
    width_mm = _across_mm(width, WIDTH, "width", store, units)
    thickness_mm = _across_mm(thickness, THICKNESS, "thickness", store, units)
    if thickness_mm > width_mm:
        told = say(
            "The thickness, {thickness}, is larger than the width, {width}. The width is measured across a face, the "
            "wider side: exchange the two.",
            thickness=both_units(thickness_mm),
            width=both_units(width_mm),
        )
        raise BadInput(told, "thickness")
    if width_mm > length_mm:
        told = say(
            "The width, {width}, is larger than the length, {length}: check both.",
            width=both_units(width_mm),
            length=both_units(length_mm),
        )
        raise BadInput(told, "width")
    return BoardSize(length_mm, width_mm, thickness_mm), store.name if store else None


def _across_mm(text: str, span: Span, field: str, store: StoreSize | None, units: Units | None) -> float:
    """Take a measured side, or the store size's when none was typed."""
    store_mm = None if store is None else store.width_mm if span is WIDTH else store.thickness_mm
    if not text.strip():
        if store_mm is not None:
            return store_mm
        if store is not None:
            told = mark("{size} is sold in any width: measure {measure}, for example {examples}.")
            raise BadInput(span.said(told, size=store.name), field)
        told = mark("Give {measure}, for example {examples}, or name a store size such as 1x2.")
        raise BadInput(span.said(told), field)
    measured_mm = parse_length(text, span, field, units)
    if store is not None and store_mm is not None and abs(measured_mm - store_mm) > _STORE_SIZE_PLAY * store_mm:
        told = say(
            "{length} does not fit the store size {size}, which measures {measured} there. Correct one of the two, or "
            "leave the store size out.",
            length=text.strip(),
            size=store.name,
            measured=inches_text(store_mm),
        )
        raise BadInput(told, field)
    return measured_mm
