"""A side straightened: rows across, columns along, the same millimetres per pixel both ways.

For a straight board through a pinhole the width seen is proportional to 1 / depth, and linear along the picture;
a piece of picture du along the board then spans a length proportional to du / width**2. So the width seen, over
the whole length, gives the perspective along the board without any corner being measured by itself.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import fit
from service.photo.frame import Frame
from service.photo.sharp import sharpness_of
from service.photo.types import USUAL_FOCAL, Float, Outline, Photo, Strip

Floats = NDArray[np.float64]

#: Finest sampling along the mid-line, in points.
FINE: Final = 2049
#: Columns of the strip read at a time.
CHUNK_COLS: Final = 256
#: Spacing of the crook's positions.
CROOK_STEP_MM: Final = 12.7
#: Camera tilt across the board is seldom more than 15 degrees: 1 - cos(15 degrees).
UNKNOWN_TILT: Final = 0.034
#: What remains of that when an end is in view and its lean tells the tilt; measured on drawn photos.
LEAN_ERROR: Final = 0.012
#: Scatter of lenses: share by which they widen things in the picture's corners; and how far a long corner may be
#: placed wrongly over a long stretch, in pixels.
LENS_SCATTER: Final = 0.02
CORNER_BIAS_PX: Final = 0.3
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
    line = _mid_line(photo, outline)
    mm, tilt_error = _positions(photo, outline, line, across_mm, length_mm)
    start = 0.0
    if not outline.marked_end_in_view and outline.far_end_in_view and length_mm is not None:
        start = length_mm - float(mm[-1])
    width = float(line.width.mean())
    rows = max(math.ceil(float(line.width.max())), 2)
    mm_per_px = across_mm / rows
    cols = max(int(mm[-1] / mm_per_px + 1e-6) + 1, 2)
    at = np.interp(np.arange(cols) * mm_per_px, mm, line.place)
    crook_at, crook = _crook(photo, line, mm, across_mm)
    return Strip(
        image=_sample(photo, outline, at, rows + 1),
        mm_per_px=mm_per_px,
        from_mm=start,
        to_mm=start + (cols - 1) * mm_per_px,
        photo_px_per_mm=width / across_mm,
        scale_error=math.hypot(2 * CORNER_ERROR_PX / width, tilt_error),
        crook_positions_mm=crook_at + start,
        crook_mm=crook,
        sharpness=sharpness_of(photo, outline),
    )


@dataclass(frozen=True)
class _MidLine:
    """A side's mid-line in the photo, finely sampled.

    Attributes
    ----------
    place, run
        Shape (n,): 0 to 1 from end to end, and pixels along the line.
    middle
        Shape (n, 2): points (row, col).
    width, seen
        Shape (n,): pixels between the long corners square to the line, and the straight line fitted to them.
    pulled
        Shape (n,): by what share the lens makes things wider there than in the middle of the picture.

    """

    place: Floats
    run: Floats
    middle: Floats
    width: Floats
    seen: Floats
    pulled: Floats


def _mid_line(photo: Photo, outline: Outline) -> _MidLine:
    """Measure the mid-line, and what perspective and lens do to the width along it."""
    place = np.linspace(0.0, 1.0, FINE)
    upper, lower = _along(outline.upper, place), _along(outline.lower, place)
    middle = 0.5 * (upper + lower)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    tangent = np.gradient(middle, run, axis=0)
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    across = lower - upper
    width = np.abs(across[:, 0] * tangent[:, 1] - across[:, 1] * tangent[:, 0])
    mean = float(width.mean())
    centre, _ = _camera(photo)
    # Radial distortion widens everything by 1 + k r**2, r counted in half diagonals.
    squared = ((middle - centre) ** 2).sum(axis=1) / (centre**2).sum()
    factors = np.linalg.lstsq(np.stack([np.ones(FINE), run, squared], axis=1), width, rcond=None)[0]
    trust = LENS_SCATTER**2 / (LENS_SCATTER**2 + (CORNER_BIAS_PX / mean) ** 2)
    pulled = trust * float(factors[2]) / mean * squared
    seen, _ = fit(run, width / (1 + pulled), np.ones(FINE), 1)
    return _MidLine(place, run, middle, width, np.maximum(seen(run), 0.2 * mean), pulled)


def _positions(
    photo: Photo, outline: Outline, line: _MidLine, across_mm: float, length_mm: float | None
) -> tuple[Floats, float]:
    """Millimetres from the outline's start at each point of the mid-line, and the scale's relative error by tilt."""
    # Along a line through the picture's middle a lens that pulls by 1 + k r**2 stretches by 1 + 3 k r**2.
    pace = 1 / line.seen**2 / (1 + 3 * line.pulled)
    mm = np.concatenate([[0.0], np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(line.run))])
    if outline.marked_end_in_view and outline.far_end_in_view and length_mm is not None:
        return mm * length_mm / mm[-1], 0.0
    reach = _reach(photo, outline, line, across_mm)
    if reach is not None:
        return mm * reach / mm[-1], LEAN_ERROR
    return mm * _scale(photo, line, across_mm), UNKNOWN_TILT


def _along(points: Floats, place: Floats) -> Floats:
    """Interpolate points, shape (n, 2), at places 0..1 along them."""
    own = np.linspace(0.0, 1.0, len(points))
    return np.stack([np.interp(place, own, points[:, 0]), np.interp(place, own, points[:, 1])], axis=1)


def _scale(photo: Photo, line: _MidLine, across_mm: float) -> float:
    """Factor from 1 / width**2 to millimetres per pixel along, when the length does not tell.

    With the board's line at a slope to the picture plane, tan(slope) = f * width' / width at the foot of the
    picture's centre, and the factor is across * width(foot) / cos(slope).
    """
    centre, focal_px = _camera(photo)
    chord = line.middle[-1] - line.middle[0]
    foot = float((centre - line.middle[0]) @ chord / np.hypot(*chord))
    change = float((line.seen[-1] - line.seen[0]) / line.run[-1])
    width = float(line.seen[0]) + change * foot
    return across_mm * width * math.hypot(1.0, focal_px * change / width)


def _camera(photo: Photo) -> tuple[Floats, float]:
    """Middle of the picture (row, col) and focal length in pixels, known or usual."""
    rows, cols = photo.luma.shape
    return np.array([rows - 1, cols - 1]) / 2, photo.focal_px or USUAL_FOCAL * math.hypot(rows, cols)


def _reach(photo: Photo, outline: Outline, line: _MidLine, across_mm: float) -> float | None:
    """Length of board in view, in millimetres, told by an end in view; None when no end is.

    The end stands square to the board. How much it leans in the picture tells how the side is tilted across: with
    the board's direction D from its vanishing point, the end's direction is the one square to D in the plane of the
    rays to the end's two corners; both span the side's plane, and the known width sets its distance.
    """
    centre, focal_px = _camera(photo)
    first, last = line.middle[0], line.middle[-1]
    chord = (last - first) / np.hypot(*(last - first))
    change = float((line.seen[-1] - line.seen[0]) / line.run[-1])
    toward = np.append(line.seen[0] * chord - change * (first - centre), -change * focal_px)
    toward /= np.linalg.norm(toward)
    rays = [np.append(point - centre, focal_px) for point in (first, last)]
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


def _sample(photo: Photo, outline: Outline, at: Floats, rows: int) -> Float:
    """Read the side from the photo, row 0 along the upper long corner, the last along the lower."""
    upper = _along(outline.upper, at).astype(np.float32)
    across = _along(outline.lower, at).astype(np.float32) - upper
    share = np.linspace(0.0, 1.0, rows, dtype=np.float32)[:, None]
    image = np.empty((rows, len(at)), np.float32)
    frame = Frame(photo, False)
    for first in range(0, len(at), CHUNK_COLS):  # the maps of where to read are larger than the strip itself
        part = slice(first, first + CHUNK_COLS)
        row, col = (upper[None, part, axis] + share * across[None, part, axis] for axis in (0, 1))
        image[:, part] = frame.sample(row, col, smooth=True)
    return np.clip(image, 0, 1, out=image)


def _crook(photo: Photo, line: _MidLine, mm: Floats, across_mm: float) -> tuple[Floats, Floats]:
    """Positions, and how far the mid-line lies above the straight line between its ends, in millimetres."""
    centre, _ = _camera(photo)
    middle = centre + (line.middle - centre) / (1 + line.pulled)[:, None]
    chord = middle[-1] - middle[0]
    chord /= np.hypot(*chord)
    off = middle - middle[0]
    # Turning the direction of growing position a quarter counter-clockwise gives the side's "up".
    above = (off[:, 0] * -chord[1] + off[:, 1] * chord[0]) * across_mm / line.seen
    positions = np.arange(0.0, float(mm[-1]), CROOK_STEP_MM)
    return positions, np.interp(positions, mm, above)
