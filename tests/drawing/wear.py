"""What boards bring along or get in the yard: streaks, stains, stamps, dots, writing, end checks, bark."""

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from service.sides import SIDES
from tests.drawing.noise import cloud_tile, look_up
from tests.drawing.solid import Solid, slope_on_side

Array = NDArray[Any]

#: Ink, pencil and paper by brightness: red, green, blue.
_INK: Final = np.array([0.12, 0.13, 0.22])
_PENCIL: Final = np.array([0.30, 0.29, 0.29])
_DOTS: Final = (
    np.array([0.75, 0.12, 0.10]),
    np.array([0.10, 0.20, 0.55]),
    np.array([0.92, 0.80, 0.15]),
    np.array([0.12, 0.45, 0.20]),
)


@dataclass(frozen=True)
class Wear:
    """How many of each are on a side.

    Attributes
    ----------
    streaks
        Mineral streaks: long dark spindles along the fibre, the grain running through.
    stains
        Clouds of colour with soft borders, as from wet stickers between boards in the pile.
    stamps
        Ink print: lines of signs, some in a frame.
    dots
        Round paper dots of one colour, no grain in them.
    writing
        Pencil strokes.
    checks
        Cracks along the fibre from an end.
    bark
        Stretches of a long corner with bark.
    """

    streaks: int = 0
    stains: int = 0
    stamps: int = 0
    dots: int = 0
    writing: int = 0
    checks: int = 0
    bark: int = 0


UNWORN: Final = Wear()


@dataclass(frozen=True)
class _Sheet:
    """A flat coloured strip and where it lies: changed in place."""

    strip: Array
    solid: Solid
    side: str
    px_per_mm: float
    from_mm: float

    @property
    def across_mm(self) -> float:
        return self.solid.across_mm(self.side)

    def cut(self, begin_mm: float, end_mm: float) -> slice:
        """Return the columns of a stretch of the board."""
        cols = np.round((np.array([begin_mm, end_mm]) - self.from_mm) * self.px_per_mm).astype(int)
        first, last = cols.clip(0, self.strip.shape[1])
        return slice(int(first), int(last))

    def places(self, cols: slice) -> tuple[Array, Array]:
        """Return along and up in millimetres of a stretch's pixels, shapes (1, cols) and (rows, 1)."""
        along = self.from_mm + (np.arange(cols.start, cols.stop) + 0.5) / self.px_per_mm
        up = self.across_mm * (1 - (np.arange(self.strip.shape[0]) + 0.5) / self.strip.shape[0])
        return along[None, :], up[:, None]

    def fibre(self, along_mm: Array, start_mm: float, up_mm: float) -> Array:
        """Return the height of the fibre through a point, at positions along the board, shape of `along_mm`."""
        slope = slope_on_side(self.solid, self.side, np.array([start_mm]), np.array([up_mm]))
        return np.asarray(up_mm + float(slope[0]) * (along_mm - start_mm))


def _streak(sheet: _Sheet, rng: np.random.Generator) -> None:
    length, wide = rng.uniform(40.0, 350.0), rng.uniform(1.0, 4.5)
    begin, up_mm = rng.uniform(0.0, sheet.solid.length_mm - length), rng.uniform(0.1, 0.9) * sheet.across_mm
    depth, tint = rng.uniform(0.12, 0.5), np.array([1.0, 0.95, 0.9])
    cols = sheet.cut(begin, begin + length)
    along, up = sheet.places(cols)
    share = (along - begin) / length
    ragged = 0.5 * look_up(cloud_tile(), up * 6.0 + 0 * along, along * 0.6 + 0 * up)
    off = (up - sheet.fibre(along, begin + length / 2, up_mm)) / (
        wide * np.sqrt(np.maximum(4 * share * (1 - share), 1e-3))
    )
    dark = depth / (1 + np.exp(np.minimum(4 * (np.abs(off) + 0.4 * ragged - 1), 30.0)))
    sheet.strip[:, cols] *= (1 - dark[..., None] * tint).astype(np.float32)


