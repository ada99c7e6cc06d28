"""Dark places of a side as convex shapes, each at the level of darkness at which its border is sharpest."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from service.grain.tensor import Float

LEVELS = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
"""Shares of a dark place's darkest point at which it is cut out: a knot may hang together with a dark
ring or a stain beside it, and comes apart from it at a higher level."""

SHORTEST_MM, LONGEST_MM, LOWEST_MM = 3.5, 60.0, 2.4
"""Along and across. Longer dark places are streaks of colour; lower ones along a corner are its shadow."""

FEWEST_FILLED, FEWEST_OF_BOX = 0.7, 0.55
"""Share of its convex hull that a shape fills, and share of its box that the hull fills (an ellipse
0.785): letters and V shapes fill less."""

LONGEST_ASPECT = 5.0
"""Along over across, also where a corner cuts a knot. Streaks are longer."""

INSIDE_MM, OUTSIDE_MM = 1.8, (0.6, 2.2)
"""The two sides of a border: what lies this far within, and between these distances outside."""

Mask = NDArray[np.uint8]


@dataclass(frozen=True)
class Blob:
    """A dark place.

    Attributes
    ----------
    top, left
        Row and column of its box.
    hull
        uint8, shape (rows, cols) of its box: 1 inside its convex hull.
    filled
        Share of the hull that is dark enough, holes counted as dark: a knot may be pale inside its
        bark.
    """

    top: int
    left: int
    hull: Mask
    filled: float

    @property
    def bottom(self) -> int:
        """First row below it."""
        return self.top + int(self.hull.shape[0])

    @property
    def right(self) -> int:
        """First column beyond it."""
        return self.left + int(self.hull.shape[1])

    def overlaps(self, other: "Blob") -> bool:
        """Tell whether the boxes of two share a point."""
        return bool(
            self.top < other.bottom and other.top < self.bottom and self.left < other.right and other.left < self.right
        )


def dark_blobs(darkness: Float, least: float, peak: float, mm_row: float, mm_col: float) -> list[Blob]:
    """Cut out the dark places of a side, each at several levels.

    Parameters
    ----------
    darkness
        float32, shape (rows, cols), shares of the wood's brightness.
    least, peak
        A dark place hangs together above the first and reaches the second somewhere.
    mm_row, mm_col
        Millimetres per row and per column.

    Examples
    --------
    >>> darkness = np.zeros((40, 60), np.float32)
    >>> darkness[10:20, 30:45] = 0.4
    >>> [(blob.top, blob.bottom, blob.left, blob.right) for blob in dark_blobs(darkness, 0.1, 0.2, 0.6, 0.6)]
    [(10, 20, 30, 45)]
    """
    _, names, boxes, _ = cv2.connectedComponentsWithStats((darkness > least).astype(np.uint8), connectivity=4)
    found: dict[tuple[int, int, int, int], Blob] = {}
    for name, (left, top, cols, rows, _) in enumerate(boxes):
        if name == 0 or cols * mm_col < SHORTEST_MM or rows * mm_row < LOWEST_MM:
            continue
        part = np.s_[top : top + rows, left : left + cols]
        own = np.where(names[part] == name, darkness[part], 0)
        darkest = float(own.max())
        if darkest < peak:
            continue
        for level in sorted({max(least, share * darkest) for share in LEVELS}):
            for blob in _cut(own > level, int(top), int(left), mm_row, mm_col):
                found.setdefault((blob.top, blob.bottom, blob.left, blob.right), blob)
    return list(found.values())


def _cut(dark: NDArray[np.bool_], top: int, left: int, mm_row: float, mm_col: float) -> list[Blob]:
    outlines, _ = cv2.findContours(dark.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    blobs = []
    for outline in outlines:
        col, row, cols, rows = cv2.boundingRect(outline)
        longest_mm = min(LONGEST_MM, LONGEST_ASPECT * rows * mm_row)
        if not (SHORTEST_MM <= cols * mm_col <= longest_mm and rows * mm_row >= LOWEST_MM):
            continue
        shifted = outline - np.array([col, row], np.int32)
        filled, hull = np.zeros((rows, cols), np.uint8), np.zeros((rows, cols), np.uint8)
        cv2.drawContours(filled, [shifted], -1, 1, -1)
        cv2.fillConvexPoly(hull, cv2.convexHull(shifted), 1)
        area = cv2.countNonZero(hull)
        share = cv2.countNonZero(filled) / area
        if share >= FEWEST_FILLED and area >= FEWEST_OF_BOX * rows * cols:
            blobs.append(Blob(top + row, left + col, hull, share))
    return blobs


def disc(reach_mm: float, mm_row: float, mm_col: float) -> Mask:
    """Return a disc of a radius in millimetres, as a structuring element."""
    size = (2 * round(reach_mm / mm_col) + 1, 2 * round(reach_mm / mm_row) + 1)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, size), np.uint8)
