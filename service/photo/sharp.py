"""How sharp a photo is, told by the board's own long corners."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.frame import Frame
from service.photo.lines import differentiate
from service.photo.types import Outline, Photo

Floats = NDArray[np.float64]

#: How far from a corner its step is looked at, and the spacing of samples, in pixels.
SPAN_PX: Final = 12.0
FINE_PX: Final = 0.25
#: Stretches along the board that are judged each by itself; the sharpest ones count, as edges may be worn.
STRETCHES: Final = 24
#: Columns read in each.
READ_COLS: Final = 32
#: A step this wide or narrower (standard deviation) is as sharp as pixels allow.
SHARP_PX: Final = 0.9


def edge_spread_px(photo: Photo, outline: Outline) -> float:
    """Measure how wide the step in brightness at the long corners is.

    The step is averaged along short stretches, which removes noise but not blur.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    float
        Standard deviation of the step's slope across the corner in pixels, the lower quartile over all stretches
        of both corners.

    """
    offsets = np.arange(-SPAN_PX, SPAN_PX + FINE_PX / 2, FINE_PX)
    place = np.linspace(0.02, 0.98, STRETCHES * READ_COLS)
    frame = Frame(photo, False)
    spreads = []
    for points, other in ((outline.upper, outline.lower), (outline.lower, outline.upper)):
        own = np.linspace(0.0, 1.0, len(points))
        row, col = (np.interp(place, own, points[:, axis]) for axis in (0, 1))
        toward = other.mean(axis=0) - points.mean(axis=0)
        width = float(np.hypot(*toward))
        toward = toward / max(width, 1e-9)
        reach = np.abs(offsets) <= max(0.45 * width, 3.0)
        use = offsets[reach]
        picture = frame.sample(row[None] + use[:, None] * toward[0], col[None] + use[:, None] * toward[1])
        steps = differentiate(picture.reshape(len(use), STRETCHES, READ_COLS).mean(axis=2), 0.5 / FINE_PX)
        spreads += [_spread(steps[:, k].astype(np.float64), use) for k in range(STRETCHES)]
    return float(np.percentile(spreads, 25))


def _spread(step: Floats, offsets: Floats) -> float:
    """Width of the highest peak of a step's slope: from its area and height, as for a normal curve."""
    peak = int(np.abs(step).argmax())
    side = step * np.sign(step[peak])
    low, high = peak, peak
    while low > 0 and 0 < side[low - 1] <= side[low] * 1.02:
        low -= 1
    while high < len(side) - 1 and 0 < side[high + 1] <= side[high] * 1.02:
        high += 1
    area = float(side[low : high + 1].sum()) * (offsets[1] - offsets[0])
    return float(area / (float(side[peak]) * np.sqrt(2 * np.pi)))


def edge_sharpness(photo: Photo, outline: Outline) -> float:
    """Rate sharpness from 0 (nothing at the photo's own scale) to 1 (as sharp as pixels allow).

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    float
        Sharp spread over measured spread, at most 1.

    """
    return float(min(1.0, SHARP_PX / max(edge_spread_px(photo, outline), 1e-6)))
