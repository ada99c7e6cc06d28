"""Lengths as people type them, and store sizes against the published standard."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadInput
from service.lengths import inches_text
from service.sides import BoardSize
from service.sizes import (
    BOARD_LENGTH,
    BOW_LENGTH,
    STORE_SIZES,
    THICKNESS,
    WIDTH,
    Span,
    board_size,
    parse_length,
    store_size,
)


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("96in", 2438.4),
        ("96 in.", 2438.4),
        ("96 inches", 2438.4),
        ('96"', 2438.4),
        ("96''", 2438.4),
        ("96”", 2438.4),
        ("8ft", 2438.4),
        ("8 feet", 2438.4),
        ("8'", 2438.4),
        ("6ft 4in", 1930.4),
        ("6ft4in", 1930.4),
        ("6' 4-1/2\"", 1943.1),
        ("6’ 4 1/2”", 1943.1),
        ("76 1/2in", 1943.1),
        ("76½ in", 1943.1),
        ("2438 mm", 2438.0),
        ("243.8 CM", 2438.0),
        ("2.438m", 2438.0),
        ("2,4 m", 2400.0),
        ("1 m 5 cm", 1050.0),
    ],
)
def test_lengths_are_read_as_people_write_them(text: str, expected_mm: float) -> None:
    """Every usual way of writing a length means the same length; an inch is 25.4 mm exactly (ISO 80000-3)."""
    assert parse_length(text, BOARD_LENGTH, "length") == pytest.approx(expected_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "expected_mm"), [("1-1/2in", 38.1), ("3/4 in", 19.05), ("¾ in", 19.05), (".75in", 19.05), ("1½in", 38.1)]
)
def test_fractions_of_an_inch_are_read(text: str, expected_mm: float) -> None:
    """Widths are mostly fractions of an inch."""
    assert parse_length(text, WIDTH, "width") == expected_mm


@pytest.mark.parametrize("text", ["68", "5 8", "8ft 96", "1 1/2"])
def test_a_plain_number_needs_a_unit(text: str) -> None:
    """A number without a unit is refused with the number and good examples."""
    with pytest.raises(BadInput) as refusal:
        parse_length(text, BOARD_LENGTH, "length")

    assert refusal.value.text in (
        f"“{text}” needs a unit. Write the board's length like 96 in, 8 ft or 2438 mm.",
        f"“{text}” is no length that can be read. Write the board's length like 96 in, 8 ft or 2438 mm.",
    )
    assert refusal.value.field == "length"


def test_a_plain_number_takes_the_unit_chosen_beforehand() -> None:
    """Whoever chose millimetres or inches need not write them; a unit that is written goes before."""
    assert parse_length("68", BOW_LENGTH, "bow_length", "in") == pytest.approx(1727.2)
    assert parse_length("1727", BOW_LENGTH, "bow_length", "mm") == 1727.0
    assert parse_length("68 in", BOW_LENGTH, "bow_length", "mm") == pytest.approx(1727.2)


@pytest.mark.parametrize(
    "text",
    ["abc", "in", "8 ft 2 ft", "4in 6ft", "2,438 mm", "1e3 mm", "1/2/3 in", "nan in", "inf in", "1 in; 2", "9" * 5000],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    """Nothing is guessed: what cannot be read for certain is refused with examples."""
    with pytest.raises(BadInput, match=r"8 ft or 2438 mm"):
        parse_length(text, BOARD_LENGTH, "length")


def test_dividing_by_zero_is_refused() -> None:
    """A fraction over zero is told as such."""
    with pytest.raises(BadInput, match="“1/0 in” divides by zero"):
        parse_length("1/0 in", WIDTH, "width")


@pytest.mark.parametrize("text", ["0", "0 in", "-3 in", "−3 in", "0/4 in"])
def test_zero_and_less_are_refused(text: str) -> None:
    """A length is more than zero."""
    with pytest.raises(BadInput, match="must be more than zero"):
        parse_length(text, BOARD_LENGTH, "length", "in")


@pytest.mark.parametrize(
    ("span", "too_little", "enough", "still", "too_much"),
    [
        (BOARD_LENGTH, "149 mm", "150 mm", "6 m", "6001 mm"),
        (WIDTH, "4.9 mm", "5 mm", "400 mm", "401 mm"),
        (THICKNESS, "4.9 mm", "5 mm", "400 mm", "401 mm"),
        (BOW_LENGTH, "299 mm", "300 mm", "2.4 m", "2401 mm"),
    ],
)
def test_absurd_measures_are_refused(span: Span, too_little: str, enough: str, still: str, too_much: str) -> None:
    """Each measure has a believable span; its ends belong to it."""
    for text in (too_little, too_much):
        with pytest.raises(BadInput, match="Check the number and its unit"):
            parse_length(text, span, "field")
    assert parse_length(enough, span, "field") == span.low_mm
    assert parse_length(still, span, "field") == span.high_mm


@given(st.integers(6 * 16, 236 * 16))
def test_a_length_in_sixteenths_comes_back(sixteenths: int) -> None:
    """What is written in inches to a sixteenth is read as the same length."""
    length_mm = sixteenths * 25.4 / 16

    assert parse_length(inches_text(length_mm), BOARD_LENGTH, "length") == pytest.approx(length_mm, abs=1e-9)


# American Softwood Lumber Standard, Voluntary Product Standard PS 20, minimum dressed dry sizes in inches.
PS20 = {
    "1x2": (3 / 4, 1 + 1 / 2),
    "1x3": (3 / 4, 2 + 1 / 2),
    "1x4": (3 / 4, 3 + 1 / 2),
    "1x6": (3 / 4, 5 + 1 / 2),
    "1x8": (3 / 4, 7 + 1 / 4),
    "1x12": (3 / 4, 11 + 1 / 4),
    "1-1/4x4": (1, 3 + 1 / 2),
    "1-1/2x4": (1 + 1 / 4, 3 + 1 / 2),
    "2x2": (1 + 1 / 2, 1 + 1 / 2),
    "2x4": (1 + 1 / 2, 3 + 1 / 2),
    "2x10": (1 + 1 / 2, 9 + 1 / 4),
}


@pytest.mark.parametrize("name", PS20)
def test_store_sizes_are_those_of_the_standard(name: str) -> None:
    """A softwood size measures what PS 20 says."""
    thickness_in, width_in = PS20[name]

    size = store_size(name)

    assert size.thickness_mm == pytest.approx(thickness_in * 25.4)
    assert size.width_mm == pytest.approx(width_in * 25.4)


# National Hardwood Lumber Association quarters, inches: rough, planed on one side, planed on two.
@pytest.mark.parametrize(
    ("name", "thickness_in"),
    [
        ("4/4 rough", 1),
        ("4/4 S1S", 7 / 8),
        ("4/4 S2S", 13 / 16),
        ("5/4 S2S", 1 + 1 / 16),
        ("6/4 S1S", 1 + 3 / 8),
        ("8/4 S2S", 1 + 3 / 4),
        ("12/4 S2S", 2 + 3 / 4),
    ],
)
def test_hardwood_quarters_are_those_of_the_trade(name: str, thickness_in: float) -> None:
    """A hardwood quarter has the association's thickness and any width."""
    size = store_size(name)

    assert size.thickness_mm == pytest.approx(thickness_in * 25.4)
    assert size.width_mm is None


