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
from service.photo.types import Float
from service.photo.wood import Tone, learn_tone

Floats = NDArray[np.float64]

#: The picture is searched this share of the width beyond both lines.
BEYOND: Final = 0.6
#: Stretches along the board in which a corner has to show separately, and columns read in each.
STRETCHES: Final = 16
READ_COLS: Final = 64
#: Most rows of the stretched picture.
MOST_ROWS: Final = 420
#: A line counts as a corner when it is this certain over all stretches. Measured on drawn photos: corners 0.64 and
#: more, all other lines 0.6 and less.
CORNER: Final = 0.35
#: The strip of the next side ends in a line inside the outer one; such an inner line must be this certain, and its
#: step at least this share of the strongest.
INNER: Final = 0.7
INNER_STEP: Final = 0.12
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
#: Degrees of the mid-line and of the width along the board: a bent board through a bowing lens.
MIDDLE_DEGREE: Final = 6
WIDTH_DEGREE: Final = 2
#: Pixels between samples across, and how far the step is averaged around its peak.
FINE_PX: Final = 0.5
AROUND_PX: Final = 1.5


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
    tone
        What they were told by; None for brightness.

    """

    corners: Corners
    signs: tuple[float, float]
    score: float
    fine: float
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


def settle(frame: Frame, rough: Corners, known: Known) -> Settled | None:
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

    Returns
    -------
    Settled, or None when there are no two corners here.

    """
    found = _settle(frame, rough, known, None)
    if found is not None:
        return found
    return _settle(frame, rough, known, learn_tone(frame, rough, rough.first_col, rough.last_col))


def _settle(frame: Frame, rough: Corners, known: Known, tone: Tone | None) -> Settled | None:
    """Settle corners by brightness, or by tone."""
    shares, certain, steps, fine = _profile(frame, rough, tone)
    inner = np.abs(certain[1:-1])
    peaks = 1 + np.flatnonzero((inner > np.abs(certain[:-2])) & (inner >= np.abs(certain[2:])) & (inner > CORNER))
    strongest = float(np.abs(steps[peaks]).max()) if len(peaks) else 0.0
    good = [at for at in peaks if abs(certain[at]) > INNER and abs(steps[at]) > INNER_STEP * strongest]
    best, chosen = 0.0, (0, 0)
    for up in peaks[shares[peaks] < 0.45]:
        for low in peaks[shares[peaks] > 0.55]:
            score = float(np.sqrt(abs(certain[up] * certain[low])))
            passed = [at for at in good if shares[up] < shares[at] < 0.45 or 0.55 < shares[at] < shares[low]]
            score *= PASSED_OVER ** len(passed)
            score *= _suits(frame, rough, known, float(shares[low] - shares[up]))
            if score > best:
                best, chosen = score, (int(up), int(low))
    if best == 0.0:
        return None
    up, low = chosen
    if _gap_between(certain[peaks], shares[peaks], float(shares[up]), float(shares[low])):
        best *= TWO_BOARDS
    corners = _between(rough, float(shares[up]), float(shares[low]))
    return Settled(corners, (float(np.sign(certain[up])), float(np.sign(certain[low]))), best, fine, tone)


def _suits(frame: Frame, rough: Corners, known: Known, share: float) -> float:
    """Rate how well a share of the rough width suits what is known."""
    margin = NEAR_BORDER * frame.cols
    inside = rough.first_col > margin and rough.last_col < frame.cols - 1 - margin
    width, length = np.array([rough.mean_width * share]), np.array([rough.last_col - rough.first_col])
    return float(known.suits(width, length, np.array([inside]), frame.cols, SHARPLY)[0])


def _gap_between(certain: Floats, shares: Floats, upper: float, lower: float) -> bool:
    """Say whether a dark line runs between two corners as steadily as they do: the gap between two boards."""
    margin = GAP_MARGIN * (lower - upper)
    dark = certain < -INNER
    for at in np.flatnonzero(dark & (shares > upper + margin) & (shares < lower - margin)):
        beyond = (shares > shares[at]) & (shares < shares[at] + GAP_MOST * (lower - upper))
        if (certain[beyond & (shares < lower - margin)] > INNER).any():
            return True
    return False


