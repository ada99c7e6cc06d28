"""What the readings of four sides add up to, before anything is judged: numbers only."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.errors import Problem
from service.grain.types import KnotBox
from service.sides import BoardSize

Float = NDArray[np.float64]

Source = Literal["closeup", "ink", "scribe"]
"""What shows the fibre itself."""


@dataclass(frozen=True)
class PhotoNote:
    """What was taken from one photo; the attributes are those of `record.PhotoUse`."""

    file: str
    outline: list[list[float]] | None
    used_mm: tuple[float, float] | None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class SideReading:
    """The fibre on one side, on the board's common grid of positions.

    Attributes
    ----------
    status
        "read", "missing" (no photo given) or "retake" (given, could not be read).
    problem
        Why it was not read; None when it was.
    angle_deg, angle_error_deg
        Shape (n,): the fibre's angle against the board's mid-line, positive when it rises toward
        the top of the side's photo, and the half-width of its 95 % interval. NaN where unread.
    line_deg
        Shape (n,): the angle of the lines one sees. NaN where none was read.
    knots
        The knots on it.
    knots_by_hand
        Those of the knots that were pointed at by hand.
    crook_mm
        Shape (n,): the mid-line above the straight line between its ends, up in the side's photo.
        NaN where unknown.
    cathedral
        Shape (n,), bool: V-shaped ring figure.
    runoffs
        (position_mm, over, slope, line) of the nine lines started across the marked end.
    """

    status: Literal["read", "missing", "retake"]
    problem: Problem | None
    angle_deg: Float
    angle_error_deg: Float
    line_deg: Float
    crook_mm: Float
    cathedral: NDArray[np.bool_]
    knots: tuple[KnotBox, ...] = ()
    knots_by_hand: tuple[KnotBox, ...] = ()
    runoffs: tuple["RunOffPoint", ...] = ()
    pixels_per_mm: float | None = None
    sharpness: float | None = None
    photos: tuple[PhotoNote, ...] = ()


@dataclass(frozen=True)
class RunOffPoint:
    """A grain line leaving a side; the attributes are those of `record.RunOff`."""

    position_mm: float
    over: str
    slope: float
    line: int
    position_error_mm: float


@dataclass(frozen=True)
class Turn:
    """One reading of the spiral part s that shows the fibre itself.

    Attributes
    ----------
    side
        The side it was read on.
    value, error
        s, a ratio, and its standard error.
    source
        What showed the fibre.
    """

    side: str
    value: float
    error: float
    source: Source


@dataclass(frozen=True)
class RingReading:
    """How the rings lie; the attributes are those of `record.Rings`.

    `normal_yz` is the unit vector across the rings at the middle of the cross-section, pointing
    away from the pith: y up in face 1's photo, z out of face 1.
    """

    pith_mm: tuple[float, float] | None
    normal_yz: tuple[float, float]
    tilt_deg: float
    error_deg: float
    sources: tuple[Literal["end", "spacing", "slopes"], ...]
    sawing: Literal["flat", "rift", "quarter"]


@dataclass(frozen=True)
class BoardReading:
    """All four sides, on one grid of positions.

    Attributes
    ----------
    size
        The board as given.
    positions_mm
        Shape (n,): distance from the marked end, evenly spaced.
    sides
        A `SideReading` for each name in `service.sides.SIDES`.
    rings
        None when they could not be told.
    diagonal, spiral
        Shape (n,): the two parts of the slope, ratios; NaN where unknown.
    spiral_seen
        Whether the fibre was seen, in a photo or by a test entered by hand.
    spiral_from
        What showed it.
    notes
        Things noticed about the photos as a set, such as a side rolled the wrong way.
    end_checks_mm
        How far cracks reach in from the marked and from the far end, as entered by hand.
    """

    size: BoardSize
    positions_mm: Float
    sides: dict[str, SideReading]
    rings: RingReading | None
    diagonal: Float
    spiral: Float
    spiral_seen: bool
    spiral_from: tuple[Source, ...] = ()
    notes: tuple[Problem, ...] = field(default=())
    end_checks_mm: tuple[float, float] = (0.0, 0.0)
