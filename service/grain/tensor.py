"""The structure tensor with derivatives of one elongated Gaussian and its noise made equal both ways.

With the smoothing kernel g(row; s_r) g(col; s_c), white noise has derivative variances in the
proportion 1/s_c**2 along to 1/s_r**2 across. Multiplying each derivative by its own sigma makes the
noise the same in every direction, so it lengthens the tensor's ellipse without turning it: the
minor axis stays the maximum-likelihood line direction (generalised eigenproblem J v = l N v). Both
derivatives come from one kernel, so a plane wave of any spacing gives its direction without bias;
differences of neighbouring pixels, Sobel's among them, do not (Jaehne, Digital Image Processing,
section 13.3).
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

Float = NDArray[np.float32]
Double = NDArray[np.float64]

KERNEL_REACH = 3.5
"""Kernels end at this many sigmas."""


@dataclass(frozen=True)
class Scale:
    """A smoothing kernel: its sigmas along (columns) and across (rows), in pixels."""

    along_px: float
    across_px: float

    @property
    def margin_rows(self) -> int:
        """Rows at each border whose derivatives lean on what lies outside."""
        return int(np.ceil(2 * self.across_px))

    @property
    def noise_area_px(self) -> float:
        """Area over which products of two derivatives of white noise hang together, in pixels.

        The integral of their correlation, (1 - t**2 / 2) exp(-t**2 / 2) in each direction with
        t = offset / sigma: sqrt(2 pi) / 2 sigma each.
        """
        return np.pi / 2 * self.along_px * self.across_px


@lru_cache(maxsize=32)
def gaussian(sigma_px: float, derivative: bool = False) -> Float:
    """Sample a Gaussian of unit sum, or its first derivative, for correlation.

    Parameters
    ----------
    sigma_px
        Standard deviation in pixels.
    derivative
        Whether to return the derivative; correlated with a unit ramp it gives 1.

    Returns
    -------
    float32, shape (n,), n odd.

    Examples
    --------
    >>> kernel = gaussian(2.0, derivative=True)
    >>> offset = np.arange(kernel.size) - kernel.size // 2
    >>> bool(abs(float(kernel @ offset) - 1) < 1e-6)
    True
    """
    reach = int(np.ceil(KERNEL_REACH * sigma_px))
    offset = np.arange(-reach, reach + 1, dtype=np.float64)
    kernel = np.exp(-(offset**2) / (2 * sigma_px**2))
    if derivative:
        kernel *= offset
        kernel /= float(kernel @ offset)
    else:
        kernel /= kernel.sum()
    found = kernel.astype(np.float32)
    found.setflags(write=False)  # it is shared by all who ask for this sigma
    return found


def whitened_gradient(image: Float, scale: Scale) -> tuple[Float, Float]:
    """Differentiate along and across at one scale, each times its own sigma.

    Parameters
    ----------
    image
        float32, shape (rows, cols).
    scale
        The kernel.

    Returns
    -------
    along, across
        float32, shape (rows, cols): derivatives per sigma, so that white noise is equal in both.
    """
    smooth_along, smooth_across = gaussian(scale.along_px), gaussian(scale.across_px)
    slope_along = gaussian(scale.along_px, derivative=True) * np.float32(scale.along_px)
    slope_across = gaussian(scale.across_px, derivative=True) * np.float32(scale.across_px)
    along = cv2.sepFilter2D(image, cv2.CV_32F, slope_along, smooth_across, borderType=cv2.BORDER_REFLECT)
    across = cv2.sepFilter2D(image, cv2.CV_32F, smooth_along, slope_across, borderType=cv2.BORDER_REFLECT)
    return np.asarray(along, np.float32), np.asarray(across, np.float32)


@dataclass(frozen=True)
class Direction:
    """Line direction from tensors, elementwise.

    Attributes
    ----------
    slope
        Rise toward row 0 over length.
    error
        Standard error of the slope.
    """

    slope: Double
    error: Double


def line_direction(
    j_aa: ArrayLike, j_ac: ArrayLike, j_cc: ArrayLike, scale: Scale, independent: ArrayLike
) -> Direction:
    """Find the direction along which whitened tensors vary least.

    In whitened coordinates the gradient's angle from the along axis is
    ``phi = atan2(2 j_ac, j_aa - j_cc) / 2`` and the line runs at right angles to it. Its variance is
    ``l1 l2 / (l1 - l2)**2 / n`` for n independent samples (the asymptotic variance of a principal
    axis, Anderson 1963).

    Parameters
    ----------
    j_aa, j_ac, j_cc
        Sums of along*along, along*across, across*across over a window, any shape.
    scale
        The kernel they were made with.
    independent
        Number of independent samples in the window.

    Returns
    -------
    Direction with arrays of the same shape.

    Examples
    --------
    A gradient straight across the board: a line straight along it.

    >>> line_direction(np.array(0.0), np.array(0.0), np.array(2.0), Scale(4, 1), 10).slope.item()
    0.0
    """
    aa, ac, cc = (np.asarray(part, np.float64) for part in (j_aa, j_ac, j_cc))
    spread = np.hypot(aa - cc, 2 * ac)
    total = aa + cc
    # The line's tangent in whitened coordinates, positive upward (toward row 0).
    tangent = 2 * ac / np.maximum(spread + cc - aa, 1e-12 * np.maximum(total, 1e-30))
    squeeze = scale.across_px / scale.along_px
    major, minor = (total + spread) / 2, np.maximum((total - spread) / 2, 0)
    angle_sd = np.sqrt(
        major * minor / np.maximum(spread, 1e-30) ** 2 / np.maximum(np.asarray(independent, np.float64), 1e-9)
    )
    return Direction(
        slope=tangent * squeeze,
        error=angle_sd * (1 + tangent**2) * squeeze,
    )
