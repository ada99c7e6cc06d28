"""Tiles of chance patterns that repeat without a seam, made once and looked up as often as needed."""

from functools import lru_cache
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

Array = NDArray[Any]

#: Millimetres per pixel of the finest cross-section tile.
TILE_MM: Final = 0.05
_SIZE: Final = 2048
#: Pixels looked up at once: the look-up refuses pictures of 32767 columns and more.
_COLUMNS: Final = 16384


def _smooth(values: Array, rows_px: float, cols_px: float) -> Array:
    """Blur a tile with a Gaussian, wrapping round at its borders."""
    rows = fft.fftfreq(values.shape[0]).astype(np.float32)[:, None]
    cols = fft.rfftfreq(values.shape[1]).astype(np.float32)[None, :]
    keep = np.exp(-2 * np.float32(np.pi) ** 2 * (rows * rows_px) ** 2)
    keep = keep * np.exp(-2 * np.float32(np.pi) ** 2 * (cols * cols_px) ** 2)
    out = fft.irfft2(fft.rfft2(values.astype(np.float32)) * keep, s=values.shape)
    return np.asarray((out - out.mean()) / out.std(), dtype=np.float32)


def _halved(values: Array, level: int) -> Array:
    size = (values.shape[1] >> level, values.shape[0] >> level)
    return np.ascontiguousarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA)) if level else values


@lru_cache(maxsize=16)
def cross_tile(pore_radius_mm: float, level: int) -> Array:
    """Return pores and streaks over the cross-section, shape (rows, cols, 2).

    Channel 0 holds pores (0 to 1), channel 1 streaks (mean 0, standard deviation about 1 at level
    0). One pixel is `TILE_MM` times 2 to the power of `level`.
    """
    return _halved(_finest_cross_tile(pore_radius_mm), level)


@lru_cache(maxsize=8)
def _finest_cross_tile(pore_radius_mm: float) -> Array:
    rng = np.random.default_rng(7)
    radius_px = pore_radius_mm / TILE_MM
    spots = _smooth(rng.standard_normal((_SIZE, _SIZE)), radius_px, radius_px)
    pores = np.clip((spots - 1.0) * 1.5, 0.0, 1.0)
    streaks = sum(
        weight * _smooth(rng.standard_normal((_SIZE, _SIZE)), blur, blur)
        for weight, blur in ((0.65, 1.2), (0.70, 2.5), (0.25, 8.0), (0.15, 30.0))
    )
    return np.dstack([pores, np.asarray(streaks, dtype=np.float32)])


@lru_cache(maxsize=16)
def ray_tile(level: int) -> Array:
    """Return rays seen along the radius, 0 to 1: rows along the fibre, columns round the tree."""
    rng = np.random.default_rng(11)
    spots = _smooth(rng.standard_normal((1024, 1024)), 6.0, 1.3)
    return _halved(np.clip((spots - 0.9) * 1.2, 0.0, 1.0).astype(np.float32), level)


@lru_cache(maxsize=4)
def cloud_tile() -> Array:
    """Return soft clouds of every size, standard deviation 1, shape (512, 512)."""
    rng = np.random.default_rng(13)
    layers = (
        _smooth(rng.standard_normal((512, 512)), blur, blur) * weight
        for blur, weight in ((3, 0.4), (12, 0.6), (40, 0.7))
    )
    return np.asarray(sum(layers), dtype=np.float32)


@lru_cache(maxsize=2)
def sensor_tile() -> Array:
    """Return camera noise, standard deviation 1, slightly blurred as phones leave it, shape (1024, 1024, 3)."""
    rng = np.random.default_rng(17)
    grey = _smooth(rng.standard_normal((1024, 1024)), 0.5, 0.5)
    tints = [_smooth(rng.standard_normal((1024, 1024)), 1.5, 1.5) for _ in range(3)]
    return np.dstack([0.9 * grey + 0.35 * tint for tint in tints]).astype(np.float32)


def look_up(tile: Array, row: Array, col: Array) -> Array:
    """Read a tile at broken row and column, shape of `row`, going round and round at its borders.

    >>> stripes = np.array([[0.0, 1.0], [0.0, 1.0]], dtype=np.float32)
    >>> look_up(stripes, np.array([[0.0, 5.0]]), np.array([[0.5, 3.0]])).tolist()
    [[0.5, 1.0]]
    """
    parts = []
    for start in range(0, row.shape[1], _COLUMNS):
        span = slice(start, start + _COLUMNS)
        parts.append(
            cv2.remap(
                tile,
                np.ascontiguousarray(col[:, span], dtype=np.float32),
                np.ascontiguousarray(row[:, span], dtype=np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_WRAP,
            )
        )
    return np.concatenate(parts, axis=1)
