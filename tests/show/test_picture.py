"""The picture of a side: a well-formed document with everything at its right place."""

import base64
from xml.etree.ElementTree import Element, fromstring

import cv2
import numpy as np
import pytest

from service.board.types import BoardReading, RunOffPoint
from service.judge.judge import judge
from service.judge.record import Answer
from service.judge.record_side import Side
from service.lengths import Units
from service.photo.types import Strip
from service.show.picture import side_picture
from service.show.rows import MARGIN, PICTURE_WIDTH, ROW_MM, make_rows
from service.sides import SIDES
from tests.judge.made import change_side, make_reading, unread, with_knot, without

SVG = "{http://www.w3.org/2000/svg}"
LENGTH_MM = 2438.4
BOW_MM = 1727.2
PLACE = 0.06
"""Coordinates are written to a tenth of a unit."""
SMALLEST_LETTERS = 12.0
"""Height of letters on a screen as wide as the picture, in CSS pixels."""


def parse(svg: str) -> Element:
    """Read a picture that was just drawn; it fails when it is not well-formed."""
    return fromstring(svg)  # noqa: S314 - the document is our own


def make_strip(from_mm: float = 0.0, to_mm: float = LENGTH_MM, across_mm: float = 38.1) -> Strip:
    """Make a strip that gets lighter from the marked end on, at one pixel a millimetre."""
    rows, cols = round(across_mm), round(to_mm - from_mm)
    shade = np.linspace(from_mm / LENGTH_MM, to_mm / LENGTH_MM, cols, dtype=np.float32)
    nothing = np.zeros(1)
    return Strip(np.tile(shade, (rows, 1)), 1.0, from_mm, to_mm, 1.6, 0.001, nothing, nothing, 0.9)


def marked_reading() -> BoardReading:
    """Make a board with a steep end, two run-offs, an unread stretch and a knot."""
    reading = make_reading()
    reading = make_reading({"face_1": np.where(reading.positions_mm > 2200.0, 0.12, 0.02)})
    offs = (RunOffPoint(190.5, "edge_2", 0.02, 9, 25.0), RunOffPoint(900.0, "edge_1", -0.02, 1, 90.0))
    reading = with_knot(change_side(reading, "face_1", runoffs=offs), "face_1", 2300.0, 2320.0)
    return unread(reading, "face_1", 2350.0, 2400.0)


def drawn(side: Side = "face_1", units: Units = "in", strip: Strip | None = None) -> tuple[Answer, Element]:
    """Judge the marked board and draw one side of it."""
    answer = judge(marked_reading(), BOW_MM)
    return answer, parse(side_picture(strip or make_strip(), side, answer, units))


def by_class(svg: Element, name: str) -> list[dict[str, float]]:
    """Return the numbers of every rectangle of a class."""
    found = [element for element in svg.iter(f"{SVG}rect") if element.get("class") == name]
    return [{key: float(rect.attrib[key]) for key in ("x", "y", "width", "height")} for rect in found]


def along(position_mm: float, units: Units = "in") -> float:
    """Return where a position must lie along its row."""
    return MARGIN + (position_mm % ROW_MM[units]) * (PICTURE_WIDTH - 2 * MARGIN) / ROW_MM[units]


def texts(svg: Element) -> list[str]:
    """Return all words of the picture."""
    return [element.text or "" for element in svg.iter(f"{SVG}text")]


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_every_side_is_drawn_with_title_and_description(side: Side, units: Units) -> None:
    """Each side gives well-formed SVG that says in words what it shows, for those who cannot see it."""
    _, svg = drawn(side, units)

    title, desc = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    assert svg.get("role") == "img"
    assert title is not None
    assert desc is not None
    assert (title.text or "").startswith(side.replace("_", " ").capitalize())
    assert svg.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert "The bow is cut from" in (desc.text or "")


def test_runoffs_stand_at_their_place_over_their_corner() -> None:
    """A run-off's arrow lies at its position, on the corner of the neighbour it leaves over, with its words below."""
    _, svg = drawn()
    rows, _ = make_rows(LENGTH_MM, 38.1, "in", 78.0, [1, 1, 0, 0])
    arrows = [element.attrib["d"] for element in svg.iter(f"{SVG}path") if element.get("class") == "runoff"]
    places = [tuple(float(number) for number in arrow[1:].split("h")[0].split()) for arrow in arrows]

    assert len(places) == 2
    assert places[0][0] + 4 == pytest.approx(along(190.5), abs=PLACE)
    assert places[0][1] - 2 == pytest.approx(rows[0].top, abs=PLACE)
    assert places[1][0] + 4 == pytest.approx(along(900.0), abs=PLACE)
    assert places[1][1] + 2 == pytest.approx(rows[1].top + rows[1].height, abs=PLACE)
    assert "Off over edge 2: line 9 at 7-1/2 in." in texts(svg)
    assert "Off over edge 1: line 1 at 35-7/16 in." in texts(svg)


def outlines(svg: Element) -> list[list[list[float]]]:
    """Return the points of the bow's long sides, the upper before the lower one, row by row."""
    paths = [path.attrib["d"] for path in svg.iter(f"{SVG}path") if path.get("class") == "section"]
    lines = [line for path in paths for line in path.split("M")[1:3]]
    return [[[float(number) for number in point.split()] for point in line.split("L")] for line in lines]


