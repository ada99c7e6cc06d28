"""Where along the board a section keeps to the limits, and how well: every start tried at once.

A slope counts as its mean over 76 mm (`Limits.mean_length_mm`), and only such stretches count as lie wholly inside the
section: what is cut away does not matter. Everything is told as a share of the limits: 1 is just inside.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.board.types import BoardReading
from service.judge.branches import KnotSpan, knot_spans
from service.judge.combined import Bounds, bound_faces, running_mean
from service.judge.lattice import Lattice, SideSlope, lay_out, make_lattice
from service.judge.limits import Limits
from service.judge.placing import MOST_LOST, make_ground, place, touching
from service.judge.shape import BowShape
from service.judge.worst import DIGITS, TURN_SIGN, Shares, worst_shares
from service.sides import SIDES

Float = NDArray[np.float64]
Bool = NDArray[np.bool_]
Int = NDArray[np.int64]


@dataclass(frozen=True)
class Means:
    """Slopes of a side averaged over 76 mm, at each middle of `Lattice.centres_mm`; zero where unknown.

    `widening` is the part of `error` that is there only because the opposite side was taken.
    """

    slope: Float
    error: Float
    widening: Float


@dataclass(frozen=True)
class Wood:
    """The four sides laid out and averaged, for bows of any length.

    Attributes
    ----------
    lattice
        Of sections as long as the board.
    before_mm, after_mm
        Shape (count,): the nearest bad wood, or end of what may be used, before and after each point.
    """

    lattice: Lattice
    laid: dict[str, SideSlope]
    means: dict[str, Means]
    before_mm: Float
    after_mm: Float


@dataclass(frozen=True)
class Slopes:
    """The four sides ready to be searched for one bow length.

    Attributes
    ----------
    chords
        Side name to shape (starts,): the slope of the straight line between the two points where a section's
        ends cross the side's mid-line.
    """

    wood: Wood
    lattice: Lattice
    means: dict[str, Means]
    chords: dict[str, Float]

    @property
    def laid(self) -> dict[str, SideSlope]:
        """The sides on the lattice."""
        return self.wood.laid


@dataclass(frozen=True)
class Lay:
    """How a bow lies in the board at each start.

    Attributes
    ----------
    turn
        Shape (starts,): slope of its centre line against the chord of its section, up as face 1 shows it.
    offset_mm
        Shape (starts,): how far its centre line lies above that chord at its middle.
    knots
        Shape (starts,): number of knots that touch it.
    lost_mm
        Shape (starts,): how much of its width the bend of the board takes.
    fits
        Shape (starts,), bool: whether what is left of it is still that bow.
    shape
        The bow; None for one as wide as the board.
    """

    turn: Float
    offset_mm: Float
    knots: Int
    lost_mm: Float
    fits: Bool
    shape: BowShape | None = None


@dataclass(frozen=True)
class Search:
    """What each section holds; rows are the face taken as the back, columns the starts.

    Attributes
    ----------
    lay
        How the bow lies in the board at each start.
    measured, upper, lower
        Shape (2, starts): the largest share of a limit used in the section, as measured and at the two
        ends of the 95 % interval. Unread wood adds nothing to any of them: see `unread_mm`.
    unread_mm, assumed_mm
        Shape (starts,): length of wood, summed over the sides, that is unread, or taken from the
        opposite side.
    allowed
        Shape (starts,), bool: whether the section stays clear of trimmed and cracked ends.
    clearance_mm
        Shape (starts,): how far the section stays from the nearest bad wood or end of the board.
    """

    slopes: Slopes
    lay: Lay
    measured: Float
    upper: Float
    lower: Float
    unread_mm: Float
    assumed_mm: Float
    allowed: Bool
    clearance_mm: Float
    board_width_mm: float

    @property
    def knots(self) -> Int:
        """Shape (starts,): number of knots that touch the section."""
        return self.lay.knots

    @property
    def width_mm(self) -> float:
        """Width of the bow, which is the board's when no other was asked for."""
        return self.board_width_mm if self.lay.shape is None else self.lay.shape.width_mm


def lay_wood(reading: BoardReading, limits: Limits, step_mm: float | None = None) -> Wood:
    """Lay out and average the four sides.

    Parameters
    ----------
    step_mm
        Wanted spacing of the lattice; `limits.start_step_mm` when not told.
    """
    length_mm = reading.size.length_mm
    step = limits.start_step_mm if step_mm is None else step_mm
    lattice = make_lattice(length_mm, length_mm, step, limits.mean_length_mm)
    laid = lay_out(reading, lattice, limits)
    means = _average(laid, lattice.mean_steps)
    return Wood(lattice, laid, means, *_bad_wood(reading, lattice, laid, means, limits))


