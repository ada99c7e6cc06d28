"""Find knots: round dark places on a side."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from skimage.measure import label, regionprops

from service.grain.tensor import Float
from service.grain.types import KnotBox

AROUND_MM = 70.0
"""A knot is darker than the median of the wood this far along on the same line."""

THIN_MM = 6.5
"""The median along the board is taken on a strip thinned to this, for speed."""

BLUR_MM = 1.6
"""Pores and pencil lines are finer than this and fade; knots do not."""

FINE_MM = 0.3
"""Blur at which a knot is still dark all over, while print and clusters of pores show gaps."""

SOLID_SHARE = 0.93
"""A knot is dark over at least this much of itself at the fine blur."""

DARKER_SHARE = 0.17
"""A knot's core is at least this much darker than the wood beside it, as a share of its brightness.
Drawn and rendered knots: 0.26 to 0.41; smudges and dark tips of V shapes: up to 0.23."""

RING_MM = (2.5, 5.0)
"""The ring around a knot in which the wood is clear again on all sides."""

CLEAR_SHARE = 0.36
"""Mean darkness in each eighth of that ring, as a share of the knot's own, at most. Knots: up to 0.26;
V tips and smudges, which trail off to one side: 0.4 to 0.8."""

STANDS_OUT = 4.5
"""And at least this many deviations of what the rest of the side shows at the same blur."""

CORE_SHARES = (0.55, 0.7, 0.82)
"""A knot's box is drawn where it is this dark, as a share of its darkest place: the first level that
gives a round shape."""

PLAIN_SHARE, SHADED_EIGHTHS = 0.35, 3
"""So dark a place is a knot though a dark ring touches it on this many eighths."""

SMALLEST_MM, LONGEST_MM = 8.0, 60.0
"""Sizes as they show at the blur above, which adds about 4 mm to a knot."""

ROUNDEST, LONGEST_ASPECT = 0.45, 2.8
"""Along over across. Streaks of colour are longer; marks across the board are shorter."""

FULLEST = 0.62
"""A knot fills at least this share of its box (an ellipse fills 0.785)."""


def find_knots(strip: Float, mm_per_px: float, from_mm: float = 0.0) -> tuple[KnotBox, ...]:
    """Find round dark places on a straightened side.

    Parameters
    ----------
    strip
        float32, shape (rows, cols), 0 to 1: one side from long corner to long corner.
    mm_per_px
        Millimetres per pixel.
    from_mm
        Position of the strip's left border.

    Returns
    -------
    Boxes at a share of each knot's depth, in order along the board.
    """
    rows, cols = strip.shape
    thin = max(1, round(0.6 / mm_per_px))
    size = (max(1, cols // thin), max(8, rows // thin))
    small = cv2.resize(strip, size, interpolation=cv2.INTER_AREA)
    mm_col, mm_row = mm_per_px * cols / size[0], mm_per_px * rows / size[1]
    wood = np.asarray(small, np.float32)
    line = _line_of_wood(wood, mm_row, mm_col)
    darkness, fine = (1 - _blurred(wood, mm_row, mm_col, blur_mm) / line for blur_mm in (BLUR_MM, FINE_MM))
    # A shadow or a mark across the whole side darkens a column as a whole; a knot does not.
    quarter = darkness.shape[0] // 4
    shade = np.maximum(np.partition(darkness, quarter, axis=0)[quarter], 0)
    darkness, fine = darkness - shade, fine - shade
    noise = 1.4826 * float(np.median(np.abs(darkness - np.median(darkness))))
    limit = max(DARKER_SHARE, STANDS_OUT * noise)
    marks = label(darkness > 0.75 * limit)
    found: list[KnotBox] = []
    for blob in regionprops(marks, intensity_image=darkness):
        if float(blob.intensity_max) < limit:
            continue
        for top, bottom, left, right in _round_parts(blob, fine, mm_row, mm_col):
            if not _stands_alone(darkness, (top, bottom, left, right), float(blob.intensity_max), mm_row, mm_col):
                continue
            low_mm, high_mm = (rows * mm_per_px - row * mm_row for row in (bottom, top))
            found.append(KnotBox(from_mm + left * mm_col, from_mm + right * mm_col, max(low_mm, 0.0), high_mm))
    return tuple(sorted(found, key=lambda knot: knot.from_mm))


def _round_parts(blob: Any, fine: NDArray[np.float32], mm_row: float, mm_col: float) -> list[tuple[int, int, int, int]]:
    """Boxes (top, bottom, left, right) of the round, solid parts of a dark place.

    A knot may hang together with a dark ring beside it; at a higher level the two come apart.
    """
    peak = float(blob.intensity_max)
    for share in CORE_SHARES:
        parts = []
        for part in regionprops(label(np.asarray(blob.image_intensity) > share * peak)):
            place = part.coords + np.array(blob.bbox[:2])
            solid = (fine[place[:, 0], place[:, 1]] > 0.3 * peak).mean() >= SOLID_SHARE
            if solid and _roundish(part, mm_row, mm_col):
                top, left, bottom, right = np.add(part.bbox, np.tile(blob.bbox[:2], 2))
                parts.append((int(top), int(bottom), int(left), int(right)))
        if parts:
            return parts
    return []


def _stands_alone(
    darkness: NDArray[np.float32], box: tuple[int, int, int, int], peak: float, mm_row: float, mm_col: float
) -> bool:
    """Tell whether the wood around a dark place is clear on all sides."""
    top, bottom, left, right = box
    core = np.zeros(darkness.shape, np.uint8)
    core[top:bottom, left:right] = darkness[top:bottom, left:right] > CORE_SHARES[0] * peak
    inner, outer = (cv2.dilate(core, _disc(reach_mm / mm_row, reach_mm / mm_col)) for reach_mm in RING_MM)
    row, col = np.nonzero(outer > inner)
    turn = np.arctan2((row - (top + bottom - 1) / 2) * mm_row, (col - (left + right - 1) / 2) * mm_col)
    eighth = ((turn + np.pi) / (2 * np.pi) * 8).astype(int) % 8
    counts = np.bincount(eighth, minlength=8)
    means = np.bincount(eighth, weights=darkness[row, col], minlength=8) / np.maximum(counts, 1)
    shaded = int((means[counts > 3] >= CLEAR_SHARE * peak).sum())
    return shaded <= (SHADED_EIGHTHS if peak > PLAIN_SHARE else 0)


def _disc(rows: float, cols: float) -> NDArray[np.uint8]:
    size = (2 * round(cols) + 1, 2 * round(rows) + 1)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, size), np.uint8)


def _blurred(wood: Float, mm_row: float, mm_col: float, blur_mm: float) -> Float:
    along_px, across_px = blur_mm / mm_col, blur_mm / mm_row
    return np.asarray(
        cv2.GaussianBlur(wood, (0, 0), along_px, sigmaY=across_px, borderType=cv2.BORDER_REFLECT), np.float32
    )


def _line_of_wood(wood: Float, mm_row: float, mm_col: float) -> Float:
    """Brightness of the wood further along at the same height, as a running median."""
    smooth = _blurred(wood, mm_row, mm_col, BLUR_MM)
    step = max(1, round(THIN_MM / mm_col))
    thin = cv2.resize(smooth, (max(1, wood.shape[1] // step), wood.shape[0]), interpolation=cv2.INTER_AREA)
    width = int(2 * AROUND_MM / (mm_col * step)) | 1
    middle = median_filter(thin, size=(1, width), mode="reflect")
    line = cv2.resize(middle, (wood.shape[1], wood.shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.maximum(np.asarray(line, np.float32), np.float32(0.02))


def _roundish(part: Any, mm_row: float, mm_col: float) -> bool:
    top, left, bottom, right = part.bbox
    along_mm, across_mm = (right - left) * mm_col, (bottom - top) * mm_row
    if not SMALLEST_MM <= along_mm <= LONGEST_MM or across_mm < SMALLEST_MM:
        return False
    return bool(ROUNDEST <= along_mm / across_mm <= LONGEST_ASPECT and part.extent >= FULLEST)
