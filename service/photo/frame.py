"""A photo seen with the board running from left to right, without copying it.

In a portrait photo the marked end is at the bottom: turned a quarter clockwise it lies on the left. The
functions that search for the board all work in this turned frame; points are turned back at the end.
"""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from service.photo.types import Bytes, Float, Photo

Points = NDArray[np.float64]

#: Pixels beyond a place that bicubic interpolation reads.
CUBIC_PX: Final = 2
#: Rows of the photo that are turned into fractions at a time when it is averaged.
BAND_ROWS: Final = 128
#: The middle of a photo that is enlarged to look for a board far away is this many times smaller.
NEARER: Final = 3


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
            True for bicubic interpolation that keeps fractions of a step, False for bilinear to whole steps of 1/255:
            quicker, and what is averaged afterwards does not miss the fractions.

        Returns
        -------
        float32, shape (m, n).

        """
        if self.turned:
            row, col = self.cols - 1 - col, row
        across, along = col.astype(np.float32, copy=False), row.astype(np.float32, copy=False)
        if smooth:
            part, first_row, first_col = self._around(along, across)
            read = cv2.remap(
                part, across - first_col, along - first_row, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
            )
        else:
            read = cv2.remap(self.photo.luma, across, along, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.multiply(read, np.float32(1 / 255), dtype=np.float32)

    def _around(self, row: Float, col: Float) -> tuple[Float, int, int]:
        """Cut out the part of the photo that bicubic reading at these pixels needs, as fractions of a step."""
        limits = []
        for place, size in ((row, self.photo.luma.shape[0]), (col, self.photo.luma.shape[1])):
            first = min(max(int(np.floor(place.min())) - CUBIC_PX, 0), size - 1)
            limits.append((first, min(max(int(np.ceil(place.max())) + CUBIC_PX + 1, first + 1), size)))
        (first_row, last_row), (first_col, last_col) = limits
        part = self.photo.luma[first_row:last_row, first_col:last_col]
        return part.astype(np.float32), first_row, first_col

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
            return np.asarray(cv2.rotate(averaged(part, block_cols, block_rows), cv2.ROTATE_90_CLOCKWISE))
        return averaged(self.photo.luma[: rows * block_rows, : cols * block_cols], block_rows, block_cols)


def averaged(picture: Bytes, block_rows: int, block_cols: int) -> Float:
    """Average whole blocks to fractions 0 to 1, band by band: the picture as fractions would take four times its room.

    Parameters
    ----------
    picture
        uint8, shape (rows, cols).
    block_rows, block_cols
        Size of a block, a divisor of the picture's.

    Returns
    -------
    float32, shape (rows // block_rows, cols // block_cols).

    >>> averaged(np.array([[0, 102, 255, 255], [0, 102, 255, 255]], np.uint8), 2, 2).astype(float).round(3).tolist()
    [[0.2, 1.0]]

    """
    rows, cols = picture.shape[0] // block_rows, picture.shape[1] // block_cols
    if block_rows % 2 == 0 and block_cols % 2 == 0:
        # Halving in bytes is quick; what it rounds is lost again in the mean over the larger block.
        picture = np.asarray(cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        block_rows, block_cols = block_rows // 2, block_cols // 2
    small = np.empty((rows, cols), np.float32)
    band = max(BAND_ROWS // block_rows, 1)
    for first in range(0, rows, band):
        part = picture[first * block_rows : (first + band) * block_rows].astype(np.float32)
        small[first : first + band] = cv2.resize(part, (cols, len(part) // block_rows), interpolation=cv2.INTER_AREA)
    small *= np.float32(1 / 255)
    return small


def enlarge_middle(photo: Photo) -> Photo:
    """Enlarge the middle third of a photo to its full size, as if it had been taken from a third of the distance.

    Parameters
    ----------
    photo
        A photo.

    Returns
    -------
    Photo
        Nothing finer shows in it; it is only for finding what is far away.

    """
    rows, cols = photo.luma.shape
    first = tuple((size - size // NEARER) // 2 // photo.reduction * photo.reduction for size in (rows, cols))
    luma = photo.luma[first[0] : first[0] + rows // NEARER, first[1] : first[1] + cols // NEARER]
    small = [start // photo.reduction for start in first]
    colour = photo.colour[small[0] : small[0] + rows // NEARER // photo.reduction, small[1] :]
    colour = colour[:, : cols // NEARER // photo.reduction]
    return replace(
        photo,
        luma=np.asarray(cv2.resize(luma, (cols, rows), interpolation=cv2.INTER_LINEAR), dtype=np.uint8),
        colour=np.asarray(
            cv2.resize(colour, photo.colour.shape[1::-1], interpolation=cv2.INTER_LINEAR), dtype=np.float32
        ),
        focal_px=photo.focal_px and NEARER * photo.focal_px,
    )
