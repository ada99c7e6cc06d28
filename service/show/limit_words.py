"""The limits that held, by names that people use, and how they differ from the usual ones."""

from typing import Final

from service.board.phrase import slope_text
from service.judge.record import Answer, LimitTold
from service.show.units import length_in
from service.sizes import Units

LIMIT_NAMES: Final = {
    "back_slope": "Slope on the back",
    "belly_slope": "Slope on the belly",
    "mean_length_mm": "Length a slope is averaged over",
    "knot_margin_mm": "Sound wood beside a knot",
    "end_trim_mm": "Sawn off at either end",
    "kerf_mm": "Saw cut between two bows",
    "bridge_mm": "Longest unread stretch bridged",
    "bridge_error_deg_per_mm": "Error added in a bridge",
    "mirror_mm": "Most wood taken from the opposite side",
    "mirror_error_deg": "Error of the opposite side's slope",
    "start_step_mm": "Distance between starts tried",
    "shortest_bow_mm": "Shortest bow offered instead",
    "apart_mm": "Least distance between stretches told",
    "equal_points": "Points that make no difference",
}


def limit_name(limit: LimitTold) -> str:
    """Name a limit; one without a name of its own keeps the one that programs use."""
    return LIMIT_NAMES.get(limit.name, limit.name.replace("_", " "))


def limit_text(value: float, unit: str, units: Units) -> str:
    """Write the value of a limit.

    >>> limit_text(0.05, "rise over length", "in"), limit_text(76.2, "mm", "in"), limit_text(0.0, "mm", "in")
    ('1 in 20 (2.9 deg)', '3 in', 'none')
    """
    if unit == "rise over length":
        return slope_text(value)
    if unit == "mm":
        return length_in(value, units) if value else "none"
    return f"{value:g} {unit.replace('/', ' for each ')}"


def changed_limits(answer: Answer) -> list[LimitTold]:
    """Return the limits that are not the usual ones."""
    return [limit for limit in answer.limits.items if limit.value != limit.default]


def changed_line(answer: Answer, units: Units) -> str:
    """Write which limits were changed, and from what; nothing when all are the usual ones."""
    told = "; ".join(
        f"{limit_name(limit).lower()} {limit_text(limit.value, limit.unit, units)} instead of "
        f"{limit_text(limit.default, limit.unit, units)}"
        for limit in changed_limits(answer)
    )
    return f"Judged by limits that are not the usual ones: {told}." if told else ""
