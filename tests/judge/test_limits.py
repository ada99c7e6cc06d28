"""The limits: what they stand on, how they compare with published ones, how they are chosen, and what is refused."""

import math

import pytest

from service.errors import BadInput
from service.judge.comparators import COMPARATORS
from service.judge.judge import judge
from service.judge.limits import DEFAULT, SLOPES, Limits, limit_cautions, limits_told, make_limits, thresholds
from service.judge.purposes import PRACTICE, PURPOSES, TOLERANCES
from tests.judge.made import make_reading


def told(limits: Limits, name: str) -> tuple[str, str, str]:
    """Return text, reason and source of one limit."""
    item = next(item for item in limits_told(limits).items if item.name == name)
    return item.text, item.reason, item.source


def test_every_limit_says_unit_reason_and_source() -> None:
    """No threshold is told without its unit, its reason and where it comes from."""
    items = limits_told().items

    assert [item.name for item in items] == [item.name for item in thresholds()]
    assert all(item.unit and item.text and item.reason.endswith(".") and item.source for item in items)
    assert all(item.value == item.default for item in items)


def test_a_source_is_a_publication_a_measurement_or_said_to_be_practice() -> None:
    """Every source names a published text, a measurement, or says plainly that there is none."""
    sources = [item.source for item in limits_told().items]
    sources += [purpose.source for purpose in PURPOSES.values()]

    assert all(any(word in source for word in ("Duff", "ANC-1", PRACTICE, "measured on")) for source in sources)


@pytest.mark.parametrize(("limit", "thickness_in"), [(DEFAULT.back_slope, 0.75), (DEFAULT.belly_slope, 1.25)])
def test_limits_are_duffs_rule_for_two_thicknesses(limit: float, thickness_in: float) -> None:
    """A grain line at the limit crosses 3/4 in on the back, 1-1/4 in on the belly, in 15 in.

    Duff, Bows and Arrows (1927), chapter IV: grain should not cross the bow in less than 15 in.
    """
    assert thickness_in / limit == pytest.approx(15.0)


def test_the_back_is_held_to_more_than_aircraft_wood() -> None:
    """The back's limit is stricter than 1 in 15 (FAA AC 43.13-1B Table 1-1, ANC-19 2.4100), the belly's is not."""
    assert DEFAULT.back_slope < 1 / 15 < DEFAULT.belly_slope


@pytest.mark.parametrize(
    ("words", "one_in", "source"),
    [
        ("spars of aircraft", 15, "FAA AC 43.13-1B (1998) Table 1-1"),  # 1:15 for all species of the table
        ("spars of aircraft", 15, "ANC-19 (1943) 2.4100"),  # 1:15, and it means the combined slope
        ("middle half", 10, "ANC-19 (1943) 2.4100"),  # the middle half of a spar's depth may go to 1:10
        ("wood ladders", 12, "ANSI A14.1-2007"),  # 1:12, as Forest Products Journal 68(4):459 tells
        ("rungs", 15, "Pennsylvania Code title 34, 21.23"),  # 1:15
        ("bats", 20, "professional bats"),  # about 1:20, just under 3 degrees
        ("axe handles", 20, "Forest Service"),  # cross grain no steeper than 1:20
        ("furniture", 12, "Wengert"),  # the common specification
    ],
)
def test_limits_stand_beside_published_ones(words: str, one_in: float, source: str) -> None:
    """What others allow is told with its slope and source, to compare the limits with."""
    (found,) = [item for item in limits_told().comparators if words in item.use.lower()]

    assert found.slope == pytest.approx(1 / one_in)
    assert source in found.source


def test_duffs_rule_stands_among_them_for_both_thicknesses() -> None:
    """15 in over 1 in 20 is 3/4 in of wood, over 1 in 12 it is 1-1/4 in (Duff, 1927, chapter IV)."""
    slopes = [item.slope for item in COMPARATORS if "Duff" in item.source]

    assert [15.0 * slope for slope in slopes] == pytest.approx([0.75, 1.25])


def test_comparators_begin_with_the_strictest() -> None:
    """The list can be read from strict to loose."""
    slopes = [item.slope for item in COMPARATORS]

    assert slopes == sorted(slopes)


def test_nothing_chosen_is_the_default() -> None:
    """Empty choices, and the defaults by name, give the default limits."""
    assert make_limits() == make_limits("unbacked", "usual") == DEFAULT


def test_a_stricter_choice_is_never_looser() -> None:
    """From lenient to strict, and from backed over unbacked to a first bow, no slope grows."""
    steps = ("strict", "usual", "lenient")
    purposes = ("first_bow", "unbacked", "backed")
    for name in SLOPES:
        for purpose in purposes:
            row = [getattr(make_limits(purpose, step), name) for step in steps]
            assert row == sorted(set(row))
        for step in steps:
            column = [getattr(make_limits(purpose, step), name) for purpose in purposes]
            assert column == sorted(column)


