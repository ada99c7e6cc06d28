"""A side's slope laid out on an even lattice, with what is unread, bridged or taken from the other side.

Sections are compared on a lattice whose spacing divides the board's length, so that a board turned end
for end gives the mirrored answer.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.board.types import BoardReading, SideReading
from service.judge.limits import Limits
from service.sides import SIDES, side_opposite

Float = NDArray[np.float64]
Bool = NDArray[np.bool_]

# Warp is a slow curve: a polynomial of this degree follows it and leaves out the jitter of the
# outline, which its derivative would blow up.
WARP_DEGREE = 5


@dataclass(frozen=True)
class Lattice:
    """Evenly spaced points along the board, from end to end, and the sections that begin at them.

    Attributes
    ----------
    step_mm
        Spacing; the first point is at the marked end, the last at the far end.
    count
        Number of points.
    section_mm
        Length of the sections.
    section_steps, mean_steps
        Steps in a section, and in the length a slope is averaged over.
    """

    step_mm: float
    count: int
    section_mm: float
    section_steps: int
    mean_steps: int

    @property
    def points_mm(self) -> Float:
        """Shape (count,): distance of each point from the marked end."""
        return self.step_mm * np.arange(self.count, dtype=np.float64)

    @property
    def starts_mm(self) -> Float:
        """Shape (count - section_steps,): where a section can begin.

        A section's points reach up to a step farther than the section; it lies in their middle.
        """
        spare_mm = self.section_steps * self.step_mm - self.section_mm
        return self.points_mm[: self.count - self.section_steps] + 0.5 * spare_mm

    @property
    def centres_mm(self) -> Float:
        """Shape (count - mean_steps,): middles of the stretches that slopes are averaged over."""
        return self.points_mm[: self.count - self.mean_steps] + 0.5 * self.mean_steps * self.step_mm


def make_lattice(board_mm: float, section_mm: float, step_mm: float, mean_mm: float) -> Lattice:
    """Lay a lattice along a board for sections of one length.

    Only the number of steps in a section depends on its length: a longer section's points are a shorter
    one's and more, so it never looks better by an accident of spacing.

    Parameters
    ----------
    board_mm, section_mm
        Length of the board and of the section; the section must fit.
    step_mm
        Wanted spacing; the spacing taken is the nearest not larger one that divides the board.
    mean_mm
        Length a slope is averaged over; at least one step and at most the section is taken.

    >>> lattice = make_lattice(100.0, 65.0, 10.0, 20.0)
    >>> lattice.starts_mm.tolist(), lattice.count, lattice.mean_steps
    ([2.5, 12.5, 22.5, 32.5], 11, 2)
    """
    steps = math.ceil(board_mm / step_mm - 1e-9)
    step_mm = board_mm / steps
    section_steps = min(steps, math.ceil(section_mm / step_mm - 1e-9))
    mean_steps = min(section_steps, max(1, round(mean_mm / step_mm)))
    return Lattice(step_mm, steps + 1, section_mm, section_steps, mean_steps)


@dataclass(frozen=True)
class SideSlope:
    """One side on the lattice.

    Attributes
    ----------
    slope, error
        Shape (count,): rise over length against the straight line between the board's ends, and the
        half-width of its 95 % interval; up in the side's photo. NaN where nothing is known.
    widening
        Shape (count,): the part of the error that is there only because the opposite side was taken.
    assumed
        Shape (count,), bool: taken from the opposite side.
    unread
        Shape (count,), bool: neither read nor taken from the opposite side.
    read
        Shape (count,), bool: read on the side itself, short bridges included.
    line_mm
        Shape (count,): the side's mid-line above the straight line between the board's ends.
    """

    slope: Float
    error: Float
    widening: Float
    assumed: Bool
    unread: Bool
    read: Bool
    line_mm: Float


def fill_bridges(
    positions_mm: Float, values: Float, errors: Float, at_mm: Float, limits: Limits
) -> tuple[Float, Float]:
    """Interpolate a side's values, bridging short unread stretches and leaving long ones unread.

    Parameters
    ----------
    positions_mm, values, errors
        Shape (n,): evenly spaced positions, values (NaN where unread) and their error half-widths in
        degrees.
    at_mm
        Shape (m,): where values are wanted.

    Returns
    -------
    values, errors
        Shape (m,). NaN inside unread stretches longer than `limits.bridge_mm`. In a bridge the error
        grows with the distance from the nearest read position.

    >>> grid = np.arange(0.0, 60.0, 10.0)
    >>> values = np.array([1.0, 1.0, np.nan, 3.0, 3.0, 3.0])
    >>> got, error = fill_bridges(grid, values, np.full(6, 0.5), np.array([10.0, 20.0, 30.0]), Limits())
    >>> got.tolist(), error.tolist()
    ([1.0, 2.0, 3.0], [0.5, 1.5, 0.5])
    """
    known = np.isfinite(values) & np.isfinite(errors)
    if not known.any():
        return np.full(at_mm.shape, np.nan), np.full(at_mm.shape, np.nan)
    read_mm = positions_mm[known]
    spacing_mm = float(np.median(np.diff(positions_mm)))
    # Each reading stands for one spacing around it: a gap's unread part is one spacing shorter, and
    # beyond the grid's two ends half a spacing is still read.
    first_mm = min(positions_mm[0] - spacing_mm, float(at_mm.min()) - 0.5 * spacing_mm)
    last_mm = max(positions_mm[-1] + spacing_mm, float(at_mm.max()) + 0.5 * spacing_mm)
    stops_mm = np.concatenate(([first_mm], read_mm, [last_mm]))
    after = np.searchsorted(stops_mm, at_mm, side="left")
    in_gap = stops_mm[after] != at_mm
    gap_mm = np.where(in_gap, stops_mm[after] - stops_mm[after - 1] - spacing_mm, 0.0)
    bounds_mm = np.concatenate(([-np.inf], read_mm, [np.inf]))
    away_mm = np.minimum(at_mm - bounds_mm[after - 1], bounds_mm[after] - at_mm)
    slack_mm = 0.01 * spacing_mm
    growth_deg = np.where(gap_mm > slack_mm, limits.bridge_error_deg_per_mm * away_mm, 0.0)
    unread = gap_mm > limits.bridge_mm + slack_mm
    filled = np.interp(at_mm, read_mm, values[known])
    error = np.interp(at_mm, read_mm, errors[known]) + growth_deg
    return np.where(unread, np.nan, filled), np.where(unread, np.nan, error)


def warp_slope(reading: BoardReading, side: str, at_mm: Float) -> tuple[Float, Float]:
    """Return a side's mid-line (mm) and its slope, against the straight line between the board's ends.

    The two opposite sides see the same warp with opposite sign while a lens bows both photos the same
    way; half their difference keeps the warp and drops the lens.

    Parameters
    ----------
    at_mm
        Shape (m,): where they are wanted.

    Returns
    -------
    line_mm, slope
        Shape (m,), up in the side's photo; zeros when neither side's mid-line is known.
    """
    pairs = ((side, 1.0), (side_opposite(side), -1.0))
    half_mm = 0.5 * reading.size.length_mm
    fits = []
    for name, sign in pairs:
        crook_mm = reading.sides[name].crook_mm
        known = np.isfinite(crook_mm)
        if known.sum() > WARP_DEGREE:
            place = reading.positions_mm[known] / half_mm - 1.0
            fits.append(sign * np.polynomial.legendre.legfit(place, crook_mm[known], WARP_DEGREE))
    if not fits:
        return np.zeros(at_mm.shape), np.zeros(at_mm.shape)
    warp = np.mean(fits, axis=0)
    place = at_mm / half_mm - 1.0
    line_mm = np.asarray(np.polynomial.legendre.legval(place, warp), dtype=np.float64)
    turned = np.polynomial.legendre.legder(warp) / half_mm
    return line_mm, np.asarray(np.polynomial.legendre.legval(place, turned), dtype=np.float64)


def _own_slope(reading: BoardReading, side: SideReading, at_mm: Float, limits: Limits) -> tuple[Float, Float]:
    """Return slope and error of what was read on a side, against the board's mid-line; NaN elsewhere."""
    if side.status != "read":
        return np.full(at_mm.shape, np.nan), np.full(at_mm.shape, np.nan)
    angle_deg, error_deg = fill_bridges(reading.positions_mm, side.angle_deg, side.angle_error_deg, at_mm, limits)
    slope: Float = np.tan(np.radians(angle_deg))
    error: Float = np.radians(error_deg) * (1.0 + slope**2)
    return slope, error


