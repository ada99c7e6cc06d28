"""The limits: what they stand on, how they compare with published ones, and what is refused."""

from dataclasses import fields

import pytest

from service.errors import BadInput
from service.judge.limits import DEFAULT, PRACTICE, Limits, limit_notes


def test_every_limit_says_unit_reason_and_source() -> None:
    """No threshold stands without its unit, its reason and where it comes from."""
    notes = limit_notes()

    assert [note.name for note in notes] == [item.name for item in fields(Limits)]
    assert all(note.unit and note.reason.endswith(".") and note.source for note in notes)


def test_a_source_is_a_publication_a_measurement_or_said_to_be_practice() -> None:
    """Every source names a published text, a measurement, or says plainly that there is none."""
    for note in limit_notes():
        assert any(word in note.source for word in ("Duff", "ANC-1", PRACTICE, "measured on"))


@pytest.mark.parametrize(("limit", "thickness_in"), [(DEFAULT.back_slope, 0.75), (DEFAULT.belly_slope, 1.25)])
def test_limits_are_duffs_rule_for_two_thicknesses(limit: float, thickness_in: float) -> None:
    """A grain line at the limit crosses 3/4 in on the back, 1-1/4 in on the belly, in 15 in.

    Duff, Bows and Arrows (1927), chapter IV: grain should not cross the bow in less than 15 in.
    """
    assert thickness_in / limit == pytest.approx(15.0)


def test_the_back_is_held_to_more_than_aircraft_wood() -> None:
    """The back's limit is stricter than 1 in 15 (FAA AC 43.13-1B Table 1-1, ANC-19 2.4100), the belly's is not."""
    assert DEFAULT.back_slope < 1 / 15 < DEFAULT.belly_slope


@pytest.mark.parametrize("value", [0.0, -0.05, float("nan"), float("inf"), 1.0, 20.0])
def test_a_slope_that_is_none_is_refused(value: float) -> None:
    """A limit that is no slope, such as the 20 of 1 in 20, is refused with its own name."""
    with pytest.raises(BadInput, match="back_slope") as refusal:
        Limits(back_slope=value)

    assert refusal.value.field == "back_slope"


@pytest.mark.parametrize("name", [item.name for item in fields(Limits)])
def test_negative_limits_are_refused(name: str) -> None:
    """No limit can be negative."""
    with pytest.raises(BadInput, match=name):
        Limits(**{name: -1.0})


def test_margins_may_be_nothing() -> None:
    """A margin of zero is a choice, not a mistake."""
    assert Limits(knot_margin_mm=0.0, bridge_mm=0.0).knot_margin_mm == 0.0
