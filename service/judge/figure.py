"""What the wood shows where figure and fibre part: V shapes over straight fibre, straight rings over sloped fibre."""

from typing import Final

import numpy as np

from service.board.phrase import is_straight, listed, side_text, slope_text
from service.board.types import BoardReading
from service.judge.record_side import Reason, Side
from service.language import say
from service.sides import SIDES

MUCH_FIGURE: Final = 0.25
"""V shapes over more than this share of a side are worth a word."""

PARTED_DEG: Final = 1.5
"""Lines and fibre this far apart, in the mean over a side, are told: half the limit of 1 in 20."""


def figure_notes(reading: BoardReading) -> list[Reason]:
    """Say where what one sees on a board is not what its fibre does.

    Parameters
    ----------
    reading
        The board.

    Returns
    -------
    At most two reasons; none for a board whose lines and fibre agree.
    """
    read: list[Side] = [side for side in SIDES if reading.sides[side].status == "read"]
    figured = [side for side in read if float(reading.sides[side].cathedral.mean()) > MUCH_FIGURE]
    notes = []
    if figured:
        notes.append(Reason(code="cathedral", text=_figured_text(reading, figured)))
    parted = [side for side in read if side not in figured and _apart_deg(reading, side) > PARTED_DEG]
    if parted and reading.spiral_seen:
        notes.append(Reason(code="fibre_off_rings", text=_parted_text(reading, parted)))
    return notes


def _figured_text(reading: BoardReading, figured: list[Side]) -> str:
    """Say what V shapes on some sides mean."""
    sides = listed([side_text(side) for side in figured])
    steepest = max(_mean_slope(reading, side) for side in figured)
    if not reading.spiral_seen:
        return say(
            "V shapes on {sides} are rings cut flat (cathedral figure), and tell nothing of the fibre under them.",
            sides=sides,
        )
    if is_straight(steepest):
        return say(
            "V shapes on {sides} are rings cut flat (cathedral figure), no slope of the grain: the fibre under them "
            "runs straight on average.",
            sides=sides,
        )
    return say(
        "V shapes on {sides} are rings cut flat (cathedral figure), no slope of the grain: the fibre under them runs "
        "at {slope} on average.",
        sides=sides,
        slope=slope_text(steepest),
    )


def _parted_text(reading: BoardReading, parted: list[Side]) -> str:
    """Say that the fibre does not follow the ring lines on some sides."""
    sides = listed([side_text(side) for side in parted])
    steepest = max(_mean_slope(reading, side) for side in parted)
    if is_straight(steepest):
        return say(
            "On {sides} the fibre does not follow the ring lines: it runs straight on average, whatever the lines one "
            "sees suggest.",
            sides=sides,
        )
    return say(
        "On {sides} the fibre does not follow the ring lines: it runs at {slope} on average, whatever the lines one "
        "sees suggest.",
        sides=sides,
        slope=slope_text(steepest),
    )


def _mean_slope(reading: BoardReading, side: Side) -> float:
    """Steepness of a side's fibre in the mean, a ratio; 0 where none was read."""
    angle_deg = reading.sides[side].angle_deg
    known = np.isfinite(angle_deg)
    return float(abs(np.tan(np.radians(angle_deg[known].mean())))) if known.any() else 0.0


def _apart_deg(reading: BoardReading, side: Side) -> float:
    """How far a side's lines and its fibre lie apart in the mean, degrees; 0 where either is unknown."""
    apart_deg = reading.sides[side].line_deg - reading.sides[side].angle_deg
    known = np.isfinite(apart_deg)
    return float(abs(apart_deg[known].mean())) if known.any() else 0.0
