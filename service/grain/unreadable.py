"""Find what lies on the wood or is no wood: print, paper, cracks, bark, glare, black."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from service.grain.departure import Departure

BURNT, BLACK, LOST_MM = 0.998, 0.004, 3.0
"""Grey levels all over a square of this size, in millimetres, at which nothing is left to read. Single
burnt pixels are the noise of pale wood, whose grain can be read."""

FINE_MM = 0.3
"""Blur at which ink, paper borders and cracks still stand out."""

DEVIATIONS = 5.0
"""What departs from its line by this many deviations of the wood around is no grain. Ring lines and
pores depart by 3 at most on all but the most strongly drawn wood."""

LEAST_DARKER, LEAST_LIGHTER, MOST = 0.25, 0.20, 0.40
"""And by at least these shares of the wood's brightness (calm wood is not to be judged by its noise);
a departure by the last share is enough on any wood."""

SPREAD_MM = 500.0
"""The wood's own deviation is taken over this length, so that a stamp does not excuse itself."""

PORE_ACROSS_MM, PORE_ALONG_MM = 2.0, 25.0
"""What is no wider and no longer than this is a pore, which shows the grain, and no stroke of ink."""

GROW = 3
"""Points by which the border of a mark, where it is half wood, is taken in: 1 to each side."""


def unreadable(side: Departure, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Mark the pixels of a side that show no grain: they should not count when its lines are measured.

    Parameters
    ----------
    side
        The side against its own wood.
    shape
        Rows and columns of the side's strip.

    Returns
    -------
    Of that shape, bool.

    Examples
    --------
    >>> from service.grain.departure import departure
    >>> board = np.full((60, 1000), 0.7, np.float32)
    >>> board[20:40, 500:550] = 0.95
    >>> marked = unreadable(departure(board, 0.5), board.shape)
    >>> bool(marked[30, 525]), bool(marked[30, 400])
    (True, False)
    """
    lighter = side.lighter(FINE_MM)
    # A shadow across the whole side is no mark: its grain can be read.
    lighter -= np.partition(lighter, lighter.shape[0] // 2, axis=0)[lighter.shape[0] // 2]
    step = max(1, round(6.0 / side.mm_col))
    few = np.median(np.abs(lighter[:, ::step]), axis=0) * 1.4826
    window = int(SPREAD_MM / (side.mm_col * step)) | 1
    spread = np.repeat(median_filter(few, size=window, mode="reflect"), step)[: lighter.shape[1]]
    darkest, lightest = (np.clip(DEVIATIONS * spread, least, MOST) for least in (LEAST_DARKER, LEAST_LIGHTER))
    marked = _without_pores((lighter < -darkest) | (lighter > lightest), side.mm_row, side.mm_col)
    square = np.ones((max(1, round(LOST_MM / side.mm_row)), max(1, round(LOST_MM / side.mm_col))), np.uint8)
    lost = ((side.wood > BURNT) | (side.wood < BLACK)).astype(np.uint8)
    grown = cv2.max(cv2.dilate(marked, np.ones((GROW, GROW), np.uint8)), cv2.morphologyEx(lost, cv2.MORPH_OPEN, square))
    return np.asarray(cv2.resize(grown, shape[::-1], interpolation=cv2.INTER_NEAREST) > 0)


def _without_pores(marked: NDArray[np.bool_], mm_row: float, mm_col: float) -> NDArray[np.uint8]:
    """Take away what is as thin and short as a pore."""
    _, names, boxes, _ = cv2.connectedComponentsWithStats(marked.astype(np.uint8))
    wide = boxes[:, cv2.CC_STAT_HEIGHT] * mm_row > PORE_ACROSS_MM
    long = boxes[:, cv2.CC_STAT_WIDTH] * mm_col > PORE_ALONG_MM
    kept = (wide | long).astype(np.uint8)
    kept[0] = 0
    return np.asarray(kept[names], np.uint8)
