"""The fibre's slope from the spectrum beside ring lines."""

import cv2
import numpy as np
import pytest

from service.grain.spectrum import spectral_fibre
from service.grain.tensor import Double, Float

MM_PER_PX = 0.05
ROWS, COLS = 400, 3600


def drawn(ring: float, fibre: float, strength: float, seed: int = 3) -> Float:
    """Draw ring lines of one slope and short streaks of another, each a picture made level and sheared."""
    rng = np.random.default_rng(seed)
    column = np.arange(COLS, dtype=np.float32)[None] - COLS / 2
    row = np.arange(ROWS, dtype=np.float32)[:, None]
    noise = rng.standard_normal((2 * ROWS, COLS)).astype(np.float32)
    streaks = cv2.GaussianBlur(noise, (0, 0), sigmaX=60, sigmaY=2.5)
    bands = np.repeat(cv2.GaussianBlur(rng.standard_normal((2 * ROWS, 1)).astype(np.float32), (0, 0), 4), COLS, axis=1)
    total = np.zeros((ROWS, COLS), np.float32)
    for picture, slope, weight in ((bands, ring, 1.0), (streaks, fibre, strength)):
        source = row + ROWS / 2 + np.float32(slope) * column
        sheared = cv2.remap(picture, np.broadcast_to(column + COLS / 2, source.shape).copy(), source, cv2.INTER_CUBIC)
        total += np.float32(weight) * sheared / picture.std()
    return total + 0.3 * rng.standard_normal((ROWS, COLS)).astype(np.float32)


def read(strip: Float, ring: float, guess: float) -> tuple[float, float]:
    """Return the fibre's angle and the error of the fit, degrees."""
    level: Double = np.full(strip.shape[1], ring)
    found = spectral_fibre(strip, MM_PER_PX, level, guess, rings=True)
    assert found is not None
    return float(np.degrees(np.arctan(found.slope))), float(np.degrees(found.error))


@pytest.mark.parametrize(("ring", "fibre"), [(0.05, 0.0), (0.0, 0.03), (-0.06, 0.02), (0.02, 0.02)])
def test_fibre_is_found_under_rings_twice_as_strong(ring: float, fibre: float) -> None:
    """Streaks half as strong as the rings give their own slope within a quarter of a degree."""
    found_deg, error_deg = read(drawn(ring, fibre, 0.5), ring, fibre / 2)
    assert abs(found_deg - np.degrees(np.arctan(fibre))) < 0.25
    assert error_deg < 0.2


def test_a_mirrored_close_up_gives_the_mirrored_fibre() -> None:
    """Upside down, the slope changes its sign and nothing else."""
    strip = drawn(0.04, 0.01, 0.5)
    upright_deg, _ = read(strip, 0.04, 0.01)
    mirrored_deg, _ = read(np.ascontiguousarray(strip[::-1]), -0.04, -0.01)
    assert abs(upright_deg + mirrored_deg) < 0.03


def test_a_strip_too_small_for_a_spectrum_gives_nothing() -> None:
    """Two dozen rows hold no texture to speak of."""
    strip = drawn(0.0, 0.0, 0.5)[:24]
    assert spectral_fibre(strip, MM_PER_PX, np.zeros(COLS), 0.0, rings=True) is None
