"""The verdict and the points of every section tried, and which section is chosen.

The score of a board is that of its best section, 0 to 100, the sum of four parts:

1. Inside the limits (68): all of them when the section surely keeps to the limits; half when it does so as
   measured but that is not certain; none when a limit is exceeded as measured, a knot touches the
   section or wood in it is unread.
2. Straightness as measured (20): 20 / (1 + share of the limit used at the worst place).
3. Straightness at the far end of the error (8): 8 / (1 + the same at the upper end of the interval).
4. Wood that was read (4): 4 / (1 + length taken from the opposite side / 100 mm).

Parts 2 to 4 are nothing for a section that holds unread wood, all four for one at which the bow does not fit into the
wood that may be used. Each part can only fall when a slope, an
error, the unread wood or the bow's length grows or a knot appears, so the best section's sum can only
fall too. (A longer bow's straight line may run better through a crooked board; apart from that.) A pass
has 68 points or more, everything else less; a section that exceeds a limit as measured has 32 at most.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from service.judge.limits import Limits
from service.judge.record import ScorePart
from service.judge.section import Search
from service.language import mark, say

Float = NDArray[np.float64]
Verdict = Literal["pass", "borderline", "fail", "retake"]

FAIL, RETAKE, BORDERLINE, PASS = range(4)
VERDICTS: Final[tuple[Verdict, ...]] = ("fail", "retake", "borderline", "pass")

PART_NAMES = (
    mark("Inside the limits"),
    mark("Straightness as measured"),
    mark("Straightness at the far end of the error"),
    mark("Wood that was read"),
)
PART_POINTS = (68.0, 20.0, 8.0, 4.0)
ASSUMED_SCALE_MM = 100.0


@dataclass(frozen=True)
class Weighed:
    """Every section's verdict and points.

    Attributes
    ----------
    verdicts
        Shape (2, starts): FAIL, RETAKE, BORDERLINE or PASS; rows as in `Search`.
    parts
        Shape (4, 2, starts): the points, in the order of `PART_NAMES`.
    """

    search: Search
    verdicts: NDArray[np.int64]
    parts: Float

    @property
    def points(self) -> Float:
        """Shape (2, starts): the score of each section."""
        points: Float = self.parts.sum(axis=0)
        return points


@dataclass(frozen=True)
class Choice:
    """The chosen section: its verdict, its start's number and the row of the face taken as the back."""

    verdict: int
    start: int
    back_row: int


def weigh(search: Search, can_pass: bool, limits: Limits) -> Weighed:
    """Give every section its verdict and its points.

    Parameters
    ----------
    search
        What each section holds.
    can_pass
        False when something that no section can answer is open, such as spiral grain that no photo
        resolved: then "borderline" is the best there is.
    """
    unread = search.unread_mm > 0
    assumed = search.assumed_mm > limits.mirror_mm
    out = ~search.allowed | ~search.lay.fits
    failed = (search.lower > 1.0) | (search.knots > 0) | out
    surely = (search.upper <= 1.0) & ~assumed & can_pass
    verdicts = np.where(failed, FAIL, np.where(unread, RETAKE, np.where(surely, PASS, BORDERLINE)))
    inside = np.where(verdicts == PASS, 1.0, np.where((verdicts == BORDERLINE) & (search.measured <= 1.0), 0.5, 0.0))
    shape = search.measured.shape
    shares = (
        inside,
        ~unread / (1.0 + search.measured),
        ~unread / (1.0 + search.upper),
        np.broadcast_to(~unread / (1.0 + search.assumed_mm / ASSUMED_SCALE_MM), shape),
    )
    parts = np.stack([np.where(out, 0.0, out_of * share) for out_of, share in zip(PART_POINTS, shares, strict=True)])
    return Weighed(search, verdicts.astype(np.int64), parts)


def best_lay(weighed: Sequence[Weighed], limits: Limits) -> Weighed:
    """Take for each start the way to lay the bow that is judged best; along the board when others are no better.

    Parameters
    ----------
    weighed
        The same sections with the bow laid in different ways, along the board first.
    """
    if len(weighed) == 1:
        return weighed[0]
    # A better verdict is worth more than all points.
    worth = np.stack([(1000.0 * one.verdicts + one.points).max(axis=0) for one in weighed])
    better = worth.max(axis=0) > worth[0] + limits.equal_points
    taken = np.where(better, worth.argmax(axis=0), 0)

    def pick(values: Sequence[NDArray[Any]]) -> Any:
        return np.choose(taken, values)

    found = [one.search for one in weighed]
    lay = replace(
        found[0].lay,
        turn=pick([one.lay.turn for one in found]),
        offset_mm=pick([one.lay.offset_mm for one in found]),
        knots=pick([one.lay.knots for one in found]),
        lost_mm=pick([one.lay.lost_mm for one in found]),
        fits=pick([one.lay.fits for one in found]),
    )
    merged = replace(
        found[0],
        lay=lay,
        measured=pick([one.measured for one in found]),
        upper=pick([one.upper for one in found]),
        lower=pick([one.lower for one in found]),
    )
    return Weighed(merged, pick([one.verdicts for one in weighed]), pick([one.parts for one in weighed]))


def choose(weighed: Weighed, limits: Limits) -> Choice:
    """Choose the best section: best verdict, most points, then farthest from bad wood, then most central.

    Sections less than `Limits.equal_points` apart count as equal; where all else is the same, they do not.
    """
    verdict = int(weighed.verdicts.max())
    points = np.where(weighed.verdicts == verdict, weighed.points, -np.inf)
    best = points.max(axis=0)
    search = weighed.search
    # Sections to be photographed again all have no points: the one with the least unread wood comes first.
    best = best - search.unread_mm if verdict == RETAKE else best
    equal = best >= best.max() - limits.equal_points
    starts_mm = search.slopes.lattice.starts_mm
    off_centre_mm = np.abs(starts_mm - 0.5 * (starts_mm[0] + starts_mm[-1]))
    clearance_mm = np.round(search.clearance_mm, 6)
    order = np.lexsort((-np.round(best, 6), np.round(off_centre_mm, 6), -clearance_mm, ~equal))
    start = int(order[0])
    return Choice(verdict, start, int(np.argmax(points[:, start])))


def score_parts(weighed: Weighed | None) -> list[ScorePart]:
    """Return the parts of the best section's score; nothing in any part when no section fits."""
    if weighed is None:
        given = [0.0] * len(PART_NAMES)
    else:
        row, start = np.unravel_index(int(np.argmax(weighed.points)), weighed.points.shape)
        given = [float(part) for part in weighed.parts[:, row, start]]
    return [
        ScorePart(name=say(name), points=round(points, 2), out_of=out_of)
        for name, points, out_of in zip(PART_NAMES, given, PART_POINTS, strict=True)
    ]
