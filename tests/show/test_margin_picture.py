"""The picture of the margin: its curves lie where the numbers say, and everything on it is said in words too."""

from xml.etree.ElementTree import Element, fromstring

import pytest

from service.asked import make_wish
from service.judge.record import Answer
from service.lengths import Units
from service.show.margin_picture import (
    CURVE_HEIGHT,
    LEFT,
    STRENGTH_TOP,
    TITLE,
    WORK_TOP,
    margin_picture,
    margin_words,
)
from service.show.rows import MARGIN, PICTURE_WIDTH
from service.upload import Upload
from tests.app.standins import answer_for

SVG = "{http://www.w3.org/2000/svg}"
PLACE = 0.06


def told() -> Answer:
    """Make an answer with a margin of five places from 10 in to 78 in: strain 0, 1, 0.2, 1, 0."""
    texts = {"bow_length": "68 in", "length": "96 in", "size": "1x2"}
    return answer_for(make_wish(texts, {"face_1": [Upload("a.jpg", b"photo")]}))


def drawn(units: Units = "in") -> Element:
    """Draw it."""
    svg = margin_picture(told(), units)
    assert svg is not None
    return fromstring(svg)  # noqa: S314 - the document is our own


def points(svg: Element, name: str) -> list[tuple[float, float]]:
    """Return the points of the path of a class."""
    path = next(path for path in svg.iter(f"{SVG}path") if path.get("class") == name)
    pairs = (point.split() for point in path.attrib["d"].strip("Mz").split("L"))
    return [(float(across), float(down)) for across, down in pairs]


def words(svg: Element) -> list[str]:
    """Return all words of the picture."""
    return [element.text or "" for element in svg.iter(f"{SVG}text")]


def test_the_curves_lie_where_the_numbers_say() -> None:
    """Shares of 0 to 1 lie evenly between the lines of 0 % and 100 %, from the left end of the bow to its right."""
    svg = drawn()
    right = PICTURE_WIDTH - MARGIN

    work, least = points(svg, "work"), points(svg, "least-left")
    for (across, down), along, share in zip(work[:5], (0, 0.25, 0.5, 0.75, 1), (0, 1, 0.2, 1, 0), strict=True):
        assert across == pytest.approx(LEFT + along * (right - LEFT), abs=PLACE)
        assert down == pytest.approx(WORK_TOP + (1 - share) * CURVE_HEIGHT, abs=PLACE)
    for (_, down), share in zip(least, (0.9, 0.75, 0.8, 0.85, 0.9), strict=True):
        assert down == pytest.approx(STRENGTH_TOP + (1 - share) * CURVE_HEIGHT, abs=PLACE)


def test_the_least_place_is_marked_across_both_curves() -> None:
    """The place with least to spare, a quarter along the bow, is marked on both curves and named."""
    svg = drawn()
    lines = [line for line in svg.iter(f"{SVG}line") if line.get("class") == "least"]
    across = LEFT + 0.25 * (PICTURE_WIDTH - MARGIN - LEFT)

    for line in lines:
        assert [float(line.attrib[end]) for end in ("x1", "x2")] == pytest.approx([across, across], abs=PLACE)
    assert {(float(line.attrib["y1"]), float(line.attrib["y2"])) for line in lines} >= {
        (top, top + CURVE_HEIGHT) for top in (STRENGTH_TOP, WORK_TOP)
    }
    assert "least to spare, at 27 in" in words(svg)


def test_what_is_drawn_is_named() -> None:
    """Both curves, both lines of the band and the parts of the bow carry words, so that colour is not needed."""
    named = words(drawn())

    assert {"tip", "limb", "handle", "What the grain leaves of the strength in tension"} <= set(named)
    assert any(word.startswith("Dashed: as measured") for word in named)
    assert any(word.startswith("Full line: with the error") for word in named)


@pytest.mark.parametrize(("units", "labels"), [("in", {"12 in", "72 in"}), ("mm", {"400 mm", "1600 mm"})])
def test_the_ruler_counts_in_the_chosen_units(units: Units, labels: set[str]) -> None:
    """Positions are the board's own, in inches or millimetres."""
    assert labels <= set(words(drawn(units)))


def test_those_who_cannot_see_it_are_told_the_same() -> None:
    """Title and description name the least place, what is left there and how hard the bow works."""
    svg = drawn()
    title, desc = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    margin = told().margin

    assert margin is not None
    assert title is not None
    assert desc is not None
    assert (title.text, desc.text) == (TITLE, f"{margin_words(margin, 'in')} {margin.text}")
    assert "at 27 in, where 75 to 85 % of strength is left and the bow works at 100% of its peak" in (desc.text or "")


def test_words_are_large_enough_and_inside_the_picture() -> None:
    """No word is smaller than 12 CSS pixels on a phone 390 wide, and none begins outside the picture."""
    for element in drawn().iter(f"{SVG}text"):
        assert float(element.attrib["font-size"]) >= 12.0
        assert 0.0 <= float(element.attrib["x"]) <= PICTURE_WIDTH


def test_without_a_margin_there_is_no_picture() -> None:
    """An answer without a section has nothing to draw."""
    assert margin_picture(told().model_copy(update={"margin": None})) is None
