"""Every threshold of the judgement, each with its unit, its reason and where it comes from.

The default limits are for a bow cut from one board and not backed with anything. They are stricter than those for wood
that carries a steady load, because a bow's outer fibres work close to breaking. What the bow is for and how strictly
the slopes are taken can be chosen; each limit can also be changed by itself, which goes before both.
"""

import math
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from typing import Any, Final

from service.board.phrase import either, listed, one_in_text, slope_text, word_of
from service.errors import BadInput
from service.judge.comparators import COMPARATORS
from service.judge.purposes import LOOSEST, PRACTICE, PURPOSES, TOLERANCES, UNBACKED, USUAL
from service.judge.record import Comparator, LimitsTold, LimitTold
from service.language import mark, say
from service.lengths import both_units

SLOPES: Final = ("back_slope", "belly_slope")


def _limit(default: float, unit: str, reason: str, source: str) -> float:
    """Declare a limit together with what must be told about it."""
    made: float = field(default=default, metadata={"unit": unit, "reason": reason, "source": source})
    return made


@dataclass(frozen=True)
class Limits:
    """What a section must keep to; `limits_told` tells each field's unit, reason and source.

    `purpose` and `tolerance` say how the slopes came about; `make_limits` makes slopes of them.

    Raises
    ------
    BadInput
        When a limit is not a finite number above zero (zero is allowed for margins), when a
        slope is 1 or steeper, or when purpose or tolerance is not known.
    """

    back_slope: float = _limit(
        1 / 20,
        "rise over length",
        mark("Steepest combined slope of grain on the back, the stretched side, where sloping fibres lift first."),
        mark(
            "Duff, Bows and Arrows (1927) ch. IV: grain should not cross the bow in less than 15 in, which is 1 in 20 "
            "through a 3/4 in limb. Compare 1 in 15 for aircraft wood (FAA AC 43.13-1B Table 1-1; ANC-19 (1943) "
            "2.4100)."
        ),
    )
    belly_slope: float = _limit(
        1 / 12,
        "rise over length",
        mark("Steepest combined slope on the belly: compression loses far less to slope than tension does."),
        mark(
            "Duff, as above, accepts a crossing from back to belly in 15 in, 1 in 12 through 1-1/4 in of wood. Compare "
            "1 in 12 for compression members (ANC-18 (1944) Table 2-4, note)."
        ),
    )
    mean_length_mm: float = _limit(
        76.2,
        "mm",
        mark("Slopes are averaged over this length, so that a short wave of the grain does not decide."),
        mark(
            "common practice, no source; ASTM D245 (from memory) measures over a length that shows the general slope."
        ),
    )
    knot_margin_mm: float = _limit(
        6.0,
        "mm",
        mark("Sound wood wanted between a knot and the bow: a knot's place is not exact."),
        PRACTICE,
    )
    end_trim_mm: float = _limit(
        0.0,
        "mm",
        mark(
            "Wood to be sawn off at either end of the board before anything is cut from it; nothing, because ends of "
            "store boards are mostly sawn clean. Enter a check (a crack) in an end by its own length."
        ),
        PRACTICE,
    )
    kerf_mm: float = _limit(
        3.0,
        "mm",
        mark("Wood that a saw cut between two bows turns to dust."),
        mark("common practice, no source; a hand saw takes 1 to 3 mm"),
    )
    bridge_mm: float = _limit(
        25.4, "mm", mark("Longest unread stretch that is bridged from what was read beside it."), PRACTICE
    )
    bridge_error_deg_per_mm: float = _limit(
        0.1,
        "deg/mm",
        mark("How fast the error grows with the distance from the nearest read place in a bridge."),
        PRACTICE,
    )
    mirror_mm: float = _limit(
        76.2,
        "mm",
        mark(
            "Most wood, in sum over the sides, that a section that passes may take from the opposite side, such as "
            "under a sticker: no more than slopes are averaged over, and with its error counted."
        ),
        PRACTICE,
    )
    mirror_error_deg: float = _limit(
        2.0,
        "deg",
        mark("Error added where an unread stretch is taken from the opposite side, which mirrors it only roughly."),
        mark("measured on drawn boards: opposite sides differ by 0.2 to 2.7 deg (95th percentile, by board)"),
    )
    start_step_mm: float = _limit(
        3.0, "mm", mark("Distance between the starts that are tried, rounded to divide the board."), PRACTICE
    )
    shortest_bow_mm: float = _limit(
        1219.2, "mm", mark("Shortest bow that is offered instead when the wanted length fails."), PRACTICE
    )
    apart_mm: float = _limit(
        152.4,
        "mm",
        mark("Other sections are told only when they begin at least this far from the better one."),
        PRACTICE,
    )
    equal_points: float = _limit(
        0.1,
        "points",
        mark("Sections whose scores differ by less are equal; the one farthest from bad wood and the ends is taken."),
        mark("common practice, no source; about 0.01 of a slope limit, below any reading's error"),
    )
    purpose: str = UNBACKED
    tolerance: str = USUAL

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
        _check_choice(self.purpose, "purpose", PURPOSES)
        _check_choice(self.tolerance, "tolerance", TOLERANCES)
        for item in thresholds():
            value = getattr(self, item.name)
            if not math.isfinite(value) or value < 0 or (value == 0 and item.name not in may_be_zero):
                told = mark("The limit {limit} cannot be {value}; give a number above zero.")
                if item.name in may_be_zero:
                    told = mark("The limit {limit} cannot be {value}; give a number zero or more.")
                raise BadInput(say(told, limit=item.name, value=value), item.name)
        for name in SLOPES:
            value = getattr(self, name)
            if value >= 1:
                told = mark("The limit {limit} is a slope such as 0.05 for 1 in 20; {value} is too steep.")
                raise BadInput(say(told, limit=name, value=value), name)


