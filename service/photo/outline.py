"""Find one side of the board in a photo."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.errors import Problem
from service.language import say
from service.photo.by_hand import check_corners
from service.photo.corners import Settled, roughly, settle
from service.photo.curves import Corners
from service.photo.end import shows_end
from service.photo.ends import find_ends
from service.photo.frame import Frame, enlarge_middle
from service.photo.known import Known
from service.photo.lines import Lines, find_lines, find_warm_lines, joined
from service.photo.pairs import rank_pairs
from service.photo.quality import (
    END_ONLY,
    GRAZING,
    LEAST_ACROSS_PX,
    NO_BOARD,
    TOO_SMALL,
    TRUE_RATIO,
    TWO_BOARDS,
    UNCLEAR,
    blank_photo,
    looks_flat,
    why_nothing,
)
from service.photo.refine import refine
from service.photo.steps import LEAST_END_STEP, LEAST_STEP, corner_step, end_step
from service.photo.types import Outline, Photo
from service.photo.widen import widened
from service.photo.wood import learn_tone

#: An outline less sure than this is compared with a board's end, which may be all there is.
DOUBTFUL: Final = 0.8
#: Corners less sure than this are looked for again by colour.
CLEARLY: Final = 0.8
#: Corners that were moved off the grain are looked for within this share of the width.
NEAR: Final = 0.06
#: A board in view from end to end is at least this many times as long as wide.
SLENDER: Final = 8.0
#: In a photo of a part of the board less than this more width may be the strip of the next side.
WIDER: Final = 1.3
#: Points along each long corner of an outline.
POINTS: Final = 65
#: Corners less sure than this are no answer. The second will do where the proportions are right, or where it was not
#: told how many photos show the side, as every guess at that makes them less sure.
LEAST_SURE: Final = 0.55
LEAST_GUESSED: Final = 0.4
#: Corners with this product of scores (rough, close) or more are certain. Measured on drawn photos: right ones have
#: 0.1 to 0.95, most above 0.5; with the board's size known, floors, shadows and ends have 0.003 and less.
CERTAIN_SCORE: Final = 0.5
#: Corners found in two ways are the same within that and this share of the width.
SAME: Final = 0.02
#: What corners keep of their score with the same tone on both sides of one of them.
SAME_BEYOND: Final = 0.5
#: A line this many pixels outside of where the wood's tone ends is none of its corners.
SHADOW_PX: Final = 3.0
#: A side this many pixels beside the middle of the photo does not cross it.
OFF_PX: Final = 4.0
#: Wood in the middle of the photo that is this near the tone of the side found is another board.
ALIKE: Final = 0.5


def find_side(
    photo: Photo,
    length_mm: float | None = None,
    across_mm: float | None = None,
    photos: int = 0,
    rough: bool = False,
) -> Outline | Problem:
    """Find the side of the board that crosses the middle of the photo.

    Parameters
    ----------
    photo
        An upright photo: the board runs from left to right, or from bottom to top in a portrait photo.
    length_mm, across_mm
        The board's length, and how wide this side is. When both are given, the board's proportions help to
        tell its own corners from other lines. For a close-up give only the width: a hand's length of board is then
        expected from border to border.
    photos
        How many photos show this side together: 1 when this one is meant to show the board from end to end. It tells
        how large the side has to be in the photo, which decides among boards lying side by side. 0 when unknown, and
        for close-ups.
    rough
        Whether the photo is a small one made large: then its long corners are good to some pixels, its ends are no
        more than a guess, and why nothing was found is not looked for.

    Returns
    -------
    Outline
        Of the side; each long corner as 65 points.
    Problem
        `no_board` when there is none to be found; `two_boards` when it cannot be told from others; `unclear` when it
        may lie otherwise; `end_only`, `too_small`, `grazing`, `too_dark`, `burnt_out` or `blurred` when that is why.

    """
    blank = blank_photo(photo)
    if blank is not None:
        return blank
    rows, cols = photo.luma.shape
    if photos == 1 and length_mm and across_mm and max(rows, cols) * across_mm / length_mm < LEAST_ACROSS_PX:
        return TOO_SMALL.said()
    found = _search(photo, Known(length_mm, across_mm, photos), rough=rough)
    if isinstance(found, Outline):
        return found
    if rough or photo.halving > 1:
        return found or NO_BOARD.said()  # the closer look that follows tells why
    return why_nothing(photo) or _why_not(photo, length_mm, across_mm) or found or NO_BOARD.said()


def _search(photo: Photo, known: Known, anywhere: bool = False, rough: bool = False) -> Outline | Problem | None:
    """Search a photo with the board running along it, then across it; None when nothing is sure enough.

    `anywhere` takes a side that misses the middle, too, where other wood lies; `rough` one with ends that do not show.
    """
    rows, cols = photo.luma.shape
    for turned in (rows > cols, rows <= cols):
        frame = Frame(photo, turned)
        found = _best(frame, known)
        if found is None or found.sure < LEAST_GUESSED:
            continue
        corners = refine(frame, found.settled)
        outline = _outline(frame, corners, found.sure, known.aspect if known.photos == 1 else None)
        fits = _fits(outline, known)
        if found.sure < LEAST_SURE and known.photos and not fits:
            continue
        if not anywhere and _another_in_the_middle(frame, corners):
            return TWO_BOARDS.said()
        if found.sure < DOUBTFUL and photo.halving == 1 and shows_end(photo):
            return END_ONLY.said()
        # Between boards lying side by side the right proportions will do.
        ends = rough or end_step(photo, outline) >= LEAST_END_STEP
        plain = ends and (fits or corner_step(frame, corners) >= LEAST_STEP)
        return outline if plain else UNCLEAR.said()
    return None


def _fits(outline: Outline, known: Known) -> bool:
    """Say whether a side is in view from end to end and has the known proportions."""
    seen = outline.width_px / outline.length_px
    return known.aspect is not None and outline.whole and abs(math.log(seen / known.aspect)) < TRUE_RATIO


def _why_not(photo: Photo, length_mm: float | None, across_mm: float | None) -> Problem | None:
    """Say why no side was found in a photo that is itself good: what is there instead."""
    if shows_end(photo):
        return END_ONLY.said()
    other = _search(photo, Known(), anywhere=True)
    if isinstance(other, Outline) and other.whole and other.sure > DOUBTFUL and length_mm and across_mm:
        ratio = other.width_px / other.length_px * length_mm / across_mm
        if looks_flat(photo, other, ratio):
            return GRAZING.said()
    sized = bool(length_mm and across_mm)
    near = _search(enlarge_middle(photo), Known(length_mm, across_mm, 1) if sized else Known())
    if isinstance(near, Outline) and near.whole and near.length_px > SLENDER * near.width_px:
        return TOO_SMALL.said()
    return None


@dataclass(frozen=True)
class _Found:
    """The long corners found, and how sure they are, 0..1."""

    settled: Settled
    sure: float


def _best(frame: Frame, known: Known) -> _Found | None:
    """Choose the pair of lines that does best when looked at closely."""
    lines = find_lines(frame)
    found = _best_of(frame, lines, known)
    # A quick look leaves what is not clear to the closer one.
    if frame.photo.halving == 1 and (found is None or found.sure < CLEARLY):
        # Wood and ground may be equally light but differ in colour.
        other = _best_of(frame, joined(lines, find_warm_lines(frame)), known)
        if other is not None and (found is None or other.sure > found.sure):
            found = other if found is None or _differ(found, other) else replace(found, sure=other.sure)
    if found is None or known.photos == 1:
        return found
    # Near by the grain makes lines as long as the corners; from afar wood beyond a corner is another board.
    wider = widened(frame, found.settled.corners)
    if wider is None or (known.length_mm is not None and wider.mean_width < WIDER * found.settled.corners.mean_width):
        return found
    settled = settle(frame, wider, known, NEAR)
    # Where the true corner shows no line, no more than a guess is left.
    return _Found(settled, min(found.sure, settled.score**0.5)) if settled is not None else _Found(found.settled, 0.0)


def _differ(one: _Found, other: _Found) -> bool:
    """Say whether two found different corners; of the same ones brightness tells the place better than colour."""
    corners = one.settled.corners
    cols = np.linspace(corners.first_col, corners.last_col, 33)
    most = SHADOW_PX + SAME * corners.mean_width
    apart = [corners.rows(cols, share) - other.settled.corners.rows(cols, share) for share in (0.0, 1.0)]
    return any(float(np.median(np.abs(off))) > most for off in apart)


def _best_of(frame: Frame, lines: Lines, known: Known) -> _Found | None:
    """Choose among the pairs of some lines."""
    best, found = 0.0, None
    for pair in rank_pairs(lines, frame, known):
        if pair.score <= best:
            break
        for settled in _ways(frame, roughly(pair, lines.cols), known):
            score = pair.score * settled.score
            if corner_step(frame, settled.corners) < LEAST_STEP:
                score *= SAME_BEYOND
            if score > best:
                best, found = score, _Found(settled, min(1.0, score / CERTAIN_SCORE) ** 0.5)
    return found


def _ways(frame: Frame, rough: Corners, known: Known) -> Iterator[Settled]:
    """Settle corners; those told by tone alone are placed by it, then looked for by brightness once more.

    What brightness shows beyond the wood's tone is a shadow on the ground.
    """
    settled = settle(frame, rough, known)
    if settled is None:
        return
    if settled.tones == (None, None):
        yield settled
        return
    toned = refine(frame, settled)
    again = settle(frame, toned, known)
    if again is None or again.tones != (None, None):
        yield settled
        return
    cols = np.linspace(toned.first_col, toned.last_col, 33)
    outward = [
        way * float(np.median(toned.rows(cols, share) - again.corners.rows(cols, share)))
        for share, way in ((0.0, 1.0), (1.0, -1.0))
    ]
    if max(outward) > SHADOW_PX:
        yield replace(settled, corners=toned)
        return
    # Straight at last, the lines next to the corners show clearly: the strip of the next side among them.
    last = settle(frame, refine(frame, again), known) or again
    yield replace(last, score=max(settled.score, last.score))


def _another_in_the_middle(frame: Frame, corners: Corners) -> bool:
    """Say whether the side misses the middle of the photo while other wood of its tone lies across it."""
    middle, col = (frame.rows - 1) / 2, np.array([(frame.cols - 1) / 2])
    if corners.rows(col, 0.0)[0] - OFF_PX <= middle <= corners.rows(col, 1.0)[0] + OFF_PX:
        return False
    tone = learn_tone(frame, corners, corners.first_col, corners.last_col)
    cols = np.linspace(0.3, 0.7, 41) * frame.cols
    rows = middle + np.array([-0.25, 0.0, 0.25])[:, None] * corners.mean_width
    far = tone.distance(frame, np.broadcast_to(rows, (3, 41)), np.broadcast_to(cols, (3, 41)))
    return float(np.median(far)) < ALIKE


def _outline(frame: Frame, corners: Corners, sure: float, aspect: float | None) -> Outline:
    """Find the ends, and write both long corners down as points of the photo."""
    near, far = find_ends(frame, corners, aspect)
    upper = _points(frame, corners, 0.0, near.upper_col, far.upper_col)
    lower = _points(frame, corners, 1.0, near.lower_col, far.lower_col)
    return Outline(upper, lower, near.in_view, far.in_view, sure, _cut_off(upper, lower, frame))


def _points(frame: Frame, corners: Corners, share: float, first: float, last: float) -> NDArray[np.float64]:
    """Points along one long corner, shape (65, 2), in the upright photo."""
    cols = np.linspace(first, last, POINTS)
    return frame.to_photo(np.stack([corners.rows(cols, share), cols], axis=1))


def _cut_off(upper: NDArray[np.float64], lower: NDArray[np.float64], frame: Frame) -> tuple[Problem, ...]:
    """Say when a long corner leaves the picture sideways."""
    rows = np.concatenate([frame.from_photo(upper)[:, 0], frame.from_photo(lower)[:, 0]])
    if rows.min() >= 0 and rows.max() <= frame.rows - 1:
        return ()
    text = say("A long corner of the board leaves the photo. Take it again with both long corners in view.")
    return (Problem("cut_off", text),)


def outline_from_corners(photo: Photo, corners: Sequence[tuple[float, float]]) -> Outline:
    """Take a side's outline from four corners set by hand.

    Parameters
    ----------
    photo
        The upright photo.
    corners
        (column, row) of the marked end's upper corner, the far end's upper, the far end's lower and the marked
        end's lower corner. A corner on the border of the photo means that the board goes on beyond it.

    Returns
    -------
    Outline
        With straight long corners, 65 points each.

    Raises
    ------
    BadInput
        As `service.photo.by_hand.check_corners`.
    """
    rows, cols = photo.luma.shape
    points = check_corners(corners, cols, rows)
    along = np.linspace(0.0, 1.0, POINTS)[:, None]
    swapped = points[:, ::-1]
    upper = swapped[0] + along * (swapped[1] - swapped[0])
    lower = swapped[3] + along * (swapped[2] - swapped[3])
    seen = [bool((p > 1).all() and p[0] < cols - 2 and p[1] < rows - 2) for p in points]
    return Outline(upper, lower, seen[0] or seen[3], seen[1] or seen[2], 1.0)
