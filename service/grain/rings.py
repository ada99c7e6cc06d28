"""How the growth rings lie, from a photo of the board's end."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from service.errors import Problem
from service.grain.tensor import Double, Float, Scale, whitened_gradient
from service.language import say

BORDER_MM = 1.2
"""Saw fuzz, chamfers and outline error along the end's border."""

BLOCK_MM = 2.0
"""Ring direction is taken constant over blocks of this size."""

FINEST_MM = 0.08
"""Millimetres per pixel finer than which an end is made smaller: rings are wider than that."""

LIGHT_MM = 4.0
"""Brightness that changes more slowly than this across the end is light or stain, not rings."""

SHARPEST_CURVE_PER_MM = 1 / 12
"""The pith is at least this far from the middle; nearer, a board holds it and shows it."""

STRAIGHT_PER_MM = 1 / 1500
"""Rings straighter than this place the pith "far"."""

UNSURE_DEG = 20.0
"""Half-width beyond which the ring normal counts as unread."""


@dataclass(frozen=True)
class EndRings:
    """Rings as circles about the pith, in millimetres of the end's picture.

    The unit vector across the rings at a point p, away from the pith, is
    ``n(p) = unit(n0 + curve * (p - middle))``; the pith lies at ``middle - n0 / curve``.

    Attributes
    ----------
    normal_yz
        n0 at the end's middle: y along the width, z along the thickness, out of face 1.
    curve_per_mm
        Not negative; 0 when the pith is far away.
    error_deg
        Half-width of the 95 % interval of the direction of n0.
    """

    normal_yz: tuple[float, float]
    curve_per_mm: float
    error_deg: float


def read_end_rings(image: Float, mm_per_px: float) -> EndRings | Problem:
    """Fit circular rings to the picture of a board's end.

    The brightness changes across the rings and not along them, so the best pith is the one for
    which the least gradient energy runs along the circles about it.

    Parameters
    ----------
    image
        float32, shape (rows, cols), 0 to 1: row 0 along face 1's corner, columns with growing y.
    mm_per_px
        Millimetres per pixel.

    Returns
    -------
    EndRings, or a Problem with code "end_unread" when no rings can be told.
    """
    shrink = mm_per_px / max(mm_per_px, FINEST_MM)
    small = cv2.resize(image, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1 else image
    tensors, y_mm, z_mm = _block_tensors(np.asarray(small, np.float32), mm_per_px / shrink)
    if len(y_mm) < 12:
        return Problem("end_unread", say("The end photo is too small to see rings. Take it from closer."))
    full = _fit(tensors, y_mm, z_mm)
    # Delete-a-group jackknife over stripes of the end: neighbouring blocks share rings and noise.
    stripe = np.argsort(np.argsort(y_mm)) * 6 // len(y_mm)
    parts = np.array([_fit(tensors[stripe != k], y_mm[stripe != k], z_mm[stripe != k]) for k in range(6)])
    turn_rad = (parts[:, 0] - full[0] + np.pi / 2) % np.pi - np.pi / 2
    error_deg = float(np.degrees(2 * np.sqrt(5 / 6 * (turn_rad**2).sum())) + 1.0)
    if error_deg > UNSURE_DEG:
        text = say("No rings can be told in the end photo. Wet or sand the end lightly and photograph it again.")
        return Problem("end_unread", text)
    angle_rad, curve = full
    if curve < 0:
        angle_rad, curve = angle_rad + np.pi, -curve
    if curve < STRAIGHT_PER_MM:
        curve = 0.0
    return EndRings((float(np.cos(angle_rad)), float(np.sin(angle_rad))), float(curve), error_deg)


def _block_tensors(image: Float, mm_per_px: float) -> tuple[Double, Double, Double]:
    """Tensors (n, 3: yy, yz, zz) of blocks, each scaled to its own noise, and the blocks' middles."""
    border = max(2, round(BORDER_MM / mm_per_px))
    rows, cols = image.shape
    flat = image - cv2.GaussianBlur(image, (0, 0), LIGHT_MM / mm_per_px, borderType=cv2.BORDER_REFLECT)
    spread = np.sqrt(cv2.GaussianBlur(flat * flat, (0, 0), LIGHT_MM / mm_per_px)) + 1e-4
    even = np.clip(flat / spread, -2.5, 2.5).astype(np.float32)
    side = max(4, round(BLOCK_MM / mm_per_px))
    tensors, places = [], []
    fine_px = max(1.2, 0.12 / mm_per_px)
    along, across = whitened_gradient(even, Scale(fine_px, fine_px))
    for top in range(border, rows - border - side + 1, side):
        for left in range(border, cols - border - side + 1, side):
            here = np.s_[top : top + side, left : left + side]
            g_y, g_z = along[here].astype(np.float64), -across[here].astype(np.float64)
            tensors.append([(g_y * g_y).mean(), (g_y * g_z).mean(), (g_z * g_z).mean()])
            places.append([left + side / 2 - cols / 2, rows / 2 - top - side / 2])
    place_mm = np.array(places).reshape(-1, 2) * mm_per_px
    return np.array(tensors).reshape(-1, 3), place_mm[:, 0], place_mm[:, 1]


def _fit(tensors: Double, y_mm: Double, z_mm: Double) -> NDArray[np.float64]:
    """Return (angle_rad, curve_per_mm) with the least gradient energy along the rings."""
    j_yy, j_yz, j_zz = tensors.T

    def energy(angle_rad: Double, curve: Double) -> Double:
        n_y = np.cos(angle_rad)[..., None] + curve[..., None] * y_mm
        n_z = np.sin(angle_rad)[..., None] + curve[..., None] * z_mm
        along_ring = n_z**2 * j_yy - 2 * n_y * n_z * j_yz + n_y**2 * j_zz
        return np.asarray((along_ring / (n_y**2 + n_z**2)).sum(axis=-1))

    angles = np.radians(np.arange(0, 180, 3.0))
    curves = np.concatenate(
        [-np.geomspace(SHARPEST_CURVE_PER_MM, 1e-3, 14), [0.0], np.geomspace(1e-3, SHARPEST_CURVE_PER_MM, 14)]
    )
    grid_angle, grid_curve = np.meshgrid(angles, curves, indexing="ij")
    costs = energy(grid_angle, grid_curve)
    best = np.unravel_index(np.argmin(costs), costs.shape)
    scale = float(costs.mean())

    def cost(point: Double) -> float:
        return float(energy(np.asarray(point[0]), np.asarray(point[1] / 100))) / scale

    start = np.array([angles[best[0]], curves[best[1]] * 100])
    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-9, "maxiter": 200})
    limit = SHARPEST_CURVE_PER_MM
    return np.array([found.x[0], np.clip(found.x[1] / 100, -limit, limit)])
