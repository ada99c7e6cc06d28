"""Where along a side the board begins and ends."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from service.photo.curves import Corners
from service.photo.frame import Frame
from service.photo.lines import differentiate
from service.photo.tape import past_tape
from service.photo.types import Float
from service.photo.wood import Tone, learn_tone

Floats = NDArray[np.float64]

#: Strips just inside and outside a long corner that are compared: from and to, in pixels from the corner.
NEAR_PX: Final = (1.5, 4.5)
#: A column belongs to the board where it is rated more than this, of 1. Low, as tape across the end looks like neither.
ENOUGH: Final = 0.36
#: Long corners that are as clear as this along the board show where it goes on, when they do over this many columns.
STEADY: Final = 0.7
HELD_PX: Final = 9
#: An end this close to the picture's border is the border.
BORDER_PX: Final = 6.0
#: Steepest end looked for, in columns per row: the board seen from one side at the border of a wide view.
MOST_SLANT: Final = 0.7
#: Ends that lean more than this are rare.
USUAL_SLANT: Final = 0.5
#: The board's end is looked for where the mixed rating's running sum (in columns) is at most this much below its
#: best, at most this many pixels away; falling this far below the best makes an end e times less likely.
UNLIKELY: Final = 36.0
FARTHEST_PX: Final = 260.0
DOUBT: Final = 6.0
#: An end's step in brightness this many times the usual one needs no help from colour.
CLEAR: Final = 3.0
#: The end of tape is told by its colour already; its edge need only be this clear.
TAPED: Final = 1.5
#: Ends are looked for again when their distance is off from the board's proportions by more than this (logarithm);
#: and how well those put an end, as a share of the length.
LENGTH_OFF: Final = 0.09
LENGTH_SPREAD: Final = 0.02
#: Rows read across the end, and pixels between columns.
ROWS: Final = 24
FINE_PX: Final = 0.5


@dataclass(frozen=True)
class End:
    """One end of the side.

    Attributes
    ----------
    upper_col, lower_col
        Where the end meets the upper and the lower long corner.
    in_view
        False where the board leaves the picture.
    clear
        How much stronger the step along the board is there than the usual one around, 0 when out of view.

    """

    upper_col: float
    lower_col: float
    in_view: bool
    clear: float


def find_ends(frame: Frame, corners: Corners, aspect: float | None = None) -> tuple[End, End]:
    """Find both ends of a side whose long corners are known.

    Parameters
    ----------
    frame, corners
        The photo, and the long corners; their own ends need only be roughly right.
    aspect
        The side's width divided by the board's length, when the board is known to be in view from end to end. It
        mends an end that is lost against ground of the wood's own tone.

    Returns
    -------
    near, far
        The marked end and the far end.

    """
    middle = int((corners.first_col + corners.last_col) / 2)
    half = 0.5 * (corners.last_col - corners.first_col)
    border = float(frame.cols - 1)
    present, held = _present(frame, corners)
    ends, tones = [], []
    for way, last in ((-1, 0.0), (1, border)):
        outward = np.arange(middle, -1 if way < 0 else frame.cols, way)
        stretch = middle + way * np.array([0.3 * half, 0.9 * half])
        tone = learn_tone(frame, corners, float(stretch.min()), float(stretch.max()))
        rated = _mixed(present[outward], _likeness(frame, corners, tone, outward.astype(np.float64)))
        if present[outward[: len(outward) // 2]].mean() > STEADY:
            # Where both long corners go on, the board does, whatever lies on it.
            rated = np.maximum(rated, held[outward])
        gained = np.cumsum(rated - ENOUGH)
        end = _place(frame, corners, tone, outward, gained, last)
        if end.in_view:
            past = _past_tape(frame, corners, tone, outward, (end, int(outward[np.argmax(gained)])))
            end = past or end
        ends.append(end)
        tones.append(tone)
    if aspect is not None and ends[0].in_view and ends[1].in_view:
        return _mended(frame, corners, (tones[0], tones[1]), (ends[0], ends[1]), corners.mean_width / aspect)
    return ends[0], ends[1]


def _past_tape(
    frame: Frame, corners: Corners, tone: Tone, outward: NDArray[np.int64], found: tuple[End, int]
) -> End | None:
    """Look for tape beyond an end that was found: where it stands, or roughly (column); None when there is none."""
    end, rough = found
    way = int(outward[1] - outward[0])
    for col in (round(0.5 * (end.upper_col + end.lower_col)), rough):
        taped = past_tape(frame, corners, tone, col, way)
        if taped == col:
            continue
        # The small colour picture's blur makes tape seem longer by one of its pixels.
        off = way * (outward - taped) / frame.photo.reduction + 1
        gained = -0.5 * DOUBT * off.astype(np.float64) ** 2
        past = _place(frame, corners, tone, outward, gained, 0.0 if way < 0 else float(frame.cols - 1))
        # What shows no edge where it stops is no tape.
        if past.clear > TAPED or not past.in_view:
            return past
    return None


def _mended(
    frame: Frame, corners: Corners, tones: tuple[Tone, Tone], ends: tuple[End, End], length_px: float
) -> tuple[End, End]:
    """Look again for one end where the board's proportions put it, if the two found are quite wrong together."""
    near, far = (0.5 * (end.upper_col + end.lower_col) for end in ends)
    if abs(np.log((far - near) / length_px)) < LENGTH_OFF:
        return ends
    options = []
    for moved, target in ((0, far - length_px), (1, near + length_px)):
        if not BORDER_PX < target < frame.cols - 1 - BORDER_PX:
            continue
        outward = np.arange(frame.cols)
        off = (outward - target).astype(np.float64) / (LENGTH_SPREAD * length_px)
        gained = np.asarray(-0.5 * DOUBT * off**2, dtype=np.float64)
        end = _place(frame, corners, tones[moved], outward, gained, -1e9)
        options.append((end.clear, (end, ends[1]) if moved == 0 else (ends[0], end)))
    best = max(options, key=lambda option: option[0], default=(0.0, ends))
    return best[1] if best[0] > CLEAR else ends


