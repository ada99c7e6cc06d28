"""Long lines across the picture: where brightness steps along nearly its whole width.

The picture is averaged in long blocks along the board, steps across it are rated against the
picture's own texture, and the ratings are summed along all nearly level straight lines at once.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from service.photo.frame import Frame
from service.photo.types import Float

#: Blocks along the board: a power of two, as the sum over lines halves them again and again. A quick look at a photo
#: of half its size takes half as many, and half the rows.
BLOCKS: Final = 128
#: About this many rows are kept across the board; a 14 px wide side still has several.
ROWS: Final = 1512
#: Steps this many times stronger than the picture's usual step count as nearly certain. Measured on drawn photos.
CERTAIN: Final = 4.0
#: Where much wood is in the picture its grain makes many certain steps; those below this percentile count less.
TALL: Final = 98.0
#: A usual step is never taken smaller than this (of 0..1): a plain wall has no texture at all.
LEAST_STEP: Final = 2e-4
#: The usual step is told from every fifth row.
SPARSE: Final = 5
#: Lines are traced within this many rows of the straight one: room for a bent board or a bowing lens.
REACH: Final = 8
#: Cost of leaving the straight line by one row from one block to the next.
BEND_COST: Final = 0.06
#: Added to colours before their logarithms are taken, so that noise in the dark stays small.
DARKEST: Final = 0.04
#: Most lines kept of each kind (dark above light, light above dark).
MOST_LINES: Final = 40


@dataclass(frozen=True)
class Lines:
    """Long lines, from the top of the picture down.

    Attributes
    ----------
    rows
        float64, shape (lines, blocks): the line's row in pixels of the frame at each block's middle.
    steps
        float64, shape (lines, blocks): how certain the step in brightness is there, -1..1, positive when
        it has the line's own direction.
    heights
        float64, shape (lines,): mean change of brightness per row across the line.
    downward
        bool, shape (lines,): True where the picture is lighter below the line.
    cols
        float64, shape (blocks,): the blocks' middles in pixels of the frame.

    """

    rows: NDArray[np.float64]
    steps: NDArray[np.float64]
    heights: NDArray[np.float64]
    downward: NDArray[np.bool_]
    cols: NDArray[np.float64]


def find_lines(frame: Frame) -> Lines:
    """Find the long lines of a picture that run nearly level.

    Lines may rise or fall by about an eighth of the picture's width and may bend a little.

    Parameters
    ----------
    frame
        The photo, with the board running from left to right.

    Returns
    -------
    Lines
        At most `MOST_LINES` of each direction.

    """
    block_cols = -(-frame.cols // _count(frame))
    block_rows = max(1, frame.rows * frame.photo.halving // ROWS)
    return _lines_in(frame.averaged(block_rows, block_cols), block_rows, block_cols, _count(frame))


def find_warm_lines(frame: Frame) -> Lines:
    """Find the long lines at which the picture gets warmer or colder in colour.

    Wood is warmer (more red against blue) than most of what it lies on, and is so where the two are equally light.

    Parameters
    ----------
    frame
        The photo, with the board running from left to right.

    Returns
    -------
    Lines
        As of `find_lines`, but only as accurate as a pixel of the small colour picture.

    """
    photo, count = frame.photo, _count(frame)
    block_cols = -(-frame.cols // count)
    warmth = np.log((photo.colour[..., 0] + np.float32(DARKEST)) / (photo.colour[..., 2] + np.float32(DARKEST)))
    if frame.turned:
        warmth = np.asarray(cv2.rotate(warmth, cv2.ROTATE_90_CLOCKWISE))
    blocks = frame.cols // block_cols
    warmth = cv2.resize(warmth, (blocks, warmth.shape[0]), interpolation=cv2.INTER_AREA)
    return _lines_in(np.asarray(warmth, dtype=np.float32), photo.reduction, block_cols, count)


def joined(one: Lines, other: Lines) -> Lines:
    """Put lines found in two ways together, from the top down, the heights of each as shares of its own clearest.

    Parameters
    ----------
    one, other
        Lines at the same blocks.

    Returns
    -------
    Lines

    """
    rows = np.concatenate([one.rows, other.rows])
    order = np.argsort(np.median(rows, axis=1), kind="stable")
    heights = np.concatenate(
        [lines.heights / max(float(lines.heights.max(initial=0)), 1e-12) for lines in (one, other)]
    )
    return Lines(
        rows[order],
        np.concatenate([one.steps, other.steps])[order],
        heights[order],
        np.concatenate([one.downward, other.downward])[order],
        one.cols,
    )


def _count(frame: Frame) -> int:
    """Blocks along the board; a quick look takes fewer."""
    return BLOCKS // frame.photo.halving


def _lines_in(small: Float, block_rows: int, block_cols: int, count: int) -> Lines:
    """Find lines in a picture each of whose pixels stands for a block of the photo."""
    changes = differentiate(small, spread_rows=1.2)
    rated = rate(changes)
    blocks = rated.shape[1]
    tall = np.minimum(1, np.abs(changes) / (np.float32(np.percentile(np.abs(changes[::SPARSE]), TALL)) + LEAST_STEP))
    straight, downward = _straight_lines(rated * np.sqrt(tall), count)
    rows, steps = _trace(rated, straight, downward, count)
    rows, steps, downward = _distinct(rows, steps, downward)
    heights = np.abs(changes[np.clip(rows, 0, len(changes) - 1), np.arange(blocks)]).mean(axis=1, dtype=np.float64)
    cols = np.asarray((np.arange(blocks) + 0.5) * block_cols - 0.5, dtype=np.float64)
    pixels = np.asarray((rows + 0.5) * block_rows - 0.5, dtype=np.float64)
    return Lines(pixels, steps, heights, downward, cols)


def rate(changes: Float) -> Float:
    """Rate changes of brightness against the usual ones of the picture.

    Parameters
    ----------
    changes
        float32, shape (rows, cols): change per row.

    Returns
    -------
    float32, same shape: tanh(change / (4 * usual change)), where the usual one is 1.48 medians, the
    standard deviation of normal noise with that median; every fifth row is enough to tell it.

    """
    usual = 1.48 * float(np.median(np.abs(changes[::SPARSE]))) + LEAST_STEP
    return np.asarray(np.tanh(changes / np.float32(CERTAIN * usual)), dtype=np.float32)


def differentiate(picture: Float, spread_rows: float) -> Float:
    """Change per row of a picture smoothed across by a Gaussian.

    Parameters
    ----------
    picture
        float32, shape (rows, cols).
    spread_rows
        Standard deviation of the Gaussian, in rows.

    Returns
    -------
    float32, same shape.

    >>> ramp = np.arange(20, dtype=np.float32)[:, None].repeat(3, axis=1)
    >>> round(float(differentiate(ramp, 1.0)[10, 1]), 3)
    1.0

    """
    half = int(np.ceil(3.5 * spread_rows))
    at = np.arange(-half, half + 1)
    kernel = at * np.exp(-0.5 * (at / spread_rows) ** 2)
    kernel = kernel / (kernel * at).sum()
    steps = cv2.filter2D(picture, cv2.CV_32F, kernel[:, None].astype(np.float32), borderType=cv2.BORDER_REPLICATE)
    return np.asarray(steps, dtype=np.float32)


def sum_along_lines(picture: Float) -> Float:
    """Sum a picture along all straight lines that fall from left to right, all at once.

    Lines over 2 columns, then 4, 8, ... are put together from two shorter ones each (Goetz and Druckmueller,
    "A fast digital Radon transform", Pattern Recognition 29 (1996); Brady 1998; both from memory).

    Parameters
    ----------
    picture
        float32, shape (rows, n), n a power of two.

    Returns
    -------
    float32, shape (n, rows): [fall, row] is the sum along the line from (row, first column) to
    (row + fall, last column); lines that leave the picture at the bottom are summed up to there.

    >>> picture = np.zeros((4, 2), np.float32)
    >>> picture[1, 0] = picture[2, 1] = 1.0
    >>> sum_along_lines(picture)[1].tolist()
    [0.0, 2.0, 0.0, 0.0]

    """
    sums = np.ascontiguousarray(picture.T)[:, None, :]
    while sums.shape[0] > 1:
        left, right = sums[0::2], sums[1::2]
        count, falls, rows = left.shape
        joined = np.empty((count, 2 * falls, rows), np.float32)
        for fall in range(2 * falls):
            half, shift = fall // 2, (fall + 1) // 2
            joined[:, fall] = left[:, half]
            joined[:, fall, : rows - shift] += right[:, half, shift:]
        sums = joined
    return np.asarray(sums[0])


def _straight_lines(rated: Float, count: int) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Find the straight lines with the largest sums.

    Returns their rows at the first and the last of `count` columns, shape (lines, 2), and which of them get
    lighter downward. `count` is a power of two, no less than the columns there are.
    """
    pooled = _pool(rated)
    rows, margin = pooled.shape[0], np.zeros((count, count), np.float32)
    wide = np.zeros((rows, count), np.float32)
    wide[:, : pooled.shape[1]] = pooled
    falling = sum_along_lines(np.concatenate([margin, wide, margin]))
    rising = sum_along_lines(np.concatenate([margin, wide[::-1], margin]))
    sums = np.concatenate([rising[:0:-1, ::-1], falling])  # [fall + count - 1, left row + count]
    middle = np.arange(sums.shape[1])[None] - count + (np.arange(sums.shape[0])[:, None] - count + 1) / 2
    # The board is looked for across the middle of the frame.
    sums = sums * np.exp(-0.5 * ((middle - rows / 2) / (0.3 * rows)) ** 2).astype(np.float32)
    ends: list[NDArray[np.float64]] = []
    kinds: list[bool] = []
    for downward in (True, False):
        part = np.maximum(sums if downward else -sums, 0)
        peaks = np.flatnonzero((part >= cv2.dilate(part, np.ones((5, 5), np.uint8))) & (part > 0.2 * count))
        peaks = peaks[np.argsort(-part.ravel()[peaks], kind="stable")][: 6 * MOST_LINES]
        fall, left = np.unravel_index(peaks, part.shape)
        both = np.stack([left - count, left - count + fall - count + 1], axis=1).astype(np.float64)
        apart = np.abs(both[:, None] - both[None]).sum(axis=2) >= 5
        kept: list[int] = []
        for line in range(len(both)):
            if len(kept) < MOST_LINES and apart[line, kept].all():
                kept.append(line)
        ends.append(both[kept])
        kinds += [downward] * len(kept)
    # Back from pooled rows to rows.
    return np.concatenate(ends) * 2 + 0.5, np.array(kinds, dtype=np.bool_)


