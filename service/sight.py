"""From one side's photos to its grain: open, find the board, straighten, read.

The only place that handles photo bytes; what leaves it is numbers, small strips and sentences.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.board.phrase import stretch_text
from service.board.types import PhotoNote
from service.errors import Problem
from service.grain.close import read_close
from service.grain.rings import EndRings, read_end_rings
from service.grain.side import read_side
from service.grain.types import CloseGrain, SideGrain
from service.language import say
from service.photo.decode import open_photo
from service.photo.end import find_end
from service.photo.join import REPEATED, Part, join
from service.photo.outline import find_side, outline_from_corners
from service.photo.quality import usable
from service.photo.straighten import straighten
from service.photo.types import Outline, Photo, Strip
from service.upload import Upload

FEWEST_READ = 0.25
"""A side of which less than this share could be read must be photographed again."""

LIGHT = ("burnt_out", "too_dark")
"""Bad light is a doubt, not a refusal: grain may show all the same, and then it is read."""


WHOLE = 0.1
"""A photo shows the board from end to end when its length by width and perspective is off by less than this share."""


PLAINLY = 0.6
"""An outline surer than this shows that the number of photos was rightly taken for how much each one shows: drawn
photos have 0.9 and more then, and at most 0.54 where one of the whole side was taken for a third or a quarter."""


@dataclass(frozen=True)
class SideSight:
    """What a side's photos gave.

    Attributes
    ----------
    grain
        None when nothing could be read; then `problem` says why.
    strips
        The straightened photos that were used.
    notes
        One for each photo given.
    digests
        SHA-256 of each photo, to notice one given twice.
    told
        What was noticed about the photos as a set: their order, gaps, photos that do not belong.
    """

    grain: SideGrain | None
    problem: Problem | None
    strips: tuple[Strip, ...]
    notes: tuple[PhotoNote, ...]
    digests: tuple[str, ...]
    told: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class _Looked:
    """One photo looked at; without a strip the problem says why, with one it is a doubt."""

    name: str
    digest: str
    outline: Outline | None
    strip: Strip | None
    problem: Problem | None
    marked_end: bool = False
    far_end: bool = False


def see_side(
    uploads: Sequence[Upload], length_mm: float, across_mm: float, positions_mm: NDArray[np.float64]
) -> SideSight:
    """Read one side from its photos.

    Parameters
    ----------
    uploads
        One photo of the whole length, or several overlapping ones.
    length_mm, across_mm
        The side's size.
    positions_mm
        Shape (n,): the board's grid.

    Raises
    ------
    BadPhoto, TooLarge
        When a file is no readable photo.
    BadInput
        When corners given by hand are nonsense.
    """
    looked = [_look(upload, length_mm, across_mm, len(uploads)) for upload in uploads]
    strips = [one.strip for one in looked]
    problems: list[tuple[Problem, ...]] = [(one.problem,) if one.problem is not None else () for one in looked]
    told: tuple[Problem, ...] = ()
    if len(uploads) > 1:
        strips, joined, told = _put_together(looked, length_mm)
        problems = [own + more for own, more in zip(problems, joined, strict=True)]
    notes = []
    for one, strip, found in zip(looked, strips, problems, strict=True):
        used = None if strip is None else (max(strip.from_mm, 0.0), min(strip.to_mm, length_mm))
        own = (one.outline.problems, one.outline.corners) if one.outline is not None else ((), None)
        notes.append(PhotoNote(one.name, own[1], used, own[0] + found))
    kept = tuple(strip for strip in strips if strip is not None)
    grain = read_side(kept, positions_mm) if kept else None
    share = float(np.isfinite(grain.line).mean()) if grain is not None else 0.0
    problem = None
    if share < FEWEST_READ:
        text = say(
            "Grain could be read on only {share}% of this side. Take it again in even light, from closer.",
            share=f"{100 * share:.0f}",
        )
        grain, problem = None, next((found[0] for found in problems if found), Problem("unread", text))
    # What holds of several photos is told once, and not again beside the reason why the side was not read.
    told = tuple(found for found in dict.fromkeys(told) if found != problem)
    return SideSight(grain, problem, kept, tuple(notes), tuple(one.digest for one in looked), told)


def _put_together(
    looked: Sequence[_Looked], length_mm: float
) -> tuple[list[Strip | None], list[tuple[Problem, ...]], tuple[Problem, ...]]:
    """Give each photo's strip its place on the board, what was noticed about it, and about all of them."""
    numbers = [number for number, one in enumerate(looked) if one.strip is not None]
    parts = [
        Part(one.name, one.digest, one.strip, one.marked_end, one.far_end) for one in looked if one.strip is not None
    ]
    strips: list[Strip | None] = [None] * len(looked)
    problems: list[tuple[Problem, ...]] = [()] * len(looked)
    if not parts:
        return strips, problems, ()
    joined = join(parts, length_mm)
    for number, strip, found in zip(numbers, joined.strips, joined.problems, strict=True):
        strips[number], problems[number] = strip, found
    told = [problem for found in joined.problems for problem in found if problem.code != REPEATED]
    if joined.order:
        text = say(
            "The photos were given in another order than they lie along the board. From the marked end: {photos}.",
            photos=", ".join(parts[number].name for number in joined.order),
        )
        told.append(Problem("order", text))
    if any(strip is not None for strip in strips):
        gaps = "; ".join(stretch_text(begin, end) for begin, end in joined.gaps_mm)
        if gaps:
            text = say(
                "No photo shows the board {stretches}, so nothing was read there. Take one more photo of that stretch.",
                stretches=gaps,
            )
            told.append(Problem("gap", text))
    return strips, problems, tuple(told)


