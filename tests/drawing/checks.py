"""What the tests of the drawing share: a plain board, and an estimator that is none of this project's."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage.feature import structure_tensor
from skimage.filters import gaussian
from skimage.transform import rescale

from tests.drawing.solid import Profile, Solid

Array = NDArray[Any]

#: A drawn angle may differ from the geometry by this: the estimator's own error on short strips.
ANGLE_TOLERANCE_DEG = 0.25


def level(diagonal: float, spiral: float, tilt_deg: float, **changes: Any) -> Solid:
    """Make a 1000 mm board with constant slopes and a far pith, its rings tilted against face 1."""
    tilt = np.radians(tilt_deg)
    pith = (19.05 - 500 * float(np.sin(tilt)), 9.5 - 500 * float(np.cos(tilt)))
    return Solid(5, 1000.0, 38.1, 19.0, pith, ((0.0, diagonal),), ((0.0, spiral),), **changes)


def tensor_angle_deg(strip: Array, smooth_px: float = 1.5) -> float:
    """Measure the mean line angle of a strip, positive rising, with scikit-image's structure tensor.

    Its derivative reads too straight on fine patterns, so the strip is smoothed and enlarged first.
    """
    smooth = gaussian(strip - strip.mean(axis=0, keepdims=True), smooth_px, mode="reflect")
    large = rescale(smooth, 2, order=3)
    rows, cross, cols = structure_tensor(large, sigma=2.0, mode="reflect", order="rc")
    trim = slice(12, -12)
    down, along, both = (part[trim, trim].sum() for part in (rows, cols, cross))
    return float(np.degrees(0.5 * np.arctan2(2 * both, down - along)))


def flat(diagonal: Profile, **changes: Any) -> Solid:
    """Make an 8 ft flat-sawn 1x2 with the diagonal as the only slope."""
    return Solid(9, 2438.4, 38.1, 19.05, (19.05, -600.0), diagonal, ((0.0, 0.0),), **changes)