def lay_out(reading: BoardReading, lattice: Lattice, limits: Limits) -> dict[str, SideSlope]:
    """Lay the four sides out on a lattice.

    Where a side was not read, the opposite side's slope is taken with its sign turned and
    `limits.mirror_error_deg` added to its error, except on a side that is to be photographed again: that
    side counts as unread, whatever its opposite shows.

    Returns
    -------
    dict
        A `SideSlope` for each name in `service.sides.SIDES`.
    """
    at_mm = lattice.points_mm
    lines = {}
    for first in ("face_1", "edge_1"):
        line_mm, warp = warp_slope(reading, first, at_mm)
        lines[first], lines[side_opposite(first)] = (line_mm, warp), (-line_mm, -warp)
    own = {name: _own_slope(reading, reading.sides[name], at_mm, limits) for name in SIDES}
    laid = {}
    for name in SIDES:
        slope, error = own[name]
        other_slope, other_error = own[side_opposite(name)]
        read = np.isfinite(slope)
        assumed = ~read & np.isfinite(other_slope)
        widening = np.where(assumed, np.radians(limits.mirror_error_deg) * (1.0 + other_slope**2), 0.0)
        slope = np.where(read, slope, -other_slope)
        error = np.where(read, error, other_error + widening)
        line_mm, warp = lines[name]
        to_retake = reading.sides[name].status == "retake"
        unread = np.ones_like(read) if to_retake else ~(read | assumed)
        laid[name] = SideSlope(slope + warp, error, widening, assumed, unread, read, line_mm)
    return laid