def test_the_section_is_outlined_and_the_rest_dimmed() -> None:
    """The outlines of all rows together are the section, the dimmed parts the rest of the board."""
    answer, svg = drawn()
    assert answer.section is not None
    scale = (PICTURE_WIDTH - 2 * MARGIN) / ROW_MM["in"]

    uppers, away = outlines(svg)[::2], by_class(svg, "away")
    kept = sum(upper[-1][0] - upper[0][0] for upper in uppers)
    assert kept == pytest.approx(BOW_MM * scale, abs=8 * PLACE)
    assert sum(part["width"] for part in away) == pytest.approx((LENGTH_MM - BOW_MM) * scale, abs=4 * PLACE)
    assert uppers[0][0][0] == pytest.approx(along(answer.section.start_mm), abs=PLACE)
    assert uppers[-1][-1][0] == pytest.approx(along(answer.section.end_mm), abs=2 * PLACE)
    assert sum(text.startswith("bow starts") for text in texts(svg)) == 1
    assert sum(text.startswith("bow ends") for text in texts(svg)) == 1


def test_a_knot_by_hand_is_told_apart_by_its_word() -> None:
    """A knot that somebody pointed at is named so, and its box is dashed."""
    answer = judge(with_knot(make_reading(), "face_1", 2300.0, 2320.0), BOW_MM)
    knots = [knot.model_copy(update={"by_hand": True}) for knot in answer.sides["face_1"].knots]
    pointed = answer.sides["face_1"].model_copy(update={"knots": knots})
    answer = answer.model_copy(update={"sides": {**answer.sides, "face_1": pointed}})
    svg = parse(side_picture(make_strip(), "face_1", answer))

    assert "knot, by hand" in texts(svg)
    assert [box.get("stroke-dasharray") for box in svg.iter(f"{SVG}rect") if box.get("class") == "knot"] == ["5 3"]


def test_without_a_section_nothing_is_outlined_or_dimmed() -> None:
    """A board that fails is shown whole."""
    answer = judge(make_reading({"face_1": 0.2}), BOW_MM)
    svg = parse(side_picture(make_strip(), "face_1", answer))

    assert outlines(svg) == []
    assert by_class(svg, "away") == []


def test_unread_stretches_are_hatched_and_knots_boxed_with_their_words() -> None:
    """An unread stretch and a knot lie where the answer has them, each named, so that colour is not needed."""
    answer, svg = drawn()
    hatched, boxed = by_class(svg, "unread"), by_class(svg, "knot")
    part = next(part for part in answer.sides["face_1"].pattern if part.kind == "unreadable")

    assert len(hatched) == len(boxed) == 1
    assert hatched[0]["x"] == pytest.approx(along(part.from_mm), abs=PLACE)
    assert boxed[0]["x"] + 2 == pytest.approx(along(2300.0), abs=PLACE)
    assert {"Hatched: could not be read.", "knot"} <= set(texts(svg))


def test_a_wide_unread_stretch_is_named_where_it_lies() -> None:
    """A hatched stretch with room for words says that it was not read."""
    answer = judge(unread(make_reading(), "face_1", 700.0, 1000.0), BOW_MM)

    assert "not read" in texts(parse(side_picture(make_strip(), "face_1", answer)))


def test_a_knot_at_the_end_of_a_row_is_named_on_its_left() -> None:
    """The word of a knot stays inside the picture."""
    answer = judge(with_knot(make_reading(), "face_1", 590.0, 605.0), BOW_MM)
    svg = parse(side_picture(make_strip(), "face_1", answer))
    words = next(element for element in svg.iter(f"{SVG}text") if element.text == "knot")

    assert words.get("text-anchor") == "end"
    assert float(words.attrib["x"]) < along(590.0)


def test_grain_lines_have_the_drawn_slope() -> None:
    """On grain of 1 in 50 drawn three times as high every line rises 3 in 50 of the picture."""
    answer = judge(make_reading({"face_1": 0.02}), BOW_MM)
    svg = parse(side_picture(make_strip(), "face_1", answer))
    paths = [element.attrib["d"] for element in svg.iter(f"{SVG}path") if element.get("stroke-width") == "1.1"]
    lines = [line for path in paths for line in path.split("M") if line]

    assert len(paths) == 4
    assert len(lines) > 4 * 9
    for line in lines:
        first, last = (tuple(map(float, point.split())) for point in (line.split("L")[0], line.split("L")[-1]))
        run = last[0] - first[0]
        assert (first[1] - last[1]) == pytest.approx(0.06 * run, abs=0.2)
    assert "Drawn 3 times as high as it is, so slopes look steeper." in texts(svg)


def test_grain_is_not_drawn_through_unread_wood() -> None:
    """No grain line crosses the unread stretch."""
    reading = unread(make_reading({"face_1": 0.02}), "face_1", 200.0, 400.0)
    svg = parse(side_picture(make_strip(), "face_1", judge(reading, BOW_MM)))
    path = next(element.attrib["d"] for element in svg.iter(f"{SVG}path") if element.get("stroke-width") == "1.1")
    places = [float(point.split()[0]) for line in path.split("M") if line for point in line.split("L")]

    assert places
    assert not any(along(205.0) < place < along(395.0) for place in places)


