"""A board in a picture: which pixels show which of its sides, and the wood's colour there."""

from dataclasses import dataclass
from typing import Any

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


def _cover(value: Array, low: float, high: float) -> Array:
    """Return how much of a pixel lies between two bounds, from positions and their step per pixel."""
    step = np.maximum(np.hypot(*np.gradient(value)), 1e-6)
    return np.clip(np.minimum(value - low, high - value) / step + 0.5, 0.0, 1.0)


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
    row, col = np.mgrid[box[0], box[1]].astype(np.float64)
    along, up = _meet_side(lying, camera, row, col)
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
        ((along - start) * scale_along - 0.5).astype(np.float32),
        ((across - up) * scale_across - 0.5).astype(np.float32),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    cover = (_cover(up, 0.0, across) * _cover(along, 0.0, lying.solid.length_mm)).astype(np.float32)[..., None]
    picture[box] += cover * (wood - picture[box])


def _paint_wall(picture: Array, lying: Lying, camera: Camera, upper: bool) -> None:
    """Paint the long side that shows beside the one facing the camera, where it shows at all."""
    solid, side = lying.solid, side_above(lying.side) if upper else side_below(lying.side)
    half = solid.across_mm(lying.side) / 2
    shown = shown_range(lying, camera)
    if shown is None:
        return
    edge = np.linspace(shown[0] - 5.0, shown[1] + 5.0, 60)
    wall = lying.middle(edge) + (half if upper else -half)
    facing = (camera.centre()[1] - wall.mean()) * (1 if upper else -1)
    if facing <= 0:
        return
    tops = camera.project(edge + lying.along_mm, wall, solid.lift_at(lying.side, edge))
    feet = camera.project(edge + lying.along_mm, wall, solid.lift_at(lying.side, edge) - lying.depth_mm)
    box = _box(picture, np.concatenate([tops[0], feet[0]]), np.concatenate([tops[1], feet[1]]))
    if box is None:
        return
    row, col = np.mgrid[box[0], box[1]].astype(np.float64)
    ray, centre = camera.rays(row, col), camera.centre()
    with np.errstate(divide="ignore", invalid="ignore"):
        along = lying.along_mm + np.full(row.shape, solid.length_mm / 2)
        for _ in range(3):
            reach = (lying.middle(along - lying.along_mm) + (half if upper else -half) - centre[1]) / ray[1]
            along = np.clip(centre[0] + reach * ray[0], lying.along_mm - 50, lying.along_mm + solid.length_mm + 50)
        depth = solid.lift_at(lying.side, along - lying.along_mm) - (centre[2] + reach * ray[2])
    along = along - lying.along_mm
    seen = (depth > -1.0) & (depth < lying.depth_mm) & (along > 0) & (along < solid.length_mm) & (reach > 0)
    if not seen.any():
        return
    up = np.clip(np.where(upper, depth, lying.depth_mm - depth), 0.0, lying.depth_mm)
    y_mm, z_mm = on_side(solid, side, up)
    spacing = float(np.median(np.abs(np.gradient(along, axis=1))))
    wood = 0.8 * colour(solid.look, wood_value(solid, along, y_mm, z_mm, side_normal(side), max(spacing, 0.3)))
    picture[box][seen] = wood[seen]


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
    return float(along[inside][0]), float(along[inside][-1])


def paint_board(picture: Array, lying: Lying, camera: Camera, marks: Marks) -> None:
    """Paint a board into a picture, float32, shape (rows, cols, 3), in place."""
    _paint_wall(picture, lying, camera, upper=True)
    _paint_wall(picture, lying, camera, upper=False)
    _paint_top(picture, lying, camera, marks)
