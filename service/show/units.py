"""Lengths in the user's own unit."""

from service.sizes import Units, inches_text


def length_in(length_mm: float, units: Units) -> str:
    """Write a length in inches to the nearest 1/16, or in whole millimetres.

    >>> length_in(38.1, "in"), length_in(38.1, "mm"), length_in(1727.2, "in")
    ('1-1/2 in', '38 mm', '68 in')
    """
    return inches_text(length_mm) if units == "in" else f"{length_mm:.0f} mm"