def test_grain_goes_on_up_to_an_unread_end() -> None:
    """A side that is unread at its far end has its lines up to there."""
    reading = unread(make_reading({"face_1": 0.02}), "face_1", 2200.0, 2500.0)
    svg = parse(side_picture(make_strip(), "face_1", judge(reading, BOW_MM)))
    paths = [element.attrib["d"] for element in svg.iter(f"{SVG}path") if element.get("stroke-width") == "1.1"]
    last = max(float(point.split()[0]) for line in paths[-1].split("M") if line for point in line.split("L"))

    assert last == pytest.approx(along(2200.0 - 0.5 * 12.7), abs=12.7)


def test_each_row_shows_its_own_stretch_of_the_photo() -> None:
    """The rows' pictures are JPEGs of the strip's stretches in order, and where there is no photo it says so."""
    _, svg = drawn(strip=make_strip(from_mm=700.0, to_mm=2000.0))
    images = list(svg.iter(f"{SVG}image"))
    widths = [float(image.attrib["width"]) for image in images]
    scale = (PICTURE_WIDTH - 2 * MARGIN) / ROW_MM["in"]

    assert len(images) == 3
    assert sum(widths) == pytest.approx(1300.0 * scale, abs=3 * PLACE)
    assert float(images[0].attrib["x"]) == pytest.approx(along(700.0), abs=PLACE)
    assert texts(svg).count("not in any photo") == 1
    for image in images:
        head, _, coded = image.attrib["href"].partition(",")
        assert head == "data:image/jpeg;base64"
        grey = cv2.imdecode(np.frombuffer(base64.b64decode(coded), np.uint8), cv2.IMREAD_GRAYSCALE)
        assert grey is not None
        assert grey[:, 0].mean() < grey[:, -1].mean()


def test_part_photos_are_drawn_side_by_side() -> None:
    """A side of several overlapping photos shows each of them at its own place."""
    answer = judge(marked_reading(), BOW_MM)
    parts = [make_strip(0.0, 1300.0), make_strip(1200.0, LENGTH_MM)]
    svg = parse(side_picture(parts, "face_1", answer))
    starts = [float(image.attrib["x"]) for image in svg.iter(f"{SVG}image")]

    assert len(starts) == 3 + 3
    assert starts[2] == pytest.approx(along(1200.0), abs=PLACE)
    assert "not in any photo" not in texts(svg)


def test_ruler_counts_from_the_marked_end() -> None:
    """The ruler is labelled every 4 in, or every 200 mm, from 0 at the marked end to the far end."""
    inches, millimetres = texts(drawn(units="in")[1]), texts(drawn(units="mm")[1])

    assert [f"{number} in" for number in range(0, 97, 4)] == list(dict.fromkeys(t for t in inches if t in LABELS_IN))
    assert {f"{number} mm" for number in range(0, 2401, 200)} <= set(millimetres)


LABELS_IN = {f"{number} in" for number in range(97)}


def test_words_are_large_enough_and_inside_the_picture() -> None:
    """No word is smaller than 12 CSS pixels on a phone 390 wide, and none begins outside the picture."""
    _, svg = drawn()

    assert svg.attrib["viewBox"].startswith("0 0 390 ")
    for element in svg.iter(f"{SVG}text"):
        assert float(element.attrib["font-size"]) >= SMALLEST_LETTERS
        assert 0.0 <= float(element.attrib["x"]) <= PICTURE_WIDTH


def test_pictures_on_one_page_share_no_name() -> None:
    """The four pictures can stand on one page: no id appears twice."""
    answer = judge(marked_reading(), BOW_MM)
    ids = [
        element.attrib["id"]
        for side in SIDES
        for element in parse(side_picture(make_strip(), side, answer)).iter()
        if "id" in element.attrib
    ]

    assert len(ids) == len(set(ids))


def test_nothing_but_data_is_fetched_and_nothing_runs() -> None:
    """The picture holds no script, no style and no address outside itself."""
    _, svg = drawn()

    for element in svg.iter():
        assert element.tag.removeprefix(SVG) not in ("script", "style", "a", "foreignObject")
        assert all(not name.startswith("on") and name != "style" for name in element.attrib)
        assert element.get("href", "data:").startswith("data:")


def test_an_unread_side_is_drawn_without_lines() -> None:
    """A side that could not be read still shows its photo, and says why there is nothing on it."""
    answer = judge(without(make_reading(), "edge_1", "retake"), BOW_MM)
    svg = parse(side_picture(make_strip(across_mm=19.05), "edge_1", answer))
    desc = svg.find(f"{SVG}desc")

    assert desc is not None
    assert "not read" in (desc.text or "")
    assert len(list(svg.iter(f"{SVG}image"))) == 4
    assert not [
        element for element in svg.iter(f"{SVG}path") if element.get("stroke-width") == "1.1" and element.get("d")
    ]
