"""Long corners placed to a fraction of a pixel."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.corners import Settled
from service.photo.curves import Corners, fit
from service.photo.frame import Frame
from service.photo.lines import differentiate
from service.photo.types import Float
from service.photo.wood import Tone

Floats = NDArray[np.float64]

#: Degrees of the mid-line and of the width along the board: a bent board through a bowing lens.
MIDDLE_DEGREE: Final = 6
WIDTH_DEGREE: Final = 2
#: Pixels between samples across, the smoothing across, and how far the step is averaged around its peak.
FINE_PX: Final = 0.5
STEP_PX: Final = 0.8
AROUND_PX: Final = 1.5


def refine(frame: Frame, settled: Settled) -> Corners:
    """Place both corners to a fraction of a pixel.

    Parameters
    ----------
    frame, settled
        The photo, and its corners to a pixel or two.

    Returns
    -------
    Corners
        Smooth curves through the places of the steepest change.

    """
    corners = settled.corners
    reach = max(3.0, 1.5 * settled.fine)
    rounds = [(3, 1, reach), (MIDDLE_DEGREE, WIDTH_DEGREE, 2.0)]
    if settled.tones != (None, None):
        # The small colour picture blurs steps over about two of its own pixels.
        rounds = [(3, 1, max(reach, 1.5 * frame.photo.reduction)), (4, 1, float(frame.photo.reduction))]
    for degree_middle, degree_width, reach_px in rounds:
        blocks = int(np.clip((corners.last_col - corners.first_col) / 16, 24, 126))
        edges = np.linspace(corners.first_col, corners.last_col, blocks + 1)
        cols = 0.5 * (edges[1:] + edges[:-1])
        found = [
            _places(frame, corners, share, sign, blocks, reach_px, tone)
            for share, sign, tone in zip((0.0, 1.0), settled.signs, settled.tones, strict=True)
        ]
        (upper, upper_weight), (lower, lower_weight) = found
        weights = np.minimum(upper_weight, lower_weight)
        middle, _ = fit(cols, 0.5 * (upper + lower), weights, degree_middle)
        width, _ = fit(cols, lower - upper, weights, degree_width)
        corners = Corners(middle, width, corners.first_col, corners.last_col)
    return corners


def _places(
    frame: Frame, corners: Corners, share: float, sign: float, blocks: int, reach_px: float, tone: Tone | None
) -> tuple[Floats, Floats]:
    """Find in each block along a corner the row where brightness changes fastest the right way.

    Returns rows and weights, both of shape (blocks,).
    """
    blur_px, around_px = (STEP_PX, AROUND_PX) if tone is None else (0.4 * reach_px, 0.7 * reach_px)
    span = reach_px + around_px + 2 * blur_px
    offsets = np.arange(-span, span + FINE_PX / 2, FINE_PX)
    per_block = int(np.clip((corners.last_col - corners.first_col) / blocks / 2, 4, 16))
    edges = np.linspace(corners.first_col, corners.last_col, blocks * per_block + 1)
    cols = 0.5 * (edges[1:] + edges[:-1])
    base = corners.rows(cols, share)
    rows = base[None] + offsets[:, None]
    picture = _read(frame, rows, np.broadcast_to(cols, rows.shape), tone)
    picture = picture.reshape(len(offsets), blocks, per_block).mean(axis=2)
    steps = np.maximum(sign * differentiate(picture, blur_px / FINE_PX).astype(np.float64), 0)
    near = np.exp(-0.5 * (offsets / (0.7 * reach_px)) ** 2) * (np.abs(offsets) <= reach_px)
    peak = offsets[(steps * near[:, None]).argmax(axis=0)]
    window = np.abs(offsets[:, None] - peak[None]) <= around_px
    mass = (steps * window).sum(axis=0)
    place = (steps * window * offsets[:, None]).sum(axis=0) / np.maximum(mass, 1e-9)
    weights = mass / max(float(np.median(mass)), 1e-9)
    return base.reshape(blocks, per_block).mean(axis=1) + place, np.clip(weights, 0.0, 1.5)


def _read(frame: Frame, rows: Floats, cols: Floats, tone: Tone | None) -> Float:
    """Read light, or tone when one is given.

    Light is brightness without the camera's curve (about a power of 2.2): blur averages light, so only there does
    the middle of a blurred step lie where the step is.
    """
    if tone is not None:
        return tone.read(frame, rows, cols).astype(np.float32)
    return np.asarray(np.maximum(frame.sample(rows, cols), 0) ** np.float32(2.2), dtype=np.float32)
