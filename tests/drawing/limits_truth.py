"""The right answer under the default limits, by brute force over every start and both ways round.

The limits are written out here again on purpose, so that nothing is taken from what is tested:
back 1 in 20, belly 1 in 12, each combined as hypot(face, larger edge), running mean over 76 mm,
against the section's own straight centre line; no knot touches the section.
"""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.sides import EDGES, FACES, SIDES, side_opposite
from tests.drawing.solid import Solid
from tests.drawing.truth import knots_on_side, mean_slope

Array = NDArray[Any]
Truth = dict[str, Any]
Spans = list[tuple[float, float]]

BACK_LIMIT: Final = 1 / 20
BELLY_LIMIT: Final = 1 / 12
MEAN_OVER_MM: Final = 76.0
STEP_MM: Final = 3.0
#: An answer is called clear when the share of the limit used is at most, or at least, this.
CLEAR_PASS: Final = 0.8
CLEAR_FAIL: Final = 1.25


def _running_mean(values: Array, count: int) -> Array:
    kernel = np.ones(count)
    return np.convolve(values, kernel, "same") / np.convolve(np.ones(values.size), kernel, "same")


def share_of_limit(slopes: dict[str, Array], back: str, chord: dict[str, float]) -> float:
    """Return the largest share of the limits used over a section, with one face as the back.

    Examples
    --------
    Back 1 in 25 with edges 1 in 25: hypot(0.04, 0.04) / 0.05.

    >>> level = {side: np.array([slope]) for side, slope in zip(SIDES, (.04, .04, -.04, -.04))}
    >>> round(share_of_limit(level, "face_1", dict.fromkeys(SIDES, 0.0)), 4)
    1.1314
    """
    edge = np.maximum(*(np.abs(slopes[side] - chord[side]) for side in EDGES))
    shares = (
        np.hypot(slopes[face] - chord[face], edge) / limit
        for face, limit in ((back, BACK_LIMIT), (side_opposite(back), BELLY_LIMIT))
    )
    return max(float(share.max()) for share in shares)


def every_section(
    slopes: dict[str, Array], crooks: dict[str, Array], spans: Spans, bow_length_mm: float
) -> dict[float, dict[str, float]]:
    """Return, for each start on a grid of `STEP_MM` that keeps off the knots, the share each face uses as back.

    Parameters
    ----------
    slopes, crooks
        Side to fibre slope against the local mid-line and to the mid-line's height, at every `STEP_MM`.
    spans
        (begin, end) of the knots.
    """
    along = STEP_MM * np.arange(slopes["face_1"].size)
    count = 2 * round(MEAN_OVER_MM / STEP_MM / 2) + 1
    straight = {side: _running_mean(slopes[side] + np.gradient(crooks[side], along), count) for side in SIDES}
    width = round(bow_length_mm / STEP_MM)
    shares = {}
    for first in range(along.size - width):
        last = first + width
        if any(low <= along[last] and high >= along[first] for low, high in spans):
            continue
        part = {side: straight[side][first : last + 1] for side in SIDES}
        chord = {
            side: float((crooks[side][last] - crooks[side][first]) / (along[last] - along[first])) for side in SIDES
        }
        shares[float(along[first])] = {back: share_of_limit(part, back, chord) for back in FACES}
    return shares


def limits_truth(solid: Solid, bow_length_mm: float) -> Truth:
    """Return the right answer for a bow length.

    Returns
    -------
    answer ("pass" or "fail"), because ("ok", "too_short", "knot" or "slope"), clear,
    share_of_limit_used (1 = on the limit; null when no section is free of knots),
    section_start_mm (the best start), starts_mm ([first, last] passing start),
    back (the better face in the best section), back_shares (the share each face would use as back).
    """
    nothing: Truth = dict.fromkeys(("share_of_limit_used", "section_start_mm", "starts_mm", "back", "back_shares"))
    if bow_length_mm > solid.length_mm:
        return {"answer": "fail", "because": "too_short", "clear": True, **nothing}
    along = np.arange(0.0, solid.length_mm + 1e-6, STEP_MM)
    slopes = {}
    for side in SIDES:
        slope = mean_slope(solid, side, along)
        known = np.isfinite(slope)
        slopes[side] = np.interp(along, along[known], slope[known])
    spans = [(box["from_mm"], box["to_mm"]) for side in SIDES for box in knots_on_side(solid, side)]
    crooks = {side: solid.crook_at(side, along) for side in SIDES}
    shares = every_section(slopes, crooks, spans, bow_length_mm)
    if not shares:
        return {"answer": "fail", "because": "knot", "clear": True, **nothing}
    best = min(shares, key=lambda start: min(shares[start].values()))
    share = min(shares[best].values())
    passing = [start for start in shares if min(shares[start].values()) <= 1]
    return {
        "answer": "pass" if share <= 1 else "fail",
        "because": "ok" if share <= 1 else "slope",
        "clear": share <= CLEAR_PASS or share >= CLEAR_FAIL,
        "share_of_limit_used": round(share, 3),
        "section_start_mm": best,
        "starts_mm": [passing[0], passing[-1]] if passing else None,
        "back": min(FACES, key=lambda face: shares[best][face]),
        "back_shares": {face: round(value, 3) for face, value in shares[best].items()},
    }
