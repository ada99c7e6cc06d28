"""What tells one place along a side from another, and what stays the same all along it.

Straight-grained wood looks nearly the same everywhere along a board. What tells one place from another is little:
knots, ray flecks, pores that begin and end, V shapes, dirt. So light and everything that runs on along the board is
taken out, and what stays is evened out over all wavelengths. The lines that run on are kept apart: they cannot tell
where two photos meet, but whether it is the same wood at all.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from scipy.fft import irfft2, next_fast_len, rfft2, rfftfreq
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from service.photo.types import Float, Strip

#: Pitch of the texture along the board, in millimetres, and rows across it.
STEP_MM: Final = 1.0
ROWS: Final = 48
#: Share of the width left out along each long corner: chamfers and errors of the outline.
TRIM: Final = 0.06
#: Darker than this share of white tells nothing.
BLACK: Final = 0.02
#: What is longer along the board than this (Gaussian sigma) is light, shadow or straight grain.
LONG_MM: Final = 10.0
#: Contrast is evened over this length (Gaussian sigma), and pixels stronger than this many deviations are cut:
#: stickers and knots would outvote the wood.
EVEN_MM: Final = 20.0
STRONGEST: Final = 3.0
#: Wavelengths along the board that are compared, and the one at which they begin to count less. Two photos of one
#: place agree to 0.9 at 20 mm, 0.65 at 10 mm, 0.27 at 7 mm, and not at all below 5 mm (coherence, drawn photos).
WAVES_MM: Final = (5.0, 80.0)
FADING_MM: Final = 7.0
#: Power is smoothed over this many cycles per millimetre along, and waves per width across, before it is evened.
SMOOTH_PER_MM: Final = 1 / 60
SMOOTH_ROWS: Final = 1.5
#: Lines: light that changes over this many millimetres along and rows across is taken out, noise averaged over these.
LIGHT_MM: Final = 8.0
LIGHT_ROWS: Final = 7.0
NOISE_MM: Final = 4.0
NOISE_ROWS: Final = 0.6


@dataclass(frozen=True)
class Texture:
    """A strip made comparable with others of the same side.

    Attributes
    ----------
    places
        float32, shape (ROWS, cols): what distinguishes one place along the strip from another, evened out over all
        wavelengths. One column every `STEP_MM`.
    lines
        float32, shape (ROWS, cols): the lines that run along the strip, even in contrast.
    """

    places: Float
    lines: Float


def texture_of(strip: Strip) -> Texture:
    """Take a strip's texture.

    Parameters
    ----------
    strip
        The side, straightened.

    Returns
    -------
    Texture
    """
    rows, cols = strip.image.shape
    trim = int(TRIM * rows) + 1
    size = (max(8, round((cols - 1) * strip.mm_per_px / STEP_MM)), ROWS)
    wood = np.log(np.maximum(cv2.resize(strip.image[trim:-trim], size, interpolation=cv2.INTER_AREA), BLACK))
    # Marks across the whole side and light that falls off across it say nothing about the wood.
    wood -= wood.mean(axis=0)
    place = np.linspace(-1, 1, ROWS, dtype=np.float32)[:, None]
    wood -= place * (place * wood).sum(axis=0) / (place * place).sum()
    lines = wood - _blurred(wood, LIGHT_MM, LIGHT_ROWS)
    return Texture(_whitened(_even(wood - _blurred(wood, LONG_MM, 0.0))), _even(_blurred(lines, NOISE_MM, NOISE_ROWS)))


def _blurred(wood: Float, along_mm: float, rows: float) -> Float:
    """Blur along the board and across it; no blur across when `rows` is 0."""
    spread = max(rows, 0.01)
    return np.asarray(
        cv2.GaussianBlur(wood, (0, 0), sigmaX=along_mm / STEP_MM, sigmaY=spread, borderType=cv2.BORDER_REFLECT)
    )


def _even(wood: Float) -> Float:
    """Even out the contrast along the board, and cut what is far too strong."""
    power = gaussian_filter1d((wood * wood).mean(axis=0), EVEN_MM / STEP_MM)
    even = wood / np.sqrt(power + 0.05 * np.median(power) + 1e-12)
    return np.asarray(np.clip(even, -STRONGEST, STRONGEST), np.float32)


def _whitened(wood: Float) -> Float:
    """Even out a texture over all wavelengths, along the board and across it.

    A wavelength that stands out, such as a planer's, is cut down to the rest; faint ones are not raised to it.
    """
    cols = wood.shape[1]
    count = next_fast_len(cols, real=True)
    waves = rfft2(wood, (ROWS, count))
    power = np.abs(waves) ** 2
    usual = gaussian_filter(power, (SMOOTH_ROWS, count * STEP_MM * SMOOTH_PER_MM), mode=("wrap", "nearest"))
    per_mm = rfftfreq(count, STEP_MM)
    kept = (per_mm > 1 / WAVES_MM[1]) & (per_mm < 1 / WAVES_MM[0])
    waves *= kept / (1 + (per_mm * FADING_MM) ** 4) / np.sqrt(np.maximum(power, usual) + 1e-12)
    return np.asarray(irfft2(waves, (ROWS, count))[:, :cols], np.float32)
