"""Which way round the bow lies in its section: which face becomes its back, which end its lower limb.

Among the faces that, as the back, reach the section's best verdict, that one is taken which has more strength left
for the work the bow does (`service.judge.margin`); when the faces differ by less than the error of the reading, it is
only rather taken. Between faces that are as good as measured, fewer grain lines leaving where the bow works hard
decide, and last of all the share of the limits used.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from service.board.phrase import one_in_text, side_text, slope_text
from service.board.types import BoardReading
from service.judge.back_warnings import warnings_of
from service.judge.combined import Bounds
from service.judge.leaving import lines_leaving
from service.judge.limits import Limits
from service.judge.margin import Left, least_left
from service.judge.record import Back
from service.judge.record_side import RunOff, Side
from service.judge.score import PASS, Choice, Weighed
from service.judge.section import section_bounds, section_centres_mm
from service.judge.shape import BowShape
from service.judge.strain import strain_share, works_hard
from service.sides import FACES

Float = NDArray[np.float64]

Ground = Literal["limits", "margin", "rather", "runoffs", "shares", "nothing"]
"""What decided between the two faces."""

APART: Final = 1.02
"""Faces whose margins differ by 2 % and more are told apart as measured, though not surely. The places where grain
lines leave, which decide between closer ones, are known less well than slopes are."""

ALIKE_LEFT: Final = 0.001
"""A thousandth of the strength, more or less, is the same, however exact a reading claims to be: no source tells
strength so finely."""


@dataclass(frozen=True)
class FaceSeen:
    """What a face would be as the back.

    Attributes
    ----------
    verdict
        The section's verdict then.
    slope
        Its steepest combined slope in the section, as measured.
    left
        Least strength left over strain.
    leaving
        Grain lines that leave inside the bow on it.
    hard
        How many of them leave where the bow works hard.
    used
        The largest share of a limit used with it as the back, as measured.
    """

    face: Side
    verdict: int
    slope: float
    left: Left
    leaving: list[RunOff]
    hard: int
    used: float


def choose_back(
    reading: BoardReading, weighed: Weighed, choice: Choice, shape: BowShape, limits: Limits
) -> tuple[Back | None, str | None, int]:
    """Choose the face that becomes the back of the chosen section, and the end that becomes the lower limb.

    Parameters
    ----------
    reading, weighed
        The board, and every section weighed.
    choice
        The section chosen.
    shape
        The bow.

    Returns
    -------
    back, reason, row
        The back, or None and why there is none; and the row of `Search` that has this face as the back, which is
        that of `choice` when there is none.
    """
    unread = [face for face in FACES if reading.sides[face].status != "read"]
    if unread:
        reason = f"{side_text(unread[0]).capitalize()} was not read, so the faces cannot be compared."
        return None, reason, choice.back_row
    found = weighed.search
    bounds = section_bounds(found, choice.start)
    along_mm = section_centres_mm(found.slopes, choice.start) - float(found.slopes.lattice.starts_mm[choice.start])
    strain = strain_share(shape, along_mm)
    first, second = _faces_seen(reading, weighed, choice, shape, bounds, strain)
    row, ground, sure = order_of_faces(first, second)
    back, belly = (first, second) if row == 0 else (second, first)
    lower_limb, lower_limb_why = _lower_limb(bounds[back.face], along_mm, strain)
    return (
        Back(
            face="face_1" if row == 0 else "face_2",
            sure=sure and reading.spiral_seen,
            why=_why(back, belly, ground, limits, sure=sure, seen=reading.spiral_seen),
            lower_limb=lower_limb,
            lower_limb_why=lower_limb_why,
            warnings=warnings_of(reading, found, choice.start, back.face, limits),
        ),
        None,
        row,
    )


def _faces_seen(
    reading: BoardReading,
    weighed: Weighed,
    choice: Choice,
    shape: BowShape,
    bounds: Mapping[str, Bounds],
    strain: Float,
) -> tuple[FaceSeen, FaceSeen]:
    """Look at face 1 and face 2 of the chosen section, each as the back in its turn."""
    found = weighed.search
    start_mm = float(found.slopes.lattice.starts_mm[choice.start])
    leaving = lines_leaving(reading, found, choice.start, shape)

    def seen(row: int, face: Side) -> FaceSeen:
        along_mm = np.array([line.position_mm - start_mm for line in leaving[face]])
        return FaceSeen(
            face=face,
            verdict=int(weighed.verdicts[row, choice.start]),
            slope=float(bounds[face].measured.max()),
            left=least_left(bounds[face], strain),
            leaving=leaving[face],
            hard=int(works_hard(shape, along_mm).sum()),
            used=float(found.measured[row, choice.start]),
        )

    return seen(0, "face_1"), seen(1, "face_2")


def order_of_faces(first: FaceSeen, second: FaceSeen) -> tuple[int, Ground, bool]:
    """Say which of two faces is rather the back, what decides, and whether beyond the error of the reading.

    Returns
    -------
    row, ground, sure
        0 or 1; 0 when nothing tells the two apart.
    """
    more = _more_left(first.left, second.left)
    if first.verdict != second.verdict:
        row = 0 if first.verdict > second.verdict else 1
        return row, "limits", True
    if more is not None:
        return more, "margin", True
    if max(first.left.measured, second.left.measured) > APART * min(first.left.measured, second.left.measured):
        return (0 if first.left.measured > second.left.measured else 1), "rather", False
    if first.hard != second.hard:
        return (0 if first.hard < second.hard else 1), "runoffs", False
    if not math.isclose(first.used, second.used, abs_tol=1e-9):
        return (0 if first.used < second.used else 1), "shares", False
    return 0, "nothing", False


def _more_left(first: Left, second: Left) -> int | None:
    """Say which of two has more left, by more than the errors of both together; None when they are that close.

    The errors are added as those of readings that have nothing to do with one another.
    """
    row, better, worse = (0, first, second) if first.measured >= second.measured else (1, second, first)
    return row if better.measured - worse.measured > max(math.hypot(better.down, worse.up), ALIKE_LEFT) else None


def _why(back: FaceSeen, belly: FaceSeen, ground: Ground, limits: Limits, *, sure: bool, seen: bool) -> str:
    """Say why this face is the back."""
    text = f"{_slopes_text(back, belly)}; {_ground_text(back, belly, ground)}"
    if sure and not seen:
        text += " The fibre itself was not seen, so that is not sure."
    return f"{text} {_leaving_text(back, belly, limits)}"


def _slopes_text(back: FaceSeen, belly: FaceSeen) -> str:
    """Tell the steepest slope on both faces."""
    one, other = _reach_text(back.slope), _reach_text(belly.slope)
    if one == other == "is straight":
        return "Both faces are straight in the section"
    if one == other:
        return f"Both faces {one.replace('reaches', 'reach')} in the section, edges included"
    return f"In the section, edges included, {side_text(back.face)} {one} and {side_text(belly.face)} {other}"


def _reach_text(slope: float) -> str:
    told = slope_text(slope)
    return "is straight" if told == "straight" else f"reaches {told}"


def _ground_text(back: FaceSeen, belly: FaceSeen, ground: Ground) -> str:
    """Say what decided between the faces, as the end of the sentence about their slopes."""
    one = side_text(back.face)
    tied = "where the bow works the two differ by less than the error of the reading"
    kept = "does the section surely keep to the limits" if back.verdict == PASS else "is the section not ruled out"
    return {
        "limits": f"only with {one} as the back {kept}.",
        "margin": f"set against how hard the bow works, {one} has more strength left, beyond the error of the reading.",
        "rather": f"{tied}; {one} rather, for more strength is left in it as measured.",
        "runoffs": f"{tied}; {one} rather, for fewer grain lines leave it where the bow works hard, "
        f"{back.hard} against {belly.hard}.",
        "shares": f"{tied}; {one} rather, for it stays farther inside the limits as measured.",
        "nothing": f"{tied}.",
    }[ground]


def _leaving_text(back: FaceSeen, belly: FaceSeen, limits: Limits) -> str:
    """Count the grain lines that leave inside the bow on both faces."""
    if not back.leaving and not belly.leaving:
        return "Of nine grain lines on each face none leaves inside the bow."
    leaving = len(back.leaving)
    text = (
        f"Of nine grain lines on each face {leaving} leave{'s' * (leaving == 1)} inside the bow on the back and "
        f"{len(belly.leaving)} on the belly"
    )
    if belly.leaving:
        text += f", where up to {one_in_text(limits.belly_slope)} is forgiven"
    idle = leaving - back.hard
    if idle:
        text += f"; {idle if back.hard else 'all'} of those on the back do so where the bow hardly works"
    return f"{text}."


def _lower_limb(bounds: Bounds, along_mm: Float, strain: Float) -> tuple[Literal["marked", "far", "either"], str]:
    """Choose the end that becomes the lower limb, which is the shorter and works harder: common practice, no source."""
    middle_mm = 0.5 * (along_mm[0] + along_mm[-1])
    halves = []
    for inside in (along_mm <= middle_mm + 1e-6, along_mm >= middle_mm - 1e-6):
        half = Bounds(bounds.measured[inside], bounds.upper[inside], bounds.lower[inside])
        halves.append(least_left(half, strain[inside]))
    better = _more_left(*halves)
    hold = "With the back away from you, hold the bow with"
    if better is None:
        return "either", (
            "Either end may become the lower limb: where the bow works the two halves of the back differ by less than "
            f"the error of the reading. {hold} that end down."
        )
    end: Literal["marked", "far"] = "marked" if better == 0 else "far"
    return end, (
        f"The half toward the {end} end has more strength left where the bow works, and the lower limb, the shorter "
        f"one, works harder. {hold} the end toward the {end} end down."
    )
