"""A phone's camera: where it hangs over a board, and which pixel shows which point.

Scene axes, millimetres: `along` the board (0 at the marked end), `up` in the side's photo (0 at the
side's mid-line, without crook), `out` of the side toward the camera. Pictures are made with the
marked end on the left and turned afterwards when the phone is held upright.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

#: Diagonal of a 36 x 24 mm frame: the "35 mm equivalent" focal length is taken over diagonals.
FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))


@dataclass(frozen=True)
class Camera:
    """Where the phone is held and what its lens does.

    Attributes
    ----------
    along_mm, up_mm
        The point of the side in the middle of the picture.
    distance_mm
        Distance of the lens from that point.
    tilt_along_deg
        Lens moved toward the far end, so that the marked end looks smaller.
    tilt_up_deg
        Lens moved toward the upper corner, so that the side above shows.
    roll_deg
        Board turned counter-clockwise in the picture.
    cols, rows
        Size of the picture with the board running left to right.
    f35_mm
        Focal length as phones write it: as if the picture's diagonal were that of 36 x 24 mm.
    bowing
        Radial distortion: share by which the corners of the frame move outward.
    """

    along_mm: float
    distance_mm: float
    up_mm: float = 0.0
    tilt_along_deg: float = 0.0
    tilt_up_deg: float = 0.0
    roll_deg: float = 0.0
    cols: int = 4032
    rows: int = 3024
    f35_mm: float = 26.0
    bowing: float = 0.0

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.f35_mm / FULL_FRAME_DIAGONAL_MM * float(np.hypot(self.cols, self.rows))

    @property
    def half_diagonal_px(self) -> float:
        """Half the picture's diagonal."""
        return float(np.hypot(self.cols, self.rows)) / 2

    def axes(self) -> Array:
        """Return the camera's right, down and forward in scene axes, shape (3, 3), one per row."""
        yaw, pitch, roll = np.radians([self.tilt_along_deg, self.tilt_up_deg, self.roll_deg])
        back = np.array([np.sin(yaw) * np.cos(pitch), np.sin(pitch), np.cos(yaw) * np.cos(pitch)])
        right = np.cross([0.0, 1.0, 0.0], back)
        right /= np.linalg.norm(right)
        up = np.cross(back, right)
        turned_right = np.cos(roll) * right - np.sin(roll) * up
        turned_up = np.sin(roll) * right + np.cos(roll) * up
        return np.stack([turned_right, -turned_up, -back])

    def centre(self) -> Array:
        """Return the lens's place in the scene."""
        return np.asarray(np.array([self.along_mm, self.up_mm, 0.0]) - self.distance_mm * self.axes()[2])

    def project(self, along: Array, up: Array, out: Array) -> tuple[Array, Array]:
        """Return (row, col) of scene points; pixel (0, 0) has its centre at (0.0, 0.0).

        >>> over = Camera(100.0, 1000.0, cols=401, rows=301)
        >>> row, col = over.project(np.array([100.0]), np.array([0.0]), np.array([0.0]))
        >>> row.tolist(), col.tolist()
        ([150.0], [200.0])
        """
        seen = self.axes() @ (np.stack(np.broadcast_arrays(along, up, out)).reshape(3, -1) - self.centre()[:, None])
        across, down = seen[0] / seen[2] * self.focal_px, seen[1] / seen[2] * self.focal_px
        grow = 1 + self.bowing * (across**2 + down**2) / self.half_diagonal_px**2
        shape = np.broadcast(along, up, out).shape
        return (down * grow + (self.rows - 1) / 2).reshape(shape), (across * grow + (self.cols - 1) / 2).reshape(shape)

    def rays(self, row: Array, col: Array) -> Array:
        """Return the directions that pixels look in, shape (3, ...), scene axes."""
        seen_down, seen_across = row - (self.rows - 1) / 2, col - (self.cols - 1) / 2
        down, across = seen_down, seen_across
        for _ in range(4 if self.bowing else 0):
            grow = 1 + self.bowing * (across**2 + down**2) / self.half_diagonal_px**2
            down, across = seen_down / grow, seen_across / grow
        right, below, forward = self.axes()
        return np.stack([right[i] * across + below[i] * down + forward[i] * self.focal_px for i in range(3)])


def over_whole(length_mm: float, fill: float = 0.94, **changes: Any) -> Camera:
    """Return a camera that has a whole board in view, its length filling a share of the picture."""
    plain = Camera(length_mm / 2, 1.0, **changes)
    return Camera(length_mm / 2, length_mm * plain.focal_px / (fill * plain.cols), **changes)


def over_parts(length_mm: float, shots: int, overlap: float = 0.25, **changes: Any) -> list[Camera]:
    """Return cameras for overlapping photos of a whole side, in order from the marked end.

    Both ends of the board stand a twentieth of the frame inside it.

    >>> [round(camera.along_mm) for camera in over_parts(2400.0, 3)]
    [450, 1200, 1950]
    """
    shown = length_mm / (1 + (shots - 1) * (1 - overlap) - 0.1)
    return [over_part(shown * (0.45 + shot * (1 - overlap)), shown, **changes) for shot in range(shots)]


def over_part(along_mm: float, shows_mm: float, **changes: Any) -> Camera:
    """Return a camera that shows a given length of board across the frame, about `along_mm`."""
    plain = Camera(along_mm, 1.0, **changes)
    return Camera(along_mm, shows_mm * plain.focal_px / plain.cols, **changes)
