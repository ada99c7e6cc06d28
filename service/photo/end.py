"""Find the board's end in a photo taken head on, and straighten it."""

import math
from dataclasses import replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from service.errors import Problem
from service.language import mark
from service.photo.curves import Curve, fit
from service.photo.frame import Frame
from service.photo.lines import differentiate
from service.photo.quality import blank_photo
from service.photo.types import EndView, Float, Photo
from service.photo.wood import TELLING, Tone, tone_around

Floats = NDArray[np.float64]

#: The middle of the photo, this share of its shorter side wide, is taken to show the end.
MIDDLE: Final = 0.04
#: Limits of likeness to the middle that are tried, in differences that tell two things apart by eye.
LIMITS: Final = (0.5, 0.7, 0.9, 1.2, 1.6, 2.2, 3.0)
#: Holes and cracks up to this many pixels of the small colour picture are closed: pores, checks, rings.
CLOSED_PX: Final = 5
#: Least share of the photo's width that the end has to fill, and least pixels of the small picture.
LEAST_WIDTH: Final = 0.06
LEAST_SMALL_PX: Final = 6.0
#: Rectangles whose proportions are off by more than this factor are not the end.
MOST_OFF: Final = 1.35
#: Proportions that the end of any board may have, seen with its width level, and how much a rectangle of unknown
#: proportion must look like one. Measured on drawn ends and sides.
END_PROPORTIONS: Final = (1.3, 9.0)
END_LIKE: Final = 0.9
#: How far inside the photo's border its corners lie, in pixels.
INSIDE_PX: Final = 24.0
#: Blocks along each side of the rectangle, samples in each, and the share of the side left out at its ends.
BLOCKS: Final = 24
SAMPLES: Final = 10
LEFT_OUT: Final = 0.06
#: Spacing of samples across a side, in pixels.
FINE_PX: Final = 0.5
#: A side most of whose blocks lie on one line needs no help from colour.
CLEAR: Final = 0.7
#: Rectangles less sure than this are no answer.
LEAST_SURE: Final = 0.35

NO_END: Final = Problem(
    "no_end",
    mark(
        "The board's end was not found in the middle of the photo. Take it straight on, with face 1 up and the end "
        "filling about a third of the photo's width, before a plain background."
    ),
)


def find_end(photo: Photo, width_mm: float, thickness_mm: float) -> EndView | Problem:
    """Find and straighten the marked end, photographed head on with face 1 up.

    Parameters
    ----------
    photo
        An upright photo with the end across its middle.
    width_mm, thickness_mm
        The board's width and thickness.

    Returns
    -------
    EndView
        Mirrored so that columns run with growing y: looking at the marked end along the board with face 1 up, the
        viewer's right is x cross z = -y.
    Problem
        `no_end`, `too_dark` or `burnt_out`.

    """
    blank = blank_photo(photo)
    if blank is not None:
        return blank
    rough = _rectangle(photo, (width_mm / thickness_mm / MOST_OFF, width_mm / thickness_mm * MOST_OFF))
    if rough is None:
        return NO_END.said()
    corners, likeness = rough
    frame = Frame(photo, False)
    middle = corners.mean(axis=0)
    share = np.linspace(0.0, 1.0, 60)[:, None]
    border = np.concatenate([corners[side] + share * (corners[(side + 1) % 4] - corners[side]) for side in range(4)])
    away = border - middle
    away *= 1 + 2 * photo.reduction / np.hypot(away[:, 0], away[:, 1])[:, None]
    tone = tone_around(frame, middle + 0.7 * (border - middle), middle + away)
    clear = 0.0
    for reach_px in (1.5 * photo.reduction, 6.0, 3.0):
        corners, clear = _snap(frame, corners, reach_px, tone)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    off = abs(math.log((sides[0] + sides[2]) / (sides[1] + sides[3]) / (width_mm / thickness_mm)))
    sure = float(np.clip(likeness * clear * math.exp(-0.5 * (off / 0.15) ** 2), 0, 1))
    if sure < LEAST_SURE:
        return NO_END.said()
    return _straighten(photo, corners, width_mm, thickness_mm, sure)


