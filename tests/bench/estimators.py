"""Other ways to read one angle from a strip, from general libraries, to stand beside the program's own.

All take a strip and return the slope of its lines, rise toward row 0 over length.
"""

import numpy as np
from scipy.ndimage import gaussian_filter
from skimage.feature import structure_tensor
from skimage.transform import radon

from tests.bench.plane_waves import Double, Float

#: Pixels at the border that no method is asked about, so that none suffers from its own padding.
BORDER_PX = 8
#: The angles over which projections are compared, and their step, degrees.
RADON_REACH_DEG, RADON_STEP_DEG = 8.0, 0.2


def _tensor_slope(rr: Double, rc: Double, cc: Double) -> float:
    """Turn summed products of the derivatives down and along into the slope of least change."""
    angle = 0.5 * np.arctan2(2 * rc.sum(), rr.sum() - cc.sum())
    return float(np.tan(angle))


def shipped_tensor(strip: Float) -> float:
    """Sum scikit-image's structure tensor, its settings as they come."""
    core = np.s_[BORDER_PX:-BORDER_PX, BORDER_PX:-BORDER_PX]
    rr, rc, cc = (part[core] for part in structure_tensor(strip.astype(np.float64), order="rc"))
    return _tensor_slope(rr, rc, cc)


def gaussian_tensor(strip: Float, sigma_px: float = 1.5) -> float:
    """Sum the tensor of scipy's derivatives of a round Gaussian."""
    core = np.s_[BORDER_PX:-BORDER_PX, BORDER_PX:-BORDER_PX]
    picture = strip.astype(np.float64)
    down, along = (gaussian_filter(picture, sigma_px, order=order)[core] for order in ((1, 0), (0, 1)))
    return _tensor_slope(down * down, down * along, along * along)


def radon_slope(strip: Float) -> float:
    """Find the angle whose projection varies most (scikit-image's Radon transform), to a part of a step."""
    rows, cols = strip.shape
    side = int(np.ceil(np.hypot(rows, cols))) + 4  # the transform wants nothing outside its circle
    square = np.zeros((side, side))
    top, left = (side - rows) // 2, (side - cols) // 2
    square[top : top + rows, left : left + cols] = strip - strip.mean()
    turn_deg = np.arange(-RADON_REACH_DEG, RADON_REACH_DEG + RADON_STEP_DEG / 2, RADON_STEP_DEG)
    projected = radon(square, theta=90 + turn_deg, circle=True)
    # Projections near the strip's long borders hold fewer pixels the more they are turned: leave them out.
    reach = max(2, int(rows / 2 - cols / 2 * np.tan(np.radians(RADON_REACH_DEG))))
    power = projected[side // 2 - reach : side // 2 + reach].var(axis=0)
    at = int(np.clip(power.argmax(), 1, turn_deg.size - 2))
    low, top_power, high = power[at - 1 : at + 2]
    part = 0.5 * (low - high) / min(low - 2 * top_power + high, -1e-30)
    return float(np.tan(np.radians(turn_deg[at] + part * RADON_STEP_DEG)))
