"""From the lines and the texture of four sides to the fibre's direction.

With x along the board, y up in face 1's photo, z out of face 1, n = (n_y, n_z) across the rings,
fibre slopes a = dy/dx and b = dz/dx, and fibres lying in the ring surfaces:

    d = a n_y + b n_z     diagonal: how the rings run across the board's length
    s = b n_y - a n_z     spiral: the fibre's turn within the ring surface
    a = d n_y - s n_z,  b = d n_z + s n_y

A ring line on face 1 has the slope d / n_y in its photo, on edge 1 d / n_z; opposite sides mirror
both. So d comes from the lines wherever a side cuts the rings well, s only from what shows the
fibre itself. (ANC-19, 2.302-2.3023: diagonal grain is read on ring traces, spiral grain on an
exposed tangential surface.)
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.board.entered import EnteredSlope, unused_note
from service.board.plane import CUTS_WELL, UPWARD, in_plane
from service.board.spiral import ORDINARY_SPIRAL, read_spiral
from service.board.types import RingReading, Source
from service.errors import Problem
from service.grain.rings import EndRings
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES, BoardSize

Double = NDArray[np.float64]

LINE_FLOOR = 0.003
"""What the lines lean toward the fibre, one sigma; measured on drawn boards."""

DIAGONAL_CHANGE = 0.012
"""One sigma by which diagonal grain differs from that of the nearest place read."""

RIFT_DEG: Final = (30.0, 60.0)
"""Tilt of the ring normal from the face's normal: flat below, quarter above, rift between.
Common practice, no source; ANC-19 2.402 draws one line only, at 45."""


@dataclass(frozen=True)
class Fibre:
    """The fibre's direction along the board.

    Attributes
    ----------
    angle_deg, error_deg
        Side name to shape (n,): angle in the side's photo and half-width of its 95 % interval.
    diagonal, spiral
        Shape (n,): the two parts, ratios.
    spiral_from
        What showed the fibre itself; empty when nothing did.
    rings
        How the rings lie; None when nothing told.
    notes
        What became of the tests that were entered by hand.
    """

    angle_deg: dict[str, Double]
    error_deg: dict[str, Double]
    diagonal: Double
    spiral: Double
    spiral_from: tuple[Source, ...]
    rings: RingReading | None
    notes: tuple[Problem, ...] = ()

    @property
    def spiral_seen(self) -> bool:
        """Whether anything showed the fibre itself."""
        return bool(self.spiral_from)


def find_fibre(
    size: BoardSize,
    sides: Mapping[str, SideGrain],
    closeups: Mapping[str, Sequence[CloseGrain]],
    end: EndRings | None,
    tests: Sequence[EnteredSlope] = (),
) -> Fibre:
    """Put lines, texture and rings together.

    Parameters
    ----------
    size
        The board.
    sides
        The sides that were read, on one grid.
    closeups
        Close-ups by side; the side itself need not be among `sides`.
    end
        Rings in the end photo.
    tests
        Ink and scribe tests entered by hand.

    Returns
    -------
    Fibre on the sides' grid; angles for the sides in `sides`.
    """
    rings = rings_from_end(size, end) if end is not None else rings_from_lines(sides)
    shape = next(iter(sides.values())).line.shape
    if rings is None:
        return replace(_lines_for_fibre(sides, shape), notes=tuple(unused_note(test) for test in tests))
    normals = {side: local_normal(size, rings, side) for side in SIDES}
    diagonal, diagonal_error = _diagonal(sides, normals, shape)
    spiral = read_spiral(sides, closeups, normals, diagonal, tests, size.length_mm)
    diagonal, diagonal_error = _carried_over(diagonal, diagonal_error)
    turn_rad = np.radians(rings.error_deg) / 2
    angle_deg, error_deg = {}, {}
    for side, grain in sides.items():
        within, beside = in_plane(normals[side], side)
        slope = diagonal * within + spiral.value[side] * beside
        across = diagonal * beside - spiral.value[side] * within  # what a wrong ring normal mixes in
        parts = (within * diagonal_error, beside * spiral.error[side], across * turn_rad, LINE_FLOOR)
        error = np.sqrt(sum(np.square(part) for part in parts))
        unread = ~np.isfinite(grain.line)
        angle_deg[side] = np.where(unread, np.nan, np.degrees(np.arctan(UPWARD[side] * slope)))
        error_deg[side] = np.where(unread, np.nan, np.degrees(2 * error))
    along = np.mean(list(spiral.value.values()), axis=0)
    return Fibre(angle_deg, error_deg, diagonal, along, spiral.sources, rings, spiral.notes)


def local_normal(size: BoardSize, rings: RingReading, side: str) -> tuple[float, float]:
    """Return the unit vector across the rings at the middle of a side, away from the pith.

    Examples
    --------
    Pith 50 mm below the middle of a 40 x 20 mm board: at edge 1 (y = 0) the rings already slant.

    >>> size = BoardSize(1000.0, 40.0, 20.0)
    >>> rings = RingReading((20.0, -40.0), (0.0, 1.0), 0.0, 2.0, ("end",), "flat")
    >>> [round(part, 3) for part in local_normal(size, rings, "edge_1")]
    [-0.371, 0.928]
    """
    if rings.pith_mm is None:
        return rings.normal_yz
    middle = {
        "face_1": (size.width_mm / 2, size.thickness_mm),
        "face_2": (size.width_mm / 2, 0.0),
        "edge_1": (0.0, size.thickness_mm / 2),
        "edge_2": (size.width_mm, size.thickness_mm / 2),
    }[side]
    away = np.subtract(middle, rings.pith_mm)
    away = away / np.linalg.norm(away)
    return float(away[0]), float(away[1])


def rings_from_end(size: BoardSize, end: EndRings) -> RingReading:
    """Turn what the end photo shows into the board's coordinates.

    Examples
    --------
    >>> rings_from_end(BoardSize(1000.0, 40.0, 20.0), EndRings((0.0, 1.0), 0.02, 3.0)).pith_mm
    (20.0, -40.0)
    """
    n_y, n_z = end.normal_yz
    pith = None
    if end.curve_per_mm > 0:
        pith = (size.width_mm / 2 - n_y / end.curve_per_mm, size.thickness_mm / 2 - n_z / end.curve_per_mm)
    return _rings(pith, (n_y, n_z), end.error_deg, "end")


def rings_from_lines(sides: Mapping[str, SideGrain]) -> RingReading | None:
    """Find the ring normal from ring lines on a face and an edge: their slopes are as n_z to n_y.

    Parameters
    ----------
    sides
        The sides that were read.

    Returns
    -------
    None when no face or no edge was read, or when the lines run too straight to tell.
    """
    pairs: dict[str, list[tuple[Double, Double]]] = {"face": [], "edge": []}
    wild: dict[str, list[float]] = {"face": [], "edge": []}
    for side, grain in sides.items():
        kind = side[:4]
        pairs[kind].append((UPWARD[side] * grain.ring, grain.ring_error))
        wild[kind].append(float(np.nanmedian(grain.spread)))
    if not pairs["face"] or not pairs["edge"]:
        return None
    face, face_error = _weighted(pairs["face"])
    edge, edge_error = _weighted(pairs["edge"])
    both = np.isfinite(face) & np.isfinite(edge)
    if not both.any():
        return None
    face_wild, edge_wild = min(wild["face"]), min(wild["edge"])
    if max(face_wild, edge_wild) > 0.015 and max(face_wild, edge_wild) > 2 * min(face_wild, edge_wild):
        # V shapes on one kind of side and clean lines on the other: the rings lie along the first.
        normal = (0.0, 1.0) if face_wild > edge_wild else (1.0, 0.0)
        return _rings(None, normal, 15.0, "slopes")
    power = float((face[both] ** 2).sum()), float((face[both] * edge[both]).sum()), float((edge[both] ** 2).sum())
    angle_rad = 0.5 * np.arctan2(2 * power[1], power[2] - power[0])  # (n_y, n_z) along (edge, face)
    size = power[0] + power[2]
    noise = float((face_error[both] ** 2 + edge_error[both] ** 2).sum()) + 2 * LINE_FLOOR**2 * both.sum()
    error_deg = float(np.degrees(2 * np.sqrt(noise / max(size, 1e-12))))
    if error_deg > 30:
        return None
    return _rings(None, (float(np.cos(angle_rad)), float(np.sin(angle_rad))), max(error_deg, 6.0), "slopes")


def _rings(pith: tuple[float, float] | None, normal: tuple[float, float], error_deg: float, source: str) -> RingReading:
    tilt_deg = float(np.degrees(np.arctan2(abs(normal[0]), abs(normal[1]))))
    sawing = "flat" if tilt_deg < RIFT_DEG[0] else "quarter" if tilt_deg > RIFT_DEG[1] else "rift"
    return RingReading(pith, normal, tilt_deg, error_deg, (source,), sawing)  # type: ignore[arg-type]


def _weighted(parts: Sequence[tuple[Double, Double]]) -> tuple[Double, Double]:
    """Mean of several readings by inverse variance, skipping what is NaN."""
    values, errors = np.stack([p[0] for p in parts]), np.stack([p[1] for p in parts])
    weights = np.where(np.isfinite(values), 1 / np.maximum(errors, 1e-6) ** 2, 0.0)
    total = weights.sum(axis=0)
    known = total > 0
    mean = np.where(known, np.nansum(weights * np.nan_to_num(values), axis=0) / np.where(known, total, 1), np.nan)
    return mean, np.where(known, 1 / np.sqrt(np.where(known, total, 1)), np.nan)


def _diagonal(
    sides: Mapping[str, SideGrain], normals: Mapping[str, tuple[float, float]], shape: tuple[int, ...]
) -> tuple[Double, Double]:
    """Read d from the ring lines of every side that cuts the rings well."""
    parts = []
    for side, grain in sides.items():
        within, _ = in_plane(normals[side], side)
        if abs(within) >= CUTS_WELL:
            error = np.hypot(grain.ring_error, LINE_FLOOR) * abs(within)
            parts.append((UPWARD[side] * grain.ring * within, error))
    if not parts:
        return np.full(shape, np.nan), np.full(shape, np.nan)
    return _weighted(parts)


def _carried_over(diagonal: Double, error: Double) -> tuple[Double, Double]:
    """Carry d over places where no ring line was read, with the error of a guess from nearby.

    A side whose own lines were not read there stays unread; one that was read, and of which d is
    only a small part, does not fall silent for the other's sake.
    """
    known = np.isfinite(diagonal)
    if not known.any():
        return diagonal, error
    place = np.arange(diagonal.size)
    near = np.interp(place, place[known], diagonal[known])
    wide = np.hypot(np.interp(place, place[known], error[known]), DIAGONAL_CHANGE)
    return np.where(known, diagonal, near), np.where(known, error, wide)


def _lines_for_fibre(sides: Mapping[str, SideGrain], shape: tuple[int, ...]) -> Fibre:
    """Take lines for fibre when nothing tells how the rings lie, with an error as wide as that is."""
    angle_deg = {side: np.degrees(np.arctan(grain.line)) for side, grain in sides.items()}
    error_deg = {
        side: np.degrees(2 * np.sqrt(grain.line_error**2 + ORDINARY_SPIRAL**2 + (grain.line / 2) ** 2))
        for side, grain in sides.items()
    }
    unknown = np.full(shape, np.nan)
    return Fibre(angle_deg, error_deg, unknown, unknown, spiral_from=(), rings=None)
