"""Where things go in the picture of a side: the board cut into rows under each other.

A side is some sixty times as long as wide. It is drawn in rows of about two feet, one under the
other, and higher than it is, so that a slope of 1 in 20 can be seen on a phone held upright. One unit
of the picture is one CSS pixel on a screen 390 pixels wide.
"""

import math
from dataclasses import dataclass
from typing import Final

from service.lengths import Units

PICTURE_WIDTH: Final = 390.0
MARGIN: Final = 10.0
ROW_MM: Final[dict[Units, float]] = {"in": 609.6, "mm": 600.0}
SIDE_HEIGHT: Final = 72.0
MARK_ROOM: Final = 17.0
RULER_HEIGHT: Final = 24.0
TEXT_HEIGHT: Final = 16.0


@dataclass(frozen=True)
class Row:
    """A stretch of the board and its place in the picture.

    Attributes
    ----------
    from_mm, to_mm
        The stretch, from the marked end.
    top, height
        Upper border and height of the drawn side, in units of the picture.
    scale
        Units of the picture per millimetre along the board.
    across_mm
        Width of the side.
    """

    from_mm: float
    to_mm: float
    top: float
    height: float
    scale: float
    across_mm: float

    def along(self, position_mm: float) -> float:
        """Return where a position lies along the row.

        >>> Row(600.0, 1200.0, 0.0, 70.0, 0.5, 38.0).along(700.0)
        60.0
        """
        return MARGIN + (position_mm - self.from_mm) * self.scale

    def down(self, above_mm: float) -> float:
        """Return where a height above the lower corner lies.

        >>> Row(0.0, 600.0, 100.0, 70.0, 0.5, 35.0).down(7.0)
        156.0
        """
        return self.top + self.height * (1.0 - above_mm / self.across_mm)

    def cut(self, from_mm: float, to_mm: float) -> tuple[float, float] | None:
        """Return the part of a stretch that lies in this row, in millimetres; None when none does.

        >>> Row(600.0, 1200.0, 0.0, 70.0, 0.5, 38.0).cut(0.0, 700.0)
        (600.0, 700.0)
        """
        begin_mm, end_mm = max(from_mm, self.from_mm), min(to_mm, self.to_mm)
        return (begin_mm, end_mm) if end_mm > begin_mm else None

    def holds(self, position_mm: float) -> bool:
        """Tell whether a position lies in this row; a border belongs to the row that it begins."""
        return self.from_mm <= position_mm < self.to_mm


def times_higher(across_mm: float, row_mm: float) -> int:
    """Return how many times higher than true a side is drawn.

    >>> times_higher(38.1, 609.6), times_higher(19.05, 609.6), times_higher(200.0, 609.6)
    (3, 6, 1)
    """
    true_height = across_mm * (PICTURE_WIDTH - 2 * MARGIN) / row_mm
    return max(1, round(SIDE_HEIGHT / true_height))


def make_rows(
    length_mm: float, across_mm: float, units: Units, top: float, lines_below: list[int]
) -> tuple[list[Row], float]:
    """Lay out the rows of a side.

    Parameters
    ----------
    length_mm, across_mm
        The side.
    top
        Where the first row's ruler begins.
    lines_below
        Lines of text under each row; `row_count` long.

    Returns
    -------
    rows, bottom
        The rows, and where the last one's text ends.
    """
    row_mm = ROW_MM[units]
    scale = (PICTURE_WIDTH - 2 * MARGIN) / row_mm
    height = across_mm * scale * times_higher(across_mm, row_mm)
    rows = []
    for number, lines in enumerate(lines_below):
        side_top = top + RULER_HEIGHT + MARK_ROOM
        from_mm = number * row_mm
        rows.append(Row(from_mm, min(from_mm + row_mm, length_mm), side_top, height, scale, across_mm))
        top = side_top + height + MARK_ROOM + lines * TEXT_HEIGHT + 8.0
    return rows, top


def row_count(length_mm: float, units: Units) -> int:
    """Return how many rows a board takes.

    >>> row_count(2438.4, "in"), row_count(2439.0, "in"), row_count(100.0, "mm")
    (4, 5, 1)
    """
    return max(1, math.ceil(length_mm / ROW_MM[units] - 1e-9))
