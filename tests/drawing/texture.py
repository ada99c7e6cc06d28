"""The wood's value (0 dark, 1 light) at points of its surface, and a whole side as a flat strip.

Rings and pores are looked up at the place in the tree a point's fibre comes from, so their traces
follow rings and fibre on every side without being drawn along any angle.
"""

from functools import lru_cache
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.drawing.looks import Look
from tests.drawing.noise import TILE_MM, cloud_tile, cross_tile, look_up, ray_tile
from tests.drawing.solid import Place, Solid, knot_radius, on_side, paths, place

Array = NDArray[Any]

_RING_STEP_MM: Final = 0.02
#: A pore or streak fades out and another begins after this length, in the mean.
_PORE_LENGTH_MM: Final = 45.0
#: Wood is looked up at least this finely across and along, then averaged to the strip's pixels.
_ACROSS_MM: Final = 0.17
_ALONG_MM: Final = 0.34
#: Looked-up points per pixel across and along, at most: pictures too small to show more need no more.
_MOST_FINE: Final = (8, 6)


@lru_cache(maxsize=32)
def _ring_table(seed: int, look: Look) -> Array:
    """Return ring darkness and pore share by radius, shape (n, 2), one row per `_RING_STEP_MM`."""
    rng = np.random.default_rng(seed)
    count = int(1600.0 / look.ring_width_mm)
    drift = np.cumsum(rng.normal(0.0, 0.12, count))
    drift -= np.linspace(drift[0], drift[-1], count)
    widths = look.ring_width_mm * np.exp(0.22 * rng.standard_normal(count) + 0.5 * np.tanh(drift))
    ends = np.concatenate([[0.0], np.cumsum(widths)])
    radius = np.arange(0.0, min(1200.0, ends[-1] - 1.0), _RING_STEP_MM)
    ring = np.searchsorted(ends, radius, side="right") - 1
    phase = (radius - ends[ring]) / widths[ring]
    strength = np.clip(1 + 0.3 * rng.standard_normal(count), 0.3, 1.8)[ring]
    if look.rings == "diffuse":
        dark = np.exp(-(((1 - phase) / 0.10) ** 2)) + 0.35 * phase**2
        pores = np.full_like(phase, 0.8)
    elif look.rings == "ring":
        early = np.exp(-((phase / 0.30) ** 4))
        dark = 0.55 * early + 0.75 * phase**3
        pores = early + 0.06
    else:
        dark = phase**1.5
        pores = 1.0 - 0.7 * phase
    return np.column_stack([dark * strength, pores]).astype(np.float32)


def _level(spacing_mm: float) -> int:
    return int(np.clip(np.floor(np.log2(max(spacing_mm, TILE_MM) / TILE_MM)), 0, 6))


def _carried(y_mm: Array, z_mm: Array, turn_rad: Array) -> tuple[Array, Array]:
    """Turn points back about the pith by small angles, right to 1e-6 up to 0.2."""
    square = turn_rad * turn_rad
    sin, cos = turn_rad * (1 - square / 6), 1 - square / 2 + square * square / 24
    return cos * y_mm + sin * z_mm, cos * z_mm - sin * y_mm