def shows_end(photo: Photo) -> bool:
    """Say whether the middle of a photo shows a rectangle that could be a board's end, and nothing longer.

    Parameters
    ----------
    photo
        An upright photo.

    Returns
    -------
    bool

    """
    for turned in (False, True):
        colour = np.ascontiguousarray(np.swapaxes(photo.colour, 0, 1)) if turned else photo.colour
        found = _rectangle(replace(photo, colour=colour), END_PROPORTIONS)
        if found is not None and found[1] > END_LIKE:
            limit = np.array(colour.shape[:2]) * photo.reduction - INSIDE_PX
            return bool((found[0] > INSIDE_PX).all() and (found[0] < limit).all())
    return False


def _rectangle(photo: Photo, proportions: tuple[float, float]) -> tuple[Floats, float] | None:
    """Find roughly the rectangle of one tone across the middle of the photo.

    Returns its corners (row, col) in the photo, upper left, upper right, lower right, lower left, and how much it
    looks like a rectangle of a proportion between the two, 0..1; None when nothing does.
    """
    small = np.log(photo.colour.astype(np.float64) + 0.02)
    measures = np.stack([small.mean(axis=2), small[..., 0] - small[..., 1], small[..., 2] - small[..., 1]], axis=-1)
    rows, cols = measures.shape[:2]
    half = max(int(MIDDLE * min(rows, cols)), 1)
    seed = measures[rows // 2 - half : rows // 2 + half + 1, cols // 2 - half : cols // 2 + half + 1]
    unlike = np.sqrt((((measures - np.median(seed.reshape(-1, 3), axis=0)) / TELLING) ** 2).sum(axis=2))
    best, best_corners = 0.0, np.zeros((4, 2))
    for limit in LIMITS:
        mask = cv2.morphologyEx((unlike < limit).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((CLOSED_PX, CLOSED_PX)))
        mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
        count, labels = cv2.connectedComponents(mask)
        inner = labels[rows // 2 - half : rows // 2 + half + 1, cols // 2 - half : cols // 2 + half + 1]
        label = int(np.bincount(inner.ravel(), minlength=count)[1:].argmax()) + 1 if count > 1 else 0
        if label == 0 or not (inner == label).any():
            continue
        member = (labels == label).astype(np.uint8)
        border = np.concatenate(cv2.findContours(member, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0])
        corners = _ordered(np.asarray(cv2.boxPoints(cv2.minAreaRect(border)), dtype=np.float64)[:, ::-1])
        sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T) + 1
        if sides[0] < max(LEAST_WIDTH * cols, LEAST_SMALL_PX) or sides.max() > 0.98 * cols:
            continue
        if not proportions[0] < sides[0] / sides[1] < proportions[1]:
            continue
        off = abs(math.log(sides[0] / sides[1] / math.sqrt(proportions[0] * proportions[1])))
        off = 0.0 if proportions == END_PROPORTIONS else off
        score = float(member.sum()) / (sides[0] * sides[1]) * math.exp(-0.5 * (off / 0.2) ** 2)
        if score > best:
            best, best_corners = score, corners
    if best == 0.0:
        return None
    return best_corners * photo.reduction + (photo.reduction - 1) / 2, min(best, 1.0)


def _ordered(corners: Floats) -> Floats:
    """Order a rectangle's corners (row, col): upper left, upper right, lower right, lower left."""
    around = corners - corners.mean(axis=0)
    turn = np.argsort(np.arctan2(around[:, 0], around[:, 1]))  # clockwise as seen, from the far left on
    ordered = corners[turn]
    first = int(np.argmin(ordered.sum(axis=1)))
    return np.roll(ordered, -first, axis=0)


def _snap(frame: Frame, corners: Floats, reach_px: float, tone: Tone) -> tuple[Floats, float]:
    """Move each side onto the clearest step nearby, in light or, where that shows none, in tone.

    Returns the new corners, and how clear the least clear side is, 0..1.
    """
    lines, clear = [], 1.0
    share = np.linspace(LEFT_OUT, 1 - LEFT_OUT, BLOCKS * SAMPLES)
    offsets = np.arange(-reach_px - 3, reach_px + 3 + FINE_PX / 2, FINE_PX)
    for side in range(4):
        start, stop = corners[side], corners[(side + 1) % 4]
        along = stop - start
        inward = np.array([along[1], -along[0]]) / np.hypot(*along)
        row, col = (start[axis] + share * along[axis] + offsets[:, None] * inward[axis] for axis in (0, 1))
        line, found = _step_line(np.maximum(frame.sample(row, col), 0) ** np.float32(2.2), share, offsets, reach_px)
        if found < CLEAR:
            by_tone, also = _step_line(tone.read(frame, row, col).astype(np.float32), share, offsets, reach_px)
            line, found = (by_tone, also) if also > found else (line, found)
        clear = min(clear, found)
        ends = line(np.array([0.0, 1.0]))
        lines.append((start + ends[0] * inward, stop + ends[1] * inward))
    return np.array([_crossing(*lines[side - 1], *lines[side]) for side in range(4)]), clear


def _step_line(picture: Float, share: Floats, offsets: Floats, reach_px: float) -> tuple[Curve, float]:
    """Fit a straight line through the steepest places of a picture, shape (offsets, share), in blocks along it.

    Returns the offset over the share, and the part of the blocks that lie on it.
    """
    steps = differentiate(picture.reshape(len(offsets), BLOCKS, SAMPLES).mean(axis=2), 1.0 / FINE_PX).astype(np.float64)
    near = np.exp(-0.5 * (offsets / reach_px) ** 2) * (np.abs(offsets) <= reach_px)
    sign = float(np.sign((steps * near[:, None]).sum()))
    risen = np.maximum(sign * steps, 0) * near[:, None]
    weights = risen.max(axis=0)
    at = share.reshape(BLOCKS, SAMPLES).mean(axis=1)
    line, misses = fit(at, offsets[risen.argmax(axis=0)], weights / max(float(weights.mean()), 1e-9), 1)
    return line, float(np.mean(np.abs(misses) < max(1.0, 0.15 * reach_px)))


def _crossing(a: Floats, b: Floats, c: Floats, d: Floats) -> Floats:
    """Where the line through a and b crosses the one through c and d.

    >>> _crossing(*(np.array(point, float) for point in ((0, 0), (0, 2), (-1, 1), (1, 1)))).tolist()
    [0.0, 1.0]

    """
    steps = np.stack([b - a, c - d], axis=1)
    return np.asarray(a + np.linalg.solve(steps, c - a)[0] * (b - a))


def _straighten(photo: Photo, corners: Floats, width_mm: float, thickness_mm: float, sure: float) -> EndView:
    """Stretch the end to a rectangle of known scale, mirrored so that columns run with growing y."""
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    px_per_mm = max(sides[0], sides[2]) / width_mm
    cols = max(math.ceil(width_mm * px_per_mm), 2)
    mm_per_px = width_mm / cols
    rows = max(round(thickness_mm / mm_per_px), 2)
    target = np.array([[cols, 0], [0, 0], [0, rows], [cols, rows]], dtype=np.float32)
    turn = cv2.getPerspectiveTransform(target, corners[:, ::-1].astype(np.float32))
    col, row = np.meshgrid(np.arange(cols + 1.0), np.arange(rows + 1.0))
    seen = turn @ np.stack([col.ravel(), row.ravel(), np.ones(col.size)])
    at_col, at_row = (seen[axis] / seen[2] for axis in (0, 1))
    image = Frame(photo, False).sample(at_row.reshape(col.shape), at_col.reshape(col.shape), smooth=True)
    return EndView(np.clip(image, 0, 1), mm_per_px, corners[[1, 0, 3, 2]], sure)
