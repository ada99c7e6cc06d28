"""A side straightened: rows across, columns along, the same millimetres per pixel both ways.

For a straight board through a pinhole the width seen is proportional to 1 / depth, and linear along the picture;
a piece of picture du along the board then spans a length proportional to du / width**2. So the width seen, over
the whole length, gives the perspective along the board without any corner being measured by itself.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import fit
from service.photo.frame import Frame
from service.photo.sharp import edge_sharpness
from service.photo.types import Outline, Photo, Strip

Floats = NDArray[np.float64]

#: Finest sampling along the mid-line, in points.
FINE: Final = 2049
#: Spacing of the crook's positions.
CROOK_STEP_MM: Final = 12.7
#: Camera tilt across the board is seldom more than 15 degrees: 1 - cos(15 degrees).
UNKNOWN_TILT: Final = 0.034
#: Focal length of a usual phone camera as a share of the picture's diagonal: 26 mm / 43.27 mm.
USUAL_FOCAL: Final = 0.6
#: Error of placing one long corner, in pixels: half-width of the 95 % interval, measured on drawn photos.
CORNER_ERROR_PX: Final = 0.6


def straighten(photo: Photo, outline: Outline, across_mm: float, length_mm: float | None) -> Strip:
    """Straighten one side of the board.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.
    across_mm
        How wide the side is.
    length_mm
        How long the board is. With both ends in view it sets the scale along; else the scale along comes from the
        width and the perspective.

    Returns
    -------
    Strip
        Positions count from the marked end when it is in view, else back from the far end when that is in view
        and the length is given, else from 0 at the left border of the strip.

    """
    place = np.linspace(0.0, 1.0, FINE)
    upper, lower = _along(outline.upper, place), _along(outline.lower, place)
    middle = 0.5 * (upper + lower)
    steps = np.hypot(*np.diff(middle, axis=0).T)
    run = np.concatenate([[0.0], np.cumsum(steps)])
    tangent = np.gradient(middle, run, axis=0)
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    across = lower - upper
    width = np.abs(across[:, 0] * tangent[:, 1] - across[:, 1] * tangent[:, 0])
    line, _ = fit(run, width, np.ones(FINE), 1)
    seen = np.maximum(line(run), 0.2 * float(width.mean()))
    both = outline.marked_end_in_view and outline.far_end_in_view and length_mm is not None
    pace = 1 / seen**2
    if both and length_mm is not None:
        total = np.trapezoid(pace, run)
        pace *= length_mm / total
    else:
        pace *= _scale(photo, middle, run, seen, across_mm)
        reach = _reach(photo, outline, middle, run, seen, across_mm)
        if reach is not None:
            pace *= reach / np.trapezoid(pace, run)
    mm = np.concatenate([[0.0], np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(run))])
    start = 0.0
    if not outline.marked_end_in_view and outline.far_end_in_view and length_mm is not None:
        start = length_mm - float(mm[-1])
    rows = max(math.ceil(float(width.max())), 2)
    mm_per_px = across_mm / rows
    cols = max(int(mm[-1] / mm_per_px) + 1, 2)
    at = np.interp(np.arange(cols) * mm_per_px, mm, place)
    image = _sample(photo, outline, at, rows + 1)
    crook_at, crook = _crook(middle, mm, across_mm / seen)
    error = 2 * CORNER_ERROR_PX / float(width.mean())
    return Strip(
        image=image,
        mm_per_px=mm_per_px,
        from_mm=start,
        to_mm=start + (cols - 1) * mm_per_px,
        photo_px_per_mm=float(width.mean()) / across_mm,
        scale_error=error if both else math.hypot(error, UNKNOWN_TILT),
        crook_positions_mm=crook_at + start,
        crook_mm=crook,
        sharpness=edge_sharpness(photo, outline),
    )


def _along(points: Floats, place: Floats) -> Floats:
    """Interpolate points, shape (n, 2), at places 0..1 along them."""
    own = np.linspace(0.0, 1.0, len(points))
    return np.stack([np.interp(place, own, points[:, 0]), np.interp(place, own, points[:, 1])], axis=1)


def _scale(photo: Photo, middle: Floats, run: Floats, seen: Floats, across_mm: float) -> float:
    """Factor from 1 / width**2 to millimetres per pixel along, when the length does not tell.

    With the board's line at a slope to the picture plane, tan(slope) = f * width' / width at the foot of the
    picture's centre, and the factor is across * width(foot) / cos(slope).
    """
    rows, cols = photo.luma.shape
    focal_px = photo.focal_px or USUAL_FOCAL * math.hypot(rows, cols)
    chord = middle[-1] - middle[0]
    chord /= np.hypot(*chord)
    foot = float((np.array([rows - 1, cols - 1]) / 2 - middle[0]) @ chord)
    change = float((seen[-1] - seen[0]) / run[-1])
    width = float(seen[0]) + change * foot
    return across_mm * width * math.hypot(1.0, focal_px * change / width)


def _reach(photo: Photo, outline: Outline, middle: Floats, run: Floats, seen: Floats, across_mm: float) -> float | None:
    """Length of board in view, in millimetres, told by an end in view; None when no end is.

    The end stands square to the board. How much it leans in the picture tells how the side is tilted across: with
    the board's direction D from its vanishing point, the end's direction is the one square to D in the plane of the
    rays to the end's two corners; both span the side's plane, and the known width sets its distance.
    """
    rows, cols = photo.luma.shape
    focal_px = photo.focal_px or USUAL_FOCAL * math.hypot(rows, cols)
    centre = np.array([rows - 1, cols - 1]) / 2
    chord = (middle[-1] - middle[0]) / np.hypot(*(middle[-1] - middle[0]))
    change = float((seen[-1] - seen[0]) / run[-1])
    toward = np.append(seen[0] * chord - change * (middle[0] - centre), -change * focal_px)
    toward /= np.linalg.norm(toward)
    rays = [np.append(point - centre, focal_px) for point in (middle[0], middle[-1])]
    found = []
    for at, in_view in ((0, outline.marked_end_in_view), (-1, outline.far_end_in_view)):
        if not in_view:
            continue
        upper, lower = (np.append(points[at] - centre, focal_px) for points in (outline.upper, outline.lower))
        across = np.cross(toward, np.cross(upper, lower))
        normal = np.cross(toward, across / np.linalg.norm(across))
        points = [ray / (normal @ ray) for ray in (upper, lower, *rays)]
        width = float(np.linalg.norm(points[1] - points[0]))
        found.append(abs(float((points[3] - points[2]) @ toward)) * across_mm / width)
    return float(np.mean(found)) if found else None


def _sample(photo: Photo, outline: Outline, at: Floats, rows: int) -> NDArray[np.float32]:
    """Read the side from the photo, row 0 along the upper long corner, the last along the lower."""
    upper, lower = _along(outline.upper, at), _along(outline.lower, at)
    share = np.linspace(0.0, 1.0, rows)[:, None]
    row = upper[None, :, 0] + share * (lower - upper)[None, :, 0]
    col = upper[None, :, 1] + share * (lower - upper)[None, :, 1]
    return np.clip(Frame(photo, False).sample(row, col, smooth=True), 0, 1)


def _crook(middle: Floats, mm: Floats, mm_per_px: Floats) -> tuple[Floats, Floats]:
    """Positions, and how far the mid-line lies above the straight line between its ends, in millimetres."""
    chord = middle[-1] - middle[0]
    chord /= np.hypot(*chord)
    off = middle - middle[0]
    # Turning the direction of growing position a quarter counter-clockwise gives the side's "up".
    above = (off[:, 0] * -chord[1] + off[:, 1] * chord[0]) * mm_per_px
    positions = np.arange(0.0, float(mm[-1]), CROOK_STEP_MM)
    return positions, np.interp(positions, mm, above)