def _fibre_texture(solid: Solid, along: Array, where: Place, spacing_mm: float) -> Array:
    """Return pores, streaks and rays, shape (rows, cols, 3): patterns drawn out along the fibre, with ends.

    Each stretch of `_PORE_LENGTH_MM` has its own pattern in the cross-section at its middle and
    fades into the next. A point's place in it is found by going back along the point's fibre.
    """
    look, level = solid.look, _level(spacing_mm)
    ray_level = min(level, 3)
    y_here, z_here = where.y_here.astype(np.float32), where.z_here.astype(np.float32)
    radius = np.hypot(y_here, z_here)
    # The same for any stretch of the board, so that photos that overlap show the same rays.
    round_mm = np.hypot(0.5 * solid.width_mm - solid.pith_mm[0], 0.5 * solid.thickness_mm - solid.pith_mm[1])
    twist, turn = (part.astype(np.float32) for part in (solid.twist_share(radius), paths(solid, along[:1]).turn_rad))
    # Where a fibre's pores end differs from fibre to fibre, so no seam runs across the board.
    begin = look_up(cloud_tile(), radius * np.float32(2.0), (where.y_start - where.z_start) * 0.2)
    phase = along / np.float32(_PORE_LENGTH_MM) + np.float32(1.5) * begin
    total = np.zeros((*phase.shape, 3), dtype=np.float32)
    for shift in (np.float32(0.0), np.float32(0.5)):
        stretch = np.floor(phase + shift)
        rise = 1 - np.abs(2 * (phase + shift - stretch) - 1)
        weight = rise * rise * (3 - 2 * rise)
        first = int(stretch.min())
        middles = (np.arange(first, int(stretch.max()) + 1) + 0.5 - shift) * _PORE_LENGTH_MM
        back = paths(solid, middles).turn_rad.astype(np.float32)[stretch.astype(np.int32) - first]
        y_start, z_start = _carried(y_here, z_here, (turn - back) * twist)
        scale = np.float32(1 / (TILE_MM * 2**level))
        # Moved by lengths, not by pixels of the level, so that finer and coarser pictures show the same pores.
        row, col = ((y_start + stretch * np.float32(15.6)) * scale, (z_start + stretch * np.float32(8.7)) * scale)
        total[..., :2] += weight[..., None] * look_up(cross_tile(look.pore_radius_mm, level), row, col)
        round_tree = np.arctan2(z_start, y_start) * np.float32(round_mm / 0.06 / 2**ray_level)
        height = (along * np.float32(12.0 / look.ray_height_mm) + stretch * np.float32(71.9)) / np.float32(2**ray_level)
        total[..., 2] += weight * look_up(ray_tile(ray_level), height, round_tree)
    # The two halves are independent: give the streaks back the deviation that mixing takes away.
    total[..., 1] /= np.sqrt(weight**2 + (1 - weight) ** 2)
    return total


def _knots(solid: Solid, value: Array, along: Array, y_mm: Array, z_mm: Array) -> Array:
    """Paint the knots: dark wood with rings of its own and a darker rim."""
    y_mm, z_mm = np.broadcast_to(y_mm, along.shape), np.broadcast_to(z_mm, along.shape)
    for knot in solid.knots:
        columns = np.flatnonzero((np.abs(along - knot.position_mm) < 3 * knot.radius_mm).any(axis=0))
        if not columns.size:
            continue
        span = slice(columns[0], columns[-1] + 1)
        radius = knot_radius(knot, along[:, span], y_mm[:, span], z_mm[:, span])
        wood = knot.tone + 0.10 * np.cos(radius * knot.radius_mm * 3.2)
        wood -= knot.rim * np.exp(-(((radius - 0.95) / 0.10) ** 2))
        inside = np.clip((1.06 - radius) / 0.08, 0.0, 1.0)
        halo = knot.halo * np.exp(-np.clip(radius - 1, 0, None) / 0.5)
        value[:, span] = inside * wood + (1 - inside) * (value[:, span] - halo)
    return value


def wood_value(
    solid: Solid, along_mm: Array, y_mm: Array, z_mm: Array, out_yz: tuple[float, float], spacing_mm: float
) -> Array:
    """Return the wood's value at surface points.

    Parameters
    ----------
    along_mm
        Shape (1, cols) or (rows, cols).
    y_mm, z_mm
        Shapes that broadcast with it to (rows, cols).
    out_yz
        Which way the surface faces; (0, 0) for an end of the board.
    spacing_mm
        Distance of neighbouring points: finer detail is smoothed away.

    Returns
    -------
    float32, shape (rows, cols), about 0 to 1.
    """
    look = solid.look
    where = place(solid, along_mm, y_mm, z_mm)
    shape = np.broadcast_shapes(where.y_start.shape, along_mm.shape)
    where = Place(*(np.broadcast_to(part, shape) for part in where))
    along = np.broadcast_to(along_mm, shape).astype(np.float32)
    radius = np.hypot(where.y_start, where.z_start).astype(np.float32)
    table = _ring_table(solid.seed, look)
    rings = table[np.minimum((radius * np.float32(1 / _RING_STEP_MM)).astype(np.int32), len(table) - 1)]
    fine = _fibre_texture(solid, along, where, spacing_mm)
    clouds = look_up(cloud_tile(), where.y_start * 0.25, where.z_start * 0.25 + along * np.float32(0.02))
    value = 0.92 + np.float32(0.03) * clouds - look.ring_depth * rings[..., 0]
    value += look.streak_depth * np.float32(0.45) * fine[..., 1] - look.pore_depth * rings[..., 1] * fine[..., 0]
    out_y, out_z = where.y_here.mean() / radius.mean(), where.z_here.mean() / radius.mean()
    # Rays are dark dashes where cut across (tangential wood) and bright flecks where cut along.
    bright = 0.6 - 1.6 * (out_y * out_yz[0] + out_z * out_yz[1]) ** 2 if any(out_yz) else 0.5
    value += np.float32(look.ray_depth * bright) * fine[..., 2]
    return _knots(solid, value, along, y_mm, z_mm).astype(np.float32)


