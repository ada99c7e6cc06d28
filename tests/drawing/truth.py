"""What is true of a made-up board, in the words and signs that the answer uses."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.sides import SIDES, side_above, side_below
from tests.drawing.solid import Solid, knot_radius, line_slope_on_side, on_side, slope_on_side

Array = NDArray[Any]
Truth = dict[str, Any]

#: Positions of the truth, every half inch.
STEP_MM: Final = 12.7
_TENTHS: Final = np.arange(1, 10) / 10
_FOLLOW_MM: Final = 2.0


def positions_mm(solid: Solid) -> Array:
    """Return the positions the truth is given at."""
    return np.arange(0.0, solid.length_mm + 1e-6, STEP_MM)


def mean_slope(solid: Solid, side: str, along_mm: Array) -> Array:
    """Return the fibre's slope on a side in the mean over its width, knots left out; NaN where all is knot."""
    up = solid.across_mm(side) * (np.arange(40)[:, None] + 0.5) / 40
    slope = np.broadcast_to(slope_on_side(solid, side, along_mm[None, :], up), (40, along_mm.size)).copy()
    y_mm, z_mm = on_side(solid, side, up)
    for knot in solid.knots:
        slope[knot_radius(knot, along_mm[None, :], y_mm, z_mm) < 1] = np.nan
    count = np.isfinite(slope).sum(axis=0)
    return np.where(count > 0, np.nansum(slope, axis=0) / np.maximum(count, 1), np.nan)


def runoffs(solid: Solid, side: str) -> list[Truth]:
    """Follow nine fibre lines from the marked end until they leave the side (Heun's rule)."""
    across = solid.across_mm(side)
    along, up = 0.0, across * _TENTHS
    found: dict[int, Truth] = {}
    while along < solid.length_mm and len(found) < 9:
        step = min(_FOLLOW_MM, solid.length_mm - along)
        here = slope_on_side(solid, side, np.full(9, along), up)
        there = slope_on_side(solid, side, np.full(9, along + step), up + step * here)
        slope = (here + there) / 2
        new = up + step * slope
        for line in np.flatnonzero((new <= 0) | (new >= across)):
            if int(line) + 1 not in found:
                border = across if new[line] >= across else 0.0
                found[int(line) + 1] = {
                    "position_mm": round(float(along + (border - up[line]) / slope[line]), 1),
                    "over": side_above(side) if border else side_below(side),
                    "slope": round(float(slope[line]), 5),
                    "line": int(line) + 1,
                }
        along, up = along + step, np.where((up <= 0) | (up >= across), up, new)
    return [found[line] for line in sorted(found)]


def knots_on_side(solid: Solid, side: str) -> list[Truth]:
    """Return the rectangles around the knots that come out on a side."""
    boxes = []
    up = np.linspace(0.0, solid.across_mm(side), 400)[:, None]
    y_mm, z_mm = on_side(solid, side, up)
    for knot in solid.knots:
        along = np.linspace(-2, 2, 801)[None, :] * knot.radius_mm + knot.position_mm
        inside = knot_radius(knot, along, y_mm, z_mm) < 1
        if inside.any():
            rows, cols = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
            box = (along[0, cols[0]], along[0, cols[-1]], up[rows[0], 0], up[rows[-1], 0])
            names = ("from_mm", "to_mm", "across_from_mm", "across_to_mm")
            boxes.append({name: round(float(value), 1) for name, value in zip(names, box, strict=True)})
    return boxes


def _rounded(values: Array, digits: int = 3) -> list[float | None]:
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]


def side_truth(solid: Solid, side: str) -> Truth:
    """Return what is true of one side."""
    along = positions_mm(solid)
    middle = np.full(along.shape, solid.across_mm(side) / 2)
    return {
        "width_mm": solid.across_mm(side),
        "positions_mm": _rounded(along, 1),
        "angle_deg": _rounded(np.degrees(np.arctan(mean_slope(solid, side, along)))),
        "ring_deg_mid": _rounded(np.degrees(np.arctan(line_slope_on_side(solid, side, along, middle)))),
        "runoffs": runoffs(solid, side),
        "knots": knots_on_side(solid, side),
        "crook_mm": _rounded(solid.crook_at(side, along), 2),
    }


def truth_of(solid: Solid) -> Truth:
    """Return what is true of a board: its size, four sides and rings."""
    normal_y, normal_z = solid.normal_yz
    return {
        "length_mm": round(solid.length_mm, 3),
        "width_mm": solid.width_mm,
        "thickness_mm": solid.thickness_mm,
        "look": solid.look.name,
        "sides": {side: side_truth(solid, side) for side in SIDES},
        "rings": {
            "pith_mm": [round(value, 1) for value in solid.pith_mm],
            "normal_at_middle_yz": [round(normal_y, 4), round(normal_z, 4)],
            "tilt_deg": round(float(np.degrees(np.arccos(abs(normal_z)))), 2),
        },
    }
