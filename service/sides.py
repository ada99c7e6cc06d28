"""The four sides of a board and how they share their long corners.

Between two photos the board is rolled a quarter turn away from the person, so in any side's
upright photo the upper long corner is shared with the side before it, the lower one with the
side after it, in the cyclic order of `SIDES`.
"""

from dataclasses import dataclass
from typing import Final

SIDES: Final = ("face_1", "edge_1", "face_2", "edge_2")
FACES: Final = ("face_1", "face_2")
EDGES: Final = ("edge_1", "edge_2")


def side_above(side: str) -> str:
    """Name the side that shares this side's upper long corner.

    >>> side_above("face_1"), side_above("edge_1")
    ('edge_2', 'face_1')
    """
    return SIDES[SIDES.index(side) - 1]


def side_below(side: str) -> str:
    """Name the side that shares this side's lower long corner.

    >>> side_below("face_1"), side_below("edge_2")
    ('edge_1', 'face_1')
    """
    return SIDES[(SIDES.index(side) + 1) % 4]


def side_opposite(side: str) -> str:
    """Name the side on the other side of the board.

    >>> side_opposite("face_1"), side_opposite("edge_2")
    ('face_2', 'edge_1')
    """
    return SIDES[(SIDES.index(side) + 2) % 4]


@dataclass(frozen=True)
class BoardSize:
    """The board as measured or picked from the store sizes, in millimetres."""

    length_mm: float
    width_mm: float
    thickness_mm: float

    def across_mm(self, side: str) -> float:
        """Return how wide a side is: the width of a face, the thickness of an edge.

        >>> BoardSize(2438.4, 38.1, 19.0).across_mm("edge_1")
        19.0
        """
        return self.width_mm if side in FACES else self.thickness_mm
