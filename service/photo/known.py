"""What is known of a photo before looking at it, and how wide the side should therefore look."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Scatter of log(width / length) seen against that of a board seen whole: the camera's tilt narrows the side.
WHOLE_SCATTER: Final = 0.25
#: Scatter at the limits of what a part photo or a close-up may show.
PART_SCATTER: Final = 0.15
#: A board in the picture from end to end usually fills this share of it.
USUAL_FILL: Final = 0.93
#: Millimetres of board that a close-up shows from border to border: a hand's length and more.
CLOSE_UP_MM: Final = (130.0, 330.0)
#: When nobody tells how many photos show the side: how likely 1, 2, 3, 4 are against each other.
UNTOLD: Final = {1: 1.0, 2: 0.7, 3: 0.6, 4: 0.5}
#: What is left of the rating of a side of quite wrong width: little when the whole board must be in view.
WRONG: Final = 0.15
WRONG_WHOLE: Final = 0.05


@dataclass(frozen=True)
class Known:
    """What is known of a photo before looking at it.

    Attributes
    ----------
    length_mm, across_mm
        The board's length and the side's width; None when unknown. A width without a length means a close-up.
    photos
        How many photos show the side together, one after the other; 1 when this one shows it whole, 0 when unknown.

    """

    length_mm: float | None = None
    across_mm: float | None = None
    photos: int = 0

    @property
    def aspect(self) -> float | None:
        """The side's width divided by the board's length, when both are known."""
        return self.across_mm / self.length_mm if self.length_mm and self.across_mm else None

    def suits(self, width_px: Floats, length_px: Floats, inside: Flags, cols: int, sharply: float = 1.0) -> Floats:
        """Rate how well widths seen suit what is known.

        Parameters
        ----------
        width_px, length_px
            Shape (n,): width and length of candidates in the picture.
        inside
            Shape (n,): whether the candidate ends inside the picture at both sides.
        cols
            Pixels of the picture along the board.
        sharply
            Factor on the scatter allowed: smaller where width and length are better known.

        Returns
        -------
        Shape (n,), up to 1 where the width suits; all 1 when nothing is known.

        >>> known = Known(length_mm=2000.0, across_mm=20.0, photos=1)
        >>> rated = known.suits(np.array([30.0, 60.0]), np.array([3000.0, 3000.0]), np.array([True, True]), 4000)
        >>> [round(float(value), 2) for value in rated]
        [1.0, 0.07]

        """
        if self.across_mm is None:
            return np.ones_like(width_px)
        if self.length_mm is None:
            return _within(np.log(cols * self.across_mm / width_px), CLOSE_UP_MM[0], CLOSE_UP_MM[1], sharply, WRONG)
        if self.photos == 0:
            # Most sides are photographed whole; the more photos, the fewer do it that way.
            guesses = [replace(self, photos=n).suits(width_px, length_px, inside, cols, sharply) for n in UNTOLD]
            return np.asarray(
                np.max([rated * likely for rated, likely in zip(guesses, UNTOLD.values(), strict=True)], axis=0)
            )
        if self.photos == 1:
            # A board alongside may carry the lines on to the border; then the board itself usually fills the picture.
            length_px = np.where(inside, length_px, USUAL_FILL * cols)
        ratio = np.log(width_px / length_px * self.length_mm / self.across_mm)
        whole = np.exp(-0.5 * (ratio / (WHOLE_SCATTER * sharply)) ** 2)
        if self.photos == 1:
            return np.asarray(WRONG_WHOLE + (1 - WRONG_WHOLE) * whole)
        # One of n photos shows between 1/n and 2/n of the board, so the side looks n/2 to n times as wide.
        return _within(ratio, 0.5 * self.photos, 1.15 * self.photos, sharply, WRONG)


def _within(size: Floats, least: float, most: float, sharply: float, wrong: float) -> Floats:
    """Rate logarithms of sizes: 1 between least and most, falling to `wrong` outside."""
    off = np.minimum(size - np.log(least), 0) + np.maximum(size - np.log(most), 0)
    return np.asarray(wrong + (1 - wrong) * np.exp(-0.5 * (off / (PART_SCATTER * sharply)) ** 2))