def thresholds() -> list[Field[Any]]:
    """List the fields of `Limits` that are numbers to keep to, each with its unit, reason and source as metadata.

    >>> [item.name for item in thresholds()][:3]
    ['back_slope', 'belly_slope', 'mean_length_mm']
    """
    return [item for item in fields(Limits) if item.metadata]


_NO_CHOICE: Final = {
    "purpose": mark("There is no purpose “{name}”: choose {names}."),
    "tolerance": mark("There is no tolerance “{name}”: choose {names}."),
}


def _check_choice(name: str, field_name: str, known: Mapping[str, object]) -> str:
    if name not in known:
        raise BadInput(say(_NO_CHOICE[field_name], name=name[:20], names=either([*known])), field_name)
    return name


def _tidy(typed: str) -> str:
    """Turn what was typed into the form of a fixed name.

    >>> _tidy(" First bow")
    'first_bow'
    """
    return "_".join(typed.lower().replace("-", " ").replace("_", " ").split())


DEFAULT: Final = Limits()


def make_limits(purpose: str = "", tolerance: str = "", changes: Mapping[str, float] | None = None) -> Limits:
    """Make the limits out of what the bow is for, how strictly slopes are taken, and single changes.

    Parameters
    ----------
    purpose, tolerance
        Names in `PURPOSES` and `TOLERANCES`; left empty they are "unbacked" and "usual".
    changes
        Names of fields of `Limits` with values in their own units; each goes before purpose and tolerance.

    Raises
    ------
    BadInput
        A name that is not known or a value that no such limit can have; its field is the name.

    Examples
    --------
    >>> limits = make_limits("first bow", "strict", {"kerf_mm": 2.0})
    >>> round(1 / limits.back_slope, 2), round(1 / limits.belly_slope, 2), limits.kerf_mm
    (31.25, 18.75, 2.0)
    >>> make_limits() == DEFAULT
    True
    """
    changes = changes or {}
    chosen = _check_choice(_tidy(purpose) or UNBACKED, "purpose", PURPOSES)
    step = _check_choice(_tidy(tolerance) or USUAL, "tolerance", TOLERANCES)
    known = {item.name for item in thresholds()}
    for name in changes:
        if name not in known:
            told = say("There is no limit {limit}: change {limits}.", limit=name[:40], limits=listed(sorted(known)))
            raise BadInput(told, name)
    slopes = {name: _chosen_slope(name, chosen, step) for name in SLOPES}
    return Limits(**{**slopes, **changes}, purpose=chosen, tolerance=step)


def _chosen_slope(name: str, purpose: str, tolerance: str) -> float:
    slope: float = getattr(PURPOSES[purpose], name)
    return slope * TOLERANCES[tolerance].factor


