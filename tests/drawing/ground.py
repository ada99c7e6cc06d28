"""What a board lies on: floors, carpet, tiles, plywood, and things lying about, drawn flat."""

from typing import Any, Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.drawing.camera import Camera
from tests.drawing.noise import cloud_tile, look_up

Array = NDArray[Any]

GROUNDS: Final = ("floor", "carpet", "tiles", "plywood", "clutter")
#: Pixels of the picture per pixel of the coarse grid on which the mapping is worked out.
_BLOCK: Final = 16


class Lies(NamedTuple):
    """How boards lie on the ground.

    Attributes
    ----------
    depth_mm
        From the side facing the camera down to the board's underside.
    below_mm
        From there down to the ground; above 50 the board lies on trestles.
    boards
        Where the boards lie (begin, end, low, high), scene millimetres; the one in the middle first.
    """

    depth_mm: float
    below_mm: float
    boards: tuple[tuple[float, float, float, float], ...]


def _clouds(rows: Array, cols: Array, size_mm: float) -> Array:
    return look_up(cloud_tile(), rows * (60 / size_mm), cols * (60 / size_mm))


def _floor(rows: Array, cols: Array, rng: np.random.Generator) -> Array:
    base = np.array([0.50, 0.49, 0.47]) * rng.uniform(0.7, 1.15) + rng.uniform(-0.02, 0.02, 3)
    shade = 1 + 0.05 * _clouds(rows, cols, 700.0) + 0.03 * _clouds(rows, cols, 60.0)
    return np.asarray(base * shade[..., None])


def _carpet(rows: Array, cols: Array, rng: np.random.Generator) -> Array:
    base = np.array([[0.42, 0.30, 0.30], [0.30, 0.34, 0.42], [0.52, 0.47, 0.38], [0.30, 0.36, 0.30]])[rng.integers(4)]
    shade = 1 + 0.06 * _clouds(rows, cols, 500.0) + 0.05 * rng.standard_normal(rows.shape)
    return np.asarray(base * shade[..., None])


def _tiles(rows: Array, cols: Array, rng: np.random.Generator) -> Array:
    size, turn = rng.uniform(180.0, 420.0), rng.uniform(0.0, np.pi / 2)
    along, up = np.cos(turn) * cols + np.sin(turn) * rows, np.cos(turn) * rows - np.sin(turn) * cols
    step = max(abs(float(cols[0, 1] - cols[0, 0])), 1e-3)
    base = np.array([0.60, 0.59, 0.55]) * rng.uniform(0.8, 1.15)
    tone = np.sin(np.floor(along / size) * 12.99 + np.floor(up / size) * 78.23) * 0.04
    shade = 1 + tone + 0.03 * _clouds(rows, cols, 250.0)
    joint = np.minimum(*(np.abs((part / size) % 1 - 0.5) for part in (along, up)))
    gap = np.clip((joint * size - 2.0) / step + 0.5, 0.0, 1.0)
    return np.asarray(base * (shade * (0.55 + 0.45 * gap))[..., None])


def _plywood(rows: Array, cols: Array, rng: np.random.Generator) -> Array:
    base, turn = np.array([0.74, 0.58, 0.40]) * rng.uniform(0.85, 1.1), rng.uniform(0.0, np.pi)
    along, up = np.cos(turn) * cols + np.sin(turn) * rows, np.cos(turn) * rows - np.sin(turn) * cols
    wave = up + 30 * look_up(cloud_tile(), up * 0.02, along * 0.006)
    shade = (
        1
        + 0.07 * look_up(cloud_tile(), wave * 0.25, along * 0.01)
        + 0.04 * look_up(cloud_tile(), wave * 2.0, along * 0.05)
    )
    return np.asarray(base * shade[..., None])


def _scatter(image: Array, step_mm: float, rng: np.random.Generator) -> None:
    """Throw boxes, papers and cords about; what lies over the middle is covered by the board."""
    rows, cols = image.shape[:2]
    for _ in range(26):
        middle = rng.uniform([0, 0], [cols, rows])
        size, turn = rng.uniform(60.0, 330.0, 2) / step_mm, rng.uniform(0, 180.0)
        tint = rng.choice(
            [[0.85, 0.83, 0.78], [0.16, 0.16, 0.17], [0.20, 0.34, 0.22], [0.62, 0.16, 0.12], [0.72, 0.58, 0.36]]
        )
        for offset, fill in ((22.0 / step_mm, tint * 0.25), (0.0, tint * rng.uniform(0.8, 1.1))):
            box = cv2.boxPoints(
                ((float(middle[0] + offset), float(middle[1] + offset)), tuple(map(float, size)), float(turn))
            )
            cv2.fillPoly(image, [np.round(box * 8).astype(np.int32)], fill.tolist(), cv2.LINE_AA, 3)
    for _ in range(3):
        turns = np.cumsum(rng.normal(0, 0.5, 90)) + rng.uniform(0, 6.28)
        points = (
            rng.uniform([0, 0], [cols, rows])
            + np.cumsum(np.column_stack([np.cos(turns), np.sin(turns)]), axis=0) * 22 / step_mm
        )
        cv2.polylines(
            image,
            [np.round(points * 8).astype(np.int32)],
            False,
            [0.1, 0.1, 0.1],
            max(1, round(7 / step_mm)),
            cv2.LINE_AA,
            3,
        )


