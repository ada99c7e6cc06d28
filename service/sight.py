"""From one side's photos to its grain: open, find the board, straighten, read.

The only place that handles photo bytes; what leaves it is numbers, small strips and sentences.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.board.types import PhotoNote
from service.errors import Problem
from service.grain.close import read_close
from service.grain.rings import EndRings, read_end_rings
from service.grain.side import read_side
from service.grain.types import CloseGrain, SideGrain
from service.photo.decode import open_photo
from service.photo.end import find_end
from service.photo.outline import find_side, outline_from_corners
from service.photo.quality import usable
from service.photo.straighten import straighten
from service.photo.types import Outline, Photo, Strip
from service.upload import Upload

FEWEST_READ = 0.25
"""A side of which less than this share could be read must be photographed again."""

LIGHT = ("burnt_out", "too_dark")
"""Bad light is a doubt, not a refusal: grain may show all the same, and then it is read."""


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
    """

    grain: SideGrain | None
    problem: Problem | None
    strips: tuple[Strip, ...]
    notes: tuple[PhotoNote, ...]
    digests: tuple[str, ...]


def see_side(
    uploads: Sequence[Upload], length_mm: float, across_mm: float, positions_mm: NDArray[np.float64]
) -> SideSight:
    """Read one side from its photos, in order from the marked end.

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
    strips, notes, digests, problems = [], [], [], []
    for upload in uploads:
        photo = open_photo(upload.data, upload.name)
        digests.append(photo.digest)
        outline, strip, problem = _straight(photo, upload, length_mm, across_mm, len(uploads))
        used = None
        if strip is not None:
            strips.append(strip)
            used = (max(strip.from_mm, 0.0), min(strip.to_mm, length_mm))
        if problem is not None:
            problems.append(problem)
        told = (outline.problems if outline else ()) + ((problem,) if problem else ())
        notes.append(PhotoNote(upload.name, outline.corners if outline else None, used, told))
    grain = read_side(strips, positions_mm) if strips else None
    share = float(np.isfinite(grain.line).mean()) if grain is not None else 0.0
    problem = None
    if share < FEWEST_READ:
        text = f"Grain could be read on only {share:.0%} of this side. Take it again in even light, from closer."
        grain, problem = None, problems[0] if problems else Problem("unread", text)
    return SideSight(grain, problem, tuple(strips), tuple(notes), tuple(digests))


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
    return find_side(photo, length_mm, across_mm, photos)


def _straight(
    photo: Photo, upload: Upload, length_mm: float, across_mm: float, photos: int
) -> tuple[Outline | None, Strip | None, Problem | None]:
    """Find and straighten a side; without a strip the problem says why, with one it is a doubt."""
    outline = _outline(photo, upload, length_mm, across_mm, photos)
    if isinstance(outline, Problem):
        return None, None, outline
    if not (outline.marked_end_in_view or outline.far_end_in_view):
        left_out = Problem(
            "no_end",
            f"{upload.name} shows neither end of the board, so where it belongs is not known; it was left out.",
        )
        return outline, None, left_out
    strip = straighten(photo, outline, across_mm, length_mm)
    problem = usable(photo, outline, strip)
    if problem is not None and problem.code not in LIGHT:
        return outline, None, problem
    return outline, strip, problem
