"""Corners of a side that were set by hand."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.errors import BadInput
from service.language import say

#: Narrowest side, and shortest against its width, that corners set by hand may describe.
LEAST_HAND_PX: Final = 6.0


def check_corners(corners: Sequence[tuple[float, float]], cols: int, rows: int) -> NDArray[np.float64]:
    """Refuse corners between which no side of a board can lie.

    Parameters
    ----------
    corners
        (column, row) of the marked end's upper corner, the far end's upper, the far end's lower and the marked end's
        lower corner.
    cols, rows
        Size of the upright photo, in pixels.

    Returns
    -------
    NDArray
        The corners, float64, shape (4, 2).

    Raises
    ------
    BadInput
        When the corners are not four, lie outside the photo, cross, or leave nothing to read between them.

    Examples
    --------
    >>> check_corners([(10, 20), (90, 20), (90, 30), (10, 30)], 100, 50).shape
    (4, 2)
    """
    if len(corners) != 4:
        raise BadInput(say("Four corners are needed, {count} were given.", count=len(corners)), "corners")
    points = np.array(corners, dtype=np.float64)
    if points.shape != (4, 2) or not np.isfinite(points).all():
        raise BadInput(say("Each corner needs a column and a row."), "corners")
    if (points < -0.5).any() or (points[:, 0] > cols - 0.5).any() or (points[:, 1] > rows - 0.5).any():
        text = say("A corner lies outside the photo, which is {columns} x {rows} pixels.", columns=cols, rows=rows)
        raise BadInput(text, "corners")
    sides = np.roll(points, -1, axis=0) - points
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    if not (turns > 0).all():
        text = say(
            "The corners cross or are in the wrong order: marked end upper, far end upper, far end lower, marked end "
            "lower."
        )
        raise BadInput(text, "corners")
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    if min(lengths[1], lengths[3]) < LEAST_HAND_PX or min(lengths[0], lengths[2]) < max(lengths[1], lengths[3]):
        raise BadInput(say("The corners lie too close together to read anything between them."), "corners")
    return points
