"""The record: every field described, and the JSON just the record's fields."""

import json
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from pydantic import BaseModel, ValidationError

from service.board.types import BoardReading, PhotoNote, RingReading, RunOffPoint
from service.errors import Problem
from service.judge import record
from service.judge.judge import judge
from service.judge.record import Answer
from service.sides import SIDES
from tests.judge.made import change_side, make_reading, unread, with_knot, without

PARTS = [
    thing
    for thing in vars(record).values()
    if isinstance(thing, type) and issubclass(thing, BaseModel) and thing.__module__.startswith(record.__name__)
]


def full_reading() -> BoardReading:
    """Make a reading with something in every part of the record."""
    rings = RingReading((-40.0, 12.0), (0.6, 0.8), 37.0, 4.0, ("end", "slopes"), "rift")
    reading = make_reading({"face_1": 0.02, "edge_1": 0.01}, rings=rings)
    outline = [[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [0.0, 5.0]]
    notes = (PhotoNote("side.jpg", outline, (0.0, 2438.4), (Problem("dark", "The photo is dark."),)),)
    reading = change_side(reading, "face_1", photos=notes, runoffs=(RunOffPoint(190.5, "edge_2", 0.02, 9, 25.0),))
    reading = with_knot(reading, "face_1", 2400.0, 2410.0)
    reading = unread(reading, "face_1", 100.0, 200.0)
    cathedral = np.zeros(reading.positions_mm.shape, dtype=bool)
    cathedral[40:60] = True
    return change_side(reading, "face_1", cathedral=cathedral, pixels_per_mm=1.6, sharpness=0.8)


def field_names(part: type[BaseModel]) -> set[str]:
    """Return a part's field names as they are written in JSON."""
    return {info.serialization_alias or name for name, info in part.model_fields.items()}


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_field_is_described(part: type[BaseModel]) -> None:
    """No field of the record is without a help text that is a sentence, and no part without one of its own."""
    assert part.__doc__
    for name, info in part.model_fields.items():
        assert info.description, f"{part.__name__}.{name}"
        assert info.description.endswith("."), f"{part.__name__}.{name}"


@pytest.mark.parametrize(
    "reading",
    [full_reading(), make_reading({"face_1": 0.2}), without(make_reading(), "edge_1", "retake")],
    ids=["pass", "fail", "retake"],
)
def test_json_holds_the_record_and_nothing_else(reading: BoardReading) -> None:
    """The JSON of an answer has exactly the record's fields, null or not, and reads back to the same answer."""
    answer = judge(reading, 1727.2, nominal="1x2", species="red oak")
    text = answer.model_dump_json(by_alias=True)
    told = json.loads(text)

    assert set(told) == field_names(Answer)
    assert Answer.model_validate_json(text) == answer
    assert set(told["sides"]) == set(SIDES)


def test_json_has_no_number_that_json_does_not_know() -> None:
    """Unread places are null, never NaN."""
    text = judge(full_reading(), 1727.2).model_dump_json(by_alias=True)

    def refuse(name: str) -> None:
        raise AssertionError(name)

    json.loads(text, parse_constant=refuse)
    assert "null" in text


def test_rings_are_told_from_what() -> None:
    """The field that says what the rings were read from is called "from" in JSON, as in the design."""
    told = json.loads(judge(full_reading(), 1727.2).model_dump_json(by_alias=True))

    assert told["rings"]["from"] == ["end", "slopes"]


def test_a_field_that_is_null_says_why() -> None:
    """Whatever is null and has a reason beside it gives that reason."""
    for reading in (full_reading(), make_reading({"face_1": 0.2}), without(make_reading(), "edge_1", "retake")):
        answer = judge(reading, 1727.2)
        for name in Answer.model_fields:
            if f"{name}_reason" in Answer.model_fields:
                told = getattr(answer, f"{name}_reason")
                assert (getattr(answer, name) is None) == bool(told), name


def stretches(reading: BoardReading) -> Iterator[tuple[float, float, str]]:
    """List the stretches told for face 1."""
    for part in judge(reading, 1727.2).sides["face_1"].pattern:
        yield part.from_mm, part.to_mm, part.kind


def test_pattern_covers_the_side_from_end_to_end() -> None:
    """The stretches of a side follow one another without a gap from the marked end to the far end."""
    told = list(stretches(full_reading()))

    assert told[0][0] == 0.0
    assert told[-1][1] == pytest.approx(2438.4)
    assert all(left[1] == right[0] for left, right in pairwise(told))
    assert {kind for *_, kind in told} == {"straight", "cathedral", "knot", "unreadable"}


def test_a_side_that_was_not_read_says_why() -> None:
    """A missing side and one to photograph again give their reason and no numbers."""
    sides = judge(without(without(make_reading(), "edge_1", "retake"), "face_2"), 1727.2).sides

    assert [sides[name].status for name in SIDES] == ["read", "retake", "missing", "read"]
    for name in ("edge_1", "face_2"):
        side = sides[name]
        assert side.status_reason is not None
        assert side.angle_deg == []


def test_combined_slope_is_told_along_the_board() -> None:
    """On slopes of 0.03 and 0.04 the combined slope is 0.05 all along, with its upper end above it."""
    combined = judge(make_reading({"face_1": 0.03, "edge_1": 0.04}), 1727.2).combined_slope

    assert combined is not None
    assert combined.slope == pytest.approx([0.05] * len(combined.positions_mm), abs=1e-5)
    assert all(upper > 0.05 for upper in combined.slope_upper if upper is not None)


def test_combined_slope_needs_a_face_and_an_edge() -> None:
    """Without any edge there is no slope in space, and it says so."""
    answer = judge(without(without(make_reading(), "edge_1"), "edge_2"), 1727.2)

    assert answer.combined_slope is None
    assert answer.combined_slope_reason


def test_an_answer_takes_no_unknown_field() -> None:
    """A field that is not described cannot be put into the record."""
    told = judge(make_reading(), 1727.2).model_dump(by_alias=True)

    with pytest.raises(ValidationError, match="grade"):
        Answer.model_validate({**told, "grade": "A"})
