"""The fibre's direction from the spectrum of a close-up whose ring lines were laid level.

On levelled coordinates what rings draw is constant along the board: its power gathers at frequency 0
along. Fibre texture of slope t against the rings has its power about the line (frequency along) =
t (frequency across), spread out because pores and streaks are short and their directions differ.
So the power at frequencies (k across, l along) is taken for

    S = N_k + R_k / (1 + l**2 / (v + (RINGS k)**2))**2 + A_k / (1 + (l - t k)**2 / (v + w + (g k)**2))**1.5

with noise N, rings R and fibre A free at every k, v the window's own width and g the spread of the
fibre's directions. Each bin's periodogram is S times an exponential variable, so the likelihood is
the sum of -log S - P / S (P. Whittle, "Estimation and information in stationary time series", Arkiv
for Matematik 2 (1953) 423-434, from memory). Whatever of the fibre lies under the rings' peak is
accounted for and not lost, as it is when the rings are subtracted.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import cv2
import numpy as np
from scipy.optimize import minimize

from service.grain.prepare import even_contrast
from service.grain.steer import levelled
from service.grain.tensor import Direction, Double, Float

ALONG_MM: Final = 0.4
"""Columns are averaged to this length: texture is far longer."""

ACROSS_PER_MM: Final = (0.6, 4.0)
"""Frequencies across, cycles per mm: finer than most rings, coarser than the lens's blur."""

ALONG_PER_MM: Final = 0.5
"""Frequencies along up to this are looked at."""

GROUPS: Final = 20
"""Frequencies across are put together in so many groups, evenly on a logarithmic scale."""

RINGS: Final = 0.0035
"""Spread of the levelled ring lines' directions (0.2 degrees)."""

FIBRE, FIBRE_SPREAD = 0.02, 0.1
"""Usual spread of the fibre's directions (1.1 degrees), and how far it may differ, as a logarithm: held
tightly, or the fit takes uneven rings for fibre."""

SHORT_PER_MM: Final = 0.01
"""Least width along of the fibre's power: streaks longer than 100 mm are taken for rings."""

STEEPEST: Final = 0.5
LEAST_ROWS: Final = 32
CONTRAST_MM, CLIP = 10.0, 2.5
"""Contrast is made even over this length, and clipped at so many deviations, for the sake of large pores."""


@dataclass(frozen=True)
class _Power:
    """Mean power, shape (groups, along): at frequencies across (groups, 1) and along (1, along), rows per group."""

    mean: Double
    across: Double
    along: Double
    rows: Double
    window: float


def spectral_fibre(flat: Float, mm_per_px: float, line: Double, texture: float, rings: bool) -> Direction | None:
    """Find the slope of fibre texture beside ring lines.

    Parameters
    ----------
    flat
        float32, shape (rows, cols): a close-up, columns detrended.
    mm_per_px
        Millimetres per pixel, along and across.
    line
        Shape (cols,): slope to lay level: that of the ring lines, or of the texture where rings draw none.
    texture
        A first idea of the fibre's slope.
    rings
        Whether `line` is that of ring lines.

    Returns
    -------
    Direction, or None when the strip is too small for a spectrum. Its error is that of the fit alone.
    """
    step = max(1, round(ALONG_MM / mm_per_px))
    rows, cols = flat.shape[0], flat.shape[1] // step
    if rows < LEAST_ROWS or cols < LEAST_ROWS:
        return None
    even = np.clip(even_contrast(flat, CONTRAST_MM / mm_per_px), -CLIP, CLIP)
    thin = cv2.resize(even[:, : cols * step], (cols, rows), interpolation=cv2.INTER_AREA)
    climb = line[: cols * step].reshape(cols, step).sum(axis=1)
    level, rise, _ = levelled(np.asarray(thin, np.float32), climb, 0, cols)
    cut = int(np.ceil(np.abs(rise).max()))
    if rows - 2 * cut > max(LEAST_ROWS, 0.4 * rows):
        level = level[cut : rows - cut]
    power = _power(np.ascontiguousarray(level), mm_per_px, step)
    if power is None:
        return None
    usual = float(line.mean())
    guess = texture - usual
    starts = (0.5 * guess, 1.3 * guess) if rings else (guess,)
    turn, error = _fit(power, starts, rings)
    return Direction(np.asarray(usual + turn), np.asarray(error))


