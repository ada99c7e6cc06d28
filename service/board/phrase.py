"""Lengths, slopes and sides as the words of a sentence, in inches and millimetres."""

import math
from typing import Final

from service.language import mark, say
from service.lengths import both_units

_STRAIGHT: Final = 0.001
"""Flatter than 1 in 1000 a slope is below anything a photo can show."""

_SIDES: Final = {
    "face_1": mark("face 1"),
    "edge_1": mark("edge 1"),
    "face_2": mark("face 2"),
    "edge_2": mark("edge 2"),
}

_TITLES: Final = {
    "face_1": mark("Face 1"),
    "edge_1": mark("Edge 1"),
    "face_2": mark("Face 2"),
    "edge_2": mark("Edge 2"),
}

_WORDS: Final = {
    "marked": mark("marked"),
    "far": mark("far"),
    "upper": mark("upper"),
    "lower": mark("lower"),
    "back": mark("back"),
    "belly": mark("belly"),
}
"""Ends and long corners of a board, and sides of a bow, by their fixed names."""


def length_text(length_mm: float) -> str:
    """Write a length for a sentence in both units: inches to the quarter, millimetres whole.

    >>> length_text(965.2), length_text(130.0)
    ('38 in (965 mm)', '5 in (130 mm)')
    """
    return both_units(length_mm, 4)


def stretch_text(from_mm: float, to_mm: float) -> str:
    """Write where a stretch lies, measured from the marked end.

    >>> stretch_text(254.0, 508.0)
    'from 10 in (254 mm) to 20 in (508 mm)'
    """
    return say("from {begin} to {end}", begin=length_text(from_mm), end=length_text(to_mm))


def is_straight(slope: float) -> bool:
    """Tell whether a slope is too flat to be told as one.

    >>> is_straight(-1 / 2000), is_straight(0.05)
    (True, False)
    """
    return abs(slope) < _STRAIGHT


def one_in_text(slope: float) -> str:
    """Write a slope as 1 in N; steeper than 1 in 10 gets a decimal.

    >>> one_in_text(0.05), one_in_text(-1 / 7.5), one_in_text(0.0)
    ('1 in 20', '1 in 7.5', 'straight')
    """
    if is_straight(slope):
        return say("straight")
    run = 1.0 / abs(slope)
    return say("1 in {run}", run=f"{run:.0f}" if round(run, 1) >= 10.0 else f"{run:.1f}")


def slope_text(slope: float) -> str:
    """Write a slope as 1 in N with its angle.

    >>> slope_text(0.05), slope_text(0.0)
    ('1 in 20 (2.9 deg)', 'straight')
    """
    told = one_in_text(slope)
    if is_straight(slope):
        return told
    return say("{slope} ({angle} deg)", slope=told, angle=f"{math.degrees(math.atan(abs(slope))):.1f}")


def side_text(side: str) -> str:
    """Write a side's name for the middle of a sentence.

    >>> side_text("face_1")
    'face 1'
    """
    return say(_SIDES[side])


def side_title(side: str) -> str:
    """Write a side's name for the beginning of a sentence.

    >>> side_title("face_1")
    'Face 1'
    """
    return say(_TITLES[side])


def word_of(name: str) -> str:
    """Write the fixed name of an end, of a long corner or of a side of the bow for a sentence.

    >>> word_of("marked"), word_of("upper"), word_of("belly")
    ('marked', 'upper', 'belly')
    """
    return say(_WORDS[name])


def listed(names: list[str]) -> str:
    """Write names one after the other.

    >>> listed(["face 1"]), listed(["face 1", "edge 1", "face 2"])
    ('face 1', 'face 1, edge 1 and face 2')
    """
    return names[0] if len(names) == 1 else say("{names} and {last}", names=", ".join(names[:-1]), last=names[-1])


def either(names: list[str]) -> str:
    """Write names of which one is to be chosen.

    >>> either(["ink"]), either(["face 1", "edge 1", "face 2"])
    ('ink', 'face 1, edge 1 or face 2')
    """
    return names[0] if len(names) == 1 else say("{names} or {last}", names=", ".join(names[:-1]), last=names[-1])
