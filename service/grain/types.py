"""The values that grain hands on."""

from dataclasses import dataclass


@dataclass(frozen=True)
class KnotBox:
    """A knot as the rectangle around it, millimetres: along from the marked end, across from the lower corner."""

    from_mm: float
    to_mm: float
    across_from_mm: float
    across_to_mm: float
