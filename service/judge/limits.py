"""Every threshold of the judgement, each with its unit, its reason and where it comes from.

The limits are for a bow cut from one board and not backed with anything. They are stricter than
those for wood that carries a steady load, because a bow's outer fibres work close to breaking.
"""

import math
from dataclasses import dataclass, field, fields

from service.errors import BadInput
from service.judge.record import LimitsTold, LimitTold

PRACTICE = "common practice, no source"


def _limit(default: float, unit: str, reason: str, source: str) -> float:
    """Declare a limit together with what must be told about it."""
    made: float = field(default=default, metadata={"unit": unit, "reason": reason, "source": source})
    return made


@dataclass(frozen=True)
class Limits:
    """What a section must keep to; `limits_told` tells each field's unit, reason and source.

    Raises
    ------
    BadInput
        When a limit is not a finite number above zero (zero is allowed for margins), or when a
        slope is 1 or steeper.
    """

    back_slope: float = _limit(
        1 / 20,
        "rise over length",
        "Steepest combined slope of grain on the back, the stretched side, where sloping fibres lift first.",
        "Duff, Bows and Arrows (1927) ch. IV: grain should not cross the bow in less than 15 in, which is 1 in 20 "
        "through a 3/4 in limb. Compare 1 in 15 for aircraft wood (FAA AC 43.13-1B Table 1-1; ANC-19 (1943) 2.4100).",
    )
    belly_slope: float = _limit(
        1 / 12,
        "rise over length",
        "Steepest combined slope on the belly: compression loses far less to slope than tension does.",
        "Duff, as above, accepts a crossing from back to belly in 15 in, 1 in 12 through 1-1/4 in of wood. Compare "
        "1 in 12 for compression members (ANC-18 (1944) Table 2-4, note).",
    )
    mean_length_mm: float = _limit(
        76.2,
        "mm",
        "Slopes are means over this length (3 in), so that a short wave of the grain does not decide.",
        f"{PRACTICE}; ASTM D245 (from memory) measures over a length that shows the general slope.",
    )
    knot_margin_mm: float = _limit(
        6.0,
        "mm",
        "Sound wood wanted between a knot and either end of the section: a knot's place is not exact.",
        PRACTICE,
    )
    end_trim_mm: float = _limit(
        0.0,
        "mm",
        "Wood to be sawn off at either end of the board before anything is cut from it; nothing, because ends of "
        "store boards are mostly sawn clean. Enter a check (a crack) in an end by its own length.",
        PRACTICE,
    )
    kerf_mm: float = _limit(
        3.0, "mm", "Wood that a saw cut between two bows turns to dust.", f"{PRACTICE}; a hand saw takes 1 to 3 mm"
    )
    bridge_mm: float = _limit(
        25.4, "mm", "Longest unread stretch (1 in) that is bridged from what was read beside it.", PRACTICE
    )
    bridge_error_deg_per_mm: float = _limit(
        0.1, "deg/mm", "How fast the error grows with the distance from the nearest read place in a bridge.", PRACTICE
    )
    mirror_error_deg: float = _limit(
        2.0,
        "deg",
        "Error added where an unread stretch is taken from the opposite side, which mirrors it only roughly.",
        "measured on drawn boards: opposite sides differ by 0.2 to 2.7 deg (95th percentile, by board)",
    )
    start_step_mm: float = _limit(
        3.0, "mm", "Distance between the starts that are tried, rounded to divide the board.", PRACTICE
    )
    shortest_bow_mm: float = _limit(
        1219.2, "mm", "Shortest bow (48 in) that is offered instead when the wanted length fails.", PRACTICE
    )
    apart_mm: float = _limit(
        152.4,
        "mm",
        "Other sections are told only when they begin at least this far (6 in) from the better one.",
        PRACTICE,
    )
    equal_points: float = _limit(
        0.1,
        "points",
        "Sections whose scores differ by less are equal; the one farthest from bad wood and the ends is taken.",
        f"{PRACTICE}; about 0.01 of a slope limit, below any reading's error",
    )

    def __post_init__(self) -> None:
        may_be_zero = (
            "knot_margin_mm",
            "end_trim_mm",
            "kerf_mm",
            "bridge_mm",
            "bridge_error_deg_per_mm",
            "mirror_error_deg",
            "equal_points",
        )
        for item in fields(self):
            value = getattr(self, item.name)
            if not math.isfinite(value) or value < 0 or (value == 0 and item.name not in may_be_zero):
                raise BadInput(f"The limit {item.name} cannot be {value}; give a number above zero.", item.name)
        for name in ("back_slope", "belly_slope"):
            if getattr(self, name) >= 1:
                raise BadInput(
                    f"The limit {name} is a slope such as 0.05 for 1 in 20; {getattr(self, name)} is too steep.", name
                )


DEFAULT = Limits()


def limits_told(limits: Limits = DEFAULT) -> LimitsTold:
    """Tell the limits in the order of their weight, each with unit, reason and source.

    >>> [(item.name, item.value) for item in limits_told().items][:2]
    [('back_slope', 0.05), ('belly_slope', 0.08333333333333333)]
    """
    items = [
        LimitTold(
            name=item.name,
            value=getattr(limits, item.name),
            default=getattr(DEFAULT, item.name),
            text=f"{getattr(limits, item.name):g} {item.metadata['unit']}",
            **item.metadata,
        )
        for item in fields(limits)
    ]
    return LimitsTold(purpose="unbacked", tolerance="usual", items=items, comparators=[])
