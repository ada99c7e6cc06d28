"""How plainly a side's long corners and ends part it from what lies around: steps in tone, as told by eye.

Lines of the grain, shadows and joints of the floor are as sharp as the corners of a board. But beyond a corner lies
something else, beyond a line of the grain more of the same wood.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import Corners
from service.photo.frame import Frame
from service.photo.types import Outline, Photo
from service.photo.wood import seen_tone

Floats = NDArray[np.float64]

#: Smaller steps part nothing, in differences told by eye. Measured on drawn photos: long corners that were none have
#: at most 0.41, true ones on ground of another tone 0.5 and more; ends that were none at most 0.11, true ones at least
#: 0.32.
LEAST_STEP: Final = 0.45
LEAST_END_STEP: Final = 0.3
#: Tone is read at these distances inside and beyond, in pixels of the small colour picture, but not deeper than a share
#: of the width.
AWAY: Final = (1.0, 1.75)
DEEPEST: Final = 0.4
#: Places along a long corner, and along an end between these shares of the width.
PLACES: Final = 288
ACROSS: Final = (0.15, 0.85)


def corner_step(frame: Frame, corners: Corners) -> float:
    """Measure the step in tone over the long corners of a side.

    Parameters
    ----------
    frame, corners
        The photo, and the long corners in it.

    Returns
    -------
    float
        The median step over the corner where it is smaller, in differences told by eye.

    """
    cols = np.linspace(corners.first_col, corners.last_col, PLACES)
    deepest = DEEPEST * corners.mean_width
    steps = []
    for share, outward in ((0.0, -1.0), (1.0, 1.0)):
        points = np.stack([corners.rows(cols, share), cols], axis=1)
        steps.append(_step(frame, points, np.array([outward, 0.0]), deepest))
    return min(steps)


def end_step(photo: Photo, outline: Outline) -> float:
    """Measure the step in tone over the ends of a side that are in view.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    float
        The median step over the end where it is smaller, in differences told by eye; infinite when no end is in view.

    """
    middle = 0.5 * (outline.upper + outline.lower)
    share = np.linspace(*ACROSS, PLACES // 8)[:, None]
    steps = [np.inf]
    for at, inner, in_view in ((0, 1, outline.marked_end_in_view), (-1, -2, outline.far_end_in_view)):
        if in_view:
            outward = middle[at] - middle[inner]
            points = outline.upper[at] + share * (outline.lower[at] - outline.upper[at])
            steps.append(_step(Frame(photo, False), points, outward / max(float(np.hypot(*outward)), 1e-9), np.inf))
    return min(steps)


def _step(frame: Frame, points: Floats, outward: Floats, deepest: float) -> float:
    """Length of the median difference in tone between both sides of points, shape (n, 2)."""
    inside, beyond = (
        np.stack([points + min(away * frame.photo.reduction, most) * way for away in AWAY])
        for way, most in ((-outward, deepest), (outward, np.inf))
    )
    tones = [seen_tone(frame, side[..., 0], side[..., 1]).mean(axis=0) for side in (inside, beyond)]
    return float(np.linalg.norm(np.median(tones[0] - tones[1], axis=0)))
