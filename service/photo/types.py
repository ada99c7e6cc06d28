"""The values that photo hands on: an upright photo, a board's outline in it, a straightened strip."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.errors import Problem

Float = NDArray[np.float32]
Bytes = NDArray[np.uint8]

#: Focal length of a usual phone camera as a share of the picture's diagonal: 26 mm / 43.27 mm.
USUAL_FOCAL: Final = 0.6


@dataclass(frozen=True)
class Photo:
    """An opened photo, turned upright.

    Attributes
    ----------
    name
        What the user calls the file.
    luma
        uint8, shape (rows, cols), 0 black to 255 white, upright: as cameras store it, a quarter of what fractions
        would take. `Frame` reads it as 0 to 1.
    colour
        float32, shape (rows // reduction, cols // reduction, 3), red, green, blue, 0 to 1: the
        same photo made small, for finding the board.
    reduction
        Pixels of `luma` per pixel of `colour`, along rows and columns alike.
    focal_px
        Focal length in pixels of `luma`, from the photo's own notes; None when it has none.
    digest
        Hexadecimal SHA-256 of the bytes, to notice the same photo given twice.
    halving
        2 when a large photo was opened at half its size for a quick look, else 1.
    """

    name: str
    luma: Bytes
    colour: Float
    reduction: int
    focal_px: float | None
    digest: str
    halving: int = 1


@dataclass(frozen=True)
class Outline:
    """One side of the board in an upright photo.

    Attributes
    ----------
    upper, lower
        float64, shape (n, 2), points (row, col) in pixels of `Photo.luma` along the upper and the lower
        long corner, from the marked end to the far end. "Upper" is as the side is read: in a
        portrait photo (marked end at the bottom) it is the left one of the two. Pixel (0, 0) has
        its centre at (0.0, 0.0).
    marked_end_in_view, far_end_in_view
        Whether the first and the last points are the board's own corners, or where it leaves the frame.
    sure
        0 (a guess) to 1 (certain).
    problems
        What is not as it should be, though the side could still be found.
    """

    upper: NDArray[np.float64]
    lower: NDArray[np.float64]
    marked_end_in_view: bool
    far_end_in_view: bool
    sure: float
    problems: tuple[Problem, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether the side is in view from end to end."""
        return self.marked_end_in_view and self.far_end_in_view

    @property
    def width_px(self) -> float:
        """Mean distance between the long corners, in pixels."""
        return float(np.hypot(*(self.upper - self.lower).T).mean())

    @property
    def length_px(self) -> float:
        """Length of the mid-line, in pixels."""
        return float(np.hypot(*np.diff(0.5 * (self.upper + self.lower), axis=0).T).sum())

    @property
    def corners(self) -> list[list[float]]:
        """Four corners as [col, row] in pixels: marked upper, far upper, far lower, marked lower."""
        points = (self.upper[0], self.upper[-1], self.lower[-1], self.lower[0])
        return [[round(float(col), 1), round(float(row), 1)] for row, col in points]


@dataclass(frozen=True)
class Strip:
    """One side straightened: rows across, columns along, the same millimetres per pixel both ways.

    Attributes
    ----------
    image
        float32, shape (rows, cols), 0 to 1. Row 0 lies along the upper long corner, the last row
        along the lower one; columns run from `from_mm` to `to_mm`.
    mm_per_px
        Millimetres per pixel, along and across.
    from_mm, to_mm
        Distance from the marked end of the left and the right border of the image.
    photo_px_per_mm
        What the photo itself resolved, in the mean over the side.
    scale_error
        Half-width of the 95 % interval of the along-to-across scale ratio, as a share of 1.
    crook_positions_mm, crook_mm
        Shape (m,): how far the side's mid-line lies above (+) the straight line between its ends,
        up in its photo. The lens's own bow is taken out as far as the width along the side tells it.
    sharpness
        0 (no detail at the photo's own scale) to 1 (as sharp as pixels allow).
    along_error_mm
        Half-width of the 95 % interval of `from_mm` and `to_mm`, as far as several photos were put together.
    """

    image: Float
    mm_per_px: float
    from_mm: float
    to_mm: float
    photo_px_per_mm: float
    scale_error: float
    crook_positions_mm: NDArray[np.float64]
    crook_mm: NDArray[np.float64]
    sharpness: float
    along_error_mm: float = 0.0


@dataclass(frozen=True)
class EndView:
    """The board's marked end, photographed head on with face 1 up, straightened.

    Seen head on, with face 1 up, y (up in face 1's photo, from its lower corner) grows from right to left; the
    image is mirrored so that it grows from left to right, as arrays are usually read.

    Attributes
    ----------
    image
        float32, shape (rows, cols), 0 to 1. Row 0 lies along face 1 and rows run toward face 2; columns run with
        growing y, from face 1's lower long corner (edge 1) to its upper one (edge 2).
    mm_per_px
        Millimetres per pixel, along rows and columns alike: pixel (row, col) shows y = col * mm_per_px and
        z = thickness - row * mm_per_px.
    corners
        float64, shape (4, 2): where the image's corners are in the photo, as (row, col): first row's first and last
        column, last row's last and first column.
    sure
        0 (a guess) to 1 (certain).
    """

    image: Float
    mm_per_px: float
    corners: NDArray[np.float64]
    sure: float
