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

from service.board.phrase import is_straight, one_in_text, side_text, side_title, slope_text, word_of
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
from service.language import mark, say, say_many
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
        reason = say("{side} was not read, so the faces cannot be compared.", side=side_title(unread[0]))
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
    slopes, decided = _slopes_text(back, belly), _ground_text(back, belly, ground)
    told = [say("{slopes}; {decided}.", slopes=slopes, decided=decided)]
    if sure and not seen:
        told.append(say("The fibre itself was not seen, so that is not sure."))
    return " ".join([*told, _leaving_text(back, belly, limits)])


def _slopes_text(back: FaceSeen, belly: FaceSeen) -> str:
    """Tell the steepest slope on both faces."""
    if slope_text(back.slope) == slope_text(belly.slope):
        if is_straight(back.slope):
            return say("Both faces are straight in the section")
        return say("Both faces reach {slope} in the section, edges included", slope=slope_text(back.slope))
    return say(
        "In the section, edges included, {one} and {other}",
        one=_reach_text(back),
        other=_reach_text(belly),
    )


def _reach_text(face: FaceSeen) -> str:
    if is_straight(face.slope):
        return say("{side} is straight", side=side_text(face.face))
    return say("{side} reaches {slope}", side=side_text(face.face), slope=slope_text(face.slope))


_GROUNDS: Final[dict[Ground, str]] = {
    "margin": mark(
        "set against how hard the bow works, {side} has more strength left, beyond the error of the reading"
    ),
    "rather": mark(
        "where the bow works the two differ by less than the error of the reading; {side} rather, for more strength is "
        "left in it as measured"
    ),
    "runoffs": mark(
        "where the bow works the two differ by less than the error of the reading; {side} rather, for fewer grain "
        "lines leave it where the bow works hard, {few} against {many}"
    ),
    "shares": mark(
        "where the bow works the two differ by less than the error of the reading; {side} rather, for it stays farther "
        "inside the limits as measured"
    ),
    "nothing": mark("where the bow works the two differ by less than the error of the reading"),
}
"""What is said of what decided, but for the limits."""


def _ground_text(back: FaceSeen, belly: FaceSeen, ground: Ground) -> str:
    """Say what decided between the faces, as the end of the sentence about their slopes."""
    side = side_text(back.face)
    if ground != "limits":
        return say(_GROUNDS[ground], side=side, few=back.hard, many=belly.hard)
    if back.verdict == PASS:
        return say("only with {side} as the back does the section surely keep to the limits", side=side)
    return say("only with {side} as the back is the section not ruled out", side=side)


def _leaving_text(back: FaceSeen, belly: FaceSeen, limits: Limits) -> str:
    """Count the grain lines that leave inside the bow on both faces."""
    if not back.leaving and not belly.leaving:
        return say("Of nine grain lines on each face none leaves inside the bow.")
    leaving = len(back.leaving)
    lines = say_many(
        "Of nine grain lines on each face {count} leaves inside the bow on the back and {belly} on the belly",
        "Of nine grain lines on each face {count} leave inside the bow on the back and {belly} on the belly",
        leaving,
        belly=len(belly.leaving),
    )
    if belly.leaving:
        lines = say("{lines}, where up to {slope} is forgiven", lines=lines, slope=one_in_text(limits.belly_slope))
    if leaving == back.hard:
        return say("{lines}.", lines=lines)
    if back.hard == 0:
        return say("{lines}; all of those on the back do so where the bow hardly works.", lines=lines)
    return say_many(
        "{lines}; {count} of those on the back do so where the bow hardly works.",
        "{lines}; {count} of those on the back do so where the bow hardly works.",
        leaving - back.hard,
        lines=lines,
    )


def _lower_limb(bounds: Bounds, along_mm: Float, strain: Float) -> tuple[Literal["marked", "far", "either"], str]:
    """Choose the end that becomes the lower limb, which is the shorter and works harder: common practice, no source."""
    middle_mm = 0.5 * (along_mm[0] + along_mm[-1])
    halves = []
    for inside in (along_mm <= middle_mm + 1e-6, along_mm >= middle_mm - 1e-6):
        half = Bounds(bounds.measured[inside], bounds.upper[inside], bounds.lower[inside])
        halves.append(least_left(half, strain[inside]))
    better = _more_left(*halves)
    if better is None:
        return "either", say(
            "Either end may become the lower limb: where the bow works the two halves of the back differ by less than "
            "the error of the reading. With the back away from you, hold the bow with that end down."
        )
    end: Literal["marked", "far"] = "marked" if better == 0 else "far"
    return end, say(
        "The half toward the {end} end has more strength left where the bow works, and the lower limb, the shorter "
        "one, works harder. With the back away from you, hold the bow with the end toward the {end} end down.",
        end=word_of(end),
    )