def limits_told(limits: Limits = DEFAULT) -> LimitsTold:
    """Tell the limits in the order of their weight, each as people say it, with unit, reason and source.

    >>> [(item.name, item.text) for item in limits_told().items][:3]
    [('back_slope', '1 in 20 (2.9 deg)'), ('belly_slope', '1 in 12 (4.8 deg)'), ('mean_length_mm', '3 in (76 mm)')]
    """
    items = []
    for item in thresholds():
        value = getattr(limits, item.name)
        reason, source = _why(limits, item)
        items.append(
            LimitTold(
                name=item.name,
                value=value,
                default=getattr(DEFAULT, item.name),
                unit=item.metadata["unit"],
                text=_value_text(value, item.metadata["unit"]),
                reason=reason,
                source=source,
            )
        )
    comparators = [Comparator(use=say(other.use), slope=other.slope, source=say(other.source)) for other in COMPARATORS]
    return LimitsTold(purpose=limits.purpose, tolerance=limits.tolerance, items=items, comparators=comparators)


def _why(limits: Limits, item: Field[Any]) -> tuple[str, str]:
    """Return the reason and source of a limit's value, however it came about."""
    reason, source = say(item.metadata["reason"]), say(item.metadata["source"])
    value, default = getattr(limits, item.name), getattr(DEFAULT, item.name)
    meant = _chosen_slope(item.name, limits.purpose, limits.tolerance) if item.name in SLOPES else default
    if value != meant:
        changed = say("Changed by hand from {value}.", value=_value_text(meant, item.metadata["unit"]))
        return f"{reason} {changed}", say("chosen by hand")
    if value == default:
        return reason, source
    purpose, step = PURPOSES[limits.purpose], TOLERANCES[limits.tolerance]
    if limits.purpose != UNBACKED:
        meant_for = say(
            "{purpose}: {slope}.", purpose=say(purpose.words), slope=one_in_text(getattr(purpose, item.name))
        )
        reason, source = f"{reason} {meant_for} {say(purpose.reason)}", say(purpose.source)
    if limits.tolerance != USUAL:
        reason, source = f"{reason} {say(step.reason)}", _with_practice(source)
    return reason, source


def _with_practice(source: str) -> str:
    """Add to a value's source that the step from the usual tolerance is common practice."""
    if source == say(PRACTICE):
        return source
    return say("{source}; the step from usual: common practice, no source", source=source)


def _value_text(value: float, unit: str) -> str:
    """Write a limit's value as people say it.

    >>> _value_text(3.0, "mm"), _value_text(0.0, "mm"), _value_text(2.0, "deg")
    ('1/8 in (3 mm)', 'none', '2 deg')
    """
    if unit == "rise over length":
        return slope_text(value)
    if unit == "mm":
        return both_units(value) if value else say("none")
    return say(VALUE_WORDS[unit], value=f"{value:g}")


VALUE_WORDS: Final = {
    "deg": mark("{value} deg"),
    "deg/mm": mark("{value} deg for each mm"),
    "points": mark("{value} points"),
}
"""Values by their unit."""


def limit_cautions(limits: Limits) -> list[str]:
    """Say what is to be minded about limits that were chosen or changed; nothing about the default ones.

    >>> limit_cautions(DEFAULT), len(limit_cautions(make_limits("backed", "lenient")))
    ([], 2)
    """
    told = []
    if limits.purpose == "backed":
        told.append(
            say(
                "The slopes are those of a backed bow: they hold only once the backing is glued on. Do not bend the "
                "bare bow far."
            )
        )
    if TOLERANCES[limits.tolerance].caution:
        told.append(say(TOLERANCES[limits.tolerance].caution))
    for name, role in zip(SLOPES, ("back", "belly"), strict=True):
        value, loosest = getattr(limits, name), _chosen_slope(name, limits.purpose, USUAL) * LOOSEST
        # A slope typed as a percentage or an angle may miss a step of the tolerance by its rounding.
        if value > loosest * 1.001:
            told.append(
                say(
                    "The {role} was allowed {slope}, steeper than even the lenient {loosest}: such wood may break long "
                    "before full draw. Ask an experienced bowyer before you bend it.",
                    role=word_of(role),
                    slope=one_in_text(value),
                    loosest=one_in_text(loosest),
                )
            )
    return told
