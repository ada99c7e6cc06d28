"""Drawn strips of known slope, for the tests of grain."""

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float32]


def waves(
    slope: float, spacing_px: float, rows: int = 90, cols: int = 1600, noise: float = 0.0, seed: int = 1
) -> Float:
    """Draw level bands of a given spacing turned to a slope (rise toward row 0), grey 0.6, contrast 0.05.

    The profile is a sine and its first overtone, so that it is not one pure wave.
    """
    row, col = np.mgrid[0:rows, 0:cols].astype(np.float64)
    phase = 2 * np.pi * (row + slope * col) / spacing_px
    picture = 0.6 + 0.05 * (np.sin(phase) + 0.3 * np.sin(2 * phase + 1))
    picture += noise * np.random.default_rng(seed).standard_normal(picture.shape)
    return np.asarray(picture, np.float32)
