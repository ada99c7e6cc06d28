"""What tells a knot from other dark places: darkness, border, surroundings, and how the grain runs there."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from service.grain.blobs import INSIDE_MM, OUTSIDE_MM, Blob, Mask, disc
from service.grain.departure import Departure, blurred
from service.grain.tensor import Float

AROUND_MM = 6.0
"""How far around a dark place the measures look."""

CLEAR_MM = (2.6, 5.5)
"""The ring around a knot in which the wood is clear again."""

CORE_MM = 1.2
"""What is so far within the border is the dark place's own wood."""

BESIDE_MM = (8.0, 45.0)
"""Wood so far before and after a band stands for what would run on through it."""

GRAIN_BLUR_MM = 0.5
"""Blur at which the grain's run around a dark place is measured."""

EIGHTHS = 8


@dataclass(frozen=True)
class Surface:
    """A side on a coarse grid, with what all its dark places are measured by: float32, shapes (rows, cols).

    Attributes
    ----------
    side
        The side.
    fine
        Darkness at a fine blur, shares of the wood's brightness.
    """

    side: Departure
    fine: Float


@dataclass(frozen=True)
class Border:
    """How sharp a dark place ends, in eighths around it.

    Attributes
    ----------
    darkness
        Mean darkness inside.
    weakest, weak, usual
        Step of darkness across the border as a share of that: the least of the eighths, the second
        least, the median.
    """

    darkness: float
    weakest: float
    weak: float
    usual: float


