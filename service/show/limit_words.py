"""The limits that held, by names that people use, and how they differ from the usual ones."""

from typing import Final

from service.board.phrase import slope_text
from service.judge.limits import VALUE_WORDS
from service.judge.record import Answer, LimitTold
from service.language import mark, say
from service.lengths import Units, length_in

LIMIT_NAMES: Final = {
    "back_slope": mark("Slope on the back"),
    "belly_slope": mark("Slope on the belly"),
    "mean_length_mm": mark("Length a slope is averaged over"),
    "knot_margin_mm": mark("Sound wood beside a knot"),
    "end_trim_mm": mark("Sawn off at either end"),
    "kerf_mm": mark("Saw cut between two bows"),
    "bridge_mm": mark("Longest unread stretch bridged"),
    "bridge_error_deg_per_mm": mark("Error added in a bridge"),
    "mirror_mm": mark("Most wood taken from the opposite side"),
    "mirror_error_deg": mark("Error of the opposite side's slope"),
    "start_step_mm": mark("Distance between starts tried"),
    "shortest_bow_mm": mark("Shortest bow offered instead"),
    "apart_mm": mark("Least distance between stretches told"),
    "equal_points": mark("Points that make no difference"),
}

_IN_SENTENCES: Final = {
    "back_slope": mark("slope on the back"),
    "belly_slope": mark("slope on the belly"),
    "mean_length_mm": mark("length a slope is averaged over"),
    "knot_margin_mm": mark("sound wood beside a knot"),
    "end_trim_mm": mark("sawn off at either end"),
    "kerf_mm": mark("saw cut between two bows"),
    "bridge_mm": mark("longest unread stretch bridged"),
    "bridge_error_deg_per_mm": mark("error added in a bridge"),
    "mirror_mm": mark("most wood taken from the opposite side"),
    "mirror_error_deg": mark("error of the opposite side's slope"),
    "start_step_mm": mark("distance between starts tried"),
    "shortest_bow_mm": mark("shortest bow offered instead"),
    "apart_mm": mark("least distance between stretches told"),
    "equal_points": mark("points that make no difference"),
}


def limit_name(limit: LimitTold) -> str:
    """Name a limit; one without a name of its own keeps the one that programs use."""
    return say(LIMIT_NAMES.get(limit.name, limit.name.replace("_", " ")))


def limit_text(value: float, unit: str, units: Units) -> str:
    """Write the value of a limit.

    >>> limit_text(0.05, "rise over length", "in"), limit_text(76.2, "mm", "in"), limit_text(0.0, "mm", "in")
    ('1 in 20 (2.9 deg)', '3 in', 'none')
    """
    if unit == "rise over length":
        return slope_text(value)
    if unit == "mm":
        return length_in(value, units) if value else say("none")
    return say(VALUE_WORDS[unit], value=f"{value:g}")


def changed_limits(answer: Answer) -> list[LimitTold]:
    """Return the limits that are not the usual ones."""
    return [limit for limit in answer.limits.items if limit.value != limit.default]


def changed_line(answer: Answer, units: Units) -> str:
    """Write which limits were changed, and from what; nothing when all are the usual ones."""
    told = "; ".join(
        say(
            "{limit} {value} instead of {usual}",
            limit=say(_IN_SENTENCES.get(limit.name, limit.name.replace("_", " "))),
            value=limit_text(limit.value, limit.unit, units),
            usual=limit_text(limit.default, limit.unit, units),
        )
        for limit in changed_limits(answer)
    )
    return say("Judged by limits that are not the usual ones: {told}.", told=told) if told else ""
