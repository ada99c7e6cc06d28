"""A made-up board as a solid: where its fibres run and where its growth rings lie, exactly.

Axes: `along` from the marked end, `y` up in face 1's photo from its lower corner, `z` out of
face 1 from face 2 (right-handed). All lengths are millimetres, all slopes ratios.

A fibre is the line that keeps its place in the tree: the cross-section at the marked end is moved
across the rings (diagonal grain) and turned about the pith (spiral grain) as the position grows.
The turn may change with the distance from the pith (interlocked grain), never the distance itself:
growth rings are circles about the pith of the moved and turned cross-section, so fibres lie in the
ring surfaces by construction. With n the unit vector from the pith,

    a = dy/d(along) = d n_y - s n_z        b = dz/d(along) = d n_z + s n_y

holds at the middle of the cross-section for the given diagonal d and spiral s. Knots push the
cross-section aside as a cylinder pushes a stream, fibres and rings alike.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from service.sides import FACES, SIDES
from tests.drawing.looks import PALE, Look

Array = NDArray[Any]

#: (position_mm, slope) points, joined smoothly and held constant beyond the first and the last.
Profile = tuple[tuple[float, float], ...]

#: Share of a stream's full deflection round a knot; the rest of the fibres end in the knot.
_DEFLECTION = 0.75
#: How much longer than wide a knot and the wood turned by it are.
_KNOT_LENGTH = 1.5
_GRID_MM = 1.0


@dataclass(frozen=True)
class Knot:
    """A branch through the board: its place, the way it runs (unit vector in y, z) and its radius.

    `tone` is the value of its wood, `rim` how much darker its bark ring is, `halo` how much darker
    the wood beside it.
    """

    position_mm: float
    y_mm: float
    z_mm: float
    axis_yz: tuple[float, float]
    radius_mm: float
    tone: float = 0.30
    rim: float = 0.22
    halo: float = 0.16


@dataclass(frozen=True)
class Solid:
    """A made-up board.

    Attributes
    ----------
    seed
        Decides every chance detail that is no geometry: ring widths, pores, dirt.
    length_mm, width_mm, thickness_mm
        Its size.
    pith_mm
        Middle of the tree (y, z) in the cross-section at the marked end.
    diagonal, spiral
        Slope across the rings and slope within the ring surface at the middle of the
        cross-section, as profiles along the board.
    knots
        Branches through it.
    spiral_per_mm
        By which share the twist grows per millimetre of distance from the pith.
    crook_mm, bow_mm
        Height of the arc of the mid-line in face 1's photo (up) and in edge 1's photo (up).
    look
        The kind of wood.
    """

    seed: int
    length_mm: float
    width_mm: float
    thickness_mm: float
    pith_mm: tuple[float, float]
    diagonal: Profile
    spiral: Profile
    knots: tuple[Knot, ...] = field(default=())
    crook_mm: float = 0.0
    bow_mm: float = 0.0
    look: Look = PALE
    spiral_per_mm: float = 0.0

    def across_mm(self, side: str) -> float:
        """Return how wide a side is."""
        return self.width_mm if side in FACES else self.thickness_mm

    @property
    def reach_mm(self) -> float:
        """Distance from the pith to the middle of the cross-section at the marked end."""
        return float(np.hypot(self.width_mm / 2 - self.pith_mm[0], self.thickness_mm / 2 - self.pith_mm[1]))

    def twist_share(self, radius_mm: Array) -> Array:
        """Return the twist at distances from the pith, as a share of that at the middle of the marked end."""
        return 1 + self.spiral_per_mm * (radius_mm - self.reach_mm)

    @property
    def normal_yz(self) -> tuple[float, float]:
        """Unit vector from the pith to the middle of the cross-section."""
        y, z = self.width_mm / 2 - self.pith_mm[0], self.thickness_mm / 2 - self.pith_mm[1]
        return y / self.reach_mm, z / self.reach_mm

    def crook_at(self, side: str, along_mm: Array) -> Array:
        """Mid-line of a side above the straight line between its ends, up in its photo."""
        height = self.crook_mm if side in FACES else self.bow_mm
        return _turned(side) * _arc(height, along_mm, self.length_mm)

    def lift_at(self, side: str, along_mm: Array) -> Array:
        """How far a side stands out of the plane through its ends, toward the camera."""
        height = self.bow_mm if side in FACES else -self.crook_mm
        return _turned(side) * _arc(height, along_mm, self.length_mm)


class Paths(NamedTuple):
    """What moves along the board: rings moved by `drift`, turned by `turn`, and both per length."""

    drift_mm: Array
    diagonal: Array
    turn_rad: Array
    twist_per_mm: Array


class Place(NamedTuple):
    """Where in the tree points sit: y, z from the pith, at their own cross-section and at the fibre's start."""

    y_here: Array
    z_here: Array
    y_start: Array
    z_start: Array


