"""What photos do to strips: how much each trouble, alone, costs us and others.

Ring lines at 1 in 20, contrast to noise 2, and one trouble at a time. A method is good when a row differs
little from the first one.
"""

import io
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from typing import Final

import cv2
import numpy as np
from PIL import Image

from tests.bench.plane_waves import MM_PER_PX, Float, draw_strip, make_wave
from tests.bench.strips import FIXED, OURS, STRIP_COLS, window_errors_deg

SPACINGS_PX: Final = (4.0, 6.0, 12.0)
CNR: Final = 2.0
STRIPS: Final = 4
METHODS: Final = (*OURS, "shipped", "Gauss")


def _jpeg(strip: Float, quality: int) -> Float:
    data = io.BytesIO()
    Image.fromarray((strip.clip(0, 1) * 255 + 0.5).astype(np.uint8)).save(data, "JPEG", quality=quality)
    return np.asarray(Image.open(data), np.float32) / np.float32(255)


def _blur(strip: Float) -> Float:
    """Blur as a missed focus does; of lines 4 px apart it leaves a sixteenth, which nothing can read."""
    return np.asarray(cv2.GaussianBlur(strip, (0, 0), 1.5), np.float32)


def _light(strip: Float) -> Float:
    """Let the light fall off across, by a fifth of full scale."""
    light = np.linspace(-0.1, 0.1, strip.shape[0], dtype=np.float32)[:, None]
    return np.asarray(strip + light, np.float32)


def _ripples(strip: Float) -> Float:
    """Add planer marks as strong as the grain, 6.3 px apart, leaning 2 degrees."""
    row, col = np.indices(strip.shape)
    ripples = 0.04 * np.sin(2 * np.pi * (col + np.tan(np.radians(2.0)) * row) / 6.3)
    return np.asarray(strip + ripples, np.float32)


def _shadow(strip: Float) -> Float:
    """Darken by two fifths beyond slanting edges a foot apart."""
    row, col = np.indices(strip.shape)
    edge = np.sin(np.pi * (col - 0.5 * row) * MM_PER_PX / 304.8) * 40
    return np.asarray(strip * (1 - 0.4 / (1 + np.exp(-edge))), np.float32)


def _labels(strip: Float) -> Float:
    """Stick a pale label of 1 x 0.5 in on every 10 in, turned by 5 degrees."""
    marked = strip.copy()
    for middle in range(200, strip.shape[1], 400):
        box = cv2.boxPoints(((float(middle), strip.shape[0] / 2), (40.0, 20.0), 5.0)).round().astype(np.int32)
        cv2.fillConvexPoly(marked, box, (0.95,), cv2.LINE_AA)
    return marked


#: A trouble's name to what it does to a strip.
TROUBLES: Final[dict[str, Callable[[Float], Float]]] = {
    "none": lambda strip: strip,
    "JPEG 95": lambda strip: _jpeg(strip, 95),
    "JPEG 75": lambda strip: _jpeg(strip, 75),
    "blur of 1.5 px": _blur,
    "light across": _light,
    "planer marks": _ripples,
    "shadow edges": _shadow,
    "labels": _labels,
}


def measure_trouble(name: str, spacing_px: float, seed: int) -> dict[str, tuple[float, float]]:
    """Return each method's mean error and bias under one trouble, degrees."""
    rng = np.random.default_rng([seed, round(spacing_px), 67])  # the same strips for every trouble
    wave = make_wave("ring", spacing_px)
    strips = [TROUBLES[name](draw_strip(wave, FIXED, CNR, STRIP_COLS, rng)) for _ in range(STRIPS)]
    found = [window_errors_deg(strip, FIXED) for strip in strips]
    errors = {method: np.concatenate([one[method] for one in found]) for method in METHODS}
    return {method: (float(np.abs(values).mean()), float(values.mean())) for method, values in errors.items()}


def print_troubles(pool: ProcessPoolExecutor, seed: int) -> None:
    """Print the table of troubles."""
    print(f"TROUBLES on ring lines at 1 in 20, CNR {CNR:.0f}: mean error and bias (below 0: too straight), degrees")
    print(f"{'':18s} px  " + "".join(f"{method:>17s}" for method in METHODS))
    keys = list(product(TROUBLES, SPACINGS_PX))
    names, spacings = zip(*keys, strict=True)
    for (name, spacing_px), found in zip(
        keys, pool.map(measure_trouble, names, spacings, [seed] * len(keys)), strict=True
    ):
        cells = "".join(f"{error:9.3f} {bias:+7.3f}" for error, bias in found.values())
        print(f"{name:18s} {spacing_px:2.0f}  {cells}", flush=True)
