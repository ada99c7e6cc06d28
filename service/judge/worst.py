"""The worst place of many sections at once: what `bound_faces` tells, but only its largest along each section.

Roots are taken after the largest square is found, errors are put together before they are cut into sections,
and a few sections at a time are worked on, so that all of it stays in the processor's cache.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from service.judge.combined import shares_of_limits
from service.judge.limits import Limits
from service.sides import EDGES, FACES

Float = NDArray[np.float64]
Single = NDArray[np.float32]
Int = NDArray[np.int64]

AT_ONCE: Final = 16384
"""Places worked on at a time: 64 kB of single precision, in which slopes are still told to 1 in 10 million."""

DIGITS: Final = 6
"""Digits of a share that rounding leaves sure: a slope right at a limit keeps to it."""

TURN_SIGN: Final = {"face_1": 1.0, "face_2": -1.0, "edge_1": 0.0, "edge_2": 0.0}
"""A turn of the bow in the board's face, up as face 1 shows it, as each side's photo shows it."""


@dataclass(frozen=True)
class Shares:
    """Largest share of a limit used in each section tried, as measured and at both ends of the interval.

    The first axis is the face taken as the back.
    """

    measured: Float
    upper: Float
    lower: Float


def worst_shares(
    slope: dict[str, Float],
    error: dict[str, Float],
    chords: dict[str, Float],
    starts: Int,
    turn: Float,
    width: int,
    limits: Limits,
    stride: int = 1,
) -> Shares:
    """Look through whole sections for the largest share of a limit.

    Parameters
    ----------
    slope, error
        Side name to shape (m,): averaged slope and its error along the board.
    chords
        Side name to shape (n,): slope of the chord of each section tried, up in the side's photo.
    starts
        Shape (n,): number of the first place of each section tried.
    turn
        Shape (n,) or (k, n): the bow's slope against that chord, up as face 1 shows it.
    width
        Number of places in a section.
    stride
        Only every so many places are looked at; odd, so that they can lie alike from either end of a section.

    Returns
    -------
    Shares of shape (2, n) or (2, k, n)

    >>> flat = {name: np.zeros(4) for name in TURN_SIGN}
    >>> steep = {**flat, "face_1": np.array([0.0, 0.03, 0.0, 0.0]), "edge_1": np.array([0.0, 0.04, 0.0, 0.0])}
    >>> chords = {name: np.zeros(2) for name in TURN_SIGN}
    >>> shares = worst_shares(steep, flat, chords, np.array([0, 2]), np.zeros(2), 2, Limits())
    >>> shares.measured.round(3).tolist()  # 1 in 20 on the back is the limit; the edge alone, 0.04, takes 0.8 of it
    [[1.0, 0.0], [0.8, 0.0]]
    """
    if width < 2 * stride:
        stride = 1
    slopes, errors, reaches = (_cut(values, width, stride) for values in (slope, error, _reach(error)))
    rows = turn.reshape(-1, starts.size)
    worst = {face: np.zeros((3, *rows.shape)) for face in FACES}
    few = max(1, AT_ONCE * stride // width)
    for begin in range(0, starts.size, few):
        some = slice(begin, begin + few)
        at = starts[some]
        line = {name: chords[name][some, None].astype(np.float32) for name in TURN_SIGN}
        edges = _edges(
            *(np.abs(slopes[name][at] - line[name]) for name in EDGES), *(errors[name][at] for name in EDGES)
        )
        for face in FACES:
            own, own_error, own_reach = slopes[face][at] - line[face], errors[face][at], reaches[face][at]
            for row, turned in enumerate(TURN_SIGN[face] * rows[:, some, None].astype(np.float32)):
                worst[face][:, row, some] = _face(np.abs(own - turned), own_error, own_reach, edges)
    shape = (2, *turn.shape)
    shares = (shares_of_limits({face: worst[face][end] for face in FACES}, limits) for end in range(3))
    return Shares(*(np.round(share, DIGITS).reshape(shape) for share in shares))


def _cut(values: dict[str, Float], width: int, stride: int) -> dict[str, Single]:
    """Cut each side's values into sections, one a start, as many places left out at their first as at their last."""
    left_out = (width - 1) * (stride + 1) // 2 % stride
    return {
        name: sliding_window_view(along.astype(np.float32), width)[:, left_out::stride]
        for name, along in values.items()
    }


def _reach(error: dict[str, Float]) -> dict[str, Float]:
    """Return for each face the larger of its own error and the edges'."""
    edges = np.maximum(*(error[name] for name in EDGES))
    return {face: np.maximum(error[face], edges) for face in FACES}


def _edges(first: Single, second: Single, first_error: Single, second_error: Single) -> tuple[Single, Single, Single]:
    """Return the squares of the steeper edge: as measured, at the upper and at the lower end of the error."""
    upper = np.maximum(first + first_error, second + second_error)
    lower = np.maximum(np.maximum(first - first_error, second - second_error), 0.0)
    measured = np.maximum(first, second)
    return measured * measured, upper * upper, lower * lower


def _face(
    steep: Single, error: Single, reach: Single, edges: tuple[Single, Single, Single]
) -> tuple[Single, Single, Single]:
    """Return the largest combined slope of each section, as measured and at both ends of the error."""
    edge, edge_upper, edge_lower = edges
    measured = np.sqrt(steep * steep + edge)
    box, moved = steep + error, measured + reach
    upper = np.minimum(box * box + edge_upper, moved * moved)
    inner = np.maximum(steep - error, 0.0)
    lower = np.sqrt((inner * inner + edge_lower).max(axis=1))
    return (
        measured.max(axis=1),
        np.sqrt(upper.max(axis=1)),
        np.maximum(lower, (measured - reach).max(axis=1)),
    )