def _turned(side: str) -> int:
    """Return -1 for the sides whose photo shows y or z pointing down."""
    return 1 if SIDES.index(side) < 2 else -1


def _arc(height_mm: float, along_mm: Array, length_mm: float) -> Array:
    share = np.asarray(along_mm) / length_mm
    return 4 * height_mm * share * (1 - share)


def _profile(points: Profile, along_mm: Array) -> Array:
    if len(points) == 1:
        return np.full(along_mm.shape, points[0][1])
    positions, slopes = np.array(points, dtype=np.float64).T
    held = np.clip(along_mm, positions[0], positions[-1])
    return np.asarray(PchipInterpolator(positions, slopes)(held))


def _running_integral(values: Array) -> Array:
    steps = (values[1:] + values[:-1]) * (_GRID_MM / 2)
    return np.concatenate([[0.0], np.cumsum(steps)])


@lru_cache(maxsize=32)
def _grid(solid: Solid) -> tuple[Array, Paths]:
    along = np.arange(0.0, solid.length_mm + 2 * _GRID_MM, _GRID_MM)
    diagonal = _profile(solid.diagonal, along)
    drift = _running_integral(diagonal)
    reach = solid.reach_mm - drift
    if reach.min() < 10.0:
        raise ValueError("the rings run so steeply that the board would leave the tree through its pith")
    twist = _profile(solid.spiral, along) / (reach * solid.twist_share(reach))
    return along, Paths(drift, diagonal, _running_integral(twist), twist)


def paths(solid: Solid, along_mm: Array) -> Paths:
    """Return drift, diagonal slope, turn and twist at positions along the board."""
    grid, on_grid = _grid(solid)
    return Paths(*(np.interp(along_mm, grid, values) for values in on_grid))


def _push(knot: Knot, along_mm: Array, y_mm: Array, z_mm: Array) -> tuple[Array, Array, Array]:
    """Return the sideways push of a knot and its derivatives along the board and sideways."""
    side_y, side_z = -knot.axis_yz[1], knot.axis_yz[0]
    ahead = (along_mm - knot.position_mm) / _KNOT_LENGTH
    aside = side_y * (y_mm - knot.y_mm) + side_z * (z_mm - knot.z_mm)
    square = ahead**2 + aside**2
    inside = square < knot.radius_mm**2
    square = np.where(inside, knot.radius_mm**2, square)
    share = _DEFLECTION * knot.radius_mm**2 / square
    per_ahead = np.where(inside, 0.0, 2 * aside * share * ahead / square / _KNOT_LENGTH)
    per_aside = np.where(inside, -share, share * (2 * aside**2 / square - 1))
    return -aside * share, per_ahead, per_aside


def knot_radius(knot: Knot, along_mm: Array, y_mm: Array, z_mm: Array) -> Array:
    """Return the distance from a knot's middle line in knot radii: below 1 is inside it."""
    ahead = (along_mm - knot.position_mm) / _KNOT_LENGTH
    aside = -knot.axis_yz[1] * (y_mm - knot.y_mm) + knot.axis_yz[0] * (z_mm - knot.z_mm)
    return np.hypot(ahead, aside) / knot.radius_mm


def place(solid: Solid, along_mm: Array, y_mm: Array, z_mm: Array) -> Place:
    """Return where points of the solid sit in the tree; arrays broadcast against each other."""
    path = paths(solid, along_mm)
    moved_y, moved_z = y_mm, z_mm
    for knot in solid.knots:
        push, _, _ = _push(knot, along_mm, y_mm, z_mm)
        moved_y = moved_y - knot.axis_yz[1] * push
        moved_z = moved_z + knot.axis_yz[0] * push
    normal_y, normal_z = solid.normal_yz
    y_here = moved_y - (solid.pith_mm[0] + normal_y * path.drift_mm)
    z_here = moved_z - (solid.pith_mm[1] + normal_z * path.drift_mm)
    turn = path.turn_rad * solid.twist_share(np.hypot(y_here, z_here))
    cos, sin = np.cos(turn), np.sin(turn)
    return Place(y_here, z_here, cos * y_here + sin * z_here, cos * z_here - sin * y_here)


