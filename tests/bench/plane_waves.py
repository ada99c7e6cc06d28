"""Strips of known slope and spacing under known noise, and how well any method could read them.

Contrast to noise (CNR) is the profile's grey from lightest to darkest over the standard deviation of
the white noise, at the strip's own pixels.

The bound: a strip g(r, c) = m + a p(w_r r + w_c c + t) + noise of standard deviation s, the profile p
known, mean m, amplitude a, phase t and both frequencies unknown. With D the derivatives of g by the
five unknowns at every pixel, no unbiased method has a covariance below s**2 (D' D)**-1, and the
slope w_c / w_r follows from it. For a sine this is the two-dimensional form of the bound of D. C.
Rife and R. R. Boorstyn, "Single-tone parameter estimation from discrete-time observations", IEEE
Transactions on Information Theory 20 (1974) 591-598 (from memory): over M columns and N rows,
var(w_c) = 24 s**2 / (a**2 N M (M**2 - 1)). The mean absolute error of a normal variable is
sqrt(2 / pi) of its standard deviation, so that is the best mean error there can be.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float32]
Double = NDArray[np.float64]
Kind = Literal["sine", "ring"]

#: A strip 1.5 in wide at 40 px per in, and the 4 in of it that one reading is about.
ROWS: Final = 60
WINDOW_COLS: Final = 160
MM_PER_PX: Final = 25.4 / 40

#: Blur of lens and pixel that rounds the ring profile, standard deviation in pixels.
BLUR_PX: Final = 0.8
#: The dark line of a ring fades over this share of the spacing.
FADING: Final = 0.2


@dataclass(frozen=True)
class Wave:
    """A profile repeated every `spacing_px` down the rows: a sum of cosines.

    Attributes
    ----------
    spacing_px
        Distance of its lines.
    weight
        Complex weights of the harmonics 1, 2, ...; lightest to darkest it spans 1.
    """

    spacing_px: float
    weight: tuple[complex, ...]

    def grey(self, phase: Double, derivative: bool = False) -> Double:
        """Return the profile, or its derivative by the phase, at phases in radians."""
        total = np.zeros_like(phase)
        for order, weight in enumerate(self.weight, start=1):
            turned = weight * 1j * order if derivative else weight
            total += (turned * np.exp(1j * order * phase)).real
        return total


def make_wave(kind: Kind, spacing_px: float) -> Wave:
    """Make a pure sine, or a ring's sudden dark line that fades, blurred as a lens does.

    Harmonics that the pixels could not carry are left out, so a strip is exact at its pixels.

    >>> wave = make_wave("ring", 12.0)
    >>> len(wave.weight), round(float(np.ptp(wave.grey(np.linspace(0, 2 * np.pi, 4001)))), 3)
    (5, 1.0)
    """
    orders = np.arange(1, max(2, int(np.ceil(spacing_px / 2))) if kind == "ring" else 2)
    blur = np.exp(-2 * (np.pi * BLUR_PX * orders / spacing_px) ** 2)
    weight = blur / (1 / FADING + 2j * np.pi * orders)
    plain = Wave(spacing_px, tuple(weight))
    span = float(np.ptp(plain.grey(np.linspace(0, 2 * np.pi, 4001))))
    return Wave(spacing_px, tuple(weight / span))


def draw_strip(wave: Wave, slope: float, cnr: float, cols: int, rng: np.random.Generator) -> Float:
    """Draw a strip of constant slope (rise toward row 0 over length) about grey 0.6, its phase by chance.

    Parameters
    ----------
    cnr
        Contrast to noise; the noise is 0.04 in any case.

    Returns
    -------
    float32, shape (ROWS, cols).
    """
    noise = 0.04
    row, col = np.mgrid[0:ROWS, 0:cols].astype(np.float64)
    phase = 2 * np.pi * (row + slope * col) / wave.spacing_px + rng.uniform(0, 2 * np.pi)
    picture = 0.6 + noise * (cnr * wave.grey(phase) + rng.standard_normal(phase.shape))
    return np.asarray(picture, np.float32)


def least_error_deg(wave: Wave, slope: float, cnr: float, cols: int = WINDOW_COLS) -> float:
    """Return the best mean absolute error any unbiased method could have over a window, in degrees.

    Examples
    --------
    A sine of 6 px at contrast to noise 1 against the closed form of the module's text, a = 1/2:

    >>> sd = np.sqrt(24 / (0.25 * 60 * 160 * (160**2 - 1))) / (2 * np.pi / 6)
    >>> mean_deg = np.degrees(np.sqrt(2 / np.pi) * sd)
    >>> round(float(mean_deg), 3), round(least_error_deg(make_wave("sine", 6.0), 0.0, 1.0), 3)
    (0.027, 0.027)
    """
    row, col = (np.indices((ROWS, cols)) - np.array([(ROWS - 1) / 2, (cols - 1) / 2])[:, None, None]).reshape(2, -1)
    per_row = 2 * np.pi / wave.spacing_px
    # The phase is a nuisance: the bound is its mean over phases, which for many periods is that of any one.
    variances = []
    for start in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        phase = per_row * (row + slope * col) + start
        profile, steep = cnr * wave.grey(phase), cnr * wave.grey(phase, derivative=True)
        by_unknown = np.stack([np.ones_like(row), profile, steep, steep * row, steep * col])
        covariance = np.linalg.inv(by_unknown @ by_unknown.T)[3:, 3:]
        turn = np.array([-slope, 1.0]) / per_row
        variances.append(turn @ covariance @ turn)
    slope_sd = np.sqrt(np.mean(variances))
    return float(np.degrees(np.sqrt(2 / np.pi) * slope_sd / (1 + slope**2)))
