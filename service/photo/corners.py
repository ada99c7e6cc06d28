"""From a rough pair of lines to the side's own long corners, placed to a fraction of a pixel.

All long corners of a board, its next side's outer corner too, run to one vanishing point. So once the picture
is stretched between any two of them, every other one lies at one and the same share of the width along the
whole board, while grain lines, shadows and things on the floor wander. That tells corners apart.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.curves import Corners, Curve, fit
from service.photo.frame import Frame
from service.photo.known import Known
from service.photo.lines import CERTAIN, differentiate
from service.photo.pairs import Pair
from service.photo.wood import Tone, learn_tone

Floats = NDArray[np.float64]

#: The picture is searched this share of the width beyond both lines.
BEYOND: Final = 0.6
#: Stretches along the board in which a corner has to show separately, and columns read in each.
STRETCHES: Final = 16
READ_COLS: Final = 64
#: Most rows of the stretched picture.
MOST_ROWS: Final = 420
#: A line may be a corner when it is this certain over all stretches. Measured on drawn photos: nearly all corners 0.6
#: and more, those of wood on ground of its own tone 0.4; of the lines that are, the clearest two that suit are taken.
CORNER: Final = 0.35
#: The strip of the next side ends in a line inside the outer one; such an inner line must be this certain, and its
#: step at least this share of the strongest.
INNER: Final = 0.7
INNER_STEP: Final = 0.22
#: Or it is near the outer one, as a share of the width, and at least this share as certain and as high.
STRIP: Final = 0.3
AS_GOOD: Final = 0.6
#: A choice that passes over a good inner line keeps this share of its score.
PASSED_OVER: Final = 0.6
#: A gap between two boards is looked for this share of the width inside, and is at most this share wide.
GAP_MARGIN: Final = 0.12
GAP_MOST: Final = 0.12
#: What two boards taken for one keep of their score.
TWO_BOARDS: Final = 0.4
#: Width and length are known twice as well here as from rough lines.
SHARPLY: Final = 0.5
#: Lines that reach to within this share of the picture's width of a border may go on beyond it.
NEAR_BORDER: Final = 0.012
#: A usual step is never taken smaller than this.
LEAST_STEP: Final = 3e-4


@dataclass(frozen=True)
class Settled:
    """Corners that were told from other lines.

    Attributes
    ----------
    corners
        Accurate to a pixel or two.
    signs
        +1 where it gets lighter downward, -1 where darker: at the upper and the lower corner.
    score
        0..1, how clearly both corners are seen and how well they suit the board.
    fine
        Pixels between the rows that were looked at.
    tones
        What each was told by; None for brightness.

    """

    corners: Corners
    signs: tuple[float, float]
    score: float
    fine: float
    tones: tuple[Tone | None, Tone | None]


@dataclass(frozen=True)
class _Peak:
    """A line at a steady share of the width: how certain, with sign, and its height against the strongest."""

    share: float
    certain: float
    height: float
    tone: Tone | None


def roughly(pair: Pair, cols: Floats) -> Corners:
    """Smooth a pair of traced lines.

    Parameters
    ----------
    pair
        Two lines that could bound the side.
    cols
        Shape (blocks,): the column of each block's middle.

    Returns
    -------
    Corners
        Good to a few pixels.

    """
    part = slice(pair.first, pair.last)
    weights = np.clip(pair.certain[part], 0.02, 1.0)
    middle, _ = fit(cols[part], 0.5 * (pair.upper + pair.lower)[part], weights, 3)
    width, _ = fit(cols[part], (pair.lower - pair.upper)[part], weights, 1)
    block = cols[1] - cols[0]
    return Corners(middle, width, float(cols[pair.first] - block / 2), float(cols[pair.last - 1] + block / 2))


def settle(frame: Frame, rough: Corners, known: Known, within: float = 1.0) -> Settled | None:
    """Choose among the lines around a rough pair the two that are the side's own corners.

    Of two parallel lines at one border the inner one is taken: the outer is the far corner of the next side, or
    of the board alongside. For a board seen whole its proportions have a say too. Brightness is looked at first;
    where it shows no corners, the tone that parts this wood from this ground.

    Parameters
    ----------
    frame, rough
        The photo, and the rough pair.
    known
        What is known of the board and the photo.
    within
        How far from the rough pair the corners may lie, as a share of the width.

    Returns
    -------
    Settled, or None when there are no two corners here.

    """
    peaks, fine = _peaks(frame, rough, None)
    peaks = _near(peaks, within)
    found = _choose(frame, rough, known, peaks, fine)
    if found is not None:
        return found
    tone = learn_tone(frame, rough, rough.first_col, rough.last_col)
    return _choose(frame, rough, known, peaks + _near(_peaks(frame, rough, tone)[0], within), fine)


def _near(peaks: list[_Peak], within: float) -> list[_Peak]:
    return [peak for peak in peaks if min(abs(peak.share), abs(peak.share - 1)) < within]


def _choose(frame: Frame, rough: Corners, known: Known, peaks: list[_Peak], fine: float) -> Settled | None:
    """Choose the two lines that are clearest, suit what is known, and pass over no good line further in."""
    best, chosen = 0.0, None
    for up in (peak for peak in peaks if peak.share < 0.45):
        for low in (peak for peak in peaks if peak.share > 0.55):
            score = float(np.sqrt(abs(up.certain * low.certain)))
            score *= PASSED_OVER ** _passed(peaks, up, low) * _suits(frame, rough, known, low.share - up.share)
            if score > best:
                best, chosen = score, (up, low)
    if chosen is None:
        return None
    up, low = chosen
    if _gap_between([peak for peak in peaks if peak.tone is None], up.share, low.share):
        best *= TWO_BOARDS
    signs = (float(np.sign(up.certain)), float(np.sign(low.certain)))
    return Settled(_between(rough, up.share, low.share), signs, best, fine, (up.tone, low.tone))


def _passed(peaks: list[_Peak], up: _Peak, low: _Peak) -> int:
    """Count the good lines between two lines and the side's middle."""
    count = 0
    for peak in peaks:
        outer = up if up.share < peak.share < 0.45 else low if 0.55 < peak.share < low.share else None
        if outer is None:
            continue
        near = abs(peak.share - outer.share) < STRIP
        alike = min(abs(peak.certain / outer.certain), peak.height / outer.height) > AS_GOOD
        count += (abs(peak.certain) > INNER and peak.height > INNER_STEP) or (near and alike)
    return count