def see_close(upload: Upload, across_mm: float) -> CloseGrain | Problem:
    """Read a close-up of a side; where along the board it was taken does not matter."""
    photo = open_photo(upload.data, upload.name)
    found = _outline(photo, upload, None, across_mm, 0)
    if isinstance(found, Problem):
        return found
    strip = straighten(photo, found, across_mm, None)
    problem = usable(photo, found, strip)
    return problem if problem is not None else read_close(strip)


def see_end(upload: Upload, width_mm: float, thickness_mm: float) -> EndRings | Problem:
    """Read the rings from the photo of the marked end."""
    view = find_end(open_photo(upload.data, upload.name), width_mm, thickness_mm)
    return view if isinstance(view, Problem) else read_end_rings(view.image, view.mm_per_px)


def _outline(photo: Photo, upload: Upload, length_mm: float | None, across_mm: float, photos: int) -> Outline | Problem:
    if upload.corners is not None:
        return outline_from_corners(photo, upload.corners)
    found = find_side(photo, length_mm, across_mm, photos)
    if photos < 2 or (isinstance(found, Outline) and found.sure > PLAINLY):
        return found
    # Among part photos there may be one of the whole side.
    other = find_side(photo, length_mm, across_mm, 0)
    better = isinstance(other, Outline) and (isinstance(found, Problem) or other.sure > found.sure)
    return other if better else found


def _look(upload: Upload, length_mm: float, across_mm: float, photos: int) -> _Looked:
    """Find the side in a photo and straighten it: onto the board, or by its width alone when there are more photos."""
    photo = open_photo(upload.data, upload.name)
    outline = _outline(photo, upload, length_mm, across_mm, photos)
    if isinstance(outline, Problem):
        return _Looked(upload.name, photo.digest, None, None, outline)
    marked, far = outline.marked_end_in_view, outline.far_end_in_view
    if photos == 1:
        if not (marked or far):
            text = say(
                "{photo} shows neither end of the board, so where it belongs is not known; it was left out.",
                photo=upload.name,
            )
            return _Looked(upload.name, photo.digest, outline, None, Problem("no_end", text))
        strip = straighten(photo, outline, across_mm, length_mm)
    else:
        # What seems an end may be none; and the width gives the scale better than the lean of an end in view does.
        strip = straighten(photo, replace(outline, marked_end_in_view=False, far_end_in_view=False), across_mm, None)
        if marked and far and abs(strip.to_mm / length_mm - 1) < WHOLE:
            strip = straighten(photo, outline, across_mm, length_mm)
    problem = usable(photo, outline, strip)
    if problem is not None and problem.code not in LIGHT:
        return _Looked(upload.name, photo.digest, outline, None, problem)
    return _Looked(upload.name, photo.digest, outline, strip, problem, marked, far)