def side_normal(side: str) -> tuple[float, float]:
    """Return which way a side faces, as (y, z)."""
    return {"face_1": (0.0, 1.0), "edge_1": (-1.0, 0.0), "face_2": (0.0, -1.0), "edge_2": (1.0, 0.0)}[side]


def side_texture(solid: Solid, side: str, px_per_mm: float, from_mm: float = 0.0, to_mm: float | None = None) -> Array:
    """Draw one side flat, without camera, marks or light.

    Parameters
    ----------
    px_per_mm
        Pixels per millimetre, along and across.
    from_mm, to_mm
        The stretch; the whole board when left out.

    Returns
    -------
    float32, shape (rows, cols), about 0 to 1. Row 0 lies along the upper long corner, columns run
    from `from_mm`; pixel (r, c) covers (c .. c + 1) / px_per_mm along and (r .. r + 1) / px_per_mm
    down from the upper corner.
    """
    to_mm = solid.length_mm if to_mm is None else to_mm
    rows, cols = (max(1, round(length * px_per_mm)) for length in (solid.across_mm(side), to_mm - from_mm))
    fine_rows, fine_cols = (
        min(most, max(1, int(np.ceil(1 / (px_per_mm * finest)))))
        for most, finest in zip(_MOST_FINE, (_ACROSS_MM, _ALONG_MM), strict=True)
    )
    up = solid.across_mm(side) * (1 - (np.arange(rows * fine_rows) + 0.5) / (rows * fine_rows))
    along = from_mm + (to_mm - from_mm) * (np.arange(cols * fine_cols) + 0.5) / (cols * fine_cols)
    y_mm, z_mm = on_side(solid, side, up[:, None])
    value = wood_value(solid, along[None, :], y_mm, z_mm, side_normal(side), 1 / (px_per_mm * fine_rows))
    if fine_rows * fine_cols == 1:
        return value
    return np.asarray(value.reshape(rows, fine_rows, cols, fine_cols).mean(axis=(1, 3)), dtype=np.float32)


def end_texture(solid: Solid, px_per_mm: float) -> Array:
    """Draw the marked end head on, face 1 up, so y grows to the left: float32, shape (rows, cols)."""
    rows, cols = (max(1, round(length * px_per_mm)) for length in (solid.thickness_mm, solid.width_mm))
    z_mm = solid.thickness_mm * (1 - (np.arange(rows) + 0.5) / rows)[:, None]
    y_mm = solid.width_mm * (1 - (np.arange(cols) + 0.5) / cols)[None, :]
    value = wood_value(solid, np.zeros((rows, cols)), y_mm, z_mm, (0.0, 0.0), 1 / px_per_mm)
    # End grain drinks the light and keeps the saw's marks.
    marks = look_up(
        cloud_tile(),
        np.arange(rows)[:, None] * np.full((1, cols), 0.02) * px_per_mm,
        np.arange(cols)[None, :] * np.full((rows, 1), 2.0 / px_per_mm),
    )
    return np.asarray(cv2.GaussianBlur(value - 0.12 + 0.02 * marks, (0, 0), 0.3), dtype=np.float32)
