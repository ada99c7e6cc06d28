"""A board in a picture: which pixels show which of its sides, and the wood's colour there."""

from dataclasses import dataclass
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from service.sides import side_above, side_below
from tests.drawing.camera import Camera
from tests.drawing.looks import Look
from tests.drawing.marks import Marks, paint
from tests.drawing.solid import Solid, on_side
from tests.drawing.texture import side_normal, side_texture, wood_value

Array = NDArray[Any]

#: The flat strip is drawn this much finer than the photo shows it.
_FINER = 1.25
#: Pixels of the picture per step of the coarse grid on which the mapping is worked out.
_BLOCK = 8


@dataclass(frozen=True)
class Lying:
    """A board lying in the scene with one side up: its solid, that side and where it lies."""

    solid: Solid
    side: str
    along_mm: float = 0.0
    up_mm: float = 0.0

    @property
    def depth_mm(self) -> float:
        """How far the board reaches down below the side that is up."""
        return self.solid.across_mm(side_below(self.side))

    def middle(self, along_mm: Array) -> Array:
        """Height of the side's mid-line in the scene, at positions along the board."""
        return self.up_mm + self.solid.crook_at(self.side, along_mm)

    def pixel(self, camera: Camera, along_mm: Array, up_mm: Array) -> tuple[Array, Array]:
        """Return (row, col) of points of the side, `up_mm` above its lower corner."""
        half = self.solid.across_mm(self.side) / 2
        out = self.solid.lift_at(self.side, along_mm)
        return camera.project(along_mm + self.along_mm, self.middle(along_mm) + up_mm - half, out)


def colour(look: Look, value: Array) -> Array:
    """Return red, green, blue of wood values, shape (..., 3), float32, 0 to 1."""
    light, dark = np.array(look.light, np.float32), np.array(look.dark, np.float32)
    return np.asarray(
        dark + np.clip(value, -0.2, 1.15)[..., None].astype(np.float32) * (light - dark), dtype=np.float32
    )


def _meet_side(lying: Lying, camera: Camera, row: Array, col: Array) -> tuple[Array, Array]:
    """Return positions along the board and above the lower corner of the side that pixels look at."""
    ray, centre = camera.rays(row, col), camera.centre()
    out: Array = np.zeros_like(row)
    along = up = out
    for _ in range(3 if lying.solid.crook_mm or lying.solid.bow_mm else 1):
        reach = (out - centre[2]) / ray[2]
        along, up = centre[0] + reach * ray[0] - lying.along_mm, centre[1] + reach * ray[1]
        out = lying.solid.lift_at(lying.side, along)
    return along, up - lying.middle(along) + lying.solid.across_mm(lying.side) / 2


class Met(NamedTuple):
    """Where the pixels of a box meet a side, and how much of a pixel the side covers."""

    along_mm: Array
    up_mm: Array
    cover: Array


def _cover(value: Array, step: Array, end: float) -> Array:
    """Return how much of each pixel lies between 0 and an end, from positions and their step per pixel."""
    return np.asarray(np.clip(np.minimum(value, end - value) / step + 0.5, 0.0, 1.0))