def _stain(sheet: _Sheet, rng: np.random.Generator) -> None:
    middle, up_mm = rng.uniform(0.0, sheet.solid.length_mm), rng.uniform(0.0, 1.0) * sheet.across_mm
    reach, wide = rng.uniform(8.0, 60.0), rng.uniform(0.2, 1.2) * sheet.across_mm
    cols = sheet.cut(middle - 2 * reach, middle + 2 * reach)
    along, up = sheet.places(cols)
    ragged = look_up(cloud_tile(), up * 1.1 + 0 * along, along * 1.1 + 0 * up)
    far = np.hypot((along - middle) / reach, (up - up_mm) / wide) + 0.2 * ragged
    dark = rng.uniform(0.08, 0.35) / (1 + np.exp((far - 1) * rng.uniform(4.0, 10.0)))
    sheet.strip[:, cols] *= (1 - dark[..., None] * np.array([1.0, 0.96, 0.85])).astype(np.float32)


def _strokes(sheet: _Sheet, points_mm: list[Array], thick_mm: float, tint: Array, cover: float) -> None:
    """Draw lines through points (along, up), millimetres, as ink that lets some wood show."""
    shown = [p for p in points_mm if sheet.cut(p[:, 0].min(), p[:, 0].max() + 1).stop > 0]
    if not shown:
        return
    mask = np.zeros(sheet.strip.shape[:2], np.float32)
    scale = np.array([sheet.px_per_mm, sheet.px_per_mm])
    for points in shown:
        down = np.column_stack([points[:, 0] - sheet.from_mm, sheet.across_mm - points[:, 1]]) * scale
        sixteenths = np.round(down * 16).astype(np.int32)[None]
        cv2.polylines(mask, list(sixteenths), False, 1.0, max(1, round(thick_mm * sheet.px_per_mm)), cv2.LINE_AA, 4)
    share = min(1.0, thick_mm * sheet.px_per_mm) * cover
    sheet.strip[...] += (mask * share)[..., None] * (tint.astype(np.float32) - sheet.strip)


def _stamp(sheet: _Sheet, rng: np.random.Generator) -> None:
    high = min(0.6 * sheet.across_mm, rng.uniform(8.0, 20.0))
    begin, low = rng.uniform(0.05, 0.9) * sheet.solid.length_mm, rng.uniform(0.1, 0.3) * sheet.across_mm
    lines: list[Array] = []
    for sign in range(rng.integers(3, 8)):
        corners = rng.uniform(0, 1, (rng.integers(3, 6), 2)) * (0.6 * high, 0.8 * high)
        lines.append(corners + np.array([begin + sign * 0.85 * high, low + 0.1 * high]))
    if rng.random() < 0.5:
        end = begin + len(lines) * 0.85 * high
        frame = [(begin - 3, low), (end, low), (end, low + high), (begin - 3, low + high), (begin - 3, low)]
        lines.append(np.array(frame))
    _strokes(sheet, lines, rng.uniform(0.8, 2.4), _INK, rng.uniform(0.4, 0.95))


def _dot(sheet: _Sheet, rng: np.random.Generator) -> None:
    radius = min(rng.uniform(4.0, 9.5), 0.45 * sheet.across_mm)
    middle, up_mm = (
        rng.uniform(0.05, 0.95) * sheet.solid.length_mm,
        rng.uniform(radius, max(radius, sheet.across_mm - radius)),
    )
    cols = sheet.cut(middle - radius - 1, middle + radius + 1)
    along, up = sheet.places(cols)
    inside = np.clip((radius - np.hypot(along - middle, up - up_mm)) * sheet.px_per_mm + 0.5, 0, 1)[..., None]
    sheet.strip[:, cols] += (inside * (_DOTS[rng.integers(len(_DOTS))] - sheet.strip[:, cols])).astype(np.float32)


def _writing(sheet: _Sheet, rng: np.random.Generator) -> None:
    high = min(0.7 * sheet.across_mm, rng.uniform(8.0, 25.0))
    begin, low = rng.uniform(0.05, 0.9) * sheet.solid.length_mm, rng.uniform(0.05, 0.25) * sheet.across_mm
    steps = np.cumsum(rng.uniform(0.1, 0.4, 40))
    heights = low + high * rng.uniform(0, 1, 40)
    _strokes(sheet, [np.column_stack([begin + high * steps, heights])], rng.uniform(0.5, 1.0), _PENCIL, 0.7)


