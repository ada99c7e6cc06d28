"""One photo as it came in."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Upload:
    """A photo's name, its bytes and, when given by hand, the side's corners in it.

    `corners` are (column, row) pixels of the upright photo: marked end upper, far end upper, far
    end lower, marked end lower.
    """

    name: str
    data: bytes
    corners: tuple[tuple[float, float], ...] | None = None
