"""Lengths, slopes and sides as the words of a sentence, in inches and millimetres."""

import math

from service.sizes import inches_text


def length_text(length_mm: float) -> str:
    """Write a length for a sentence: inches to the quarter, millimetres whole.

    >>> length_text(965.2), length_text(130.0)
    ('38 in (965 mm)', '5 in (130 mm)')
    """
    return f"{inches_text(length_mm, 4)} ({length_mm:.0f} mm)"


def stretch_text(from_mm: float, to_mm: float) -> str:
    """Write where a stretch lies, measured from the marked end.

    >>> stretch_text(254.0, 508.0)
    'from 10 in (254 mm) to 20 in (508 mm)'
    """
    return f"from {length_text(from_mm)} to {length_text(to_mm)}"


def one_in_text(slope: float) -> str:
    """Write a slope as 1 in N; steeper than 1 in 10 gets a decimal.

    >>> one_in_text(0.05), one_in_text(-1 / 7.5), one_in_text(0.0)
    ('1 in 20', '1 in 7.5', 'straight')
    """
    steepness = abs(slope)
    # Beyond 1 in 1000 a slope is below anything a photo can show.
    if steepness < 0.001:
        return "straight"
    one_in = 1.0 / steepness
    return f"1 in {one_in:.0f}" if round(one_in, 1) >= 10.0 else f"1 in {one_in:.1f}"


def slope_text(slope: float) -> str:
    """Write a slope as 1 in N with its angle.

    >>> slope_text(0.05), slope_text(0.0)
    ('1 in 20 (2.9 deg)', 'straight')
    """
    told = one_in_text(slope)
    return told if told == "straight" else f"{told} ({math.degrees(math.atan(abs(slope))):.1f} deg)"


def side_text(side: str) -> str:
    """Write a side's name for a sentence.

    >>> side_text("face_1")
    'face 1'
    """
    return side.replace("_", " ")


def listed(names: list[str]) -> str:
    """Write names one after the other.

    >>> listed(["face 1"]), listed(["face 1", "edge 1", "face 2"])
    ('face 1', 'face 1, edge 1 and face 2')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