def _meet_box(lying: Lying, camera: Camera, box: tuple[slice, slice]) -> Met:
    """Return where a box of pixels meets a side, worked out on every 8th pixel and filled in between.

    Perspective and lens bend so slowly that filling in is right to 0.001 pixel.
    """
    counts = [-(-(part.stop - part.start) // _BLOCK) + 2 for part in box]
    row, col = np.meshgrid(
        *(part.start + (np.arange(count) - 0.5) * _BLOCK - 0.5 for part, count in zip(box, counts, strict=True)),
        indexing="ij",
    )
    coarse = _meet_side(lying, camera, row, col)
    steps = [np.maximum(np.hypot(*np.gradient(part)) / _BLOCK, 1e-6) for part in coarse]
    inner = tuple(slice(_BLOCK, _BLOCK + part.stop - part.start) for part in box)
    size = (counts[1] * _BLOCK, counts[0] * _BLOCK)
    along, up, *fine = (cv2.resize(part.astype(np.float32), size)[inner] for part in (*coarse, *steps))
    ends = lying.solid.length_mm, lying.solid.across_mm(lying.side)
    return Met(along, up, _cover(along, fine[0], ends[0]) * _cover(up, fine[1], ends[1]))


def _paint_top(picture: Array, lying: Lying, camera: Camera, marks: Marks) -> None:
    across = lying.solid.across_mm(lying.side)
    shown = shown_range(lying, camera)
    if shown is None:
        return
    edge = np.linspace(shown[0] - 5.0, shown[1] + 5.0, 60)
    rows, cols = (
        np.concatenate(pair)
        for pair in zip(*(lying.pixel(camera, edge, np.full(60, u)) for u in (0.0, across)), strict=True)
    )
    box = _box(picture, rows, cols)
    if box is None:
        return
    met = _meet_box(lying, camera, box)
    middle = lying.pixel(camera, np.linspace(*shown, 9), np.full(9, across / 2))
    px_per_mm = _FINER * float(
        (np.hypot(*np.gradient(np.stack(middle), axis=1)) / np.gradient(np.linspace(*shown, 9))).max()
    )
    start, stop = max(0.0, shown[0] - 8.0), min(lying.solid.length_mm, shown[1] + 8.0)
    strip = colour(lying.solid.look, side_texture(lying.solid, lying.side, px_per_mm, start, stop))
    paint(strip, marks, lying.solid, lying.side, px_per_mm, start)
    scale_along, scale_across = strip.shape[1] / (stop - start), strip.shape[0] / across
    wood = cv2.remap(
        strip,
        (met.along_mm - start) * np.float32(scale_along) - 0.5,
        (across - met.up_mm) * np.float32(scale_across) - 0.5,
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    picture[box] += met.cover[..., None] * (wood - picture[box])


def _meet_wall(lying: Lying, camera: Camera, way: int, row: Array, col: Array) -> Met:
    """Return where pixels meet the upper (way 1) or lower (-1) long side: positions, depth below the corner, cover."""
    solid, half = lying.solid, lying.solid.across_mm(lying.side) / 2
    ray, centre = camera.rays(row, col), camera.centre()
    along = np.full(row.shape, solid.length_mm / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(3):
            reach = (lying.middle(along) + way * half - centre[1]) / ray[1]
            along = np.clip(centre[0] + reach * ray[0] - lying.along_mm, -50.0, solid.length_mm + 50.0)
        depth = solid.lift_at(lying.side, along) - (centre[2] + reach * ray[2])
        step = np.abs(np.gradient(depth, axis=0))
        # The share of a pixel's height that the side fills, right also for a side thinner than a pixel.
        filled = [np.clip((depth - end) / step + 0.5, 0.0, 1.0) for end in (0.0, lying.depth_mm)]
    seen = (along > 0) & (along < solid.length_mm) & (reach > 0)
    return Met(along, np.clip(depth, 0.0, lying.depth_mm), np.where(seen, filled[0] - filled[1], 0.0))


def _paint_wall(picture: Array, lying: Lying, camera: Camera, way: int) -> None:
    """Paint the long side that shows beside the one facing the camera, where it shows at all."""
    solid, shown = lying.solid, shown_range(lying, camera)
    if shown is None:
        return
    edge = np.linspace(shown[0] - 5.0, shown[1] + 5.0, 60)
    wall, lift = lying.middle(edge) + way * solid.across_mm(lying.side) / 2, solid.lift_at(lying.side, edge)
    if (camera.centre()[1] - wall.mean()) * way <= 0:
        return
    ends = [camera.project(edge + lying.along_mm, wall, lift - depth) for depth in (0.0, lying.depth_mm)]
    box = _box(picture, *(np.concatenate(parts) for parts in zip(*ends, strict=True)))
    if box is None:
        return
    met = _meet_wall(lying, camera, way, *np.mgrid[box[0], box[1]].astype(np.float64))
    side = side_above(lying.side) if way > 0 else side_below(lying.side)
    y_mm, z_mm = on_side(solid, side, met.up_mm if way > 0 else lying.depth_mm - met.up_mm)
    spacing = max(float(np.median(np.abs(np.gradient(met.along_mm, axis=1)))), 0.3)
    wood = 0.8 * colour(solid.look, wood_value(solid, met.along_mm, y_mm, z_mm, side_normal(side), spacing))
    picture[box] += met.cover.astype(np.float32)[..., None] * (wood - picture[box])


def _box(picture: Array, rows: Array, cols: Array) -> tuple[slice, slice] | None:
    first_row, last_row = max(0, int(rows.min()) - 3), min(picture.shape[0], int(rows.max()) + 4)
    first_col, last_col = max(0, int(cols.min()) - 3), min(picture.shape[1], int(cols.max()) + 4)
    if first_row + 2 > last_row or first_col + 2 > last_col:
        return None
    return slice(first_row, last_row), slice(first_col, last_col)


def shown_range(lying: Lying, camera: Camera) -> tuple[float, float] | None:
    """Return the stretch of the board that lies between the left and right borders of the picture."""
    along = np.linspace(0.0, lying.solid.length_mm, 2001)
    lines = [lying.pixel(camera, along, np.full(along.shape, u)) for u in (0.0, lying.solid.across_mm(lying.side))]
    inside = np.logical_and.reduce([(col >= -0.5) & (col <= camera.cols - 0.5) for _, col in lines])
    if not inside.any():
        return None
    # Far outside the picture a bowing lens's formula folds back into it; only the run under the lens is seen.
    shown = np.flatnonzero(inside)
    middle = shown[np.argmin(np.abs(along[shown] - camera.along_mm))]
    gaps = np.flatnonzero(~inside)
    first = gaps[gaps < middle].max(initial=-1) + 1
    last = gaps[gaps > middle].min(initial=along.size) - 1
    return float(along[first]), float(along[last])


def paint_board(picture: Array, lying: Lying, camera: Camera, marks: Marks) -> None:
    """Paint a board into a picture, float32, shape (rows, cols, 3), in place."""
    _paint_wall(picture, lying, camera, 1)
    _paint_wall(picture, lying, camera, -1)
    _paint_top(picture, lying, camera, marks)
