"""Lengths in words, in the units a person chose."""

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final, Literal

from service.language import say

Units = Literal["in", "mm"]

MM_PER_IN: Final = 25.4

_chosen: ContextVar[Units] = ContextVar("units", default="in")


@contextmanager
def use_units(units: Units) -> Iterator[None]:
    """Name lengths in these units first until the end of the block; inches where nothing is said.

    >>> with use_units("mm"):
    ...     both_units(150.0)
    '150 mm (5-7/8 in)'
    """
    before = _chosen.set(units)
    try:
        yield
    finally:
        _chosen.reset(before)


def both_units(length_mm: float, parts: int = 16) -> str:
    """Write a length for a sentence: in the units in use, and in the others for whoever has the other tape.

    Parameters
    ----------
    length_mm
        Length in millimetres, any sign; written whole.
    parts
        Parts of an inch to round to, a power of two.

    >>> both_units(150.0), both_units(965.2, 4)
    ('5-7/8 in (150 mm)', '38 in (965 mm)')
    """
    inches, mm = inches_text(length_mm, parts), number_in(length_mm, "mm")
    if _chosen.get() == "in":
        return say("{inches} ({mm} mm)", inches=inches, mm=mm)
    return say("{mm} mm ({inches})", mm=mm, inches=inches)


def length_in(length_mm: float, units: Units | None = None) -> str:
    """Write a length in inches to the nearest 1/16, or in whole millimetres; in the units in use when none are given.

    >>> length_in(38.1, "in"), length_in(38.1, "mm"), length_in(1727.2)
    ('1-1/2 in', '38 mm', '68 in')
    """
    units = units or _chosen.get()
    return inches_text(length_mm) if units == "in" else say("{mm} mm", mm=number_in(length_mm, units))


def number_in(length_mm: float, units: Units) -> str:
    """Write the number of a length alone, as `length_in` does.

    >>> number_in(38.1, "in"), number_in(38.1, "mm")
    ('1-1/2', '38')
    """
    return inches_number(length_mm) if units == "in" else f"{length_mm:.0f}"


def inches_text(length_mm: float, parts: int = 16) -> str:
    """Write a length as whole inches and a fraction, rounded to the nearest 1/parts inch.

    Parameters
    ----------
    length_mm
        Length in millimetres, any sign.
    parts
        Parts of an inch to round to, a power of two.

    >>> inches_text(38.1), inches_text(965.2), inches_text(19.05), inches_text(-6.35), inches_text(0.1)
    ('1-1/2 in', '38 in', '3/4 in', '-1/4 in', '0 in')
    """
    return say("{inches} in", inches=inches_number(length_mm, parts))


def inches_number(length_mm: float, parts: int = 16) -> str:
    """Write the number of inches of a length without their unit, as `inches_text` does.

    >>> inches_number(38.1), inches_number(1727.2)
    ('1-1/2', '68')
    """
    count = round(abs(length_mm) / MM_PER_IN * parts)
    whole, rest = divmod(count, parts)
    sign = "-" if length_mm < 0 and count else ""
    shared = math.gcd(rest, parts)
    fraction = f"{rest // shared}/{parts // shared}"
    number = f"{whole}-{fraction}" if whole and rest else fraction if rest else f"{whole}"
    return f"{sign}{number}"
