"""Whether a photo of a side is good enough to be read, and if not, why."""

from typing import Final

import numpy as np

from service.errors import Problem
from service.photo.sharp import SHARP_PX, blurred_across, blurred_all_over
from service.photo.types import Outline, Photo, Strip

#: A photo none of whose parts is lighter than this holds nothing to see; a side below it is too dark to read.
DARK: Final = 0.1
#: Every third pixel of the small picture, down and across, is enough to see a black or white one.
GLANCE: Final = 3
#: Brightness at which a pixel has lost its detail, and the share of such pixels that spoils a photo or a side.
BURNT: Final = 0.985
MOST_BURNT: Final = 0.72
#: When no board is found, its light is blamed below this brightness, and above this share of burnt-out ground.
DIM: Final = 0.15
MOST_BURNT_GROUND: Final = 0.15
#: Fewest pixels across a side: rings and pores of a narrower one cannot be told from its corners.
LEAST_ACROSS_PX: Final = 14.0
#: Fewest pixels per millimetre: 25 per inch.
LEAST_PX_PER_MM: Final = 25 / 25.4
#: Most blur (standard deviation) that leaves rings readable, in pixels; a close-up may have more of them, as its
#: pixels are finer than the wood's texture.
MOST_BLUR_PX: Final = 2.6
MOST_BLUR_MM: Final = 0.15
#: Below this many pixels per millimetre a sharp photo has steps from pixel to pixel.
COARSE_PX_PER_MM: Final = 8.0
#: How much narrower a side may look than it is, from being seen at a slant; cos(53 degrees).
LEAST_FORESHORTENED: Final = 0.6
#: How much wider one end may look than the other.
MOST_TAPER: Final = 1.8

TOO_DARK: Final = Problem("too_dark", "The photo is too dark. Take it again in daylight or with more lamps on.")
BURNT_OUT: Final = Problem(
    "burnt_out",
    "The wood is burnt out to white. Take the photo again without flash and without sun on the board, or tap the board "
    "on the phone's screen so that it sets the light for the wood.",
)
BLURRED: Final = Problem(
    "blurred", "The photo is blurred. Hold the phone still, tap the board on its screen to focus, and take it again."
)
TOO_SMALL: Final = Problem(
    "too_small",
    "The board is too small in the photo. Take this side in several overlapping photos from closer by, or set the "
    "phone to its full number of pixels.",
)
GRAZING: Final = Problem(
    "grazing", "The side is seen at too flat an angle. Take the photo again from straight above the side."
)


def blank_photo(photo: Photo) -> Problem | None:
    """Say whether a photo is black, white or plain, before a board is looked for in it.

    Parameters
    ----------
    photo
        An opened photo.

    Returns
    -------
    Problem or None
        `too_dark` or `burnt_out`.

    """
    grey = photo.colour[::GLANCE, ::GLANCE].mean(axis=2)
    low, high = np.percentile(grey, [2, 98])
    if high < DARK:
        return TOO_DARK
    if low > BURNT:
        return BURNT_OUT
    return None


def why_nothing(photo: Photo) -> Problem | None:
    """Say why no board could be found, when the whole photo is at fault.

    Parameters
    ----------
    photo
        A photo without a board that could be found.

    Returns
    -------
    Problem or None
        `too_dark`, `burnt_out` or `blurred`; None when the photo as such is good.

    """
    grey = photo.colour.mean(axis=2)
    if np.percentile(grey, 90) < DIM:
        return TOO_DARK
    if (grey > BURNT).mean() > MOST_BURNT_GROUND:
        return BURNT_OUT
    return BLURRED if blurred_all_over(photo) else None


def photo_problems(photo: Photo, outline: Outline, strip: Strip) -> tuple[Problem, ...]:
    """List everything that keeps a side from being read from its photo.

    Parameters
    ----------
    photo, outline, strip
        The photo, the side in it, and the side straightened.

    Returns
    -------
    tuple of Problem
        The most telling first; empty when the photo is good enough.

    """
    problems = [problem for problem in outline.problems if problem.code == "cut_off"]
    sparse = strip.image[:: 1 + strip.image.shape[0] // 200, ::4]
    if np.percentile(sparse, 95) < DARK:
        problems.append(TOO_DARK)
    if (sparse >= BURNT).mean() > MOST_BURNT:
        problems.append(BURNT_OUT)
    width = np.hypot(*(outline.upper - outline.lower).T)
    px_per_mm = strip.photo_px_per_mm * photo.halving
    if width.mean() * photo.halving < LEAST_ACROSS_PX or px_per_mm < LEAST_PX_PER_MM - 1e-9:
        problems.append(TOO_SMALL)
    if max(width[0], width[-1]) > MOST_TAPER * min(width[0], width[-1]) or _foreshortened(outline, strip):
        problems.append(GRAZING)
    blur_px = SHARP_PX / max(strip.sharpness, 1e-6)
    if blur_px * photo.halving > max(MOST_BLUR_PX, MOST_BLUR_MM * px_per_mm) or (
        px_per_mm < COARSE_PX_PER_MM and blurred_across(photo, outline)
    ):
        problems.append(BLURRED)
    return tuple(problems)


def _foreshortened(outline: Outline, strip: Strip) -> bool:
    """Say whether the side looks much narrower than it is; told only when both its ends are in view."""
    if not (outline.marked_end_in_view and outline.far_end_in_view):
        return False
    middle = 0.5 * (outline.upper + outline.lower)
    run_px = float(np.hypot(*np.diff(middle, axis=0).T).sum())
    return strip.photo_px_per_mm < LEAST_FORESHORTENED * run_px / (strip.to_mm - strip.from_mm)


def usable(photo: Photo, outline: Outline, strip: Strip) -> Problem | None:
    """Say why a side cannot be read from its photo.

    Parameters
    ----------
    photo, outline, strip
        The photo, the side in it, and the side straightened.

    Returns
    -------
    Problem or None
        The most telling reason, or None when the side can be read.

    """
    problems = photo_problems(photo, outline, strip)
    return problems[0] if problems else None
