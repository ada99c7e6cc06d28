"""A pair of lines widened to the side's own corners, when one of the two is only a line of the grain.

In a close-up the rings make lines as long and clear as the corners. But beyond a corner lies the ground, beyond a
line of the grain more of the same wood.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import Corners, fit
from service.photo.frame import Frame
from service.photo.wood import seen_tone

Floats = NDArray[np.float64]

#: Narrower sides have no room for grain that could be taken for corners, in pixels.
LEAST_WIDTH_PX: Final = 150.0
#: How far beyond a line its ground is looked at, as shares of the width; shares between rows, and columns in a part.
BEYOND: Final = (0.04, 0.14)
STEP: Final = 0.01
COLUMNS: Final = 24
#: The side is looked at in this many parts along it, as a line of the grain runs askew of the corner.
PARTS: Final = 3
#: A corner's ground is at least this far from the wood, in differences told by eye; what lies beyond a line of the
#: grain is at most this share of that away from it.
GROUND: Final = 0.8
STILL_WOOD: Final = 0.45
#: The ground must go on over this many rows.
IN_A_ROW: Final = 6


def widened(frame: Frame, corners: Corners) -> Corners | None:
    """Move a line that has wood beyond it out to where the ground of the other line begins.

    Parameters
    ----------
    frame, corners
        The photo, and two long lines in it that could be the side's corners.

    Returns
    -------
    Corners
        Good to some pixels; None when both lines have ground beyond them, or it cannot be told.

    """
    if corners.mean_width < LEAST_WIDTH_PX:
        return None
    shares = np.arange(-2.0, 3.0, STEP)
    cols = np.linspace(corners.first_col, corners.last_col, PARTS * COLUMNS)
    rows = corners.rows(cols[None], shares[:, None])
    seen = ((rows > 0) & (rows < frame.rows - 1)).all(axis=1)
    tone = seen_tone(frame, rows, cols)
    whole = np.median(tone, axis=1)
    wood = np.median(whole[(shares > 0.1) & (shares < 0.9)], axis=0)
    grounds = []
    for low, high in ((-BEYOND[1], -BEYOND[0]), (1 + BEYOND[0], 1 + BEYOND[1])):
        beyond = seen & (shares > low) & (shares < high)
        grounds.append(np.median(whole[beyond], axis=0) if beyond.any() else wood)
    far = [float(np.linalg.norm(ground - wood)) for ground in grounds]
    good = int(far[1] > far[0])
    if far[good] < GROUND or far[1 - good] > STILL_WOOD * far[good]:
        return None
    bare = (tone - wood) @ (grounds[good] - wood) / far[good] ** 2 > 0.5
    outward = np.flatnonzero(seen & (shares > 0.5)) if good == 0 else np.flatnonzero(seen & (shares < 0.5))[::-1]
    edges = []
    for part in np.split(bare[outward], PARTS, axis=1):
        run = np.convolve(part.mean(axis=1) > 0.5, np.ones(IN_A_ROW), "valid") > IN_A_ROW - 0.5
        if not run.any():
            return None
        edges.append(float(shares[outward[int(run.argmax())]]))
    return _moved(corners, cols.reshape(PARTS, COLUMNS).mean(axis=1), np.array(edges), good)


def _moved(corners: Corners, cols: Floats, edges: Floats, good: int) -> Corners:
    """Lay the corner that is not the good one (0 upper, 1 lower) through edges, given as shares of the width."""
    kept = corners.rows(cols, float(good))
    other = corners.rows(cols, edges)
    upper, lower = (kept, other) if good == 0 else (other, kept)
    middle, _ = fit(cols, 0.5 * (upper + lower), np.ones(PARTS), 1)
    width, _ = fit(cols, lower - upper, np.ones(PARTS), 1)
    return Corners(middle, width, corners.first_col, corners.last_col)
