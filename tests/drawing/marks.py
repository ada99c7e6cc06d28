"""What people and machines leave on a board: planer marks, pencil, stickers, tape, dirt."""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from service.sides import SIDES
from tests.drawing.noise import cloud_tile, look_up
from tests.drawing.solid import Solid
from tests.drawing.wear import UNWORN, Wear, wear_out

Array = NDArray[Any]


@dataclass(frozen=True)
class Marks:
    """What is on the wood's surface.

    Attributes
    ----------
    planer
        Depth of the planer's ripples as a share of brightness; 0 for none.
    tape, cross, sticker, dirt, shine
        Tape round the marked end, a pencil cross near it, a paper label, smudges, a bright patch of
        reflected light.
    """

    planer: float = 0.0
    tape: bool = False
    cross: bool = False
    sticker: bool = False
    dirt: bool = False
    shine: bool = False
    wear: Wear = field(default=UNWORN, kw_only=True)


PLAIN = Marks()


def _rectangle(
    strip: Array, px_per_mm: float, from_mm: float, box: tuple[float, float, float, float], tint: Array
) -> None:
    """Fill (begin, end along, top, bottom from the upper corner), millimetres, with a colour."""
    first, last, top, bottom = box
    cols = np.round((np.array([first, last]) - from_mm) * px_per_mm).astype(int).clip(0, strip.shape[1])
    rows = np.round(np.array([top, bottom]) * px_per_mm).astype(int).clip(0, strip.shape[0])
    strip[rows[0] : rows[1], cols[0] : cols[1]] = tint


def _planer(strip: Array, depth: float, px_per_mm: float, from_mm: float, rng: np.random.Generator) -> None:
    pitch, skew = rng.uniform(2.0, 4.5), rng.uniform(-0.03, 0.03)
    along = from_mm + np.arange(strip.shape[1])[None, :] / px_per_mm
    down = np.arange(strip.shape[0])[:, None] / px_per_mm
    # Ripples finer than two pixels average out.
    seen = np.clip(pitch * px_per_mm / 2 - 1, 0.0, 1.0)
    ripple = np.cos(2 * np.pi * (along + skew * down) / pitch)
    strip *= (1 + depth * seen * ripple)[..., None].astype(np.float32)


def _label(
    strip: Array, solid: Solid, across: float, px_per_mm: float, from_mm: float, rng: np.random.Generator
) -> None:
    begin, height = rng.uniform(0.15, 0.85) * solid.length_mm, min(0.7 * across, 24.0)
    top = (across - height) * rng.uniform(0.2, 0.8)
    _rectangle(strip, px_per_mm, from_mm, (begin, begin + 52, top, top + height), np.array([0.93, 0.93, 0.91]))
    for bar in np.cumsum(rng.uniform(0.7, 2.0, 22)):
        _rectangle(
            strip, px_per_mm, from_mm, (begin + 5 + bar, begin + 5.5 + bar, top + 2, top + height / 2), np.full(3, 0.1)
        )


def _cross(strip: Array, across: float, px_per_mm: float, from_mm: float) -> None:
    middle, reach = (22.0 - from_mm) * px_per_mm, 0.28 * across * px_per_mm
    row, thick = strip.shape[0] / 2, max(1, round(0.9 * px_per_mm))
    if middle + reach < 0:
        return
    over = np.ascontiguousarray(strip)
    for slant in (1, -1):
        ends = [(round(middle + way * reach), round(row + way * slant * reach)) for way in (-1, 1)]
        cv2.line(over, ends[0], ends[1], (0.27, 0.26, 0.26), thick, cv2.LINE_AA)
    strip[...] = over


def paint(strip: Array, marks: Marks, solid: Solid, side: str, px_per_mm: float, from_mm: float) -> None:
    """Put marks on a flat coloured strip that begins at `from_mm`, in place."""
    rng = np.random.default_rng([solid.seed, SIDES.index(side)])
    across = solid.across_mm(side)
    wear_out(strip, marks.wear, solid, side, px_per_mm, from_mm)
    if marks.dirt:
        along = from_mm + np.arange(strip.shape[1])[None, :] / px_per_mm
        # At a slant, so that the tile does not come round again along the board; elsewhere on each side of each board.
        rows = np.arange(strip.shape[0])[:, None] / px_per_mm * 1.5 + along * 0.37
        cols = along * 0.9 + np.zeros((strip.shape[0], 1))
        begin = 97.0 * SIDES.index(side) + 61.0 * solid.seed
        smudge = np.clip(look_up(cloud_tile(), rows + 1.7 * begin, cols + begin) - 1.0, 0.0, 1.5)
        strip *= (1 - 0.14 * smudge)[..., None]
    if marks.planer:
        _planer(strip, marks.planer, px_per_mm, from_mm, rng)
    if marks.sticker:
        _label(strip, solid, across, px_per_mm, from_mm, rng)
    if marks.cross:
        _cross(strip, across, px_per_mm, from_mm)
    if marks.shine:
        along = from_mm + np.arange(strip.shape[1]) / px_per_mm
        middle, reach = from_mm + rng.uniform(0.2, 0.8) * along.size / px_per_mm, 0.1 * along.size / px_per_mm
        strip += (0.3 * np.exp(-(((along - middle) / reach) ** 2)))[None, :, None].astype(np.float32)
    if marks.tape:
        _rectangle(strip, px_per_mm, from_mm, (0.0, 24.0, 0.0, across), np.array([0.16, 0.36, 0.66]))
