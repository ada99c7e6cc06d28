"""Slopes of grain averaged along a side, combined in space, and set against the limits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.judge.limits import Limits
from service.sides import EDGES, FACES, SIDES

Float = NDArray[np.float64]


def combine(face_slope: Float, edge_slope: Float) -> Float:
    """Combine the slopes of grain on two adjacent sides into the slope in space.

    slope = sqrt(face_slope**2 + edge_slope**2)

    Parameters
    ----------
    face_slope, edge_slope
        Rise over length, any shapes that fit together.

    References
    ----------
    ANC-19, Wood Aircraft Inspection and Fabrication (1943), section 2.302 and Table 2-11.

    >>> round(1 / float(combine(np.array(1 / 15), np.array(1 / 20))), 3)
    12.0
    """
    # Slopes are neither tiny nor huge, so the slow care of hypot is not needed.
    combined: Float = np.sqrt(face_slope * face_slope + edge_slope * edge_slope)
    return combined


def running_mean(values: Float, steps: int) -> Float:
    """Average over every stretch of a number of steps; NaN where a stretch holds a NaN.

    Parameters
    ----------
    values
        Shape (n,), evenly spaced.
    steps
        Steps in a stretch; its two end points count half (trapezium rule).

    Returns
    -------
    ndarray, shape (n - steps,)

    >>> running_mean(np.array([0.0, 1.0, 2.0, np.nan, 4.0]), 2).tolist()
    [1.0, nan, nan]
    """
    known = np.isfinite(values)
    halves = 0.5 * (np.where(known, values, 0.0)[1:] + np.where(known, values, 0.0)[:-1])
    sums = np.concatenate(([0.0], np.cumsum(halves)))
    gaps = np.concatenate(([0], np.cumsum(~known)))
    means = (sums[steps:] - sums[:-steps]) / steps
    return np.where(gaps[steps + 1 :] > gaps[: -steps - 1], np.nan, means)


@dataclass(frozen=True)
class Bounds:
    """Combined slope on a face, as measured and at the two ends of its 95 % interval."""

    measured: Float
    upper: Float
    lower: Float


def bound_faces(slope: dict[str, Float], error: dict[str, Float]) -> dict[str, Bounds]:
    """Combine each face with the larger of the two edges, with the 95 % interval.

    Two bounds hold at once and the tighter is taken: the corner of the box of the two errors, and the
    combined slope moved by the larger error. Both grow with either slope and either error, so a
    worse board or a worse reading never looks better; the usual quadrature has not that property.

    Parameters
    ----------
    slope, error
        Side name to rise over length against the section's centre line and its half-width; all of
        one shape.
    """
    steep = {name: np.abs(slope[name]) for name in SIDES}
    first, second = EDGES
    edge = np.maximum(steep[first], steep[second])
    edge_upper = np.maximum(steep[first] + error[first], steep[second] + error[second])
    edge_lower = np.maximum(np.maximum(steep[first] - error[first], steep[second] - error[second]), 0.0)
    edge_error = np.maximum(error[first], error[second])
    bounds = {}
    for face in FACES:
        measured = combine(steep[face], edge)
        reach = np.maximum(error[face], edge_error)
        upper = np.minimum(combine(steep[face] + error[face], edge_upper), measured + reach)
        lower = np.maximum(combine(np.maximum(steep[face] - error[face], 0.0), edge_lower), measured - reach)
        bounds[face] = Bounds(measured, upper, lower)
    return bounds


def shares_of_limits(worst: dict[str, Float], limits: Limits) -> Float:
    """Return the share of the limits used when each face in turn is the back.

    >>> worst = {"face_1": np.array([0.04]), "face_2": np.array([0.06])}
    >>> shares_of_limits(worst, Limits()).round(2).tolist()
    [[0.8], [1.2]]
    """
    first, second = worst["face_1"], worst["face_2"]
    return np.stack(
        [
            np.maximum(first / limits.back_slope, second / limits.belly_slope),
            np.maximum(second / limits.back_slope, first / limits.belly_slope),
        ]
    )