def _power(level: Float, mm_per_px: float, step: int) -> _Power | None:
    """Return the periodogram in groups, made as if every `step` columns had not been averaged."""
    thin = level.astype(np.float64)
    rows, cols = thin.shape
    taper = np.hanning(rows + 2)[1:-1, None] * np.hanning(cols + 2)[None, 1:-1]
    full = np.abs(np.fft.fft2((thin - thin.mean(axis=0)) * taper)) ** 2 / (taper**2).sum()
    across, along = np.fft.fftfreq(rows, mm_per_px), np.fft.fftfreq(cols, mm_per_px * step)
    full /= np.sinc(along * mm_per_px * step) ** 2
    order = np.argsort(along)
    order = order[np.abs(along[order]) <= ALONG_PER_MM]
    upper = across[: rows // 2]
    bounds = np.searchsorted(upper, np.geomspace(*ACROSS_PER_MM, GROUPS + 1))
    groups = [(first, last) for first, last in pairwise(bounds) if last > first]
    if len(groups) < GROUPS // 2:
        return None
    return _Power(
        mean=np.array([full[first:last, order].mean(axis=0) for first, last in groups]),
        across=np.array([[upper[first:last].mean()] for first, last in groups]),
        along=along[order][None],
        rows=np.array([[float(last - first)] for first, last in groups]),
        window=0.8 / (cols * step * mm_per_px),
    )


def _fit(power: _Power, starts: tuple[float, ...], rings: bool) -> tuple[float, float]:
    """Return the slope of the fibre against the levelled lines that makes the power likeliest, and its error."""
    count = len(power.mean)
    peak = 1 / (1 + power.along**2 / (power.window**2 + (RINGS * power.across) ** 2)) ** 2 * float(rings)

    def cost(point: Double) -> tuple[float, Double]:
        """Return minus the logarithm of the likelihood and its gradient by slope, log g, log A, log N, log R."""
        turn, spread = point[0], np.exp(point[1])
        fibre, noise, ring = np.exp(point[2:]).reshape(3, count, 1)
        width = SHORT_PER_MM**2 + power.window**2 + (spread * power.across) ** 2
        off = power.along - turn * power.across
        wide = 1 + off * off / width
        shape = 1 / (wide * np.sqrt(wide))
        model = noise + fibre * shape + ring * peak
        ratio = power.mean / model
        far = (point[1] - np.log(FIBRE)) / FIBRE_SPREAD
        by_model = power.rows * (1 - ratio) / model
        by_wide = -1.5 * by_model * fibre * shape / wide / width
        gradient = np.concatenate(
            [
                [(by_wide * -2 * off * power.across).sum()],
                [(by_wide * -2 * off**2 / width * (spread * power.across) ** 2).sum() + far / FIBRE_SPREAD],
                (by_model * fibre * shape).sum(axis=1),
                (by_model * noise).sum(axis=1),
                (by_model * ring * peak).sum(axis=1),
            ]
        )
        return float((power.rows * (np.log(model) + ratio)).sum() + far**2 / 2), gradient

    within = np.abs(power.along[0])
    levels = (
        power.mean.mean(axis=1),
        np.median(power.mean[:, within > 0.6 * ALONG_PER_MM], axis=1),
        power.mean[:, within < 3 * power.window].mean(axis=1),
    )
    free = np.log(np.maximum(np.concatenate(levels), 1e-12))
    limits = [(-STEEPEST, STEEPEST)] + [(None, None)] * (1 + 3 * count)
    found = [
        minimize(
            cost,
            np.concatenate([[start, np.log(FIBRE)], free]),
            jac=True,
            method="L-BFGS-B",
            bounds=limits,
            options={"maxiter": 60, "maxcor": 15},
        )
        for start in starts
    ]
    best = min(found, key=lambda one: float(one.fun)).x
    step = np.zeros(best.size)
    step[0] = 1e-3
    curving = (cost(best + step)[1][0] - cost(best - step)[1][0]) / 2e-3
    return float(best[0]), float(1 / np.sqrt(curving)) if curving > 0 else STEEPEST
