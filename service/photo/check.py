"""One photo judged by itself, at once: whether there is a side of a board in it, and whether its grain can be read.

A quick look at half the photo's size settles the clear cases. Where it finds anything amiss, or nothing, the photo is
looked at as closely as for reading, so that both always give the same reason.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.errors import Problem
from service.language import mark, say
from service.photo.decode import MAX_BYTES, MAX_PIXELS, open_photo
from service.photo.outline import DOUBTFUL, find_side, outline_from_corners
from service.photo.quality import BURNT, MOST_BLUR_PX, photo_problems
from service.photo.sharp import SHARP_PX
from service.photo.straighten import straighten
from service.photo.types import Outline, Photo, Strip

Corners = tuple[tuple[float, float], ...]

#: An outline less sure than this is worth looking over.
TRUSTED: Final = 0.6
#: A quick look is trusted when its outline is not doubtful, and the photo at half its size at least this sharp: 0.65 is
#: a blur of about 2.7 pixels of the whole photo there, measured with what halving itself adds.
CLEARLY_SHARP: Final = 0.72
#: Lines this many blurs (standard deviations) apart keep a fifth of their contrast: exp(-2 (pi blur / spacing)**2),
#: the transfer function of a Gaussian.
TELLS_APART: Final = math.pi * math.sqrt(2 / math.log(5))
#: Fewer pixels a millimetre than this are worth two photos instead of one: 34 per inch.
FEW_PX_PER_MM: Final = 34 / 25.4
#: One end looking this much wider than the other, or the board lying this steep, is worth holding the phone level.
LEVEL_TAPER: Final = 1.25
LEVEL_DEG: Final = 6.0
#: Share of burnt-out wood that is worth turning the light, and brightness below which more of it would help.
GLARE: Final = 0.04
DIM: Final = 0.22
#: Share of the most blur allowed from which holding still is worth telling.
SOFT: Final = 0.75

ADVICE: Final = {
    "unsure": mark(
        "The outline is not certain. Look whether it follows the board; if not, lay the board on a plain floor "
        "lighter or darker than the wood, or set the four corners by hand."
    ),
    "closer": mark(
        "The board is small in the photo. Come closer and take this side in two overlapping photos instead of "
        "one: finer lines can be told then."
    ),
    "level": mark("The phone was held at a slant. Hold it level above the middle of what it shows."),
    "glare": mark("Part of the wood shines white. Turn the light or the board until the shine is gone."),
    "dim": mark("The photo is rather dark. Take it in daylight or with more lamps on."),
    "soft": mark("The photo is a little soft. Hold still, and tap the board on the screen to focus."),
}


@dataclass(frozen=True)
class Check:
    """What a photo is good for.

    Attributes
    ----------
    problems
        What keeps the side from being read, the most telling first; empty when it can be read.
    advice
        What would make a usable photo better.
    outline
        The side in pixels of the whole photo; None when none was found.
    across_px
        Mean width of the side in pixels; None without an outline.
    px_per_mm
        Pixels per millimetre; None without an outline, or when neither the side's width nor, with both ends in view,
        the board's length is known.
    sharpness
        0 to 1 as in `Strip`, of the whole photo or, when that was clear enough, of the photo at half its size.
    size_px
        (columns, rows) of the upright photo; None when it could not be opened.
    """

    problems: tuple[Problem, ...]
    advice: tuple[Problem, ...] = ()
    outline: Outline | None = None
    across_px: float | None = None
    px_per_mm: float | None = None
    sharpness: float | None = None
    size_px: tuple[int, int] | None = None

    @property
    def finest_mm(self) -> float | None:
        """Spacing of the finest lines that can be told apart; None without a scale.

        >>> round(Check((), px_per_mm=2.0, sharpness=1.0).finest_mm, 2)
        1.58
        """
        if self.px_per_mm is None or self.sharpness is None:
            return None
        return max(2.0, TELLS_APART * SHARP_PX / max(self.sharpness, 1e-3)) / self.px_per_mm


def check_photo(
    data: bytes,
    name: str,
    length_mm: float | None = None,
    across_mm: Sequence[float] = (),
    max_bytes: int = MAX_BYTES,
    max_pixels: int = MAX_PIXELS,
    corners: Corners | None = None,
) -> Check:
    """Say whether a photo of a side, of a part of it or a close-up can be used.

    Parameters
    ----------
    data, name
        The file's bytes, and what the user calls it.
    length_mm, across_mm
        The board's length and how wide this side is, as far as known; several widths when it may be any of them.
    max_bytes, max_pixels
        Limits, checked before anything is decoded.
    corners
        The side's corners when they were set by hand, as `service.upload.Upload` has them.

    Returns
    -------
    Check

    Raises
    ------
    TooLarge, BadPhoto
        As `open_photo`.
    BadInput
        As `outline_from_corners`.
    """
    if corners is not None:
        return _likeliest(open_photo(data, name, max_bytes, max_pixels), length_mm, across_mm, corners)
    photo = open_photo(data, name, max_bytes, max_pixels, halved=True)
    found = _likeliest(photo, length_mm, across_mm)
    if photo.halving == 1 or (found.outline is not None and not found.problems and _clear(found, found.outline)):
        return found
    return _likeliest(open_photo(data, name, max_bytes, max_pixels), length_mm, across_mm)


def _likeliest(
    photo: Photo, length_mm: float | None, widths_mm: Sequence[float], corners: Corners | None = None
) -> Check:
    """Look at a photo with each width that the side may have, and keep the look that suits best."""
    looks = [look_at(photo, length_mm, width_mm, corners) for width_mm in widths_mm or (None,)]
    return max(looks, key=lambda look: (not look.problems, look.outline.sure if look.outline else 0.0))


def _clear(found: Check, outline: Outline) -> bool:
    return outline.sure >= DOUBTFUL and found.sharpness is not None and found.sharpness >= CLEARLY_SHARP


def look_at(
    photo: Photo, length_mm: float | None = None, across_mm: float | None = None, corners: Corners | None = None
) -> Check:
    """Judge an opened photo of a side of one width; the result is that of `check_photo`."""
    rows, cols = photo.luma.shape
    size_px = (cols * photo.halving, rows * photo.halving)
    if corners is not None:
        outline: Outline | Problem = outline_from_corners(photo, corners)
    else:
        # A width alone would be taken for that of a close-up.
        outline = find_side(photo, length_mm, across_mm if length_mm else None)
    if isinstance(outline, Problem):
        return Check((outline,), size_px=size_px)
    across_px = outline.width_px
    px_per_mm = None
    if across_mm:
        px_per_mm = across_px / across_mm
    elif length_mm and outline.whole:
        px_per_mm = outline.length_px / length_mm
    # Without a size the side is straightened as if a pixel of the whole photo were a millimetre.
    strip = straighten(
        photo,
        outline,
        across_mm or (across_px / px_per_mm if px_per_mm else across_px * photo.halving),
        length_mm if across_mm else None,
    )
    problems = photo_problems(photo, outline, strip, sized=px_per_mm is not None)
    return Check(
        problems,
        () if problems else _advice(outline, strip, px_per_mm and px_per_mm * photo.halving),
        _enlarged(outline, photo.halving),
        across_px * photo.halving,
        px_per_mm and px_per_mm * photo.halving,
        strip.sharpness,
        size_px,
    )


def _advice(outline: Outline, strip: Strip, px_per_mm: float | None) -> tuple[Problem, ...]:
    """List what would make a usable photo better."""
    width = np.hypot(*(outline.upper - outline.lower).T)
    middle = 0.5 * (outline.upper + outline.lower)
    steep_deg = math.degrees(math.atan2(*sorted(np.abs(middle[-1] - middle[0]))))
    sparse = strip.image[:: 1 + strip.image.shape[0] // 200, ::4]
    told = {
        "unsure": outline.sure < TRUSTED,
        "closer": px_per_mm is not None and px_per_mm < FEW_PX_PER_MM,
        "level": max(width[0], width[-1]) > LEVEL_TAPER * min(width[0], width[-1]) or steep_deg > LEVEL_DEG,
        "glare": float((sparse >= BURNT).mean()) > GLARE,
        "dim": float(np.percentile(sparse, 95)) < DIM,
        "soft": SHARP_PX / max(strip.sharpness, 1e-6) > SOFT * MOST_BLUR_PX,
    }
    return tuple(Problem(code, say(ADVICE[code])) for code, true in told.items() if true)


def _enlarged(outline: Outline, halving: int) -> Outline:
    """Give an outline in pixels of the whole photo; pixel centres are whole numbers in both."""
    upper, lower = (halving * points + 0.5 * (halving - 1) for points in (outline.upper, outline.lower))
    return replace(outline, upper=upper, lower=lower)
