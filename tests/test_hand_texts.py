"""Knots and cracks as people type them."""

from collections.abc import Mapping

import pytest

from service.asked import make_wish, read_texts
from service.board.by_hand import ByHand, DismissedKnot
from service.errors import BadInput
from service.grain.types import KnotBox
from service.hand_texts import HAND_FIELDS, read_by_hand
from service.judge.limits import make_limits
from service.sides import BoardSize
from service.upload import Upload

SIZE = BoardSize(2438.4, 38.1, 19.05)
SIZES = {"bow_length": "68 in", "length": "96 in", "size": "1x2"}


def near(box: KnotBox) -> tuple[float, ...]:
    """Return a knot's rectangle rounded, for comparing."""
    return tuple(round(value, 2) for value in (box.from_mm, box.to_mm, box.across_from_mm, box.across_to_mm))


@pytest.mark.parametrize(
    ("text", "box"),
    [
        ("face_1 from 900 mm to 915 mm", (900.0, 915.0, 0.0, 38.1)),
        ("Face 1 from 900mm to 915mm", (900.0, 915.0, 0.0, 38.1)),
        ("FACE-1 from 90 cm  to 91.5 cm;", (900.0, 915.0, 0.0, 38.1)),
        ("face_1 at 36 in", (908.05, 920.75, 0.0, 38.1)),
        ("face_1 at 3 ft", (908.05, 920.75, 0.0, 38.1)),
        ("face_1 from 35-1/2 in to 36-1/2 in, across 0 in to 1/2 in", (901.7, 927.1, 0.0, 12.7)),
        ("face_1 from 35½ in to 36½ in across 0 in to ½ in", (901.7, 927.1, 0.0, 12.7)),
        ("face_1 at 36 in , across 5 mm to 38 mm", (908.05, 920.75, 5.0, 38.0)),
    ],
)
def test_a_knot_is_read_as_people_write_it(text: str, box: tuple[float, ...]) -> None:
    """A place or a stretch, with or without a part of the width; units and fractions as in every other length."""
    (knot,) = read_by_hand({"knot": text}, SIZE, None).knots

    assert knot.side == "face_1"
    assert near(knot.box) == box


def test_several_things_of_each_kind_are_read() -> None:
    """Semicolons part them; the same thing twice counts once; plain numbers take the unit that was chosen."""
    typed = {
        "knot": "face_1 at 10; edge_2 from 20 to 21; face 1 at 10; Face1 at 10",
        "no_knot": "face_2 at 30; edge 1 at 40; face_2 at 30",
        "end_check": "far 2; marked end 3",
        "ink": "face_1 1/8 up over 10",
    }

    found = read_by_hand(typed, SIZE, "in")

    assert [knot.side for knot in found.knots] == ["face_1", "edge_2"]
    assert found.no_knots == (DismissedKnot("face_2", 762.0), DismissedKnot("edge_1", 1016.0))
    assert found.end_checks_mm == pytest.approx((76.2, 50.8))
    assert [test.slope for test in found.tests] == pytest.approx([0.0125])


def test_nothing_typed_is_nothing_entered() -> None:
    """Empty and missing fields enter nothing."""
    assert read_by_hand({}, SIZE, "in") == read_by_hand({"knot": " ; ", "end_check": ""}, SIZE, None) == ByHand()


def test_the_examples_of_the_help_can_be_read() -> None:
    """What help and refusals show as an example is accepted."""
    found = read_by_hand({name: example for name, _, example in HAND_FIELDS}, SIZE, None)

    assert len(found.knots) == len(found.no_knots) == 1
    assert found.end_checks_mm == pytest.approx((76.2, 50.8))


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"knot": "a big one"}, "knot", "Write the side and its place, such as: face_1 at 36 in"),
        ({"knot": "face_1"}, "knot", "is no knot that can be read"),
        ({"knot": "face_1 at"}, "knot", "is no knot that can be read"),
        ({"knot": "face_1 at 36"}, "knot", "needs a unit"),
        ({"knot": "face_1 from 36 in"}, "knot", "is no knot that can be read"),
        ({"knot": "face_1 from 36 in to 35 in"}, "knot", "nearer the marked end first"),
        ({"knot": "face_1 at 97 in"}, "knot", "the board is 96 in (2438 mm) long"),
        ({"knot": "face_1 at 1 km"}, "knot", "is no length that can be read"),
        ({"knot": "face_3 at 36 in"}, "knot", "no side “face_3”"),
        ({"knot": "top at 36 in"}, "knot", "no side “top”"),
        ({"knot": "edge_1 at 36 in, across 0 in to 1-1/2 in"}, "knot", "edge 1 is 3/4 in (19 mm)"),
        ({"knot": "face_1 at 36 in, across 1 in"}, "knot", "is no length that can be read"),
        ({"knot": "face_1 at 36 in;" * 40}, "knot", "at most 400 letters"),
        ({"no_knot": "36 in"}, "no_knot", "is no place that can be read"),
        ({"no_knot": "face_1 from 35 in to 36 in"}, "no_knot", "such as: face_1 at 36 in"),
        ({"no_knot": "face_1 at 36 in, across 0 in to 1 in"}, "no_knot", "is no place that can be read"),
        ({"no_knot": "face_1 at -1 in"}, "no_knot", "it must be zero or more"),
        ({"no_knot": "left at 36 in"}, "no_knot", "no side “left”"),
        ({"end_check": "3 in"}, "end_check", "Write marked or far"),
        ({"end_check": "near 3 in"}, "end_check", "Write marked or far"),
        ({"end_check": "marked"}, "end_check", "Write marked or far"),
        ({"end_check": "marked 0 in"}, "end_check", "more than zero"),
        ({"end_check": "marked 49 in"}, "end_check", "past the middle of the board"),
        ({"end_check": "far 1 in; far 2 in"}, "end_check", "only the one that reaches farther"),
        ({"ink": "nonsense"}, "ink", "is no line that can be read"),
    ],
)
def test_what_cannot_be_read_names_its_field(typed: Mapping[str, str], field: str, words: str) -> None:
    """Each mistake names its option and says what to write."""
    with pytest.raises(BadInput) as refusal:
        read_by_hand(typed, SIZE, None)

    assert refusal.value.field == field
    assert words in refusal.value.text


def test_entries_and_limits_reach_the_wish() -> None:
    """What was typed is part of what is asked, and what is wrong is told before any photo is opened."""
    typed = {
        **SIZES,
        "knot": "face_2 at 36 in",
        "end_check": "far 2 in",
        "purpose": "first bow",
        "back_limit": "1 in 18",
        "bow_width": "1-1/4 in",
    }

    wish = make_wish(typed, {"face_1": [Upload("a.jpg", b"photo")]})

    assert [knot.side for knot in wish.by_hand.knots] == ["face_2"]
    assert wish.by_hand.end_checks_mm == (0.0, 50.8)
    assert wish.limits == make_limits("first_bow", "", {"back_slope": 1 / 18})
    assert wish.bow_width_mm == 31.75
    for wrong in ({"knot": "nonsense"}, {"purpose": "nonsense"}, {"bow_width": "2 in"}):
        with pytest.raises(BadInput) as refusal:
            read_texts({**SIZES, **wrong})
        assert refusal.value.field == next(iter(wrong))
