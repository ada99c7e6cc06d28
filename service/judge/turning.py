"""Opposite sides that disagree: the fibre turns through the board, and the steeper side counts."""

from typing import Final

import numpy as np

from service.board.phrase import length_text, side_text, side_title, slope_text
from service.board.types import BoardReading
from service.judge.limits import Limits
from service.judge.record_side import Reason, Side
from service.judge.side_answer import mean_along
from service.language import mark, say

WORTH_TELLING: Final = 0.0125
"""Opposite sides less apart than 1 in 80 are not worth a word: a quarter of the back's limit."""

PAIRS: Final[tuple[tuple[Side, Side, str], ...]] = (
    (
        "face_1",
        "face_2",
        mark(
            "{side} and {other} disagree by up to {slope}, near {place}: the fibre turns through the board's "
            "thickness. The steeper of the two counts."
        ),
    ),
    (
        "edge_1",
        "edge_2",
        mark(
            "{side} and {other} disagree by up to {slope}, near {place}: the fibre turns through the board's width. "
            "The steeper of the two counts."
        ),
    ),
)
"""Opposite sides, and what is said when they disagree."""


def turning_notes(reading: BoardReading, limits: Limits) -> list[Reason]:
    """Say where opposite sides differ by more than their errors.

    Sides that lie back to back show the same fibre mirrored, if it runs alike all through the board. Where it does
    not, it turns from one side to the other; the wood between lies between the two, so the steeper one bounds it.

    Returns
    -------
    list of Reason
        One for each pair of sides that disagrees, about the place where they do most.
    """
    notes = []
    for first, second, sentence in PAIRS:
        sides = [reading.sides[name] for name in (first, second)]
        if any(side.status != "read" for side in sides):
            continue
        slopes = [
            mean_along(np.tan(np.radians(side.angle_deg)), reading.positions_mm, limits.mean_length_mm)
            for side in sides
        ]
        apart = np.abs(slopes[0] + slopes[1])
        error = np.hypot(*(np.radians(side.angle_error_deg) for side in sides))
        told = np.isfinite(apart) & (apart > np.maximum(error, WORTH_TELLING))
        if told.any():
            at = int(np.argmax(np.where(told, apart, 0.0)))
            position_mm = float(reading.positions_mm[at])
            text = say(
                sentence,
                side=side_title(first),
                other=side_text(second),
                slope=slope_text(float(apart[at])),
                place=length_text(position_mm),
            )
            notes.append(Reason(code="turns_through", text=text, side=first, position_mm=round(position_mm, 1)))
    return notes