_DRAW: Final = {"floor": _floor, "carpet": _carpet, "tiles": _tiles, "plywood": _plywood, "clutter": _floor}


def _shade_board(
    image: Array, box_mm: tuple[float, float, float, float], origin: tuple[float, float], step_mm: float
) -> None:
    """Darken the ground where the board keeps the light away: box (begin, end, low, high)."""
    coarse = max(step_mm, 1.0)
    size = tuple(max(2, round(part * step_mm / coarse)) for part in image.shape[1::-1])
    soft = np.zeros(size[::-1], np.float32)
    first, last = ((value - origin[0]) / coarse for value in box_mm[:2])
    top, bottom = ((origin[1] - value) / coarse for value in (box_mm[3], box_mm[2]))
    corners = np.array([[first, top], [last, top], [last, bottom], [first, bottom]])
    cv2.fillPoly(soft, [np.round(corners * 8).astype(np.int32)], [1.0], cv2.LINE_AA, 3)
    near, far = (cv2.GaussianBlur(soft, (0, 0), max(0.8, blur / coarse)) for blur in (3.0, 14.0))
    image *= cv2.resize(1 - 0.35 * near - 0.30 * far, image.shape[1::-1])[..., None]


def _set_trestles(
    image: Array, camera: Camera, lies: Lies, span_mm: tuple[float, float], origin: tuple[float, float], step_mm: float
) -> None:
    """Set two bars of wood under the board, where they stand in front of the ground."""
    centre = camera.centre()
    grow = (centre[2] + lies.depth_mm + lies.below_mm) / (centre[2] + lies.depth_mm)
    for share in (0.2, 0.78):
        place = span_mm[0] + share * (span_mm[1] - span_mm[0])
        corners = np.array([[place - 35, 320], [place + 35, 320], [place + 35, -320], [place - 35, -320]])
        seen = centre[:2] + (corners - centre[:2]) * grow
        points = np.column_stack([seen[:, 0] - origin[0], origin[1] - seen[:, 1]]) / step_mm
        for shift, tint in ((14.0 / step_mm, (0.13, 0.12, 0.11)), (0.0, (0.70, 0.55, 0.36))):
            cv2.fillPoly(image, [np.round((points + shift) * 8).astype(np.int32)], tint, cv2.LINE_AA, 3)


def paint_ground(camera: Camera, kind: str, lies: Lies, seed: int) -> Array:
    """Paint the ground as the camera sees it.

    Parameters
    ----------
    kind
        One of `GROUNDS`.
    lies
        The boards on it.

    Returns
    -------
    float32, shape (rows, cols, 3), 0 to 1.
    """
    rng = np.random.default_rng([seed, 23])
    rows, cols = (-(-size // _BLOCK) + 2 for size in (camera.rows, camera.cols))
    row, col = np.meshgrid(*((np.arange(count) - 0.5) * _BLOCK - 0.5 for count in (rows, cols)), indexing="ij")
    ray, centre = camera.rays(row, col), camera.centre()
    reach = (-lies.depth_mm - lies.below_mm - centre[2]) / ray[2]
    along, up = centre[0] + reach * ray[0], centre[1] + reach * ray[1]
    step = float(np.ptp(along) / (camera.cols * 0.5))
    origin = float(along.min()), float(up.max())
    flat_cols, flat_rows = np.meshgrid(
        np.arange(along.min(), along.max() + step, step), np.arange(up.max(), up.min() - step, -step)
    )
    image = np.ascontiguousarray(_DRAW[kind](flat_rows, flat_cols, rng), dtype=np.float32)
    if kind == "clutter":
        _scatter(image, step, rng)
    if lies.below_mm > 50.0 and lies.boards:
        _set_trestles(image, camera, lies, lies.boards[0][:2], origin, step)
    elif lies.below_mm <= 50.0:
        for box in lies.boards:
            _shade_board(image, box, origin, step)
    size = (cols * _BLOCK, rows * _BLOCK)
    grown = (
        cv2.resize(part.astype(np.float32), size) for part in ((along - origin[0]) / step, (origin[1] - up) / step)
    )
    seen = (slice(_BLOCK, _BLOCK + camera.rows), slice(_BLOCK, _BLOCK + camera.cols))
    map_col, map_row = (part[seen] for part in grown)
    return np.asarray(cv2.remap(image, map_col, map_row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT))
