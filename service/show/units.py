"""Lengths in the user's own unit."""

from service.language import say
from service.sizes import Units, inches_number, inches_text


def length_in(length_mm: float, units: Units) -> str:
    """Write a length in inches to the nearest 1/16, or in whole millimetres.

    >>> length_in(38.1, "in"), length_in(38.1, "mm"), length_in(1727.2, "in")
    ('1-1/2 in', '38 mm', '68 in')
    """
    return inches_text(length_mm) if units == "in" else say("{mm} mm", mm=number_in(length_mm, units))


def number_in(length_mm: float, units: Units) -> str:
    """Write the number of a length alone, as `length_in` does.

    >>> number_in(38.1, "in"), number_in(38.1, "mm")
    ('1-1/2', '38')
    """
    return inches_number(length_mm) if units == "in" else f"{length_mm:.0f}"
