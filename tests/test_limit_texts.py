"""Limits and the bow's width as people type them."""

import math

import pytest

from service.errors import BadInput
from service.judge.limits import DEFAULT
from service.limit_texts import FLATTEST, LIMIT_FIELDS, STEEPEST, read_bow_width, read_limits, read_slope
from service.sides import BoardSize

SIZE = BoardSize(2438.4, 38.1, 19.05)


@pytest.mark.parametrize(
    "text", ["1 in 20", "1:20", "1 : 20", "1in20", "1/20", "1 to 20", "1 IN  20", "5 %", "5%", "5,0 %", "5 percent"]
)
def test_a_slope_is_read_as_people_write_it(text: str) -> None:
    """1 in 20 is 5 percent, however it is written."""
    assert read_slope(text, "back_limit") == pytest.approx(0.05)


@pytest.mark.parametrize(("text", "one_in"), [("2.862 deg", 20.0), ("3.814°", 15.0), ("4.764 degrees", 12.0)])
def test_an_angle_is_a_slope(text: str, one_in: float) -> None:
    """1 in 20 is 2.862 degrees, 1 in 15 3.814, 1 in 12 4.764: the tangent of the angle (elementary)."""
    assert 1.0 / read_slope(text, "back_limit") == pytest.approx(one_in, rel=1e-3)


@pytest.mark.parametrize("text", ["1 in 5", "20 %", "1 in 200", "0.5 %"])
def test_the_ends_still_belong_to_what_is_taken(text: str) -> None:
    """The steepest and the flattest limit named in the refusals can be set."""
    assert read_slope(text, "back_limit") in (STEEPEST, FLATTEST)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("20", "Is 1 in 20 meant?"),
        ("0.05", "Is 5 % meant?"),
        ("0.05", "Write the slope like 1 in 20, 5 % or 3 deg"),
        ("0", "does not say what it counts"),
        ("0 %", "flatter than 1 in 200"),
        ("0 in 20", "flatter than 1 in 200"),
        ("1 in 201", "flatter than 1 in 200"),
        ("1 in 4.9", "steeper than 1 in 5"),
        ("1 in 0", "steeper than 1 in 5"),
        ("20 in 1", "steeper than 1 in 5"),
        ("90 deg", "steeper than 1 in 5"),
        ("300 deg", "steeper than 1 in 5"),
        ("straight", "is no slope that can be read"),
        ("-1 in 20", "is no slope that can be read"),
        ("1 in twenty", "is no slope that can be read"),
        ("3 in", "is no slope that can be read"),
        ("nan %", "is no slope that can be read"),
        ("1 in " + "9" * 400, "is no slope that can be read"),
    ],
)
def test_what_is_no_limit_is_refused(text: str, words: str) -> None:
    """Bare numbers, nonsense and slopes no board is chosen by are refused with what to write instead."""
    with pytest.raises(BadInput) as refusal:
        read_slope(text, "belly_limit")

    assert refusal.value.field == "belly_limit"
    assert words in refusal.value.text
    assert len(refusal.value.text) < 250


def test_nothing_typed_leaves_the_default_limits() -> None:
    """Empty and missing fields change nothing."""
    assert read_limits({}, None) == read_limits({name: " " for name, _, _ in LIMIT_FIELDS}, None) == DEFAULT


def test_each_field_changes_its_own_limit() -> None:
    """Every number can be changed by itself; typed numbers go before what was chosen."""
    typed = {
        "purpose": "first bow",
        "tolerance": "strict",
        "back_limit": "1 in 18",
        "mean_length": "4 in",
        "knot_margin": "0 in",
        "end_trim": "1 in",
        "kerf": "2",
    }

    limits = read_limits(typed, "mm")

    assert (limits.purpose, limits.tolerance) == ("first_bow", "strict")
    assert (limits.back_slope, limits.belly_slope) == pytest.approx((1 / 18, 0.8 / 15))
    assert (limits.mean_length_mm, limits.knot_margin_mm, limits.end_trim_mm, limits.kerf_mm) == pytest.approx(
        (101.6, 0.0, 25.4, 2.0)
    )


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("purpose", "hunting", "choose unbacked, backed or first_bow"),
        ("tolerance", "none", "choose strict, usual or lenient"),
        ("back_limit", "20", "Is 1 in 20 meant?"),
        ("belly_limit", "1 in 3", "steeper than 1 in 5"),
        ("mean_length", "3", "needs a unit"),
        ("mean_length", "10 ft", "too long for the length over which"),
        ("knot_margin", "-1 mm", "must be zero or more"),
        ("end_trim", "much", "is no length that can be read"),
        ("kerf", "2 in", "too long for the width of a saw cut"),
    ],
)
def test_a_refusal_names_its_field(field: str, text: str, words: str) -> None:
    """Each mistake carries the name of the field it was typed into."""
    with pytest.raises(BadInput) as refusal:
        read_limits({field: text}, None)

    assert refusal.value.field == field
    assert words in refusal.value.text


def test_the_bows_width_is_read() -> None:
    """A width in any unit; left empty the bow is as wide as the board."""
    assert read_bow_width("", SIZE, None) is None
    assert read_bow_width("30", SIZE, "mm") == 30.0
    assert read_bow_width("1-1/2 in", SIZE, None) == pytest.approx(38.1)


def test_a_hairs_breadth_more_is_the_boards_own_width() -> None:
    """1-1/2 in is 38.1 mm, so on a board told to be 38 mm wide it is the whole width."""
    assert read_bow_width("1-1/2 in", BoardSize(2400.0, 38.0, 19.0), None) == 38.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2 in", "A bow 2 in (51 mm) wide cannot be cut from a board 1-1/2 in (38 mm) wide"),
        ("1 mm", "too short for the bow's width"),
        ("1 m", "too long for the bow's width"),
        ("38", "needs a unit"),
    ],
)
def test_a_width_no_bow_can_have_is_refused(text: str, words: str) -> None:
    """A bow wider than its board is refused with both widths; so are widths no bow has."""
    with pytest.raises(BadInput) as refusal:
        read_bow_width(text, SIZE, None)

    assert refusal.value.field == "bow_width"
    assert words in refusal.value.text


def test_the_examples_of_the_help_can_be_read() -> None:
    """What help shows as an example is accepted."""
    examples = {name: example for name, _, example in LIMIT_FIELDS}

    assert math.isclose(read_limits(examples, None).back_slope, 1 / 18)
    assert read_bow_width(examples["bow_width"], SIZE, None) == 31.75
