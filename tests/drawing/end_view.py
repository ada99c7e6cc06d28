"""The marked end of a board in a picture, face 1 up, with the sides that show behind it.

Scene axes here: `along` runs along the board's width from the left, so y = width - along; `up`
along the thickness from its middle; `out` of the end toward the camera.
"""

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from service.sides import FACES, SIDES
from tests.drawing.board_view import colour
from tests.drawing.camera import Camera
from tests.drawing.solid import Solid
from tests.drawing.texture import end_texture, side_normal, wood_value

Array = NDArray[Any]

#: The flat end is drawn this much finer than the photo shows it.
_FINER: Final = 1.2
#: No more of a side is drawn behind the end: beyond, it is out of focus and dark.
_DEPTH_MM: Final = 600.0


def end_corners(solid: Solid, camera: Camera) -> tuple[Array, Array]:
    """Return (row, col) of the end's corners: upper left, upper right, lower right, lower left."""
    half = solid.thickness_mm / 2
    along, up = np.array([0.0, 1.0, 1.0, 0.0]) * solid.width_mm, np.array([half, half, -half, -half])
    return camera.project(along, up, np.zeros(4))


def _box(picture: Array, rows: Array, cols: Array) -> tuple[tuple[slice, slice], Array, Array]:
    spans = [(max(0, int(part.min()) - 3), int(part.max()) + 4) for part in (rows, cols)]
    box = slice(spans[0][0], min(picture.shape[0], spans[0][1])), slice(spans[1][0], min(picture.shape[1], spans[1][1]))
    row, col = np.mgrid[box].astype(np.float64)
    return box, row, col


def _paint_side(picture: Array, solid: Solid, camera: Camera, side: str) -> None:
    """Paint what is seen of a long side behind the end."""
    centre, half, width = camera.centre(), solid.thickness_mm / 2, solid.width_mm
    axis, plane, way = {
        "face_1": (1, half, 1),
        "edge_1": (0, width, 1),
        "face_2": (1, -half, -1),
        "edge_2": (0, 0.0, -1),
    }[side]
    if (centre[axis] - plane) * way <= 0:
        return
    corner = np.array([[along, up, out] for along in (0.0, width) for up in (-half, half) for out in (0.0, -_DEPTH_MM)])
    box, row, col = _box(picture, *camera.project(*corner[np.isclose(corner[:, axis], plane)].T))
    ray = camera.rays(row, col)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (plane - centre[axis]) / ray[axis]
        along, up, out = (centre[part] + reach * ray[part] for part in range(3))
    inside = (reach > 0) & (out <= 0) & (out > -_DEPTH_MM)
    inside &= (along >= 0) & (along <= width) if side in FACES else np.abs(up) <= half
    if not inside.any():
        return
    depth, y_mm, z_mm = -out[inside][None], (width - along[inside])[None], (up[inside] + half)[None]
    wood = colour(solid.look, wood_value(solid, depth, y_mm, z_mm, side_normal(side), 0.3))[0]
    picture[box][inside] = wood * (0.85 * np.exp(-depth[0] / 350.0))[:, None]


def paint_end(picture: Array, solid: Solid, camera: Camera) -> None:
    """Paint a board's end and what shows behind it into a picture, float32, (rows, cols, 3), in place."""
    for side in SIDES:
        _paint_side(picture, solid, camera, side)
    rows, cols = end_corners(solid, camera)
    px_per_mm = _FINER * float(np.hypot(rows[1] - rows[0], cols[1] - cols[0])) / solid.width_mm
    wood = colour(solid.look, end_texture(solid, px_per_mm))
    box, row, col = _box(picture, rows, cols)
    ray, centre = camera.rays(row, col), camera.centre()
    along, up = (centre[axis] - centre[2] / ray[2] * ray[axis] for axis in (0, 1))
    down = solid.thickness_mm / 2 - up
    seen = cv2.remap(
        wood,
        (along / solid.width_mm * wood.shape[1] - 0.5).astype(np.float32),
        (down / solid.thickness_mm * wood.shape[0] - 0.5).astype(np.float32),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    inside = (down >= 0) & (down <= solid.thickness_mm) & (along >= 0) & (along <= solid.width_mm)
    picture[box][inside] = seen[inside]
