"""Where along a side the board begins and ends."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import Corners
from service.photo.frame import Frame
from service.photo.lines import differentiate

Floats = NDArray[np.float64]

#: Strips just inside and outside a long corner that are compared: from and to, in pixels from the corner.
NEAR_PX: Final = (1.5, 4.5)
#: A column belongs to the board where the strips differ by more than this share of their usual difference.
ENOUGH: Final = 0.4
#: An end this close to the picture's border is the border.
BORDER_PX: Final = 6.0
#: Steepest end looked for, in columns per row: the board seen from one side at the border of a wide view.
MOST_SLANT: Final = 0.7
#: Rows read across the end, and pixels between columns.
ROWS: Final = 24
FINE_PX: Final = 0.5


@dataclass(frozen=True)
class End:
    """One end of the side.

    Attributes
    ----------
    upper_col, lower_col
        Where the end meets the upper and the lower long corner.
    in_view
        False where the board leaves the picture.
    clear
        How much stronger the step along the board is there than the usual one around, 0 when out of view.

    """

    upper_col: float
    lower_col: float
    in_view: bool
    clear: float


def find_ends(frame: Frame, corners: Corners, signs: tuple[float, float]) -> tuple[End, End]:
    """Find both ends of a side whose long corners are known.

    Parameters
    ----------
    frame, corners
        The photo, and the long corners; their own ends need only be roughly right.
    signs
        +1 where it gets lighter downward, -1 where darker: at the upper and the lower corner.

    Returns
    -------
    near, far
        The marked end and the far end.

    """
    present = _present(frame, corners, signs)
    middle = int((corners.first_col + corners.last_col) / 2)
    far = middle + int(np.argmax(np.cumsum(present[middle:] - ENOUGH)))
    near = middle - int(np.argmax(np.cumsum(present[middle::-1] - ENOUGH)))
    return _place(frame, corners, float(near), 0.0), _place(frame, corners, float(far), float(frame.cols - 1))


def _present(frame: Frame, corners: Corners, signs: tuple[float, float]) -> Floats:
    """Rate for each column of the picture how much it looks like the board does elsewhere, shape (cols,)."""
    cols = np.arange(frame.cols, dtype=np.float64)
    deep = min(NEAR_PX[1], 0.3 * corners.mean_width)
    offsets = np.linspace(min(NEAR_PX[0], 0.5 * deep), deep, 4)
    rated = np.zeros(frame.cols)
    part = slice(int(corners.first_col), int(corners.last_col) + 1)
    for share, sign, inward in ((0.0, signs[0], 1.0), (1.0, signs[1], -1.0)):
        base = corners.rows(cols, share)
        inside, outside = (
            frame.sample(base[None] + side * offsets[:, None], np.broadcast_to(cols, (4, frame.cols))).mean(axis=0)
            for side in (inward, -inward)
        )
        contrast = sign * inward * (inside - outside).astype(np.float64)
        usual = max(float(np.median(contrast[part])), 1e-3)
        rated += 0.5 * np.clip(contrast / usual, -0.3, 1.0)
    return rated


def _place(frame: Frame, corners: Corners, rough_col: float, border_col: float) -> End:
    """Place one end to a fraction of a pixel, as a straight, maybe slanted, line across the side."""
    if abs(rough_col - border_col) < BORDER_PX:
        return End(border_col, border_col, False, 0.0)
    width = corners.mean_width
    spread = 5.0 + 0.06 * width
    half = 3 * spread + 0.5 * MOST_SLANT * width
    cols = np.arange(-half, half + FINE_PX / 2, FINE_PX)
    shares = np.linspace(0.06, 0.94, ROWS)
    at = np.broadcast_to((rough_col + cols)[None], (ROWS, len(cols)))
    picture = frame.sample(corners.rows(at, shares[:, None]), at)
    steps = differentiate(np.ascontiguousarray(picture.T), 1.0 / FINE_PX).T.astype(np.float64)
    usual = 1.48 * float(np.median(np.abs(steps))) + 1e-4
    likely = np.exp(-0.5 * (cols / spread) ** 2)
    best, best_slant, best_sum = 0.0, 0.0, np.zeros(len(cols))
    column = np.arange(len(cols))
    for slant in np.arange(-MOST_SLANT, MOST_SLANT + 0.01, 0.02):
        shift = np.rint(slant * (shares - 0.5) * width / FINE_PX).astype(np.int64)
        total = steps[np.arange(ROWS)[:, None], np.clip(column[None] + shift[:, None], 0, len(cols) - 1)].mean(axis=0)
        strength = float((np.abs(total) * likely).max())
        if strength > best:
            best, best_slant, best_sum = strength, float(slant), total
    peak = int((np.abs(best_sum) * likely).argmax())
    around = slice(max(peak - 3, 0), peak + 4)
    mass = np.maximum(best_sum[around] * np.sign(best_sum[peak]), 0)
    col = rough_col + float((mass * cols[around]).sum() / mass.sum())
    lean = 0.5 * best_slant * width
    limit = float(frame.cols - 1)
    return End(min(max(col - lean, 0.0), limit), min(max(col + lean, 0.0), limit), True, best / usual)