def _mixed(present: Floats, alike: Floats) -> Floats:
    """Mix what the corners and what the wood's tone say, each by how steadily it holds along the board."""
    half = len(present) // 2
    trust = float(np.clip((present[:half].mean() - 0.3) / 0.5, 0.05, 1.0))
    alike_trust = float(np.clip((alike[:half].mean() - 0.4) / 0.5, 0.0, 1.0))
    return np.asarray((trust * present + alike_trust * alike) / (trust + alike_trust))


def _likeness(frame: Frame, corners: Corners, tone: Tone, cols: Floats) -> Floats:
    """Rate for each column how much the side's middle looks like its wood rather than the ground, shape (n,)."""
    rows = corners.rows(cols[None], np.array([[0.3], [0.5], [0.7]]))
    distance = tone.distance(frame, rows, np.broadcast_to(cols, rows.shape))
    return np.clip(1.0 - 2.0 * np.maximum(distance - 0.3, 0.0), -0.15, 1.0)


def _present(frame: Frame, corners: Corners) -> tuple[Floats, Floats]:
    """Rate for each column of the picture how much its steps at both long corners look like elsewhere, shape (cols,).

    Returns the mean of both corners, and the smaller one over some columns in a row.
    """
    cols = np.arange(frame.cols, dtype=np.float64)
    deep = min(NEAR_PX[1], 0.3 * corners.mean_width)
    offsets = np.linspace(min(NEAR_PX[0], 0.5 * deep), deep, 4)
    rated = []
    part = slice(int(corners.first_col), int(corners.last_col) + 1)
    for share, inward in ((0.0, 1.0), (1.0, -1.0)):
        base = corners.rows(cols, share)
        inside, outside = (
            frame.sample(base[None] + side * offsets[:, None], np.broadcast_to(cols, (4, frame.cols))).mean(axis=0)
            for side in (inward, -inward)
        )
        contrast = (inside - outside).astype(np.float64)
        usual = float(np.median(contrast[part]))
        rated.append(np.clip(contrast / (usual if abs(usual) > 1e-3 else 1e-3), -0.15, 1.0))
    held = ndimage.minimum_filter1d(ndimage.uniform_filter1d(np.minimum(*rated), HELD_PX), HELD_PX)
    return np.asarray(0.5 * (rated[0] + rated[1])), np.asarray(held)


