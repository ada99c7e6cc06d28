"""Tape across the marked end: as wide as the side, but neither wood nor ground."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from service.photo.curves import Corners
from service.photo.frame import Frame
from service.photo.wood import TELLING, Tone

Floats = NDArray[np.float64]

#: Tape reaches along the board at most this many widths of the side (or of this many pixels), and never further than
#: the last number of pixels.
WIDTHS: Final = 2.0
LEAST_WIDTH_PX: Final = 40.0
MOST_PX: Final = 250
#: Shortest strip that is taken for tape, in pixels.
SHORTEST_PX: Final = 10
#: Pixels of ground in a row that count as bare ground; wood and tape blurred over one another may look like it.
BARE_PX: Final = 10
#: How far beyond a long corner the ground is looked at, in pixels.
AWAY_PX: Final = 16.0
#: Where wood and ground differ by less than this many standard deviations of the wood, other boards lie alongside.
ALONGSIDE: Final = 4.0
#: The ground behind the end is looked at in this many pixels beyond the longest tape, or at the picture's border.
BEHIND_PX: Final = 40
#: Columns looked at before the end.
BEFORE_PX: Final = 4


def past_tape(frame: Frame, corners: Corners, tone: Tone, col: int, way: int) -> int:
    """Move an end outward over tape.

    Tape is told by being plainly different from the wood on one side of it and from the ground around it; with
    other boards alongside, from the ground behind the end.

    Parameters
    ----------
    frame, corners, tone
        The photo, the side's long corners, and the tone of wood and ground.
    col, way
        Where the wood seems to end, and -1 or 1 for outward.

    Returns
    -------
    int
        The column where the tape ends, or `col` when there is none.

    """
    most = min(int(WIDTHS * max(corners.mean_width, LEAST_WIDTH_PX)), MOST_PX)
    cols = (col + way * np.arange(-BEFORE_PX, most + BEHIND_PX)).astype(np.float64)
    cols = cols[(cols >= 0) & (cols <= frame.cols - 1)]
    if len(cols) < BEHIND_PX + SHORTEST_PX:
        return col
    inside = _from_wood(frame, tone, np.stack([corners.rows(cols, share) for share in (0.3, 0.5, 0.7)]), cols)
    if tone.parted < ALONGSIDE:
        apart = _size(inside - np.median(inside[-BEHIND_PX:], axis=0))
    else:
        beside = [
            _from_wood(frame, tone, (corners.rows(cols, share) + away)[None], cols)
            for share, away in ((0.0, -AWAY_PX), (1.0, AWAY_PX))
        ]
        if min(float(np.median(_size(ground))) for ground in beside) < 0.5:
            return col
        apart = np.minimum(_size(inside - beside[0]), _size(inside - beside[1]))
    bare = np.flatnonzero(ndimage.maximum_filter1d(apart, BARE_PX, origin=-(BARE_PX // 2)) < 1)
    # Without bare ground behind it within the length of a tape it is something else.
    if not len(bare) or not SHORTEST_PX <= bare[0] - BEFORE_PX <= most:
        return col
    return col + way * int(bare[0] - BEFORE_PX)


def _from_wood(frame: Frame, tone: Tone, rows: Floats, cols: Floats) -> Floats:
    """Measures less those of the wood, shape (cols, 3)."""
    return tone.from_wood(frame, rows, np.broadcast_to(cols, rows.shape))


def _size(difference: Floats) -> Floats:
    """Length of differences in units that tell things apart, shape (n,)."""
    return np.asarray(np.sqrt(((difference / TELLING) ** 2).sum(axis=1)))
