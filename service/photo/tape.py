"""Tape across the marked end: as wide as the side, of one colour, and neither wood nor ground."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from service.photo.curves import Corners
from service.photo.frame import Frame
from service.photo.wood import TELLING, Tone

Floats = NDArray[np.float64]

#: Tape reaches along the board at most this many widths of the side (or of this many pixels).
WIDTHS: Final = 2.5
LEAST_WIDTH_PX: Final = 60.0
#: The wood's end is blurred by the small colour picture over this many of its pixels, one of them before that end;
#: what comes next is seen from this many pixels.
LEAD: Final = 3
SAMPLE_PX: Final = 8
#: How far beyond a long corner the ground is looked at, in pixels.
AWAY_PX: Final = 16.0
#: Tape differs from the wood and from the ground on both sides by more than this, in differences told by eye.
PLAIN: Final = 0.8
#: Tape is of one colour: it differs from itself by less than this, and this share of how far it is from the wood.
EVEN: Final = 0.8
VIVID: Final = 0.15
#: Print or a fold across tape is narrower than this, in pixels.
FOLD_PX: Final = 3
#: Shares of the width looked at: near the corners by brightness, which is sharp; in the middle by colour, too.
NEAR_CORNERS: Final = (0.08, 0.25, 0.75, 0.92)
MIDDLE: Final = (0.35, 0.5, 0.65)


def past_tape(frame: Frame, corners: Corners, tone: Tone, col: int, way: int) -> int:
    """Move an end outward over tape.

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
    blur = frame.photo.reduction
    longest = int(WIDTHS * max(corners.mean_width, LEAST_WIDTH_PX))
    cols = (col + way * np.arange(-blur, longest + 2 * blur)).astype(np.float64)
    cols = cols[(cols >= 0) & (cols <= frame.cols - 1)]
    lead = LEAD * blur
    if len(cols) < lead + SAMPLE_PX:
        return col
    middle = _from_wood(frame, tone, np.stack([corners.rows(cols, share) for share in MIDDLE]), cols)
    # The end of the wood is blurred by the small colour picture; tape is whatever comes after that.
    sample = np.median(middle[lead : lead + SAMPLE_PX], axis=0)
    vivid = float(np.linalg.norm(sample))
    if vivid < PLAIN:
        return col
    even = np.linalg.norm(middle - sample, axis=1) < EVEN + VIVID * vivid
    for share in NEAR_CORNERS:
        light = _from_wood(frame, tone, corners.rows(cols, share)[None], cols)[:, 0]
        even &= np.abs(light - sample[0]) < EVEN
    even = ndimage.binary_closing(even, np.ones(FOLD_PX))
    other = np.flatnonzero(~even[lead:])
    stop = lead + int(other[0]) if len(other) else len(cols)
    if stop < lead + SAMPLE_PX or stop - blur > longest:
        return col
    for share, away in ((0.0, -AWAY_PX), (1.0, AWAY_PX)):
        beside = _from_wood(frame, tone, (corners.rows(cols, share) + away)[None], cols)[lead:stop]
        if np.median(np.linalg.norm(beside - sample, axis=1)) < PLAIN:
            return col
    return int(cols[stop - 1])


def _from_wood(frame: Frame, tone: Tone, rows: Floats, cols: Floats) -> Floats:
    """Measures less those of the wood, in differences told by eye, shape (cols, 3)."""
    return np.asarray(tone.from_wood(frame, rows, np.broadcast_to(cols, rows.shape)) / TELLING)