def _average(laid: dict[str, SideSlope], steps: int) -> dict[str, Means]:
    means = {}
    for name, side in laid.items():
        slope, error, widening = (running_mean(values, steps) for values in (side.slope, side.error, side.widening))
        means[name] = Means(np.nan_to_num(slope), np.nan_to_num(error), widening)
    return means


def prepare(wood: Wood, bow_length_mm: float, limits: Limits) -> Slopes:
    """Make the wood ready for sections of one length, which must fit in the board."""
    board_mm = float(wood.lattice.points_mm[-1])
    lattice = make_lattice(board_mm, bow_length_mm, wood.lattice.step_mm, limits.mean_length_mm)
    same = lattice.mean_steps == wood.lattice.mean_steps
    means = wood.means if same else _average(wood.laid, lattice.mean_steps)
    length_mm = lattice.section_steps * lattice.step_mm
    chords = {
        name: (side.line_mm[lattice.section_steps :] - side.line_mm[: -lattice.section_steps]) / length_mm
        for name, side in wood.laid.items()
    }
    return Slopes(wood, lattice, means, chords)


def straight_lay(reading: BoardReading, slopes: Slopes, limits: Limits) -> Lay:
    """Lay a bow as wide as the board along the chord of each section; every knot beside it touches it."""
    lattice = slopes.lattice
    starts_mm = lattice.points_mm[: -lattice.section_steps]
    ends_mm = lattice.points_mm[lattice.section_steps :]
    knots = np.zeros(starts_mm.shape, dtype=np.int64)
    for _, from_mm, to_mm in knot_spans(reading):
        knots += (from_mm - limits.knot_margin_mm < ends_mm) & (to_mm + limits.knot_margin_mm > starts_mm)
    ground = replace(make_ground(reading, lattice, slopes.laid["face_1"].line_mm), branches=())
    shape = BowShape(lattice.section_mm, reading.size.width_mm)
    straight = np.zeros(starts_mm.shape)
    placed = place(ground, shape, np.arange(starts_mm.size), straight, limits)
    fits = placed.lost_mm <= MOST_LOST * shape.width_mm
    return Lay(straight, placed.offset_mm, knots, placed.lost_mm, fits)


def line_slope(slopes: Slopes, lay: Lay, name: str) -> Float:
    """Return the slope of the bow's centre line at each start, up in a side's photo, shape (starts,).

    A turn in the board's face shows on the faces only, mirrored on face 2.
    """
    return slopes.chords[name] + TURN_SIGN[name] * lay.turn


def section_bounds(found: Search, start: int, *, widened: bool = True) -> dict[str, Bounds]:
    """Return the combined slopes inside one section, at each of its stretches' middles.

    Parameters
    ----------
    widened
        Whether the error counts that is there only because an opposite side was taken.
    """
    slopes, lattice = found.slopes, found.slopes.lattice
    inside = slice(start, start + lattice.section_steps - lattice.mean_steps + 1)
    slope = {name: slopes.means[name].slope[inside] - line_slope(slopes, found.lay, name)[start] for name in SIDES}
    error = {name: slopes.means[name].error[inside] for name in SIDES}
    if not widened:
        error = {name: error[name] - slopes.means[name].widening[inside] for name in SIDES}
    return bound_faces(slope, error)


def section_centres_mm(slopes: Slopes, start: int) -> Float:
    """Return the middles that `section_bounds` speaks of."""
    lattice = slopes.lattice
    return lattice.centres_mm[start : start + lattice.section_steps - lattice.mean_steps + 1]


def shares_used(slopes: Slopes, starts: Int, turn: Float, limits: Limits, stride: int = 1) -> Shares:
    """Look through whole sections for the largest share of a limit; see `worst_shares`.

    Parameters
    ----------
    starts
        Shape (n,): numbers of the sections' starts.
    turn
        Shape (n,) or (k, n): the bow's slope against their chords.
    stride
        Only every so many stretches are looked at.
    """
    lattice = slopes.lattice
    return worst_shares(
        {name: slopes.means[name].slope for name in SIDES},
        {name: slopes.means[name].error for name in SIDES},
        {name: slopes.chords[name][starts] for name in SIDES},
        starts,
        turn,
        lattice.section_steps - lattice.mean_steps + 1,
        limits,
        stride,
    )


