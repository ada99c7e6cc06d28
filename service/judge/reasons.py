"""Why a section passes or fails, and where in it the grain is steepest."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.board.phrase import is_straight, length_text, one_in_text, side_text, slope_text, word_of
from service.board.types import BoardReading
from service.judge.crooked import too_crooked
from service.judge.limits import Limits
from service.judge.record_side import Reason, Side
from service.judge.score import FAIL, Choice, Weighed
from service.judge.section import Search, knots_in_bow, section_bounds, section_centres_mm
from service.language import say
from service.sides import SIDES


@dataclass(frozen=True)
class Extreme:
    """The place in a section that uses most of a limit.

    Attributes
    ----------
    face, role, slope, limit
        The face, what it is to be ("back" or "belly"), the combined slope there and its limit.
    position_mm
        Middle of the stretch.
    over_mm
        Length of the stretch around it that is past the limit as measured; zero when none is.
    """

    face: Side
    role: str
    slope: float
    limit: float
    position_mm: float
    over_mm: float


def steepest_of(search: Search, choice: Choice, limits: Limits, *, upper: bool = False) -> dict[str, Extreme]:
    """Return the steepest place of the back and of the belly in the chosen section.

    Parameters
    ----------
    upper
        Whether to look at the upper end of the 95 % interval instead of the measured slope. What the error
        grows by where an opposite side was taken does not count: that is a matter of its own.

    Returns
    -------
    dict
        An `Extreme` for "back" and for "belly".
    """
    bounds = section_bounds(search, choice.start, widened=not upper)
    centres_mm = section_centres_mm(search.slopes, choice.start)
    faces: tuple[Side, Side] = ("face_1", "face_2") if choice.back_row == 0 else ("face_2", "face_1")
    found = {}
    for face, role, limit in zip(faces, ("back", "belly"), (limits.back_slope, limits.belly_slope), strict=True):
        slope = bounds[face].upper if upper else bounds[face].measured
        at = int(np.argmax(slope))
        over_mm = _run_length(slope > limit, at) * search.slopes.lattice.step_mm
        found[role] = Extreme(face, role, float(slope[at]), limit, float(centres_mm[at]), over_mm)
    return found


def _run_length(flags: NDArray[np.bool_], at: int) -> int:
    """Count the neighbours in a row around a place that are set, the place included."""
    if not flags[at]:
        return 0
    clear = np.flatnonzero(~flags)
    before = clear[clear < at]
    after = clear[clear > at]
    return int((after[0] if after.size else flags.size) - (before[-1] if before.size else -1) - 1)


def worst_of(search: Search, choice: Choice, limits: Limits, *, upper: bool = False) -> Extreme:
    """Return the place that uses most of its limit, of back and belly."""
    return max(steepest_of(search, choice, limits, upper=upper).values(), key=lambda place: place.slope / place.limit)


@dataclass(frozen=True)
class UnreadStretch:
    """A stretch of a side, inside the section, that was not read on that side."""

    side: Side
    from_mm: float
    to_mm: float


def unread_stretches(search: Search, start: int, *, assumed: bool) -> list[UnreadStretch]:
    """List the section's stretches that were taken from the opposite side, or that no side shows."""
    lattice = search.slopes.lattice
    inside = slice(start, start + lattice.section_steps + 1)
    points_mm = lattice.points_mm[inside]
    found = []
    for name in SIDES:
        laid = search.slopes.laid[name]
        flags = ((laid.assumed & ~laid.unread) if assumed else laid.unread)[inside]
        edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
        for first, after in zip(edges[::2], edges[1::2], strict=True):
            found.append(UnreadStretch(name, float(points_mm[first]), float(points_mm[after - 1])))
    return found


