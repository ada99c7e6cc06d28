"""A photo seen with the board running from left to right, without copying it.

In a portrait photo the marked end is at the bottom: turned a quarter clockwise it lies on the left. The
functions that search for the board all work in this turned frame; points are turned back at the end.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from service.photo.types import Float, Photo

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """A photo and whether it is looked at turned a quarter clockwise.

    Rows and columns of a `Frame` are those of the turned picture, in pixels of `Photo.luma`.
    """

    photo: Photo
    turned: bool

    @property
    def rows(self) -> int:
        """Height of the turned picture in pixels."""
        return int(self.photo.luma.shape[1 if self.turned else 0])

    @property
    def cols(self) -> int:
        """Width of the turned picture in pixels: along the board."""
        return int(self.photo.luma.shape[0 if self.turned else 1])

    def to_photo(self, points: Points) -> Points:
        """Turn (row, col) points of this frame, shape (n, 2), into points of the upright photo."""
        if not self.turned:
            return points
        return np.stack([self.cols - 1 - points[:, 1], points[:, 0]], axis=1)

    def from_photo(self, points: Points) -> Points:
        """Turn (row, col) points of the upright photo, shape (n, 2), into points of this frame."""
        if not self.turned:
            return points
        return np.stack([points[:, 1], self.cols - 1 - points[:, 0]], axis=1)

    def sample(self, row: NDArray[np.floating], col: NDArray[np.floating], smooth: bool = False) -> Float:
        """Read brightness at fractional pixels.

        Parameters
        ----------
        row, col
            Shape (m, n), in this frame. Outside the picture the border's value is returned.
        smooth
            True for bicubic, False for bilinear interpolation.

        Returns
        -------
        float32, shape (m, n).

        """
        if self.turned:
            row, col = self.cols - 1 - col, row
        way = cv2.INTER_CUBIC if smooth else cv2.INTER_LINEAR
        across, along = col.astype(np.float32, copy=False), row.astype(np.float32, copy=False)
        read = cv2.remap(self.photo.luma, across, along, way, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(read, dtype=np.float32)

    def sample_colour(self, row: NDArray[np.floating], col: NDArray[np.floating]) -> Float:
        """Read red, green, blue of the small colour picture at fractional pixels of the full one.

        Parameters
        ----------
        row, col
            Shape (m, n), in this frame. Outside the picture the border's value is returned.

        Returns
        -------
        float32, shape (m, n, 3).

        """
        if self.turned:
            row, col = self.cols - 1 - col, row
        shrink = self.photo.reduction
        across, down = ((place - (shrink - 1) / 2) / shrink for place in (col, row))
        read = cv2.remap(
            self.photo.colour,
            across.astype(np.float32),
            down.astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(read, dtype=np.float32)

    def averaged(self, block_rows: int, block_cols: int) -> Float:
        """Average whole blocks of pixels; rows and columns that fill no block are left out.

        Parameters
        ----------
        block_rows, block_cols
            Size of a block in this frame.

        Returns
        -------
        float32, shape (rows // block_rows, cols // block_cols).

        """
        rows, cols = self.rows // block_rows, self.cols // block_cols
        if self.turned:
            # Turning clockwise puts the photo's last row first, so the cut-off part is at the top.
            part = self.photo.luma[self.cols - cols * block_cols :, : rows * block_rows]
            small = cv2.resize(part, (rows, cols), interpolation=cv2.INTER_AREA)
            return np.asarray(cv2.rotate(small, cv2.ROTATE_90_CLOCKWISE), dtype=np.float32)
        part = self.photo.luma[: rows * block_rows, : cols * block_cols]
        return np.asarray(cv2.resize(part, (cols, rows), interpolation=cv2.INTER_AREA), dtype=np.float32)