def _profile(frame: Frame, rough: Corners, tone: Tone | None) -> tuple[Floats, Floats, Floats, float]:
    """Stretch the picture between two lines and look for steps at a steady share of the width.

    Returns shares, how certain a step is there over all stretches (-1..1), its mean height per row, all of
    shape (n,), and the pixels between rows.
    """
    width = rough.mean_width
    fine = max(1.0, width * (1 + 2 * BEYOND) / MOST_ROWS)
    shares = np.arange(-BEYOND, 1 + BEYOND, fine / width)
    cols = np.linspace(rough.first_col, rough.last_col, STRETCHES * READ_COLS)
    rows = rough.rows(cols[None], shares[:, None])
    at = np.broadcast_to(cols, rows.shape)
    picture = frame.sample(rows, at) if tone is None else _read(frame, rows, at, tone)
    spread = 1.2 if tone is None else max(1.2, 0.5 * frame.photo.reduction / fine)
    steps = differentiate(picture.reshape(len(shares), STRETCHES, READ_COLS).mean(axis=2), spread).astype(np.float64)
    usual = 1.48 * float(np.median(np.abs(steps))) + LEAST_STEP
    return shares, np.tanh(steps / (CERTAIN * usual)).mean(axis=1), steps.mean(axis=1), fine


def _read(frame: Frame, rows: Floats, cols: Floats, tone: Tone | None) -> Float:
    """Read light, or tone when one is given.

    Light is brightness without the camera's curve (about a power of 2.2): blur averages light, so only there does
    the middle of a blurred step lie where the step is.
    """
    if tone is not None:
        return tone.read(frame, rows, cols).astype(np.float32)
    return np.asarray(np.maximum(frame.sample(rows, cols), 0) ** np.float32(2.2), dtype=np.float32)


def _between(rough: Corners, upper: float, lower: float) -> Corners:
    """Move both corners to other shares of the width."""
    cols = np.linspace(rough.first_col, rough.last_col, 33)
    middle, _ = fit(cols, rough.rows(cols, 0.5 * (upper + lower)), np.ones(33), 4)
    factors = rough.width.factors * (lower - upper)
    return Corners(middle, Curve(factors, rough.width.centre, rough.width.half), rough.first_col, rough.last_col)


def refine(frame: Frame, settled: Settled) -> Corners:
    """Place both corners to a fraction of a pixel.

    Parameters
    ----------
    frame, settled
        The photo, and its corners to a pixel or two.

    Returns
    -------
    Corners
        Smooth curves through the places of the steepest change.

    """
    corners = settled.corners
    reach = max(3.0, 1.5 * settled.fine)
    for degree_middle, degree_width, reach_px in ((3, 1, reach), (MIDDLE_DEGREE, WIDTH_DEGREE, 2.0)):
        blocks = int(np.clip((corners.last_col - corners.first_col) / 16, 24, 126))
        edges = np.linspace(corners.first_col, corners.last_col, blocks + 1)
        cols = 0.5 * (edges[1:] + edges[:-1])
        found = [
            _places(frame, corners, share, sign, blocks, reach_px, settled.tone)
            for share, sign in zip((0.0, 1.0), settled.signs, strict=True)
        ]
        (upper, upper_weight), (lower, lower_weight) = found
        weights = np.minimum(upper_weight, lower_weight)
        middle, _ = fit(cols, 0.5 * (upper + lower), weights, degree_middle)
        width, _ = fit(cols, lower - upper, weights, degree_width)
        corners = Corners(middle, width, corners.first_col, corners.last_col)
    return corners


def _places(
    frame: Frame, corners: Corners, share: float, sign: float, blocks: int, reach_px: float, tone: Tone | None
) -> tuple[Floats, Floats]:
    """Find in each block along a corner the row where brightness changes fastest the right way.

    Returns rows and weights, both of shape (blocks,).
    """
    span = reach_px + AROUND_PX + 2
    offsets = np.arange(-span, span + FINE_PX / 2, FINE_PX)
    per_block = int(np.clip((corners.last_col - corners.first_col) / blocks / 2, 4, 16))
    edges = np.linspace(corners.first_col, corners.last_col, blocks * per_block + 1)
    cols = 0.5 * (edges[1:] + edges[:-1])
    base = corners.rows(cols, share)
    rows = base[None] + offsets[:, None]
    picture = _read(frame, rows, np.broadcast_to(cols, rows.shape), tone)
    picture = picture.reshape(len(offsets), blocks, per_block).mean(axis=2)
    steps = np.maximum(sign * differentiate(picture, 0.8 / FINE_PX).astype(np.float64), 0)
    near = np.exp(-0.5 * (offsets / (0.7 * reach_px)) ** 2) * (np.abs(offsets) <= reach_px)
    peak = offsets[(steps * near[:, None]).argmax(axis=0)]
    window = np.abs(offsets[:, None] - peak[None]) <= AROUND_PX
    mass = (steps * window).sum(axis=0)
    place = (steps * window * offsets[:, None]).sum(axis=0) / np.maximum(mass, 1e-9)
    weights = mass / max(float(np.median(mass)), 1e-9)
    return base.reshape(blocks, per_block).mean(axis=1) + place, np.clip(weights, 0.0, 1.5)