@pytest.mark.parametrize("one_in", [100, 28, 22, 18, 15, 12, 10, 8])
@pytest.mark.parametrize("purpose", PURPOSES)
def test_a_stricter_choice_never_gives_a_better_answer(one_in: float, purpose: str) -> None:
    """Whatever the slope of a board, taken leniently its verdict and score are at least those taken strictly."""
    board = make_reading({"face_1": 1 / one_in})
    verdicts = ("fail", "borderline", "pass")

    answers = [judge(board, 1727.2, make_limits(purpose, step)) for step in ("strict", "usual", "lenient")]

    ranks = [verdicts.index(answer.verdict) for answer in answers]
    scores = [answer.score for answer in answers]
    assert ranks == sorted(ranks)
    assert scores == sorted(scores)


@pytest.mark.parametrize(("step", "one_in"), [("strict", 25), ("usual", 20), ("lenient", 16)])
def test_the_tolerance_moves_the_back_by_known_steps(step: str, one_in: float) -> None:
    """1 in 20 becomes 1 in 25 taken strictly and 1 in 16 taken leniently."""
    assert make_limits(tolerance=step).back_slope == pytest.approx(1 / one_in)


def test_no_choice_lets_the_back_be_steeper_than_a_ladder() -> None:
    """Even the loosest choice keeps the back within 1 in 12, what wood ladders may have (ANSI A14.1-2007)."""
    assert max(make_limits(purpose, step).back_slope for purpose in PURPOSES for step in TOLERANCES) <= 1 / 12


def test_a_single_change_goes_before_the_choices() -> None:
    """What was changed by itself holds whatever was chosen; the rest follows the choice; the change is told."""
    limits = make_limits("First bow", "strict", {"back_slope": 1 / 18, "kerf_mm": 1.5})

    assert (limits.back_slope, limits.kerf_mm) == (1 / 18, 1.5)
    assert limits.belly_slope == pytest.approx(0.8 / 15)
    assert told(limits, "back_slope")[0] == "1 in 18 (3.2 deg)"
    assert "Changed by hand from 1 in 31 (1.8 deg)." in told(limits, "back_slope")[1]
    assert told(limits, "back_slope")[2] == "chosen by hand"
    assert "Changed by hand from 1/8 in (3 mm)." in told(limits, "kerf_mm")[1]


def test_a_choice_is_told_with_its_reason() -> None:
    """The purpose and the tolerance, not the default, are given as the reason of a slope they set."""
    text, reason, source = told(make_limits("backed", "strict"), "back_slope")

    assert text == "1 in 19 (3.1 deg)"
    assert "will be glued: 1 in 15. A backing holds down fibres" in reason
    assert "Taken strictly" in reason
    assert PRACTICE in source
    assert limits_told(make_limits("backed", "strict")).items[0].default == DEFAULT.back_slope


def test_what_is_looser_comes_with_a_caution() -> None:
    """A lenient choice, a backing and a slope steeper than lenient are each warned of; strict ones are not."""
    assert limit_cautions(make_limits("first_bow", "strict")) == []
    assert "leniently" in limit_cautions(make_limits(tolerance="lenient"))[0]
    assert "once the backing is glued on" in limit_cautions(make_limits("backed"))[0]
    assert limit_cautions(make_limits(changes={"back_slope": 1 / 16})) == []
    (steep,) = limit_cautions(make_limits(changes={"back_slope": 1 / 10}))
    assert "The back was allowed 1 in 10, steeper than even the lenient 1 in 16" in steep


@pytest.mark.parametrize(
    ("purpose", "tolerance", "changes", "field"),
    [
        ("war", "", {}, "purpose"),
        ("", "anything", {}, "tolerance"),
        ("", "", {"front_slope": 0.05}, "front_slope"),
        ("", "", {"purpose": 1.0}, "purpose"),
        ("", "", {"back_slope": 20.0}, "back_slope"),
        ("", "", {"kerf_mm": math.nan}, "kerf_mm"),
    ],
)
def test_a_choice_that_is_not_known_is_refused(
    purpose: str, tolerance: str, changes: dict[str, float], field: str
) -> None:
    """Unknown names and impossible values are refused with their field."""
    with pytest.raises(BadInput) as refusal:
        make_limits(purpose, tolerance, changes)

    assert refusal.value.field == field


def test_a_refused_choice_names_what_there_is() -> None:
    """Whoever mistypes a purpose is told the ones there are."""
    with pytest.raises(BadInput, match="choose unbacked, backed or first_bow"):
        make_limits("bare")
    with pytest.raises(BadInput, match="choose strict, usual or lenient"):
        Limits(tolerance="Strict")


@pytest.mark.parametrize("value", [0.0, -0.05, float("nan"), float("inf"), 1.0, 20.0])
def test_a_slope_that_is_none_is_refused(value: float) -> None:
    """A limit that is no slope, such as the 20 of 1 in 20, is refused with its own name."""
    with pytest.raises(BadInput, match="back_slope") as refusal:
        Limits(back_slope=value)

    assert refusal.value.field == "back_slope"


@pytest.mark.parametrize("name", [item.name for item in thresholds()])
def test_negative_limits_are_refused(name: str) -> None:
    """No limit can be negative."""
    with pytest.raises(BadInput, match=name):
        make_limits(changes={name: -1.0})


def test_margins_may_be_nothing() -> None:
    """A margin of zero is a choice, not a mistake."""
    assert Limits(knot_margin_mm=0.0, bridge_mm=0.0).knot_margin_mm == 0.0