def _pool(rated: Float) -> Float:
    """Halve the rows, keeping the strongest ratings nearby, so that a slightly bent line stays one line."""
    window = np.ones((4, 1), np.uint8)
    lighter = cv2.dilate(np.maximum(rated, 0), window, anchor=(0, 1))[::2]
    darker = cv2.dilate(np.maximum(-rated, 0), window, anchor=(0, 1))[::2]
    return np.asarray(lighter - darker, dtype=np.float32)


def _trace(
    rated: Float, straight: NDArray[np.float64], downward: NDArray[np.bool_], count: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Follow each line where it bends, by dynamic programming within `REACH` rows of the straight one.

    Returns rows and ratings, both of shape (lines, blocks).
    """
    lines, (rows, blocks) = len(straight), rated.shape
    fall = (straight[:, 1:] - straight[:, :1]) / (count - 1)
    base = np.rint(straight[:, :1] + fall * np.arange(blocks)).astype(np.int64)
    around = base[:, :, None] + np.arange(-REACH, REACH + 1)
    inside = (around >= 0) & (around < rows)
    values = np.where(inside, rated[np.clip(around, 0, rows - 1), np.arange(blocks)[None, :, None]], 0)
    values = (values * np.where(downward, 1.0, -1.0)[:, None, None]).astype(np.float64)
    came = np.zeros((blocks, lines, 2 * REACH + 1), np.int8)
    wide = np.full((lines, 2 * REACH + 3), -np.inf)
    lower, best, higher = wide[:, :-2], wide[:, 1:-1], wide[:, 2:]
    best[:] = values[:, 0]
    for block in range(1, blocks):
        bent = np.maximum(lower, higher) - BEND_COST
        came[block] = np.where(bent > best, np.where(lower >= higher, -1, 1), 0)
        best[:] = np.maximum(best, bent) + values[:, block]
    path = np.zeros((lines, blocks), np.int64)
    path[:, -1] = best.argmax(axis=1)
    every = np.arange(lines)
    for block in range(blocks - 1, 0, -1):
        path[:, block - 1] = path[:, block] + came[block][every, path[:, block]]
    picked = path[:, :, None]
    traced = np.take_along_axis(around, picked, axis=2)[:, :, 0]
    return traced, np.take_along_axis(values, picked, axis=2)[:, :, 0]


def _distinct(
    rows: NDArray[np.int64], steps: NDArray[np.float64], downward: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.bool_]]:
    """Keep the stronger of lines that run into each other, and sort from the top down."""
    kept: list[int] = []
    # Every other block will do to see that two run together.
    small = rows[:, ::2].astype(np.int32)
    together = downward[:, None] == downward[None]
    for line, own in enumerate(small):
        together[line] &= (np.abs(small - own) <= 1).mean(axis=1) >= 0.5
    for line in np.argsort(-steps.sum(axis=1), kind="stable"):
        if not together[line, kept].any():
            kept.append(int(line))
    order = np.array(sorted(kept, key=lambda line: float(np.median(rows[line]))), dtype=np.int64)
    return rows[order], steps[order], downward[order]
