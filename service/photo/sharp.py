"""How sharp a photo is, told by the board's own long corners."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.frame import Frame, averaged
from service.photo.lines import differentiate
from service.photo.types import Bytes, Outline, Photo

Floats = NDArray[np.float64]

#: How far from a corner its step is looked at, and the spacing of samples, in pixels.
SPAN_PX: Final = 24.0
FINE_PX: Final = 0.5
#: Stretches along the board that are judged each by itself; the sharpest ones count, as edges may be worn.
STRETCHES: Final = 6
#: Columns read in each: their mean is nearly free of noise.
READ_COLS: Final = 128
#: A step is followed outward until its slope has fallen to this share of its steepest.
FOOT: Final = 0.15
#: A step this wide or narrower (standard deviation) is as sharp as pixels allow.
SHARP_PX: Final = 0.9
#: One-pixel steps below this share of eight-pixel ones mean that nothing is sharp. Measured on drawn photos.
ALL_BLURRED: Final = 0.3
#: How far around the board that is looked at, in pixels.
AROUND_PX: Final = 150.0
#: Sawn ends are less even than planed corners.
SHARP_END_PX: Final = 1.6


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
    """Width of the highest peak of a step's slope: from its area and height, as for a normal curve.

    >>> offsets = np.arange(-20, 20, 0.5)
    >>> round(_spread(np.exp(-0.5 * (offsets / 3) ** 2), offsets), 1)
    2.8

    """
    peak = int(np.abs(step).argmax())
    side = step * np.sign(step[peak])
    below = np.flatnonzero(side < FOOT * side[peak])
    low = int(below[below < peak].max(initial=-1)) + 1
    high = int(below[below > peak].min(initial=len(side)))
    area = float(side[low:high].sum()) * (offsets[1] - offsets[0])
    return float(area / (float(side[peak]) * np.sqrt(2 * np.pi)))


def end_spread_px(photo: Photo, outline: Outline) -> float | None:
    """Measure how wide the step in brightness at the board's ends is, along the board.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    float or None
        As `edge_spread_px`, of the sharper end; None when no end is in view.

    """
    spreads = []
    offsets = np.arange(-SPAN_PX, SPAN_PX + FINE_PX / 2, FINE_PX)
    share = np.linspace(0.15, 0.85, READ_COLS)[None]
    for at, in_view in ((0, outline.marked_end_in_view), (-1, outline.far_end_in_view)):
        if not in_view:
            continue
        upper, lower = outline.upper[at], outline.lower[at]
        along = outline.upper[-1] + outline.lower[-1] - outline.upper[0] - outline.lower[0]
        along = along / np.hypot(*along)
        row, col = (upper[axis] + share * (lower - upper)[axis] + offsets[:, None] * along[axis] for axis in (0, 1))
        steps = differentiate(Frame(photo, False).sample(row, col).mean(axis=1, keepdims=True), 0.5 / FINE_PX)
        spreads.append(_spread(steps[:, 0].astype(np.float64), offsets))
    return min(spreads) if spreads else None


def blurred_all_over(photo: Photo) -> bool:
    """Say whether nothing in a photo is sharp down or across, told without knowing where the board is.

    Parameters
    ----------
    photo
        An opened photo.

    Returns
    -------
    bool

    """
    return min(_fine_share(photo.luma), _fine_share(photo.luma.T)) < ALL_BLURRED


def blurred_across(photo: Photo, outline: Outline) -> bool:
    """Say whether nothing near the board is sharp across it, as when the phone moved that way.

    Among other boards the blurred gaps between them may pass for sharp corners; this looks at everything around.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    bool

    """
    points = np.concatenate([outline.upper, outline.lower])
    upright = np.ptp(points[:, 0]) > np.ptp(points[:, 1])
    across = points[:, 1 if upright else 0]
    first, last = max(int(across.min() - AROUND_PX), 0), max(int(across.max() + AROUND_PX), 0)
    return _fine_share(photo.luma[:, first:last].T if upright else photo.luma[first:last]) < ALL_BLURRED


def _fine_share(picture: Bytes) -> float:
    """Compare steps of brightness from row to row over one pixel with those over eight.

    Both are averaged along the rows against noise, and the strongest are taken: at a sharp edge they are equal, in a
    blurred picture the small ones are an eighth.
    """
    rows, cols = (size // 8 * 8 for size in picture.shape)
    if rows < 24 or cols < 24:
        return 1.0
    fine = averaged(picture[:rows, :cols], 1, 8)
    coarse = fine.reshape(-1, 8, fine.shape[1]).mean(axis=1)
    small = float(np.percentile(np.abs(np.diff(fine, axis=0)), 99.9))
    large = float(np.percentile(np.abs(np.diff(coarse, axis=0)), 99.2))
    return small / max(large, 1e-6)


def sharpness_of(photo: Photo, outline: Outline) -> float:
    """Rate sharpness from 0 (nothing at the photo's own scale) to 1 (as sharp as pixels allow).

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.

    Returns
    -------
    float
        Sharp spread over measured spread, at most 1: of the long corners, or of the ends when those are much softer,
        as when the phone moved along the board.

    """
    sharp = SHARP_PX / max(edge_spread_px(photo, outline), 1e-6)
    along = end_spread_px(photo, outline)
    if along is not None:
        sharp = min(sharp, SHARP_END_PX / max(along, 1e-6))
    return float(min(1.0, sharp))
