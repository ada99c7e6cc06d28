"""Find knots: round dark places on a side."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from skimage.measure import label, regionprops

from service.grain.tensor import Float
from service.grain.types import KnotBox

AROUND_MM = 70.0
"""A knot is darker than the median of the wood this far along on the same line."""

BLUR_MM = 1.6
"""Pores and pencil lines are finer than this and fade; knots do not."""

FINE_MM = 0.3
"""Blur at which a knot is still dark all over, while print and clusters of pores show gaps."""

SOLID_SHARE = 0.93
"""A knot is dark over at least this much of itself at the fine blur."""

DARKER_SHARE = 0.085
"""A knot's core is at least this much darker than the wood beside it, as a share of its brightness."""

STANDS_OUT = 4.5
"""And at least this many deviations of what the rest of the side shows at the same blur."""

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
    Boxes at half of each knot's depth, in order along the board.
    """
    rows, cols = strip.shape
    thin = max(1, round(0.6 / mm_per_px))
    size = (max(1, cols // thin), max(8, rows // thin))
    small = cv2.resize(strip, size, interpolation=cv2.INTER_AREA)
    mm_col, mm_row = mm_per_px * cols / size[0], mm_per_px * rows / size[1]
    darkness = _darkness(np.asarray(small, np.float32), mm_row, mm_col, BLUR_MM)
    fine = _darkness(np.asarray(small, np.float32), mm_row, mm_col, FINE_MM)
    noise = 1.4826 * float(np.median(np.abs(darkness - np.median(darkness))))
    limit = max(DARKER_SHARE, STANDS_OUT * noise)
    marks = label(darkness > 0.5 * limit)
    found = []
    for blob in regionprops(marks, intensity_image=darkness):
        peak = float(blob.intensity_max)
        if peak < limit:
            continue
        core = label(np.asarray(blob.image_intensity) > 0.5 * peak)
        for part in regionprops(core):
            box = _box(part, blob.bbox, mm_row, mm_col)
            place = part.coords + np.array(blob.bbox[:2])
            solid = (fine[place[:, 0], place[:, 1]] > 0.3 * peak).mean()
            if box is not None and solid >= SOLID_SHARE:
                low, high = rows * mm_per_px - box[3], rows * mm_per_px - box[2]
                found.append(KnotBox(from_mm + box[0], from_mm + box[1], max(low, 0.0), high))
    return tuple(sorted(found, key=lambda knot: knot.from_mm))


def _darkness(image: Float, mm_row: float, mm_col: float, blur_mm: float) -> NDArray[np.float32]:
    """How much darker each place is than its line of wood, as a share of 1, blurred."""
    smooth = cv2.GaussianBlur(image, (0, 0), sigmaX=blur_mm / mm_col, sigmaY=blur_mm / mm_row, borderType=cv2.BORDER_REFLECT)
    step = 4
    thin = cv2.resize(smooth, (max(1, image.shape[1] // step), image.shape[0]), interpolation=cv2.INTER_AREA)
    width = int(2 * AROUND_MM / (mm_col * step)) | 1
    line = median_filter(thin, size=(1, width), mode="reflect")
    line = cv2.resize(line, (image.shape[1], image.shape[0]), interpolation=cv2.INTER_LINEAR)
    share = 1 - smooth / np.maximum(line, 0.02)
    # A shadow or a mark across the whole side darkens a column as a whole; a knot does not.
    return np.asarray(share - np.maximum(np.percentile(share, 25, axis=0, keepdims=True), 0), np.float32)


def _box(part: object, within: tuple[int, int, int, int], mm_row: float, mm_col: float) -> tuple[float, float, float, float] | None:
    top, left, bottom, right = part.bbox  # type: ignore[attr-defined]
    along_mm, across_mm = (right - left) * mm_col, (bottom - top) * mm_row
    if not (SMALLEST_MM <= along_mm <= LONGEST_MM and across_mm >= SMALLEST_MM):
        return None
    if not ROUNDEST <= along_mm / across_mm <= LONGEST_ASPECT or part.extent < FULLEST:  # type: ignore[attr-defined]
        return None
    first_row, first_col = within[0] + top, within[1] + left
    return (first_col * mm_col, (first_col + right - left) * mm_col, first_row * mm_row, (first_row + bottom - top) * mm_row)
