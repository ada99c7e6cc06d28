"""Which two long lines could be the side's long corners: rough candidates, best first."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.frame import Frame
from service.photo.known import Known
from service.photo.lines import Lines
from service.photo.wood import TELLING

Floats = NDArray[np.float64]

#: A block counts for a pair when its two steps together are more certain than this.
ENOUGH: Final = 0.4
#: Least and most width of a side, in pixels and as a share of the picture.
LEAST_WIDTH_PX: Final = 8.0
MOST_WIDTH: Final = 0.75
#: A side seen at a slant gets narrower toward one end, but not more than this over its length.
MOST_TAPER: Final = 1.8
#: How much a pair loses by being fainter than the clearest line: score * (its share of the clearest) ** this.
FAINTNESS: Final = 0.25
#: What a pair loses by a line between its two that is as clear as they are.
BETWEEN: Final = 0.7
#: How much of that is forgiven when the tone beyond both lines is another.
FORGIVEN: Final = 0.85
#: Blocks averaged when looking for such lines.
TOGETHER: Final = 9
#: What a pair loses when the ground beyond it has the very tone of what lies between its lines.
TONELESS: Final = 0.5
#: How far beyond the lines that is looked at, in pixels, and the shares of the width looked at between.
BEYOND_PX: Final = (14.0, 30.0)
INSIDE: Final = (0.15, 0.5, 0.85)
#: Pairs whose tone is looked at.
LOOKED_AT: Final = 250
#: Pairs handed on.
HANDED_ON: Final = 4


@dataclass(frozen=True)
class Pair:
    """Two lines that could bound the side.

    Attributes
    ----------
    upper, lower
        Rows of the two lines at each block, shape (blocks,), pixels of the frame.
    certain
        Shape (blocks,): how certain the weaker of the two steps is at each block, -1..1.
    first, last
        The blocks the pair reaches over: first <= block < last.
    score
        0..1, larger is likelier.

    """

    upper: Floats
    lower: Floats
    certain: Floats
    first: int
    last: int
    score: float


def rank_pairs(lines: Lines, frame: Frame, known: Known) -> list[Pair]:
    """Rank pairs of lines by how likely they bound the wanted side.

    A likely pair is seen along much of the picture, lies across its middle, has the board's proportions and
    no further long line between.

    Parameters
    ----------
    lines
        Long lines, from the top down.
    frame
        The photo they are in.
    known
        What is known of the board and the photo.

    Returns
    -------
    list of Pair
        Best first, at most `HANDED_ON`.

    """
    rows, cols = frame.rows, frame.cols
    upper, lower = np.triu_indices(len(lines.rows), 1)
    width = lines.rows[lower] - lines.rows[upper]
    middle = width.shape[1] // 2
    fit = (width[:, middle] > LEAST_WIDTH_PX) & (width[:, middle] < MOST_WIDTH * rows)
    upper, lower, width = upper[fit], lower[fit], width[fit]
    if not len(upper):
        return []
    first, last, score = _reach(0.5 * (lines.steps[upper] + lines.steps[lower]))
    every, blocks = np.arange(len(upper)), width.shape[1]
    starts, stops = width[every, first], width[every, last - 1]
    within = (np.arange(blocks)[None] >= first[:, None]) & (np.arange(blocks)[None] < last[:, None])
    mean_width = (width * within).sum(axis=1) / within.sum(axis=1)
    taper = np.maximum(starts, 1e-3) / np.maximum(stops, 1e-3)
    score = np.where((starts > 0) & (stops > 0) & (np.abs(np.log(taper)) < np.log(MOST_TAPER)), score, 0)
    inside = (first > 1) & (last < blocks - 1)
    score = score * known.suits(np.maximum(mean_width, 1e-3), (last - first) * cols / blocks, inside, cols)
    score = score * _centred(lines.rows[upper, middle], lines.rows[lower, middle], rows)
    height = np.minimum(lines.heights[upper], lines.heights[lower])
    score = score * (height / lines.heights.max()) ** FAINTNESS
    best = np.argsort(-score, kind="stable")[:LOOKED_AT]
    chosen = upper[best], lower[best], within[best]
    parted = _parted(frame, lines, *chosen)
    # Grain makes clear lines too; where the ground is plainly another thing beyond both lines they do not matter.
    score[best] *= 1 - BETWEEN * _between(lines, *chosen, height[best]) * (1 - FORGIVEN * parted)
    score[best] *= 1 - TONELESS * (1 - parted)
    best = best[np.argsort(-score[best], kind="stable")][:HANDED_ON]
    return [
        Pair(
            lines.rows[upper[pair]],
            lines.rows[lower[pair]],
            np.minimum(lines.steps[upper[pair]], lines.steps[lower[pair]]),
            int(first[pair]),
            int(last[pair]),
            float(score[pair]),
        )
        for pair in best
        if score[pair] > 0
    ]


def _reach(certain: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """Find for each row the stretch whose sum above `ENOUGH` is largest: first, last (exclusive), sum per block."""
    total = np.concatenate([np.zeros((len(certain), 1)), np.cumsum(certain - ENOUGH, axis=1)], axis=1)
    gain = total - np.minimum.accumulate(total, axis=1)
    last = np.maximum(gain.argmax(axis=1), 1)
    before = np.arange(total.shape[1])[None] < last[:, None]
    first = np.where(before, total, np.inf).argmin(axis=1)
    return first, last, gain.max(axis=1) / certain.shape[1] / (1 - ENOUGH)


def _centred(upper: Floats, lower: Floats, rows: int) -> Floats:
    """Rate where a pair lies: 1 across the middle of the frame, less with its distance from it."""
    off = np.maximum(np.maximum(upper - rows / 2, rows / 2 - lower), 0)
    return np.where(off <= 2, 1.0, 0.4 * np.exp(-off / (0.2 * rows)))


def _parted(
    frame: Frame, lines: Lines, upper: NDArray[np.int64], lower: NDArray[np.int64], within: NDArray[np.bool_]
) -> Floats:
    """Say how much the tone between the lines of each pair differs from that beyond both, 0..1."""
    picked = slice(0, None, TOGETHER // 2)
    top, bottom, cols = lines.rows[upper][:, picked], lines.rows[lower][:, picked], lines.cols[picked]
    rows = np.stack(
        [top - away for away in BEYOND_PX]
        + [top + share * (bottom - top) for share in INSIDE]
        + [bottom + away for away in BEYOND_PX]
    )
    flat = rows.reshape(-1, len(cols))
    colour = np.log(frame.sample_colour(flat, np.broadcast_to(cols, flat.shape)).astype(np.float64) + 0.02)
    tone = np.stack(
        [colour.mean(axis=-1), colour[..., 0] - colour[..., 1], colour[..., 2] - colour[..., 1]], axis=-1
    ).reshape(*rows.shape, 3)
    wood = tone[2:-2].mean(axis=0)
    used = within[:, picked]
    least = np.ones(len(upper))
    for ground in (tone[:2].mean(axis=0), tone[-2:].mean(axis=0)):
        far = np.sqrt((((wood - ground) / TELLING) ** 2).sum(axis=-1))
        least = np.minimum(least, (np.minimum(far, 1) * used).sum(axis=1) / np.maximum(used.sum(axis=1), 1))
    return least


def _between(
    lines: Lines, upper: NDArray[np.int64], lower: NDArray[np.int64], within: NDArray[np.bool_], height: Floats
) -> Floats:
    """Say how clear the clearest line is that runs between the two of a pair, 0 to 1 (as clear as they are)."""
    starts = np.arange(0, within.shape[1], TOGETHER)
    counts = np.diff(np.append(starts, within.shape[1]))
    rows = np.add.reduceat(lines.rows, starts, axis=1) / counts
    steps = np.add.reduceat(lines.steps, starts, axis=1) / counts
    share = np.add.reduceat(within, starts, axis=1, dtype=np.float64) / counts
    share /= share.sum(axis=1, keepdims=True)
    top, width = rows[upper], np.maximum(rows[lower] - rows[upper], 1)
    clearest = np.zeros(len(upper))
    for row, step, tall in zip(rows, steps, lines.heights, strict=True):
        place = (row[None] - top) / width
        clear = (np.where((place > 0.2) & (place < 0.8), share, 0) * step[None]).sum(axis=1)
        clearest = np.maximum(clearest, clear * np.minimum(1, tall / height))
    return clearest
