"""Where two part photos of a side show the same wood: their textures laid over each other along the board.

Blocks of one strip are looked for all along the other, and must agree with each other on one place.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

from service.photo.join_texture import ROWS, STEP_MM, WAVES_MM, Texture

Floats = NDArray[np.float64]

#: Blocks looked for one by one, and how far apart they begin.
BLOCK_MM: Final = 80.0
HOP_MM: Final = 20.0
#: Rows by which one strip may lie higher than the other: an outline is placed to about a fiftieth of the width.
SLIPS: Final = (-2, -1, 0, 1, 2)
#: Differences in scale along that are tried between two photos, the likeliest first: from the perspective of a board
#: of known width the scale is good to 0.4 % (standard deviation, drawn photos), rarely wrong by more than 1.5 %.
SCALES: Final = (0.0, 0.005, -0.005, 0.01, -0.01, 0.015, -0.015, 0.02, -0.02)
#: A less likely scale is taken when it raises the agreed peak by more than this share.
WORTH: Final = 0.04
#: How well the scale is known beforehand, against how well one block is placed (millimetres).
SCALE_SPREAD: Final = 0.006
BLOCK_SPREAD_MM: Final = 0.5
#: Least distance at which another place counts as a rival at the same slip and scale, and at others.
RIVAL_MM: Final = 4.0
ASIDE_MM: Final = 15.0
#: A slip whose peak falls to this share of the best one's no longer counts, and the share of their spread that stays
#: as an error.
FORGOTTEN: Final = 0.7
UNSURE: Final = 0.5
#: No join is better than this: half a column (standard error).
LEAST_ERROR_MM: Final = 0.4
#: Least height of the agreed peak over the noise of all other places, over its best rival, and least likeness of the
#: lines there. Drawn photos: of 3374 pairs that show different wood none had all three, of 119 that overlap by 80 mm
#: and more 115 had; on boards drawn later none of 860, and 65 of 71, none of them wrong by more than 10 mm.
LEAST_HEIGHT: Final = 8.5
LEAST_LEAD: Final = 1.2
LEAST_ALIKE: Final = 0.6
#: How far the place may be off when the lines are compared there, and blocks compared, in millimetres.
SLACK_MM: Final = 8.0
#: Rows left out above and below, by which lines may have moved across.
SLACK_ROWS: Final = 4


@dataclass(frozen=True)
class Match:
    """Places of two strips that show the same wood.

    Attributes
    ----------
    one_mm, other_mm
        Shape (2,): positions from each strip's own left border, a pair at each end of the overlap.
    error_mm
        Standard error of each pair.
    height, lead
        How far the match stands out of the noise, and how many times its best rival.
    """

    one_mm: Floats
    other_mm: Floats
    error_mm: float
    height: float
    lead: float


def match(one: Texture, other: Texture) -> Match | None:
    """Find where two strips show the same wood.

    Parameters
    ----------
    one, other
        Textures of two strips of one side.

    Returns
    -------
    Match or None
        None when no place stands out: the photos do not overlap, or nothing on the wood tells places apart.
    """
    found = _likeliest(one, other)
    if found is None or found.height < LEAST_HEIGHT or found.lead < LEAST_LEAD:
        return None
    likeness = alike(one, other, float(np.mean(found.one_mm - found.other_mm)), SLACK_MM)
    return found if likeness is not None and likeness >= LEAST_ALIKE else None


def alike(one: Texture, other: Texture, shift_mm: float, slack_mm: float) -> float | None:
    """Say how alike the lines of two strips are where they should overlap.

    Parameters
    ----------
    one, other
        Textures of two strips.
    shift_mm
        Where the other strip begins, from the left border of the first.
    slack_mm
        How far that may be off.

    Returns
    -------
    float or None
        Correlation of the lines' brightness, the mean over blocks of the best within the slack: 1 for the same
        wood, about 0.2 for other wood. Drawn photos within 25 mm: the same wood 0.79 and more, other boards 0.16 in
        the mean and up to 0.72. None when the overlap is shorter than a block.
    """
    wide, slack, shift = round(BLOCK_MM / STEP_MM), round(slack_mm / STEP_MM), round(shift_mm / STEP_MM)
    first = max(shift, 0)
    last = min(one.lines.shape[1], other.lines.shape[1] + shift) - wide
    if last < first:
        return None
    found = []
    for start in np.linspace(first, last, 2 + (last - first) // wide).astype(int):
        block = one.lines[SLACK_ROWS:-SLACK_ROWS, start : start + wide]
        around = other.lines[:, max(start - shift - slack, 0) : start - shift + wide + slack]
        found.append(float(cv2.matchTemplate(around, block, cv2.TM_CCOEFF_NORMED).max()))
    return float(np.mean(found))


def _likeliest(one: Texture, other: Texture) -> Match | None:
    """Find the likeliest place, however doubtful; None when either strip is shorter than a block."""
    starts, by_slip = _heights(one, other)
    if not len(starts):
        return None
    shifts = np.arange(-int(starts[-1]), by_slip.shape[2])
    level = [_agreed(starts, heights, shifts, 0.0) for heights in by_slip]
    slip = max(range(len(SLIPS)), key=lambda index: (float(level[index].max()), -abs(SLIPS[index])))
    best, chosen, totals = 0.0, 0.0, level
    for scale in SCALES:
        total = _agreed(starts, by_slip[slip], shifts, scale)
        totals = [*totals, total]
        if total.max() > (1 + WORTH) * best:
            best, chosen = float(total.max()), scale
    if best <= 0:
        return None
    own = totals[len(SLIPS) + SCALES.index(chosen)]
    place = int(own.argmax())
    off = np.abs(np.arange(len(shifts)) - place) * STEP_MM
    # At another slip or scale the same place is no rival, though it is found a little aside.
    aside = ASIDE_MM + STEP_MM * max(SCALES) * float(starts[-1] - starts[0])
    rival = max(
        1e-9, float(own[off > RIVAL_MM].max(initial=0)), *(float(t[off > aside].max(initial=0)) for t in totals)
    )
    moved, doubt = _between_rows([total[off <= ASIDE_MM] for total in level], slip)
    found = _refined(starts, by_slip[slip], int(shifts[place]), chosen)
    return replace(
        found,
        other_mm=found.other_mm + moved,
        error_mm=float(np.hypot(found.error_mm, doubt)),
        height=best,
        lead=best / rival,
    )


def _between_rows(near: Sequence[Floats], slip: int) -> tuple[float, float]:
    """Say how far the place moves when strips that lie a part of a row apart are seen so, and how unsure that is.

    Lines that slope make a strip look alike when it is moved across and along at once; only what begins or ends on
    the board tells the two apart. So the places found at neighbouring slips are averaged by how well they do.
    """
    heights = np.array([float(total.max()) for total in near])
    places = np.array([float(total.argmax()) + _vertex(total, int(total.argmax())) for total in near]) * STEP_MM
    weights = np.maximum(heights / heights.max() - FORGOTTEN, 0) ** 2
    mean = float(np.average(places, weights=weights))
    return mean - float(places[slip]), UNSURE * float(np.sqrt(np.average((places - mean) ** 2, weights=weights)))


def _heights(one: Texture, other: Texture) -> tuple[NDArray[np.int64], Floats]:
    """Likeness of each block of one strip to each place of the other, in deviations of all places.

    Returns
    -------
    starts, heights
        Shape (k,), first column of each block; and shape (slips, k, places of the other).
    """
    wide, hop, cols = round(BLOCK_MM / STEP_MM), round(HOP_MM / STEP_MM), other.places.shape[1]
    starts = np.arange(0, one.places.shape[1] - wide + 1, hop)
    if not len(starts) or cols < wide:
        return np.zeros(0, np.int64), np.zeros((len(SLIPS), 0, cols))
    count = next_fast_len(cols + wide, real=True)
    # A texture holds no shorter waves.
    used = int(count * STEP_MM / WAVES_MM[0]) + 1
    there = rfft(other.places, count, axis=1)[:, :used]
    blocks = one.places[:, starts[:, None] + np.arange(wide)].transpose(1, 0, 2) * np.hanning(wide).astype(np.float32)
    waves = np.conj(rfft(blocks, count, axis=2)[:, :, :used])
    energy = np.cumsum(np.append(0.0, (other.places.astype(np.float64) ** 2).sum(axis=0)))
    local = np.sqrt(np.maximum(energy[wide:] - energy[:-wide], 1e-9))
    # Shape (waves, rows, slips): the other strip's rows moved, nothing beyond its borders.
    reach = max(SLIPS)
    padded = np.pad(there.T, ((0, 0), (reach, reach)))
    moved = np.stack([padded[:, reach + slip : reach + slip + ROWS] for slip in SLIPS], axis=2)
    summed = np.ascontiguousarray(waves.transpose(2, 0, 1)) @ moved
    heights = irfft(summed.transpose(2, 1, 0), count, axis=2)[:, :, : cols - wide + 1] / local
    usual = 1.4826 * np.median(np.abs(heights), axis=2, keepdims=True)
    return starts, heights / np.maximum(usual, 1e-9)


def _agreed(starts: NDArray[np.int64], heights: Floats, shifts: NDArray[np.int64], scale: float) -> Floats:
    """Sum for each shift how high the blocks stand that lie within the other strip, over the root of their count."""
    bent = np.rint(scale * (starts - starts.mean())).astype(np.int64)
    at = shifts[None] + (starts + bent)[:, None]
    inside = (at >= 0) & (at < heights.shape[1])
    picked = np.take_along_axis(heights, np.where(inside, at, 0), axis=1)
    return np.asarray((picked * inside).sum(axis=0) / np.sqrt(np.maximum(inside.sum(axis=0), 1)))


def _refined(starts: NDArray[np.int64], heights: Floats, shift: int, scale: float) -> Match:
    """Place each block of the overlap by itself near the agreed place, and draw a straight line through them."""
    near, reach, middle = round(RIVAL_MM / STEP_MM), heights.shape[1] - 1, float(starts.mean())
    places, founds, weights = [], [], []
    for start, row in zip(starts, heights, strict=True):
        at = int(start) + shift + round(scale * (float(start) - middle))
        if not 0 <= at <= reach:
            continue
        low, high = max(at - near, 0), min(at + near, reach) + 1
        peak = low + int(row[low:high].argmax())
        places.append(float(start))
        founds.append(peak + _vertex(row, peak))
        weights.append(max(float(row[peak]), 0.1) ** 2)
    place, found, weight = (np.array(values) for values in (places, founds, weights))
    off = found - place - shift
    centre, mean = float(np.average(place, weights=weight)), float(np.average(off, weights=weight))
    # What is known of the scale beforehand counts as well: the blocks of a short overlap cannot tell it.
    spread = float(np.average((place - centre) ** 2, weights=weight)) * len(place)
    lean = float(np.average((off - mean) * (place - centre), weights=weight)) * len(place)
    tilt = lean / (spread + (BLOCK_SPREAD_MM / STEP_MM / SCALE_SPREAD) ** 2)
    scatter = float(np.sqrt(np.average((off - mean - tilt * (place - centre)) ** 2, weights=weight)))
    half = 0.5 * BLOCK_MM / STEP_MM
    ends = np.array([place[0], place[-1] + 2 * half])
    there = ends + shift + mean + tilt * (ends - centre - half)
    return Match(ends * STEP_MM, there * STEP_MM, float(np.hypot(scatter * STEP_MM, LEAST_ERROR_MM)), 0.0, 0.0)


def _vertex(row: Floats, peak: int) -> float:
    """Offset of a parabola's vertex through a peak and its two neighbours.

    >>> _vertex(np.array([1.0, 2.0, 2.0]), 1)
    0.5
    """
    if not 0 < peak < len(row) - 1:
        return 0.0
    left, top, right = (float(value) for value in row[peak - 1 : peak + 2])
    curve = left - 2 * top + right
    return 0.0 if curve >= 0 else float(np.clip(0.5 * (left - right) / curve, -0.5, 0.5))