def search(reading: BoardReading, slopes: Slopes, lay: Lay, limits: Limits) -> Search:
    """Weigh every start of a section, the bow lying in it as told."""
    lattice = slopes.lattice
    starts = np.arange(lattice.count - lattice.section_steps)
    shares = shares_used(slopes, starts, lay.turn, limits)
    unread = np.sum([slopes.laid[name].unread for name in SIDES], axis=0)
    assumed = np.sum([slopes.laid[name].assumed & ~slopes.laid[name].unread for name in SIDES], axis=0)
    return Search(
        slopes,
        lay,
        shares.measured,
        shares.upper,
        shares.lower,
        _sum_inside(unread, lattice),
        _sum_inside(assumed, lattice),
        _allowed(reading, lattice, limits),
        _clearance_mm(slopes),
        reading.size.width_mm,
    )


def knots_in_bow(reading: BoardReading, found: Search, start: int, limits: Limits) -> list[KnotSpan]:
    """List the knots that touch the bow in one section as (side, from_mm, to_mm), in order along the board."""
    lattice, shape, lay = found.slopes.lattice, found.lay.shape, found.lay
    start_mm, margin_mm = float(lattice.points_mm[start]), limits.knot_margin_mm
    end_mm = start_mm + lattice.section_steps * lattice.step_mm
    inside = [span for span in knot_spans(reading) if span[1] - margin_mm < end_mm and span[2] + margin_mm > start_mm]
    if shape is None:
        return inside
    ground = make_ground(reading, lattice, found.slopes.laid["face_1"].line_mm)
    touched = touching(ground, shape, start, float(lay.turn[start]), float(lay.offset_mm[start]), limits)
    named = {knot for branch in touched for knot in branch.knots}
    return [span for span in inside if span in named]


def usable_mm(reading: BoardReading, limits: Limits) -> tuple[float, float]:
    """Return where the wood begins and ends from which a bow may be cut: past trimmed and cracked ends."""
    marked_mm, far_mm = (max(check_mm, limits.end_trim_mm) for check_mm in reading.end_checks_mm)
    return marked_mm, reading.size.length_mm - far_mm


def _allowed(reading: BoardReading, lattice: Lattice, limits: Limits) -> Bool:
    """Tell which starts keep clear of trimmed and cracked ends; the nearest one where the lattice has none."""
    first_mm, last_mm = usable_mm(reading, limits)
    short_mm = np.maximum(first_mm - lattice.starts_mm, lattice.starts_mm + lattice.section_mm - last_mm)
    allowed: Bool = short_mm <= max(float(short_mm.min()), 0.0) + 1e-6
    return allowed


def _sum_inside(counts: NDArray[np.int64], lattice: Lattice) -> Float:
    """Sum counts over the points of each section and turn them into a length."""
    sums = np.concatenate(([0], np.cumsum(counts)))
    return (sums[lattice.section_steps + 1 :] - sums[: -lattice.section_steps - 1]) * lattice.step_mm


def _bad_wood(
    reading: BoardReading, lattice: Lattice, laid: dict[str, SideSlope], means: dict[str, Means], limits: Limits
) -> tuple[Float, Float]:
    """Return the nearest bad wood, or end of what may be used, before and after each point of the lattice."""
    bounds = bound_faces({name: means[name].slope for name in SIDES}, {name: means[name].error for name in SIDES})
    share = np.minimum(bounds["face_1"].measured, bounds["face_2"].measured) / limits.back_slope
    steep = np.round(share, DIGITS) > 1.0
    bad = np.any([laid[name].unread for name in SIDES], axis=0)
    # A steep mean says only that its stretch is steep as a whole: its middle stands for it, or the two
    # points beside the middle, for the sake of boards turned end for end.
    for middle in (lattice.mean_steps // 2, (lattice.mean_steps + 1) // 2):
        bad[middle : middle + steep.size] |= steep
    points_mm = lattice.points_mm
    for _, from_mm, to_mm in knot_spans(reading):
        bad |= (points_mm >= from_mm) & (points_mm <= to_mm)
    first_mm, last_mm = usable_mm(reading, limits)
    before_mm = np.maximum.accumulate(np.where(bad, points_mm, first_mm))
    after_mm = np.minimum.accumulate(np.where(bad, points_mm, last_mm)[::-1])[::-1]
    return before_mm, after_mm


def _clearance_mm(slopes: Slopes) -> Float:
    """Return each section's distance to the nearest bad wood outside it, or end of the board, in millimetres."""
    wood, steps, points_mm = slopes.wood, slopes.lattice.section_steps, slopes.lattice.points_mm
    return np.minimum((points_mm - wood.before_mm)[:-steps], (wood.after_mm - points_mm)[steps:])
