"""The place that decides: the right one is chosen, drawn and named."""

from xml.etree.ElementTree import Element, fromstring

import numpy as np
import pytest

from service.judge.judge import judge
from service.judge.record import Answer
from service.photo.types import Strip
from service.show.worst_place import HEIGHT, MOST_BYTES, ROOM, WIDTH, worst_picture, worst_place, worst_words
from service.sides import SIDES
from tests.judge.made import make_reading, unread, with_knot

SVG = "{http://www.w3.org/2000/svg}"
LENGTH_MM, BOW_MM = 2438.4, 1727.2


def strip(across_mm: float = 38.1, from_mm: float = 0.0, to_mm: float = LENGTH_MM) -> Strip:
    """Make a noisy strip."""
    image = np.random.default_rng(3).random((round(2 * across_mm), round(2 * (to_mm - from_mm))), dtype=np.float32)
    nothing = np.zeros(1)
    return Strip(image, 0.5, from_mm, to_mm, 2.0, 0.001, nothing, nothing, 0.9)


def parse(answer: Answer) -> Element:
    """Draw the place that decides."""
    place = worst_place(answer, SIDES)
    assert place is not None
    svg = worst_picture([strip(38.1 if place.side.startswith("face") else 19.05)], place, answer)
    assert svg is not None
    assert len(svg) <= MOST_BYTES
    return fromstring(svg)  # noqa: S314 - the document is our own


def test_the_steepest_place_of_a_board_that_fails_is_named() -> None:
    """Grain of 1 in 8 on a face all along is beyond every limit; its words name slope, side and place."""
    answer = judge(make_reading({"face_1": 1 / 8}), BOW_MM)
    place = worst_place(answer, SIDES)

    assert answer.verdict == "fail"
    assert place is not None
    assert abs(place.slope or 0.0) == pytest.approx(1 / 8, rel=1e-3)
    assert worst_words(place, "in").startswith(f"Grain 1 in 8.0 on {place.side.replace('_', ' ')} at ")


def test_the_side_whose_own_grain_is_steepest_is_shown() -> None:
    """Where face and edge together are too steep and the edge has most of it, the edge is shown."""
    place = worst_place(judge(make_reading({"face_1": 0.01, "edge_1": 0.1}), BOW_MM), SIDES)

    assert place is not None
    assert place.side.startswith("edge")


def test_a_knot_in_the_way_is_shown_boxed() -> None:
    """A knot in the middle of a straight board decides; its box lies in the middle of the picture."""
    answer = judge(with_knot(make_reading(), "face_1", 1200.0, 1220.0), BOW_MM)
    place = worst_place(answer, SIDES)
    boxes = [rect for rect in parse(answer).iter(f"{SVG}rect") if rect.get("class") == "knot"]

    assert place is not None
    assert (place.kind, place.side) == ("knot", "face_1")
    assert worst_words(place, "mm") == "Knot on face 1 at 1210 mm"
    assert float(boxes[0].attrib["x"]) + 0.5 * float(boxes[0].attrib["width"]) == pytest.approx(WIDTH / 2, abs=0.2)


def test_wood_that_was_not_read_is_never_shown_as_straight() -> None:
    """Where a stretch was not seen the place says so, and no grain line is drawn over it."""
    reading = unread(unread(make_reading(), "face_1", 1000.0, 1400.0), "face_2", 1000.0, 1400.0)
    answer = judge(reading, BOW_MM)
    place = worst_place(answer, SIDES)

    assert answer.verdict == "retake"
    assert place is not None
    assert worst_words(place, "in").startswith("Not read on face 1 at ")
    assert [path for path in parse(answer).iter(f"{SVG}path") if path.get("class") == "grain"] == []


def test_nothing_decides_before_photos_are_taken_again() -> None:
    """While the photos of a steep board cannot be judged, no place of it is told as the one that decides."""
    answer = judge(make_reading({"face_1": 1 / 8}), BOW_MM)
    again = answer.model_copy(update={"verdict": "retake", "reasons": []})

    assert worst_place(answer, SIDES) is not None
    assert worst_place(again, SIDES) is None


def test_the_line_rises_as_the_grain_does() -> None:
    """The picture is true to scale: a line of 1 in 15 rises 1 in 15 of its run, between the long corners."""
    answer = judge(make_reading({"face_1": 1 / 15}), BOW_MM)
    place = worst_place(answer, ["face_1"])
    assert place is not None
    svg = worst_picture([strip()], place, answer)
    assert svg is not None
    (line,) = [path.attrib["d"] for path in fromstring(svg).iter(f"{SVG}path") if path.get("class") == "grain"]  # noqa: S314
    (left, low), (right, high) = (map(float, point.split()) for point in line[1:].split("L"))

    assert (low - high) / (right - left) == pytest.approx(1 / 15, abs=0.002)
    assert ROOM <= high < low <= HEIGHT - ROOM


def test_nothing_is_shown_that_no_photo_shows() -> None:
    """Without a picture of any side there is no place, and a part photo elsewhere shows none."""
    answer = judge(make_reading({"face_1": 1 / 8}), BOW_MM)
    place = worst_place(answer, ["face_1"])

    assert worst_place(answer, []) is None
    assert place is not None
    assert worst_picture([strip(from_mm=2300.0, to_mm=2400.0)], place, answer) is None
