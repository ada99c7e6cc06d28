"""Ink and scribe tests as people type them."""

from collections.abc import Mapping

import pytest

from service.asked import make_wish, read_texts
from service.board.entered import EnteredSlope
from service.errors import BadInput
from service.line_tests import PAGE_PARTS, TEXT_EXAMPLE, read_line_tests
from service.sides import BoardSize
from service.upload import Upload

SIZE = BoardSize(2438.4, 38.1, 19.05)


@pytest.mark.parametrize(
    ("text", "slope", "run_mm", "position_mm"),
    [
        ("face_1 3 mm up over 200 mm at 900 mm", 0.015, 200.0, 900.0),
        ("FACE-1 3mm Up over  200mm", 0.015, 200.0, None),
        ("face_1 1/8 in down over 10 in", -0.0125, 254.0, None),
        ("face_1 1/8in down over 10in at 2 ft 6 in", -0.0125, 254.0, 762.0),
        ("face_1 0 mm over 250 mm", 0.0, 250.0, None),
        ("face_1 0 in down over 250 mm at 0 in", 0.0, 250.0, 0.0),
        ("face_1 ⅛ in up over 10″", 0.0125, 254.0, None),
    ],
)
def test_a_line_is_read_as_people_write_it(text: str, slope: float, run_mm: float, position_mm: float | None) -> None:
    """Rise over run with the sign of up or down; units and fractions as in every other length."""
    (test,) = read_line_tests({"ink": text}, SIZE, None)

    assert (test.side, test.method) == ("face_1", "ink")
    assert test.run_mm == pytest.approx(run_mm)
    assert test.slope == pytest.approx(slope)
    assert test.position_mm == (None if position_mm is None else pytest.approx(position_mm))


def test_several_lines_of_both_kinds_are_read() -> None:
    """A semicolon parts lines; the same line twice counts once."""
    typed = {"ink": "face_1 3 mm up over 200 mm; face_2 3 mm down over 200 mm;", "scribe": "face_1 2 mm up over 200 mm"}
    again = {"ink": f"{typed['ink']} face_1 3mm up over 200mm", "scribe": typed["scribe"]}

    tests = read_line_tests(typed, SIZE, None)

    assert [(test.side, test.method) for test in tests] == [("face_1", "ink"), ("face_2", "ink"), ("face_1", "scribe")]
    assert read_line_tests(again, SIZE, None) == tests


@pytest.mark.parametrize("toward", ["upper", "lower"])
def test_the_pages_fields_say_the_same_as_the_text(toward: str) -> None:
    """The page's separate fields and the one text give the same line, plain numbers in the unit that was chosen."""
    page = {
        "test_method": "scribe",
        "test_side": "face_2",
        "test_rise": "1/8",
        "test_toward": toward,
        "test_run": "10",
        "test_position": "36",
    }
    way = "up" if toward == "upper" else "down"

    assert read_line_tests(page, SIZE, "in") == read_line_tests(
        {"scribe": f"face_2 1/8 {way} over 10 at 36"}, SIZE, "in"
    )


def test_no_test_is_no_test() -> None:
    """Empty fields, and the choice of ink or scribe and of a corner that a page always sends, enter nothing."""
    assert read_line_tests({}, SIZE, "in") == ()
    assert read_line_tests({"ink": " ; ", "test_method": "ink", "test_toward": "upper"}, SIZE, "in") == ()


def test_the_example_of_the_help_can_be_read() -> None:
    """What help and refusals show as an example is accepted."""
    assert read_line_tests({"scribe": TEXT_EXAMPLE}, SIZE, None)[0].position_mm == pytest.approx(914.4)


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"ink": "straight as an arrow"}, "ink", "is no line that can be read"),
        ({"ink": "face_1 over 10 in"}, "ink", "is no line that can be read"),
        ({"ink": "face_1 1/8 in up over 10 in at "}, "ink", "Write the run"),
        ({"ink": "face_1 1/8 in over 10 in"}, "ink", "toward which long corner"),
        ({"ink": "face_1 3 up over 10 in"}, "ink", "“3” needs a unit"),
        ({"ink": "face_1 -3 mm up over 10 in"}, "ink", "it must be zero or more"),
        ({"scribe": "side_9 3 mm up over 250 mm"}, "scribe", "no side “side_9”"),
        ({"scribe": "face_1 3 mm up over 0 mm"}, "scribe", "it must be more than zero"),
        ({"scribe": "face_1 3 mm up over 50 mm"}, "scribe", "too short to read a slope on"),
        ({"scribe": "face_1 3 mm up over 250 mm at 100 in"}, "scribe", "the board is 96 in (2438 mm) long"),
        ({"scribe": "face_1 3 mm up over 250 mm;" * 20}, "scribe", "at most 400 letters"),
        ({"test_rise": "1/8 in"}, "test_side", "on which side"),
        ({"test_side": "face_1"}, "test_rise", "Give the rise"),
        ({"test_side": "face_1", "test_rise": "1/8 in"}, "test_toward", "toward which long corner"),
        ({"test_side": "face_1", "test_rise": "0 in"}, "test_run", "Give the run"),
        (
            {"test_side": "face_1", "test_rise": "0 in", "test_toward": "left"},
            "test_toward",
            "toward which long corner",
        ),
        ({"test_side": "top", "test_rise": "0 in", "test_run": "10 in"}, "test_side", "no side “top”"),
        (
            {"test_side": "face_1", "test_rise": "0 in", "test_run": "10 in", "test_method": "dye"},
            "test_method",
            "choose ink or scribe",
        ),
        (
            {"test_side": "edge_1", "test_rise": "1 in", "test_toward": "upper", "test_run": "10 in"},
            "test_rise",
            "only 3/4 in (19 mm) wide",
        ),
        (
            {"test_side": "face_1", "test_rise": "0 in", "test_run": "10 in", "test_position": "97 in"},
            "test_position",
            "the board is",
        ),
    ],
)
def test_what_cannot_be_read_names_its_field(typed: Mapping[str, str], field: str, words: str) -> None:
    """Each mistake names the option, or the field of the page, and says what to do."""
    with pytest.raises(BadInput) as refusal:
        read_line_tests(typed, SIZE, None)

    assert refusal.value.field == field
    assert words in refusal.value.text


def test_a_test_reaches_the_wish() -> None:
    """What was entered is part of what is asked, and a wrong one is told before any photo is opened."""
    sizes = {"bow_length": "68 in", "length": "96 in", "size": "1x2"}

    wish = make_wish({**sizes, "ink": "face_1 3 mm up over 200 mm"}, {"face_1": [Upload("a.jpg", b"photo")]})

    assert wish.by_hand.tests == (EnteredSlope("face_1", 0.015, 200.0),)
    with pytest.raises(BadInput, match="no line that can be read"):
        read_texts({**sizes, "ink": "nonsense"})


def test_every_part_of_a_line_has_one_field() -> None:
    """No two parts share a field of the page."""
    assert len(set(PAGE_PARTS.values())) == len(PAGE_PARTS)