@pytest.mark.parametrize("name", ["1x2", "1X2", "1 x 2", "1×2", " 1x2 "])
def test_store_sizes_are_found_as_people_write_them(name: str) -> None:
    """Spaces, capitals and the true multiplication sign make no difference."""
    assert store_size(name) is STORE_SIZES["1x2"]


@pytest.mark.parametrize("name", ["3x7", "4/4", "1x", "x" * 5000])
def test_an_unknown_store_size_is_refused(name: str) -> None:
    """A name that no list holds is refused with names that it does hold."""
    with pytest.raises(BadInput, match="Use a name such as 1x2, 2x4 or 4/4 S2S"):
        store_size(name)


def test_a_measured_side_goes_before_the_store_size() -> None:
    """Boards shrink and are planed: what the tape says counts, and the name is kept."""
    assert board_size("96 in", thickness="18 mm", size="1x2") == (BoardSize(2438.4, 38.1, 18.0), "1x2")


def test_a_measure_far_from_its_store_size_is_refused() -> None:
    """A 1x2 is not three and a half inches wide: one of the two is a mistake."""
    with pytest.raises(BadInput) as refusal:
        board_size("96 in", width="3-1/2 in", size="1x2")

    assert refusal.value.text == (
        "3-1/2 in does not fit the store size 1x2, which measures 1-1/2 in there. "
        "Correct one of the two, or leave the store size out."
    )


@pytest.mark.parametrize(
    ("given_texts", "field", "words"),
    [
        ({"length": ""}, "length", "Give the board's length"),
        ({"length": "96in"}, "width", "Give the board's width"),
        ({"length": "96in", "width": "2in"}, "thickness", "Give the board's thickness"),
        ({"length": "96in", "size": "4/4 S2S"}, "width", "4/4 S2S is sold in any width"),
        ({"length": "96in", "width": "1in", "thickness": "2in"}, "thickness", "exchange the two"),
        ({"length": "8in", "width": "12in", "thickness": "1in"}, "width", "check both"),
    ],
)
def test_sizes_that_do_not_make_a_board_are_refused(given_texts: dict[str, str], field: str, words: str) -> None:
    """What is missing or cannot be is named, with its field."""
    with pytest.raises(BadInput, match=words) as refusal:
        board_size(**given_texts)  # type: ignore[arg-type]  # texts only

    assert refusal.value.field == field