def _suits(frame: Frame, rough: Corners, known: Known, share: float) -> float:
    """Rate how well a share of the rough width suits what is known."""
    margin = NEAR_BORDER * frame.cols
    inside = rough.first_col > margin and rough.last_col < frame.cols - 1 - margin
    width, length = np.array([rough.mean_width * share]), np.array([rough.last_col - rough.first_col])
    return float(known.suits(width, length, np.array([inside]), frame.cols, SHARPLY)[0])


def _gap_between(peaks: list[_Peak], upper: float, lower: float) -> bool:
    """Say whether a dark line runs between two corners as steadily as they do: the gap between two boards."""
    first, last = (edge + margin * (lower - upper) for edge, margin in ((upper, GAP_MARGIN), (lower, -GAP_MARGIN)))
    return any(
        dark.certain < -INNER and bright.certain > INNER and 0 < bright.share - dark.share < GAP_MOST * (lower - upper)
        for dark in peaks
        for bright in peaks
        if first < dark.share and bright.share < last
    )


def _peaks(frame: Frame, rough: Corners, tone: Tone | None) -> tuple[list[_Peak], float]:
    """Stretch the picture between two lines and find steps at a steady share of the width, in brightness or tone.

    Returns the steps, and the pixels between rows of the stretched picture.
    """
    width = rough.mean_width
    fine = max(1.0, width * (1 + 2 * BEYOND) / MOST_ROWS)
    shares = np.arange(-BEYOND, 1 + BEYOND, fine / width)
    cols = np.linspace(rough.first_col, rough.last_col, STRETCHES * READ_COLS)
    rows = rough.rows(cols[None], shares[:, None])
    at = np.broadcast_to(cols, rows.shape)
    picture = frame.sample(rows, at) if tone is None else tone.read(frame, rows, at).astype(np.float32)
    spread = 1.2 if tone is None else max(1.2, 0.5 * frame.photo.reduction / fine)
    steps = differentiate(picture.reshape(len(shares), STRETCHES, READ_COLS).mean(axis=2), spread).astype(np.float64)
    usual = 1.48 * float(np.median(np.abs(steps))) + LEAST_STEP
    certain = np.tanh(steps / (CERTAIN * usual)).mean(axis=1)
    inner = np.abs(certain[1:-1])
    found = 1 + np.flatnonzero((inner > np.abs(certain[:-2])) & (inner >= np.abs(certain[2:])) & (inner > CORNER))
    heights = np.abs(steps.mean(axis=1))
    tallest = float(heights[found].max()) if len(found) else 1.0
    return [_Peak(float(shares[i]), float(certain[i]), float(heights[i]) / tallest, tone) for i in found], fine


def _between(rough: Corners, upper: float, lower: float) -> Corners:
    """Move both corners to other shares of the width."""
    cols = np.linspace(rough.first_col, rough.last_col, 33)
    middle, _ = fit(cols, rough.rows(cols, 0.5 * (upper + lower)), np.ones(33), 4)
    factors = rough.width.factors * (lower - upper)
    return Corners(middle, Curve(factors, rough.width.centre, rough.width.half), rough.first_col, rough.last_col)