def _stretch(solid: Solid, along_mm: Array, y_mm: Array, z_mm: Array) -> Array:
    """Return the derivatives of the knots' push, shape (2, 3, ...): of y and z by along, y, z."""
    shape = np.broadcast_shapes(np.shape(along_mm), np.shape(y_mm), np.shape(z_mm))
    total = np.zeros((2, 3, *shape))
    for knot in solid.knots:
        _, per_ahead, per_aside = _push(knot, along_mm, y_mm, z_mm)
        side = (-knot.axis_yz[1], knot.axis_yz[0])
        for axis in (0, 1):
            total[axis, 0] += side[axis] * per_ahead
            total[axis, 1] += side[axis] * per_aside * side[0]
            total[axis, 2] += side[axis] * per_aside * side[1]
    return total


def fibre_slopes(solid: Solid, along_mm: Array, y_mm: Array, z_mm: Array) -> tuple[Array, Array]:
    """Return the fibre's slopes dy/d(along) and dz/d(along) at points of the solid.

    Examples
    --------
    Rings flat to face 1 (pith straight below it): the diagonal shows as dz, the spiral as -dy.

    >>> board = Solid(1, 2000.0, 40.0, 20.0, (20.0, -290.0), ((0.0, 0.05),), ((0.0, 0.02),))
    >>> a, b = fibre_slopes(board, np.array(0.0), np.array(20.0), np.array(10.0))
    >>> round(float(a), 6), round(float(b), 6)
    (-0.02, 0.05)
    """
    where, path = place(solid, along_mm, y_mm, z_mm), paths(solid, along_mm)
    normal_y, normal_z = solid.normal_yz
    twist = path.twist_per_mm * solid.twist_share(np.hypot(where.y_here, where.z_here))
    slope_y = path.diagonal * normal_y - twist * where.z_here
    slope_z = path.diagonal * normal_z + twist * where.y_here
    if not solid.knots:
        return slope_y, slope_z
    push = _stretch(solid, along_mm, y_mm, z_mm)
    # The straight wood's direction is the pushed wood's, carried through the push: solve for the latter.
    right_y, right_z = slope_y - push[0, 0], slope_z - push[1, 0]
    yy, yz, zy, zz = 1 + push[0, 1], push[0, 2], push[1, 1], 1 + push[1, 2]
    whole = yy * zz - yz * zy
    return (zz * right_y - yz * right_z) / whole, (yy * right_z - zy * right_y) / whole


def ring_gradient(solid: Solid, along_mm: Array, y_mm: Array, z_mm: Array) -> tuple[Array, Array, Array]:
    """Return how the distance from the pith grows along the board, along y and along z."""
    where, path = place(solid, along_mm, y_mm, z_mm), paths(solid, along_mm)
    radius = np.hypot(where.y_here, where.z_here)
    out_y, out_z = where.y_here / radius, where.z_here / radius
    normal_y, normal_z = solid.normal_yz
    push = _stretch(solid, along_mm, y_mm, z_mm)
    along = -path.diagonal * (out_y * normal_y + out_z * normal_z) + out_y * push[0, 0] + out_z * push[1, 0]
    return (
        along,
        out_y * (1 + push[0, 1]) + out_z * push[1, 1],
        out_y * push[0, 2] + out_z * (1 + push[1, 2]),
    )


def on_side(solid: Solid, side: str, up_mm: Array) -> tuple[Array, Array]:
    """Return y and z of points on a side, by their height above its lower corner.

    >>> board = Solid(1, 2000.0, 40.0, 20.0, (20.0, -290.0), ((0.0, 0.0),), ((0.0, 0.0),))
    >>> [tuple(map(float, on_side(board, side, np.array(5.0)))) for side in SIDES]
    [(5.0, 20.0), (0.0, 5.0), (35.0, 0.0), (40.0, 15.0)]
    """
    still = np.zeros_like(np.asarray(up_mm, dtype=np.float64))
    if side == "face_1":
        return up_mm, still + solid.thickness_mm
    if side == "edge_1":
        return still, up_mm
    if side == "face_2":
        return solid.width_mm - up_mm, still
    return still + solid.width_mm, solid.thickness_mm - up_mm


def slope_on_side(solid: Solid, side: str, along_mm: Array, up_mm: Array) -> Array:
    """Return the fibre's slope as a side's photo shows it: rise toward the top per length."""
    y_mm, z_mm = on_side(solid, side, up_mm)
    slope_y, slope_z = fibre_slopes(solid, along_mm, y_mm, z_mm)
    return _turned(side) * (slope_y if side in FACES else slope_z)


def line_slope_on_side(solid: Solid, side: str, along_mm: Array, up_mm: Array) -> Array:
    """Return the slope of the ring lines on a side; NaN where the rings lie flat to it and draw none."""
    y_mm, z_mm = on_side(solid, side, up_mm)
    along, by_y, by_z = ring_gradient(solid, along_mm, y_mm, z_mm)
    across = by_y if side in FACES else by_z
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = _turned(side) * -along / across
    return np.where(np.abs(across) < 0.05, np.nan, slope)
