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

import numpy as np
from numpy.typing import NDArray

from service.board.entered import EnteredSlope, unused_note
from service.board.plane import CUTS_WELL, UPWARD, in_plane
from service.board.rings import find_rings, local_normal, weighted
from service.board.spiral import ORDINARY_SPIRAL, read_spiral
from service.board.types import RingReading, Source
from service.errors import Problem
from service.grain.rings import EndRings
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES, BoardSize

Double = NDArray[np.float64]

LINE_FLOOR = 0.0025
"""What the lines lean toward the fibre, one sigma; measured on drawn boards."""

DIAGONAL_CHANGE = 0.012
"""One sigma by which diagonal grain differs from that of the nearest place read."""


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
    rings = find_rings(size, sides, end)
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
    along = np.full(shape, np.mean(list(spiral.value.values())))
    return Fibre(angle_deg, error_deg, diagonal, along, spiral.sources, rings, spiral.notes)


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
    return weighted(parts)


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