class Window:
    """The grid around a dark place."""

    def __init__(self, blob: Blob, surface: Surface) -> None:
        side = surface.side
        self.blob, self.surface = blob, surface
        reach_row, reach_col = (int(np.ceil(AROUND_MM / mm)) for mm in (side.mm_row, side.mm_col))
        rows, cols = side.wood.shape
        self.part = np.s_[
            max(0, blob.top - reach_row) : min(rows, blob.bottom + reach_row),
            max(0, blob.left - reach_col) : min(cols, blob.right + reach_col),
        ]
        self.fine = surface.fine[self.part]
        self.mask = np.zeros(self.fine.shape, np.uint8)
        self.first = (blob.top - self.part[0].start, blob.left - self.part[1].start)
        self.mask[self.first[0] :, self.first[1] :][: blob.hull.shape[0], : blob.hull.shape[1]] = blob.hull
        self.inside = self.mask > 0

    def grown(self, reach_mm: float) -> Mask:
        """Return the shape grown by a reach."""
        return np.asarray(cv2.dilate(self.mask, self._disc(reach_mm)), np.uint8)

    def within(self, reach_mm: float) -> Mask:
        """Return what lies so far within the border; the strip's own border does not count as one."""
        return np.asarray(cv2.erode(self.mask, self._disc(reach_mm), borderValue=(1,)), np.uint8)

    def _disc(self, reach_mm: float) -> Mask:
        return disc(reach_mm, self.surface.side.mm_row, self.surface.side.mm_col)

    def eighths(self, where: NDArray[np.bool_], values: Float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Return means and counts of values in the eighths around the middle, in the shape's own proportions."""
        rows, cols = self.blob.hull.shape
        row, col = np.nonzero(where)
        turn = np.arctan2((row + 0.5 - self.first[0] - rows / 2) / rows, (col + 0.5 - self.first[1] - cols / 2) / cols)
        eighth = ((turn + np.pi) / (2 * np.pi) * EIGHTHS).astype(np.int64) % EIGHTHS
        counts = np.bincount(eighth, minlength=EIGHTHS)
        sums = np.bincount(eighth, weights=values[where], minlength=EIGHTHS)
        return sums / np.maximum(counts, 1), counts


def border(window: Window) -> Border | None:
    """Measure how sharp a dark place ends; None where too little of its border is in view."""
    darkness = float(window.fine[window.inside].mean())
    edge = window.inside & (window.within(INSIDE_MM) == 0)
    beside = (window.grown(OUTSIDE_MM[1]) > 0) & (window.grown(OUTSIDE_MM[0]) == 0)
    (within, counts), (outside, others) = window.eighths(edge, window.fine), window.eighths(beside, window.fine)
    seen = (counts > 1) & (others > 1)
    if seen.sum() < 3:
        return None
    steps = np.sort((within - outside)[seen] / max(darkness, 0.05))
    return Border(darkness, float(steps[0]), float(steps[1]), float(np.median(steps)))


def worst_beside(window: Window, darkness: float) -> float | None:
    """Return how dark the worst two eighths of the ring around are, a share of its own; None where out of view."""
    ring = (window.grown(CLEAR_MM[1]) > 0) & (window.grown(CLEAR_MM[0]) == 0)
    means, counts = window.eighths(ring, window.fine)
    seen = np.sort(means[counts > 3])
    return float(seen[-2:].mean()) / darkness if seen.size > 1 else None


def core(window: Window) -> NDArray[np.bool_]:
    """Return the dark place's own wood, its border left out where something remains."""
    inner = window.within(CORE_MM) > 0
    return inner if inner.sum() > 3 else window.inside


def loses_grain(window: Window) -> float:
    """Return how much less the gradients inside lean across the lines than beside it: 0 where the grain runs on.

    A shadow or a stain across the board lets the grain through; a branch has grain of its own.
    """
    blob, side = window.blob, window.surface.side
    near, far = (int(reach / side.mm_col) for reach in BESIDE_MM)
    first, last = max(0, blob.left - far), min(side.wood.shape[1], blob.right + far)
    tensor = _tensor(side, np.s_[blob.top : blob.bottom, first:last])
    before, after = tensor[..., : max(0, blob.left - near - first)], tensor[..., blob.right + near - first :]
    beside = np.concatenate([before, after], axis=2).mean(axis=1)
    inside = tensor[..., blob.left - first : blob.right - first]
    own = inside[:, core(window)[window.first[0] :, window.first[1] :][: inside.shape[1], : inside.shape[2]]]
    if beside.shape[1] < 5 or own.size == 0:
        return 0.0
    out, within = np.median(beside, axis=1), own.mean(axis=1)
    leaning = [float((across - along) / (across + along + 1e-9)) for along, _, across in (out, within)]
    return leaning[0] - leaning[1]


def flows_round(window: Window) -> float:
    """Return how far the lines above rise and then fall, and those below fall and then rise, as slopes.

    Grain goes round a knot and is not bent by what lies on the wood.
    """
    blob, side = window.blob, window.surface.side
    rows, cols = side.wood.shape
    along_mm, across_mm = blob.hull.shape[1] * side.mm_col, blob.hull.shape[0] * side.mm_row
    reach = int((0.45 * max(along_mm, across_mm) + 4) / side.mm_col)
    high = int((0.5 * min(along_mm, across_mm) + 3) / side.mm_row)
    gap, middle = int(1.0 / side.mm_row), (blob.left + blob.right) // 2
    part = np.s_[
        max(0, blob.top - gap - high) : min(rows, blob.bottom + gap + high),
        max(0, middle - reach) : min(cols, middle + reach),
    ]
    tensor = _tensor(side, part)
    half = middle - part[1].start
    bends = []
    for way, rows_beside in (
        (1, np.s_[: max(0, blob.top - gap - part[0].start)]),
        (-1, np.s_[blob.bottom + gap - part[0].start :]),
    ):
        beside = tensor[:, rows_beside]
        if beside.shape[1] >= 3:
            rises = [
                float(both / (across + 0.3 * along + 1e-9))
                for along, both, across in (beside[..., :half].sum(axis=(1, 2)), beside[..., half:].sum(axis=(1, 2)))
            ]
            bends.append(way * (rises[0] - rises[1]))
    return float(np.clip(np.mean(bends), -0.6, 0.6)) if bends else 0.0


def _tensor(side: Departure, part: tuple[slice, slice]) -> Float:
    """Return products of the gradient, shape (3, rows, cols): along * along, along * across, across * across."""
    even = blurred(side.wood[part], side.mm_row, side.mm_col, GRAIN_BLUR_MM) / side.line[part]
    along = np.asarray(cv2.Sobel(even, cv2.CV_32F, 1, 0), np.float32) / np.float32(8 * side.mm_col)
    across = np.asarray(cv2.Sobel(even, cv2.CV_32F, 0, 1), np.float32) / np.float32(8 * side.mm_row)
    return np.stack([along * along, along * across, across * across])
