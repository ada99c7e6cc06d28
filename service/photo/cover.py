"""Something lying over a side: a finger before the lens, a hand, a cloth."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from service.photo.frame import Frame
from service.photo.types import Outline, Photo
from service.photo.wood import seen_tone

Floats = NDArray[np.float64]

#: Places along the side that are looked at.
PLACES: Final = 160
#: Shares of the width looked at, and how far beyond each long corner, in pixels of the small colour picture.
INSIDE: Final = (0.2, 0.5, 0.8)
AWAY: Final = (2.0, 3.5)
#: The step in tone over a long corner that is left where something lies over it, as a share of the usual one.
GONE: Final = 0.35
#: How far the tone must be off the wood's own, in differences that tell two things apart by eye.
STRANGE: Final = 1.0
#: A cover must be seen over this many places in a row.
IN_A_ROW: Final = 3
#: Steps in tone smaller than this do not tell wood from ground, so nothing is said.
LEAST_STEP: Final = 0.4


def covered_share(photo: Photo, outline: Outline) -> float:
    """Tell how much of a side is hidden, as a share of its length in view.

    Hidden is where the tone is not the wood's, and goes on over both long corners without the step that they show
    elsewhere. Shade and shine keep the step, labels and tape keep to the wood, knots are smaller.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    float
        0 to 1.

    """
    place = np.linspace(0.0, 1.0, PLACES)
    own = np.linspace(0.0, 1.0, len(outline.upper))
    upper, lower = (
        np.stack([np.interp(place, own, points[:, axis]) for axis in (0, 1)])
        for points in (outline.upper, outline.lower)
    )
    across = lower - upper
    unit = across / np.maximum(np.hypot(*across), 1e-9)
    away = [step * photo.reduction for step in AWAY]
    inside = _tone(photo, [upper + share * across for share in INSIDE])
    above = _tone(photo, [upper - step * unit for step in away]).mean(axis=0)
    below = _tone(photo, [lower + step * unit for step in away]).mean(axis=0)
    gone = np.ones(PLACES, dtype=np.bool_)
    for edge, ground in ((inside[0], above), (inside[-1], below)):
        step = np.sqrt(((edge - ground) ** 2).sum(axis=1))
        usual = float(np.median(step))
        if usual < LEAST_STEP:
            return 0.0
        gone &= step < GONE * usual
    middle = inside.mean(axis=0)
    strange = np.sqrt(((middle - np.median(middle, axis=0)) ** 2).sum(axis=1)) > STRANGE
    hidden = ndimage.binary_opening(gone & strange, np.ones(IN_A_ROW))
    # The soft rim of what is close to the lens belongs to it.
    return float(ndimage.binary_dilation(hidden, iterations=IN_A_ROW, mask=strange).mean())


def _tone(photo: Photo, points: list[Floats]) -> Floats:
    """Brightness, red against green and blue against green at points of the photo, in differences seen by eye.

    Each of the points has the shape (2, n); the result has the shape (points, n, 3).
    """
    row, col = np.stack(points).transpose(1, 0, 2)
    return seen_tone(Frame(photo, False), row, col)