def check_of(solid: Solid, side: str, index: int) -> tuple[float, float, float, float]:
    """Return an end check as (end_mm, tip_mm, up_mm at the end, gap_mm at the end)."""
    rng = np.random.default_rng([solid.seed, SIDES.index(side), index, 71])
    end = float(rng.choice([0.0, solid.length_mm]))
    reach = float(rng.uniform(25.0, 180.0))
    tip = end + (reach if end == 0.0 else -reach)
    return end, tip, float(rng.uniform(0.2, 0.8)) * solid.across_mm(side), float(rng.uniform(0.5, 1.6))


def _check(sheet: _Sheet, index: int) -> None:
    end, tip, up_mm, gap = check_of(sheet.solid, sheet.side, index)
    cols = sheet.cut(min(end, tip), max(end, tip))
    if cols.stop <= cols.start:
        return
    along, up = sheet.places(cols)
    wander = 0.35 * look_up(cloud_tile(), 0 * along + 7.0 * index, along * 0.5)
    off = np.abs(up - sheet.fibre(along, end, up_mm) - wander)
    half = 0.5 * gap * np.sqrt(np.abs(along - tip) / abs(end - tip))
    inside = np.clip((half - off) * sheet.px_per_mm + 0.5, 0, 1) * np.minimum(1, 2 * half * sheet.px_per_mm)
    sheet.strip[:, cols] *= (1 - 0.85 * inside[..., None]).astype(np.float32)


def bark_of(solid: Solid, side: str, index: int) -> tuple[float, float, bool, float]:
    """Return a stretch of bark as (from_mm, to_mm, whether along the upper corner, depth_mm)."""
    rng = np.random.default_rng([solid.seed, SIDES.index(side), index, 73])
    length = float(rng.uniform(80.0, 500.0))
    begin = float(rng.uniform(0.0, solid.length_mm - length))
    depth = float(rng.uniform(0.1, 0.25)) * solid.across_mm(side)
    return begin, begin + length, bool(rng.random() < 0.5), depth


def _bark(sheet: _Sheet, index: int) -> None:
    begin, end, upper, depth = bark_of(sheet.solid, sheet.side, index)
    cols = sheet.cut(begin, end)
    if cols.stop <= cols.start:
        return
    along, up = sheet.places(cols)
    share = (along - begin) / (end - begin)
    reach = depth * np.sqrt(np.maximum(4 * share * (1 - share), 0))
    reach = reach * (1 + 0.25 * look_up(cloud_tile(), 0 * along + 31.0, along * 1.3))
    off = sheet.across_mm - up if upper else up
    inside = np.clip((reach - off) * sheet.px_per_mm + 0.5, 0, 1)[..., None]
    rough = look_up(cloud_tile(), up * 5.0 + 0 * along, along * 3.0 + 0 * up)
    bark = (0.22 + 0.07 * rough)[..., None] * np.array([1.0, 0.85, 0.7])
    sheet.strip[:, cols] += (inside * (bark - sheet.strip[:, cols])).astype(np.float32)


def wear_out(strip: Array, wear: Wear, solid: Solid, side: str, px_per_mm: float, from_mm: float) -> None:
    """Put wear on a flat coloured strip that begins at `from_mm`, float32, shape (rows, cols, 3), in place."""
    sheet = _Sheet(strip, solid, side, px_per_mm, from_mm)
    rng = np.random.default_rng([solid.seed, SIDES.index(side), 67])
    for count, put in (
        (wear.streaks, _streak),
        (wear.stains, _stain),
        (wear.stamps, _stamp),
        (wear.dots, _dot),
        (wear.writing, _writing),
    ):
        for _ in range(count):
            put(sheet, rng)
    for index in range(wear.checks):
        _check(sheet, index)
    for index in range(wear.bark):
        _bark(sheet, index)
