"""Find what may be a knot on a side: dark places weighed by shape, border, surroundings and the grain's run."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.grain.blob_measures import Surface, Window, border, core, flows_round, loses_grain, worst_beside
from service.grain.blobs import Blob, dark_blobs
from service.grain.departure import Departure
from service.grain.types import KnotBox, KnotSign

BLUR_MM, FINE_MM = 1.0, 0.5
"""Blur at which dark places are cut out, and at which they are measured."""

LEAST_DARK, LEAST_DEVIATIONS = 0.10, 2.5
"""A dark place hangs together where the wood is darker than its line by this share, and by this many
deviations of the side."""

LEAST_PEAK = 0.18
"""The palest knots drawn are 0.15 dark in the mean and darker than this in their rims."""

SOLID_LEVEL, LEAST_SOLID = 0.35, 0.88
"""Share of a dark place that is darker than this share of its mean; less is print or a cluster of pores."""

FRAME_POINTS, MOST_FRAME = 4, 0.7
"""The frame of so many points around its box is at most this dark, as a share of it: a quick first look."""

LEAST_WEAK = 0.15
"""Step of darkness across the border at its second weakest eighth; the weakest drawn knots have 0.4."""

NEAR_MM, ALIKE, SHARP = 18.0, 0.75, 0.45
"""Dark places of like size closer than this along the board keep company, as letters do, when the other is
at least this share as dark and its second weakest border step is this sharp."""

TAPE_MM, BAND = 60.0, 0.9
"""Bands across more than this share of the width so near the marked end are the tape that marks it."""

BAND_LOSES = 0.6
"""A band from corner to corner is a branch cut along only where it has grain of its own, as `loses_grain`
measures it: branches 0.8 and more, shadows and stains up to 0.5."""

LEAST_LOG_ODDS = -3.0
"""Less likely places are not handed on: even a partner on another side would not make them knots."""


@dataclass(frozen=True)
class Traits:
    """What speaks for and against a knot; each is 0 or small where it says nothing.

    Attributes
    ----------
    dark
        Mean darkness, up to 0.35.
    worst
        Darkness of the wood around in its worst two eighths, as a share of the knot's own.
    unround
        How far the share of its box that it fills is from an ellipse's; 0 for bands across.
    short, low_cut, long_free
        Logarithm of how much shorter than 6.5 mm it is; lower than 6 mm where a corner cuts it, since what
        lies beside the board may show there; longer for its height than 1.9 where none does.
    bend
        `flows_round`.
    disc
        Up to 1 for an even disc as of paper: round, one tone.
    company
        How many like it are beside it, up to 3.
    at_end
        1 where the end of the strip cuts it.
    weakest, weak
        Steps across its border, `Border`.
    """

    dark: float
    worst: float
    unround: float
    short: float
    low_cut: float
    long_free: float
    bend: float
    disc: float
    company: float
    at_end: float
    weakest: float
    weak: float


WEIGHTS = Traits(
    dark=13.0,
    worst=-2.0,
    unround=-12.0,
    short=-8.0,
    low_cut=-2.5,
    long_free=-7.7,
    bend=3.0,
    disc=-3.0,
    company=-2.5,
    at_end=-6.6,
    weakest=7.7,
    weak=2.3,
)
"""Log odds per unit of each trait."""

EVEN = -8.0
"""Log odds where all traits are 0."""


@dataclass(frozen=True)
class _Place:
    """A dark place under its sharpest border."""

    window: Window
    blob: Blob
    dark: float
    weakest: float
    weak: float
    sharp: float


def find_knots(side: Departure, from_mm: float = 0.0) -> tuple[KnotSign, ...]:
    """Find what may be a knot on a straightened side.

    Parameters
    ----------
    side
        The side against its own wood.
    from_mm
        Position of its left border.

    Returns
    -------
    Dark places with the odds that each is a knot, in order along the board; most are none.
    """
    darkness, fine = -side.lighter(BLUR_MM), -side.lighter(FINE_MM)
    noise = 1.4826 * float(np.median(np.abs(darkness[:, ::4])))
    blobs = dark_blobs(darkness, max(LEAST_DARK, LEAST_DEVIATIONS * noise), LEAST_PEAK, side.mm_row, side.mm_col)
    surface = Surface(side, fine)
    places = _sharpest([place for blob in blobs if (place := _place(blob, surface)) is not None])
    signs = []
    width_mm = side.wood.shape[0] * side.mm_row
    for place in places:
        traits = _traits(place, places, surface)
        box = KnotBox(
            from_mm + place.blob.left * side.mm_col,
            from_mm + place.blob.right * side.mm_col,
            max(width_mm - place.blob.bottom * side.mm_row, 0.0),
            width_mm - place.blob.top * side.mm_row,
        )
        if traits is None or (box.across_to_mm - box.across_from_mm > BAND * width_mm and box.from_mm < TAPE_MM):
            continue
        log_odds = EVEN + float(np.dot(_numbers(traits), _numbers(WEIGHTS)))
        if log_odds > LEAST_LOG_ODDS:
            signs.append(KnotSign(box, log_odds))
    return tuple(sorted(signs, key=lambda sign: sign.box.from_mm))


def _numbers(traits: Traits) -> list[float]:
    return [float(value) for value in vars(traits).values()]


def _place(blob: Blob, surface: Surface) -> _Place | None:
    inside = surface.fine[blob.top : blob.bottom, blob.left : blob.right][blob.hull > 0]
    mean = float(inside.mean())
    if (inside > SOLID_LEVEL * mean).mean() < LEAST_SOLID:
        return None
    framed = surface.fine[
        max(0, blob.top - FRAME_POINTS) : blob.bottom + FRAME_POINTS,
        max(0, blob.left - FRAME_POINTS) : blob.right + FRAME_POINTS,
    ]
    box = surface.fine[blob.top : blob.bottom, blob.left : blob.right]
    if float(framed.sum() - box.sum()) > MOST_FRAME * mean * (framed.size - box.size):
        return None
    window = Window(blob, surface)
    edge = border(window)
    if edge is None or edge.weak < LEAST_WEAK:
        return None
    return _Place(window, blob, edge.darkness, edge.weakest, edge.weak, edge.weak + 0.5 * edge.usual)


def _sharpest(places: list[_Place]) -> list[_Place]:
    """Keep of places that overlap the one with the sharpest border."""
    kept: list[_Place] = []
    for place in sorted(places, key=lambda place: -place.sharp):
        if not any(place.blob.overlaps(other.blob) for other in kept):
            kept.append(place)
    return kept


def _traits(place: _Place, places: Sequence[_Place], surface: Surface) -> Traits | None:
    side, blob, window = surface.side, place.blob, place.window
    worst = worst_beside(window, place.dark)
    if worst is None:
        return None
    rows, cols = side.wood.shape
    touches = int(blob.top <= 1) + int(blob.bottom >= rows - 1)
    if touches == 2 and loses_grain(window) < BAND_LOSES:
        return None
    along_mm, across_mm = blob.hull.shape[1] * side.mm_col, blob.hull.shape[0] * side.mm_row
    aspect = float(np.log(along_mm / across_mm))
    inner = core(window)
    uneven = float(window.fine[inner].std()) / max(place.dark, 0.05)
    disc = max(0.0, 0.15 - abs(aspect)) * max(0.0, 0.15 - uneven) / 0.15**2
    return Traits(
        dark=min(place.dark, 0.35),
        worst=max(worst, 0.1),
        unround=abs(float(blob.hull.mean()) - 0.77) if touches < 2 else 0.0,
        short=max(float(np.log(6.5 / along_mm)), 0.0),
        low_cut=max(float(np.log(6.0 / across_mm)), 0.0) if touches else 0.0,
        long_free=max(aspect - float(np.log(1.9)), 0.0) if touches == 0 else 0.0,
        bend=flows_round(window),
        disc=disc if touches == 0 else 0.0,
        company=min(_company(place, places, side.mm_col), 3),
        at_end=float(blob.left <= 2 or blob.right >= cols - 2),
        weakest=float(np.clip(place.weakest, -0.3, 0.6)),
        weak=float(np.clip(place.weak, -0.3, 0.8)),
    )


def _company(place: _Place, places: Sequence[_Place], mm_col: float) -> int:
    """Count the sharp dark places of like size and darkness beside one."""
    high, long = place.blob.hull.shape
    count = 0
    for other in places:
        gap = max(other.blob.left - place.blob.right, place.blob.left - other.blob.right, 0)
        rows, cols = other.blob.hull.shape
        alike = 0.3 < cols / long < 3.3 and 0.4 < rows / high < 2.5 and other.dark > ALIKE * place.dark
        count += other is not place and gap * mm_col < NEAR_MM and alike and other.weak > SHARP
    return count
