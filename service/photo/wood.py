"""The tone of one side of a board against what lies around it, as one number per pixel.

Brightness alone does not always tell wood from floor, nor does colour. Here the direction in (brightness, red
against green, blue against green) that parts the two best is found from samples of both.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import Corners
from service.photo.frame import Frame
from service.photo.types import Float

Floats = NDArray[np.float64]

#: Added to colours before taking logarithms, so that black stays finite.
FLOOR: Final = 0.02
#: Least variance of each measure: logarithms of brightness and of colours.
LEAST_VARIANCE: Final = np.array([0.02, 0.01, 0.01]) ** 2
#: Differences of each measure that tell two things apart by eye.
TELLING: Final = np.array([0.25, 0.06, 0.06])
#: How far from the long corners the ground is sampled: pixels beyond the corner, so that the small colour
#: picture's own blur keeps clear of the wood.
AWAY_PX: Final = (14.0, 30.0)
#: Wood is sampled at these shares of the width.
INSIDE: Final = (0.3, 0.5, 0.7)


@dataclass(frozen=True)
class Tone:
    """What wood looks like here, and the measure that parts it best from the ground around it.

    Attributes
    ----------
    weights
        Tone = weights . (log brightness, log red/green, log blue/green): one unit from wood to ground.
    wood, inverse
        Mean of the three measures on the wood, and the inverse of their covariance there.
    parted
        Usual distance of the ground from the wood, in standard deviations of the wood.

    """

    weights: Floats
    wood: Floats
    inverse: Floats
    parted: float

    def read(self, frame: Frame, row: Floats, col: Floats) -> Floats:
        """Tone at pixels of the frame, shape (m, n) like `row` and `col`."""
        return np.asarray(_measures(frame, row, col) @ self.weights)

    def distance(self, frame: Frame, row: Floats, col: Floats) -> Floats:
        """Distance from the wood of the mean over each column of samples, shape (n,); 1 is that of the ground."""
        off = _measures(frame, row, col).mean(axis=0) - self.wood
        return np.asarray(np.sqrt(((off @ self.inverse) * off).sum(axis=-1)) / self.parted)

    def from_wood(self, frame: Frame, row: Floats, col: Floats) -> Floats:
        """Measures of each column of samples less those of the wood, shape (n, 3)."""
        return np.asarray(_measures(frame, row, col).mean(axis=0) - self.wood)


def learn_tone(frame: Frame, corners: Corners, first_col: float, last_col: float) -> Tone:
    """Learn how the wood differs from the ground along a stretch of the board.

    Parameters
    ----------
    frame, corners
        The photo, and the side's long corners in it.
    first_col, last_col
        The stretch, in columns of the frame.

    Returns
    -------
    Tone

    """
    cols = np.linspace(first_col, last_col, 120)
    inside = np.stack([corners.rows(cols, share) for share in INSIDE])
    upper, lower = corners.rows(cols, 0.0), corners.rows(cols, 1.0)
    outside = np.stack([upper - away for away in AWAY_PX] + [lower + away for away in AWAY_PX])
    wood, ground = (
        _measures(frame, rows, np.broadcast_to(cols, rows.shape)).reshape(-1, 3) for rows in (inside, outside)
    )
    return _part(wood, ground)


def tone_around(frame: Frame, inside: Floats, outside: Floats) -> Tone:
    """Learn how wood at some points differs from ground at others.

    Parameters
    ----------
    frame
        The photo.
    inside, outside
        Shape (n, 2): points (row, col) on wood and on ground.

    Returns
    -------
    Tone

    """
    wood, ground = (
        _measures(frame, points[None, :, 0], points[None, :, 1]).reshape(-1, 3) for points in (inside, outside)
    )
    return _part(wood, ground)


def seen_tone(frame: Frame, rows: Floats, cols: Floats) -> Floats:
    """Read the tone of the small colour picture, in differences that tell two things apart by eye.

    Parameters
    ----------
    frame
        The photo.
    rows, cols
        Pixels of the frame, of shapes that go together.

    Returns
    -------
    Shape of the pixels and (3,): logarithms of brightness, red against green and blue against green.

    """
    rows, cols = np.broadcast_arrays(rows, cols)
    colour = np.log(frame.sample_colour(rows, cols).astype(np.float64) + FLOOR)
    tone = np.stack([colour.mean(axis=-1), colour[..., 0] - colour[..., 1], colour[..., 2] - colour[..., 1]], axis=-1)
    return np.asarray(tone / TELLING)


def _part(wood: Floats, ground: Floats) -> Tone:
    """Part samples of wood and of ground, each of shape (n, 3).

    Fisher's linear discriminant (R. A. Fisher, "The use of multiple measurements in taxonomic problems", 1936,
    from memory).
    """
    within = np.cov(wood.T) + np.diag(LEAST_VARIANCE)
    apart = np.median(wood, axis=0) - np.median(ground, axis=0)
    weights = np.linalg.solve(0.5 * (within + np.cov(ground.T)), apart)
    inverse = np.linalg.inv(within)
    off = ground - wood.mean(axis=0)
    parted = float(np.median(np.sqrt(((off @ inverse) * off).sum(axis=1))))
    weights = np.asarray(weights, dtype=np.float64) / max(float(weights @ apart), 1e-12)
    return Tone(
        weights,
        np.asarray(wood.mean(axis=0), dtype=np.float64),
        np.asarray(inverse, dtype=np.float64),
        max(parted, 1e-6),
    )


def _measures(frame: Frame, row: Floats, col: Floats) -> Floats:
    """Logarithms of brightness, red/green and blue/green, shape (m, n, 3)."""
    luma: Float = frame.sample(row, col)
    colour = np.log(frame.sample_colour(row, col).astype(np.float64) + FLOOR)
    bright = np.log(np.maximum(luma.astype(np.float64), 0) + FLOOR)
    return np.stack([bright, colour[..., 0] - colour[..., 1], colour[..., 2] - colour[..., 1]], axis=-1)