def too_short_reason(reading: BoardReading, bow_length_mm: float, usable_mm: float) -> Reason:
    """Say that the board, or what its trimmed and cracked ends leave of it, is shorter than the bow."""
    board_mm = reading.size.length_mm
    if usable_mm == board_mm:
        text = say(
            "The board is {board} long and the bow {bow}: it does not fit. Take a longer board or make a shorter bow.",
            board=length_text(board_mm),
            bow=length_text(bow_length_mm),
        )
    else:
        text = say(
            "The board is {board} long, of which its ends leave {usable}, and the bow {bow}: it does not fit. Take a "
            "longer board or make a shorter bow.",
            board=length_text(board_mm),
            usable=length_text(max(usable_mm, 0.0)),
            bow=length_text(bow_length_mm),
        )
    return Reason(code="too_short", text=text, length_mm=round(bow_length_mm - usable_mm, 1))


def fail_reasons(reading: BoardReading, weighed: Weighed, choice: Choice, limits: Limits) -> list[Reason]:
    """Say why no section passes: the board's crook, its slope, the knots in it, or knots here and slope there."""
    search = weighed.search
    if not (search.lay.fits & search.allowed).any():
        return [too_crooked(search)]
    knotty = search.knots > 0
    if not knotty[choice.start]:
        # The search rounds finer than it tells: a slope that fails by a hair is named all the same.
        return _slope_reasons(search, choice, limits) or [_slope_reason(worst_of(search, choice, limits))]
    free = choice
    if not knotty.all():
        points = np.where(knotty, -np.inf, weighed.points)
        row, start = np.unravel_index(int(np.argmax(points)), points.shape)
        free = Choice(FAIL, int(start), int(row))
    knots, slopes = _knot_reasons(reading, search, choice, limits), _slope_reasons(search, free, limits)
    steep_everywhere = bool((search.lower > 1.0).all())
    return slopes + knots if steep_everywhere else knots + slopes


def _slope_reasons(search: Search, choice: Choice, limits: Limits) -> list[Reason]:
    """Say where the least bad section is too steep, back first."""
    return [_slope_reason(place) for place in steepest_of(search, choice, limits).values() if place.slope > place.limit]


def _slope_reason(place: Extreme) -> Reason:
    """Say that a place is too steep."""
    text = say(
        "Even where it is best the grain on {side} as the {role} slopes {slope}, face and edge together, at {place}; "
        "the limit is {limit}.",
        side=side_text(place.face),
        role=word_of(place.role),
        slope=slope_text(place.slope),
        place=length_text(place.position_mm),
        limit=one_in_text(place.limit),
    )
    where = {"position_mm": round(place.position_mm, 1), "length_mm": round(place.over_mm, 1)}
    return Reason(code="slope", text=text, side=place.face, **where)


def _knot_reasons(reading: BoardReading, search: Search, choice: Choice, limits: Limits) -> list[Reason]:
    """Name the knots that touch the bow in the chosen section."""
    reasons: list[Reason] = []
    for side, from_mm, to_mm in knots_in_bow(reading, search, choice.start, limits):
        place = {"side": side_text(side), "place": length_text(from_mm)}
        text = say(
            "A knot on {side} at {place} is in the way: no section this long is clear of knots and straight enough.",
            **place,
        )
        where = {"side": side, "position_mm": round(from_mm, 1), "length_mm": round(to_mm - from_mm, 1)}
        text = say("So is a knot on {side} at {place}.", **place) if reasons else text
        reasons.append(Reason.model_validate({"code": "knot", "text": text, **where}))
    return reasons


def pass_reason(search: Search, choice: Choice, limits: Limits) -> Reason:
    """Say how far inside the limits the section stays."""
    places = steepest_of(search, choice, limits)
    back, belly = places["back"], places["belly"]
    limit = {"back_limit": one_in_text(back.limit), "belly_limit": one_in_text(belly.limit)}
    if is_straight(back.slope) and is_straight(belly.slope):
        text = say(
            "Over the whole section the grain is straight; the limits, {back_limit} and {belly_limit}, hold even with "
            "the error of the reading, and no knot touches it.",
            **limit,
        )
    else:
        text = say(
            "In the section face and edge together reach {back} on the back and {belly} on the belly; the limits, "
            "{back_limit} and {belly_limit}, hold even with the error of the reading, and no knot touches it.",
            back=slope_text(back.slope),
            belly=slope_text(belly.slope),
            **limit,
        )
    return Reason(code="within_limits", text=text, side=back.face, position_mm=round(back.position_mm, 1))
