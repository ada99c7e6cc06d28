"""What the slopes of a section leave of the wood's strength, set against how hard the bow works in each place.

It tells whether the steepest place matters much. It decides no verdict, for it leans on an idealised bow and on
sources that disagree; of two faces or two ends that both keep to the limits it tells the better.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.board.phrase import is_straight, length_text, slope_text
from service.judge.combined import Bounds
from service.judge.record import Margin
from service.judge.record_side import Side
from service.judge.score import Choice
from service.judge.section import Search, section_bounds, section_centres_mm
from service.judge.shape import BowShape
from service.judge.strain import HARD_SHARE, strain_share
from service.judge.strength import tension_left
from service.language import mark, say

Float = NDArray[np.float64]

SPACING_MM: Final = 25.4
"""The margin is told about every inch."""

FEWEST: Final = 8
"""Steps told at least, however short the bow."""

IDLE_SHARE: Final = 0.05
"""Below this share of the peak strain the bow does not work: the last inch or so of a tip, where the nock is."""

ALIKE: Final = 0.95
"""Places within 5 % of the steepest slope count as equally steep."""


@dataclass(frozen=True)
class Left:
    """Least strength left over strain along a stretch: as measured, and at the two ends of the reading's error."""

    measured: float
    worst: float
    best: float

    @property
    def down(self) -> float:
        """How much less it may be."""
        return self.measured - self.worst

    @property
    def up(self) -> float:
        """How much more it may be."""
        return self.best - self.measured


def left_over_strain(slope: Float, strain: Float) -> Float:
    """Return the strength in tension that is left for each part of the peak strain.

    left = strength left / strain share

    Parameters
    ----------
    slope, strain
        One shape: combined slope of grain, rise over length; strain as a share of its peak.

    Returns
    -------
    ndarray
        Of their shape; by the source that leaves least. Infinite where the bow does not work.

    At half the strain 1 in 10 leaves more than straight grain does at the peak.

    >>> left_over_strain(np.array([0.0, 1 / 10, 1 / 10, 0.1]), np.array([1.0, 1.0, 0.5, 0.0])).round(2).tolist()
    [1.0, 0.53, 1.05, inf]
    """
    low, _ = tension_left(slope)
    return np.where(strain >= IDLE_SHARE, low / np.maximum(strain, IDLE_SHARE), np.inf)


def least_left(bounds: Bounds, strain: Float) -> Left:
    """Return the least that is left over strain, as measured and with the error of the reading.

    Parameters
    ----------
    bounds
        Combined slopes on a face.
    strain
        Shape of the bounds: the bow's strain at the same places.

    >>> bounds = Bounds(np.array([0.05, 0.1]), np.array([0.06, 0.11]), np.array([0.04, 0.09]))
    >>> round(least_left(bounds, np.array([1.0, 0.2])).measured, 3)
    0.783
    """
    measured, upper, lower = (
        float(left_over_strain(slope, strain).min()) for slope in (bounds.measured, bounds.upper, bounds.lower)
    )
    return Left(measured, upper, lower)


def margin_of(found: Search, choice: Choice, shape: BowShape, face: Side) -> Margin:
    """Tell along the chosen section how hard the bow works and what the slope leaves of strength.

    Parameters
    ----------
    found, choice
        The search, and the section chosen from it; it should hold no unread wood.
    shape
        The bow.
    face
        The face that becomes the back.

    Returns
    -------
    Margin
        At places about an inch apart from end to end of the section. Each stands for the steepest slope within
        half an inch of it; up to the first and from the last middle of a 76 mm stretch on, slopes stay as they are.
    """
    lattice = found.slopes.lattice
    start_mm = float(lattice.starts_mm[choice.start])
    count = max(FEWEST, round(lattice.section_mm / SPACING_MM))
    along_mm = np.linspace(0.0, lattice.section_mm, count + 1)
    bounds = section_bounds(found, choice.start)[face]
    from_start_mm = section_centres_mm(found.slopes, choice.start) - start_mm
    reach_mm = 0.5 * max(lattice.section_mm / count, lattice.step_mm) + 1e-6
    measured = _steepest_near(bounds.measured, from_start_mm, along_mm, reach_mm)
    upper = _steepest_near(bounds.upper, from_start_mm, along_mm, reach_mm)
    strain = strain_share(shape, along_mm)
    low, _ = tension_left(upper)
    _, high = tension_left(measured)
    left = left_over_strain(upper, strain)
    at = int(np.argmin(left))
    told = (
        _steepest_text(shape, measured, strain, along_mm, start_mm),
        say(
            "Set against how hard the bow works, least is left near {place}: {left} % of straight-grained strength at "
            "{share} % of the peak strain, by the most cautious source and with the error of the reading.",
            place=length_text(start_mm + float(along_mm[at])),
            left=f"{100 * low[at]:.0f}",
            share=f"{100 * strain[at]:.0f}",
        ),
        say("The limbs count as evenly deep; the verdict rests on the plain limit alone."),
    )
    return Margin(
        positions_mm=(start_mm + along_mm).round(1).tolist(),
        strain_share=strain.round(4).tolist(),
        strength_low=low.round(4).tolist(),
        strength_high=high.round(4).tolist(),
        least=round(float(left[at]), 4),
        least_position_mm=round(start_mm + float(along_mm[at]), 1),
        text=" ".join(told),
    )


def _steepest_near(slope: Float, places_mm: Float, at_mm: Float, reach_mm: float) -> Float:
    """Return the steepest slope within reach of each position, so that none falls between two of them."""
    held_mm = np.clip(at_mm, places_mm[0], places_mm[-1])
    near = np.abs(places_mm - held_mm[:, None]) <= reach_mm
    steepest: Float = np.where(near, slope, 0.0).max(axis=1)
    return steepest


def _steepest_text(shape: BowShape, slope: Float, strain: Float, along_mm: Float, start_mm: float) -> str:
    """Say whether the back is steepest where the bow works hard."""
    steepest = float(slope.max())
    if is_straight(steepest):
        return say("The grain on the back is straight and costs the wood nothing.")
    alike = slope >= ALIKE * steepest
    if alike.all():
        return say(
            "The grain on the back slopes about evenly, {slope}, and counts in full.", slope=slope_text(steepest)
        )
    at = int(np.argmax(np.where(alike, strain, -1.0)))
    inside_mm = min(float(along_mm[at]), shape.length_mm - float(along_mm[at]))
    if strain[at] >= HARD_SHARE:
        sentence = mark(
            "The steepest place of the back, {slope} near {place}, lies where the bow works hard, at {share} % of its "
            "peak strain: there it counts in full."
        )
    elif inside_mm > shape.limb_mm:
        sentence = mark(
            "The steepest place of the back, {slope} near {place}, lies in the handle or its fades, where the bow "
            "works at only {share} % of its peak strain: it takes less of the margin than of the limit."
        )
    else:
        sentence = mark(
            "The steepest place of the back, {slope} near {place}, lies toward a tip, where the bow works at only "
            "{share} % of its peak strain: it takes less of the margin than of the limit."
        )
    return say(
        sentence,
        slope=slope_text(float(slope[at])),
        place=length_text(start_mm + float(along_mm[at])),
        share=f"{100 * strain[at]:.0f}",
    )
