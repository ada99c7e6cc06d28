"""Whether a photo of a side is good enough to be read, and if not, why."""

import math
from typing import Final

import numpy as np

from service.errors import Problem
from service.language import mark
from service.photo.cover import covered_share
from service.photo.sharp import SHARP_PX, blurred_across, blurred_all_over
from service.photo.types import USUAL_FOCAL, Outline, Photo, Strip

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
#: How much narrower a side may look than it is, from being seen at a slant; cos(30 degrees). The strip of its neighbour
#: that shows then may be taken for part of it, so that it looks wider than its own slant would make it. Good drawn
#: photos have 0.97 to 1.03; sizes are typed less exactly.
LEAST_FORESHORTENED: Final = 0.87
#: How much wider: more than this is the neighbouring side, or both together.
MOST_WIDENED: Final = 1.25
#: Share of a side in view that may be hidden. A hand's width is 4 % of a long board.
MOST_HIDDEN: Final = 0.12
#: Steepest slant of the camera across the board, told by how the two ends lean. Held over boards by hand phones have 9
#: degrees and less (drawn photos).
MOST_TILT_DEG: Final = 30.0
#: The same where the proportions are off too, and by how much (logarithm) they may be off by lens and measure alone.
MOST_TILT_OFF_DEG: Final = 18.0
TRUE_RATIO: Final = 0.06
#: How much wider one end may look than the other.
MOST_TAPER: Final = 1.8

TOO_DARK: Final = Problem(
    "too_dark",
    mark("The photo is too dark. Take it again in daylight or with more lamps on."),
)
BURNT_OUT: Final = Problem(
    "burnt_out",
    mark(
        "The wood is burnt out to white. Take the photo again without flash and without sun on the board, or tap the "
        "board on the phone's screen so that it sets the light for the wood."
    ),
)
BLURRED: Final = Problem(
    "blurred",
    mark("The photo is blurred. Hold the phone still, tap the board on its screen to focus, and take it again."),
)
TOO_SMALL: Final = Problem(
    "too_small",
    mark(
        "The board is too small in the photo. Take this side in several overlapping photos from closer by, or set the "
        "phone to its full number of pixels."
    ),
)
GRAZING: Final = Problem(
    "grazing",
    mark("The side is seen at too flat an angle. Take the photo again from straight above the side."),
)
COVERED: Final = Problem(
    "covered",
    mark(
        "Something lies over the board, or a finger is before the lens. Take the photo again with the whole side clear."
    ),
)
END_ONLY: Final = Problem(
    "end_only",
    mark(
        "Only the board's end is in the photo. Photograph the side along its whole length; a photo of the end has a "
        "place of its own."
    ),
)
TWO_BOARDS: Final = Problem(
    "two_boards",
    mark(
        "Several boards lie in the photo, and the one across the middle cannot be told from those beside it. Lay it by "
        "itself, or leave a finger's width between the boards, or set the four corners by hand."
    ),
)
UNCLEAR: Final = Problem(
    "unclear",
    mark(
        "Where the board ends cannot be told for sure: at a long corner or an end it looks like what lies beside it. "
        "Lay it by itself on a floor lighter, darker or of another colour than the wood, or set the four corners by "
        "hand."
    ),
)
NO_BOARD: Final = Problem(
    "no_board",
    mark(
        "No board was found across the middle of the photo. Lay it on a plain floor lighter or darker than the wood, "
        "take the photo from straight above with the board running from side to side, or set the four corners by hand."
    ),
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
        return TOO_DARK.said()
    if low > BURNT:
        return BURNT_OUT.said()
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
        return TOO_DARK.said()
    if (grey > BURNT).mean() > MOST_BURNT_GROUND:
        return BURNT_OUT.said()
    return BLURRED.said() if blurred_all_over(photo) else None


def photo_problems(photo: Photo, outline: Outline, strip: Strip, sized: bool = True) -> tuple[Problem, ...]:
    """List everything that keeps a side from being read from its photo.

    Parameters
    ----------
    photo, outline, strip
        The photo, the side in it, and the side straightened.
    sized
        Whether the strip's millimetres are the board's; without its sizes nothing is said that hangs on them.

    Returns
    -------
    tuple of Problem
        The most telling first; empty when the photo is good enough.

    """
    problems = [problem for problem in outline.problems if problem.code == "cut_off"]
    if covered_share(photo, outline) > MOST_HIDDEN:
        problems.append(COVERED.said())
    sparse = strip.image[:: 1 + strip.image.shape[0] // 200, ::4]
    if np.percentile(sparse, 95) < DARK:
        problems.append(TOO_DARK.said())
    if (sparse >= BURNT).mean() > MOST_BURNT:
        problems.append(BURNT_OUT.said())
    width = np.hypot(*(outline.upper - outline.lower).T)
    px_per_mm = strip.photo_px_per_mm * photo.halving
    if width.mean() * photo.halving < LEAST_ACROSS_PX or (sized and px_per_mm < LEAST_PX_PER_MM - 1e-9):
        problems.append(TOO_SMALL.said())
    blur_px = SHARP_PX / max(strip.sharpness, 1e-6)
    if blur_px * photo.halving > max(MOST_BLUR_PX, MOST_BLUR_MM * px_per_mm) or (
        px_per_mm < COARSE_PX_PER_MM and blurred_across(photo, outline)
    ):
        problems.append(BLURRED.said())
    ratio = strip.photo_px_per_mm / outline.length_px * (strip.to_mm - strip.from_mm) if sized else 1.0
    if max(width[0], width[-1]) > MOST_TAPER * min(width[0], width[-1]) or (
        outline.whole and looks_flat(photo, outline, ratio)
    ):
        problems.append(GRAZING.said())
    return tuple(problems)


def looks_flat(photo: Photo, outline: Outline, ratio: float) -> bool:
    """Say whether a side in view from end to end is seen at too flat an angle, or is its neighbour, seen beside it.

    Parameters
    ----------
    photo, outline
        The photo, and the side in it.
    ratio
        The width seen against the width that the side has, both as shares of its length.

    Returns
    -------
    bool

    """
    if not LEAST_FORESHORTENED < ratio < MOST_WIDENED:
        return True
    most_deg = MOST_TILT_DEG if abs(math.log(ratio)) < TRUE_RATIO else MOST_TILT_OFF_DEG
    return tilt_deg(photo, outline) > most_deg


def tilt_deg(photo: Photo, outline: Outline) -> float:
    """Tell from how both ends lean how steeply the camera looked at the side across its length.

    Lines square to the board run to a vanishing point at f / tan(tilt) beside the picture's middle (f the focal
    length), so ends a distance apart lean against each other by distance * tan(tilt) / f.

    Parameters
    ----------
    photo, outline
        The photo, and a side in view from end to end.

    Returns
    -------
    float
        0 when seen from straight above.

    """
    run = 0.5 * (outline.upper[-1] + outline.lower[-1] - outline.upper[0] - outline.lower[0])
    length = float(np.hypot(*run))
    along = run / length
    leans = []
    for at in (0, -1):
        end = outline.lower[at] - outline.upper[at]
        leans.append(float(end @ along) / max(abs(float(end[0] * along[1] - end[1] * along[0])), 1e-9))
    focal_px = photo.focal_px or USUAL_FOCAL * float(np.hypot(*photo.luma.shape))
    return float(np.degrees(np.arctan(focal_px * abs(leans[1] - leans[0]) / length)))


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
