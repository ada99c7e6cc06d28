"""Where along the board a section keeps to the limits, and how well: every start tried at once.

A slope counts as its mean over 76 mm, and only such stretches count as lie wholly inside the section:
what is cut away does not matter. Everything is told as a share of the limits: 1 is just inside.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from service.board.types import BoardReading
from service.judge.combined import Bounds, bound_faces, running_mean, shares_of_limits
from service.judge.lattice import Lattice, SideSlope, lay_out, make_lattice
from service.judge.limits import Limits
from service.sides import FACES, SIDES

Float = NDArray[np.float64]
Bool = NDArray[np.bool_]


@dataclass(frozen=True)
class Means:
    """Slopes of a side averaged over 76 mm, at each middle of `Lattice.centres_mm`; zero where unknown.

    `widening` is the part of `error` that is there only because the opposite side was taken.
    """

    slope: Float
    error: Float
    widening: Float


@dataclass(frozen=True)
class Slopes:
    """The four sides ready to be searched for one bow length."""

    lattice: Lattice
    laid: dict[str, SideSlope]
    means: dict[str, Means]
    chords: dict[str, Float]


@dataclass(frozen=True)
class Search:
    """What each section holds; rows are the face taken as the back, columns the starts.

    Attributes
    ----------
    measured, upper, lower
        Shape (2, starts): the largest share of a limit used in the section, as measured and at the two
        ends of the 95 % interval. Unread wood adds nothing to any of them: see `unread_mm`.
    unread_mm, assumed_mm
        Shape (starts,): length of wood, summed over the sides, that is unread, or taken from the
        opposite side.
    knots
        Shape (starts,): number of knots that touch the section.
    clearance_mm
        Shape (starts,): how far the section stays from the nearest bad wood or end of the board.
    """

    slopes: Slopes
    measured: Float
    upper: Float
    lower: Float
    unread_mm: Float
    assumed_mm: Float
    knots: NDArray[np.int64]
    clearance_mm: Float


def prepare(reading: BoardReading, bow_length_mm: float, limits: Limits, step_mm: float | None = None) -> Slopes:
    """Lay out and average the four sides for sections of one length, which must fit in the board."""
    step = limits.start_step_mm if step_mm is None else step_mm
    lattice = make_lattice(reading.size.length_mm, bow_length_mm, step, limits.mean_length_mm)
    laid = lay_out(reading, lattice, limits)
    means, chords = {}, {}
    for name in SIDES:
        slope = running_mean(laid[name].slope, lattice.mean_steps)
        error = running_mean(laid[name].error, lattice.mean_steps)
        widening = running_mean(laid[name].widening, lattice.mean_steps)
        means[name] = Means(np.nan_to_num(slope), np.nan_to_num(error), widening)
        line_mm = laid[name].line_mm
        chords[name] = (line_mm[lattice.section_steps :] - line_mm[: -lattice.section_steps]) / (
            lattice.section_steps * lattice.step_mm
        )
    return Slopes(lattice, laid, means, chords)


def section_bounds(slopes: Slopes, start: int, *, widened: bool = True) -> dict[str, Bounds]:
    """Return the combined slopes inside one section, at each of its stretches' middles.

    Parameters
    ----------
    widened
        Whether the error counts that is there only because an opposite side was taken.
    """
    lattice = slopes.lattice
    inside = slice(start, start + lattice.section_steps - lattice.mean_steps + 1)
    slope = {name: slopes.means[name].slope[inside] - slopes.chords[name][start] for name in SIDES}
    error = {name: slopes.means[name].error[inside] for name in SIDES}
    if not widened:
        error = {name: error[name] - slopes.means[name].widening[inside] for name in SIDES}
    return bound_faces(slope, error)


def section_centres_mm(slopes: Slopes, start: int) -> Float:
    """Return the middles that `section_bounds` speaks of."""
    lattice = slopes.lattice
    return lattice.centres_mm[start : start + lattice.section_steps - lattice.mean_steps + 1]


def knot_spans(reading: BoardReading) -> list[tuple[str, float, float]]:
    """List every knot as (side, from_mm, to_mm), in order along the board."""
    spans = [(name, knot.from_mm, knot.to_mm) for name in SIDES for knot in reading.sides[name].knots]
    return sorted(spans, key=lambda span: (span[1], span[2], span[0]))


def search(reading: BoardReading, slopes: Slopes, limits: Limits) -> Search:
    """Weigh every start of a section."""
    lattice = slopes.lattice
    width = lattice.section_steps - lattice.mean_steps + 1
    slope = {n: sliding_window_view(slopes.means[n].slope, width) - slopes.chords[n][:, None] for n in SIDES}
    error = {n: sliding_window_view(slopes.means[n].error, width) for n in SIDES}
    bounds = bound_faces(slope, error)
    measured, upper, lower = (
        shares_of_limits({face: getattr(bounds[face], end).max(axis=1) for face in FACES}, limits)
        for end in ("measured", "upper", "lower")
    )
    unread = np.sum([slopes.laid[name].unread for name in SIDES], axis=0)
    assumed = np.sum([slopes.laid[name].assumed & ~slopes.laid[name].unread for name in SIDES], axis=0)
    starts_mm = lattice.points_mm[: -lattice.section_steps]
    ends_mm = lattice.points_mm[lattice.section_steps :]
    knots = np.zeros(starts_mm.shape, dtype=np.int64)
    for _, from_mm, to_mm in knot_spans(reading):
        knots += (from_mm - limits.knot_margin_mm < ends_mm) & (to_mm + limits.knot_margin_mm > starts_mm)
    return Search(
        slopes,
        measured,
        upper,
        lower,
        _sum_inside(unread, lattice),
        _sum_inside(assumed, lattice),
        knots,
        _clearance_mm(reading, slopes, limits),
    )


def _sum_inside(counts: NDArray[np.int64], lattice: Lattice) -> Float:
    """Sum counts over the points of each section and turn them into a length."""
    sums = np.concatenate(([0], np.cumsum(counts)))
    return (sums[lattice.section_steps + 1 :] - sums[: -lattice.section_steps - 1]) * lattice.step_mm


def _clearance_mm(reading: BoardReading, slopes: Slopes, limits: Limits) -> Float:
    """Return each section's distance to the nearest bad wood outside it, or end of the board, in millimetres."""
    lattice = slopes.lattice
    bounds = bound_faces(
        {name: slopes.means[name].slope for name in SIDES}, {name: slopes.means[name].error for name in SIDES}
    )
    steep = np.minimum(bounds["face_1"].measured, bounds["face_2"].measured) > limits.back_slope
    bad = np.any([slopes.laid[name].unread for name in SIDES], axis=0)
    # A steep mean says only that its stretch is steep as a whole: its middle stands for it, or the two
    # points beside the middle, for the sake of boards turned end for end.
    for middle in (lattice.mean_steps // 2, (lattice.mean_steps + 1) // 2):
        bad[middle : middle + steep.size] |= steep
    points_mm = lattice.points_mm
    for _, from_mm, to_mm in knot_spans(reading):
        bad |= (points_mm >= from_mm) & (points_mm <= to_mm)
    before_mm = np.maximum.accumulate(np.where(bad, points_mm, 0.0))
    after_mm = np.minimum.accumulate(np.where(bad, points_mm, reading.size.length_mm)[::-1])[::-1]
    starts_mm = points_mm[: -lattice.section_steps]
    ends_mm = points_mm[lattice.section_steps :]
    return np.minimum(starts_mm - before_mm[: starts_mm.size], after_mm[lattice.section_steps :] - ends_mm)