def _place(
    frame: Frame, corners: Corners, tone: Tone, outward: NDArray[np.int64], gained: Floats, border_col: float
) -> End:
    """Place one end to a fraction of a pixel, as a straight, maybe slanted, line across the side.

    `gained` says for each of the columns `outward` how well the board ends there, as a logarithm up to `DOUBT`.
    """
    rough_col = float(outward[np.argmax(gained)])
    if abs(rough_col - border_col) < BORDER_PX:
        return End(border_col, border_col, False, 0.0)
    width = corners.mean_width
    shares = np.linspace(0.06, 0.94, ROWS)
    lean_px = 0.5 * MOST_SLANT * width
    likely = outward[gained > gained.max() - UNLIKELY]
    near = np.clip([likely.min(), likely.max()], rough_col - FARTHEST_PX, rough_col + FARTHEST_PX)
    cols = np.arange(near[0] - lean_px - 8, near[1] + lean_px + 8, FINE_PX)
    order = np.argsort(outward)
    weights = np.exp((np.interp(cols, outward[order], gained[order]) - gained.max()) / DOUBT)
    at = np.broadcast_to(cols[None], (ROWS, len(cols)))
    rows = corners.rows(cols[None], shares[:, None])
    best = _steepest(frame.sample(rows, at), cols, shares * width, weights)
    if best[2] < CLEAR:
        # Wood and floor may be equally light here; the tone is coarser but knows colour.
        best = max(
            best, _steepest(tone.read(frame, rows, at), cols, shares * width, weights), key=lambda found: found[2]
        )
    col, slant, clear = best
    lean, limit = 0.5 * slant * width, float(frame.cols - 1)
    return End(min(max(col - lean, 0.0), limit), min(max(col + lean, 0.0), limit), True, clear)


def _steepest(picture: Float | Floats, cols: Floats, rows_px: Floats, weights: Floats) -> tuple[float, float, float]:
    """Find the clearest straight step along the columns.

    Parameters
    ----------
    picture
        Shape (rows, cols).
    cols, rows_px
        Where its columns and rows lie, in pixels.
    weights
        Shape (cols,): how likely the step crosses the middle row there.

    Returns
    -------
    col, slant, clear
        Where the step crosses the middle row, columns per row that it leans, and its height over the usual one.

    """
    steps = differentiate(np.ascontiguousarray(picture.T, dtype=np.float32), 1.0 / FINE_PX).T.astype(np.float64)
    usual = 1.48 * float(np.median(np.abs(steps))) + 1e-4
    middle = 0.5 * (rows_px[0] + rows_px[-1])
    slant, total = 0.0, steps.mean(axis=0)
    for pitch, reach in ((0.1, MOST_SLANT), (0.02, 0.1)):
        best, centre = -1.0, slant
        for lean in np.arange(centre - reach, centre + reach + pitch / 2, pitch):
            summed = _along(steps, lean * (rows_px - middle) / FINE_PX)
            strength = float((np.abs(summed) * weights).max()) / (1 + (lean / USUAL_SLANT) ** 2)
            if strength > best:
                best, slant, total = strength, float(lean), summed
    peak = int((np.abs(total) * weights).argmax())
    around = slice(max(peak - 3, 0), peak + 4)
    mass = np.maximum(total[around] * np.sign(total[peak]), 0)
    col = float((mass * cols[around]).sum() / max(float(mass.sum()), 1e-12))
    return col, slant, float(np.abs(total[peak])) / usual


def _along(steps: Floats, shift: Floats) -> Floats:
    """Mean of rows, each read `shift` columns further on; shape (cols,)."""
    whole = np.rint(shift).astype(np.int64)
    most, cols = int(np.abs(whole).max()), steps.shape[1]
    wide = np.empty((len(steps), cols + 2 * most))
    wide[:, most : most + cols] = steps
    wide[:, :most], wide[:, most + cols :] = steps[:, :1], steps[:, -1:]
    total = np.zeros(cols)
    for row, first in zip(wide, whole + most, strict=True):
        total += row[first : first + cols]
    return total / len(steps)
