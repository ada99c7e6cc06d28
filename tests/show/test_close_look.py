"""A side from close: its photo true to scale, what was found at its own place, what is told there."""

import base64
import math
from xml.etree.ElementTree import Element, fromstring

import cv2
import numpy as np
import pytest

from service.judge.judge import judge
from service.photo.types import Strip
from service.show.close_look import LAYERS, MOST_BYTES, CloseLook, close_look, close_photo
from service.show.places import place_lines, place_rows
from tests.judge.made import make_reading, unread, with_knot

SVG = "{http://www.w3.org/2000/svg}"
LENGTH_MM, ACROSS_MM, BOW_MM = 2438.4, 38.1, 1727.2


def parse(svg: str) -> Element:
    """Read a drawing that was just made."""
    return fromstring(svg)  # noqa: S314 - the document is our own


def noisy_strip(from_mm: float, to_mm: float, mm_per_px: float) -> Strip:
    """Make a strip of noise, the hardest of all to make small."""
    shape = (round(ACROSS_MM / mm_per_px), round((to_mm - from_mm) / mm_per_px))
    image = np.random.default_rng(7).random(shape, dtype=np.float32)
    nothing = np.zeros(1)
    return Strip(image, mm_per_px, from_mm, to_mm, 1.6, 0.001, nothing, nothing, 0.9)


def pixels_of(image: Element) -> np.ndarray:
    """Decode a photo of the drawing."""
    coded = image.attrib["href"].partition(",")[2]
    grey = cv2.imdecode(np.frombuffer(base64.b64decode(coded), np.uint8), cv2.IMREAD_GRAYSCALE)
    assert grey is not None
    return grey


@pytest.mark.parametrize("mm_per_px", [0.6, 0.12])
def test_even_noise_is_made_small_enough(mm_per_px: float) -> None:
    """However fine or rough a photo is, it stays true to scale, and no more than was promised goes over the line."""
    svg = close_photo([noisy_strip(0.0, LENGTH_MM, mm_per_px)], LENGTH_MM, ACROSS_MM)
    (image,) = parse(svg).iter(f"{SVG}image")
    rows, columns = pixels_of(image).shape

    assert len(svg) <= MOST_BYTES
    assert columns / rows == pytest.approx(LENGTH_MM / ACROSS_MM, rel=0.03)
    assert (float(image.attrib["width"]), float(image.attrib["height"])) == pytest.approx(
        (LENGTH_MM, ACROSS_MM), abs=0.1
    )


def test_part_photos_lie_at_their_own_place() -> None:
    """Photos of parts of a side are laid where they belong, in millimetres from the marked end."""
    svg = close_photo([noisy_strip(0.0, 900.0, 0.5), noisy_strip(800.0, 1700.0, 0.5)], LENGTH_MM, ACROSS_MM)
    places = [(float(image.attrib["x"]), float(image.attrib["width"])) for image in parse(svg).iter(f"{SVG}image")]

    assert places == [(0.0, 900.0), (800.0, 900.0)]


def test_the_dark_end_is_lit() -> None:
    """Grain at the dark end of a photo is shown as strongly as at its bright end."""
    columns = np.linspace(0, 1, 2438)
    stripes = 0.5 + 0.5 * np.sin(np.arange(38) / 1.5)[:, None]
    image = (0.1 + (0.1 + 0.7 * columns) * stripes).astype(np.float32)
    nothing = np.zeros(1)
    strip = Strip(image, 1.0, 0.0, 2438.0, 1.0, 0.001, nothing, nothing, 0.9)
    grey = pixels_of(next(parse(close_photo([strip], 2438.0, 38.0)).iter(f"{SVG}image"))).astype(float)

    assert grey[:, 50:150].std() == pytest.approx(grey[:, -150:-50].std(), rel=0.1)


def looked() -> tuple[CloseLook, Element]:
    """Look at a face with a slope of 1 in 50, a knot, and a stretch that was not read."""
    reading = with_knot(make_reading({"face_1": 0.02}), "face_1", 2300.0, 2320.0)
    answer = judge(unread(reading, "face_1", 2000.0, 2200.0), BOW_MM)
    look = close_look("face_1", answer, "in", "/photo", "Face 1", 600.0)
    return look, parse(look.drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def layer(svg: Element, name: str) -> Element:
    """Return a layer of the drawing."""
    return next(group for group in svg.iter(f"{SVG}g") if group.get("data-layer") == name)


def test_every_layer_is_there_and_true_to_scale() -> None:
    """A knot 20 mm long and a line rising 1 in 50 are drawn so, for the drawing is as high as it is long."""
    look, svg = looked()
    box = next(rect for rect in layer(svg, "finds").iter(f"{SVG}rect") if rect.get("class") == "knot")
    line = next(path.attrib["d"] for path in svg.iter(f"{SVG}path") if path.get("id") == "lines-close").split("M")[1]
    first, last = (tuple(map(float, point.split())) for point in (line.split("L")[0], line.split("L")[-1]))

    assert {group.get("data-layer") for group in svg.iter(f"{SVG}g")} >= set(LAYERS)
    assert float(box.attrib["x"]) + 2 == pytest.approx(look.left + 2300.0 * look.scale, abs=0.1)
    assert float(box.attrib["width"]) - 4 == pytest.approx(20.0 * look.scale, abs=0.2)
    assert (first[1] - last[1]) / (last[0] - first[0]) == pytest.approx(0.02, rel=0.05)


def test_the_nearest_place_is_told() -> None:
    """1 in 50 is told as that, rising; where nothing was read that is said, and nothing is called straight."""
    reading = unread(make_reading({"face_1": 0.02}), "face_1", 2000.0, 2200.0)
    answer = judge(reading, BOW_MM)

    assert place_lines(answer, "face_1", 619.125, 9.525, "in") == [
        "24-3/8 in from the marked end",
        "3/8 in from the upper long corner",
        "Grain: 1 in 50, rising",
    ]
    assert place_lines(answer, "face_2", 620.0, 10.0, "mm")[2] == "Grain: 1 in 50, falling"
    assert place_lines(answer, "face_1", 2100.0, 10.0, "mm")[2].startswith("Grain: could not be read here")


def test_the_table_has_a_line_each_half_inch() -> None:
    """From the marked end to the far end, each half inch has its line, with what was found besides."""
    answer = judge(with_knot(make_reading({"face_1": math.tan(math.radians(2.0))}), "face_1", 2300.0, 2320.0), BOW_MM)
    rows = place_rows(answer, "face_1", "in")

    assert np.diff([row.position_mm for row in rows]).max() <= 25.4 + 1e-6
    assert {row.grain for row in rows if row.position_mm < 2200.0} == {"1 in 29, rising"}
    assert any("a knot" in row.finds for row in rows if 2300.0 <= row.position_mm <= 2320.0)
    assert all("a knot" not in row.finds for row in rows if row.position_mm < 2290.0)
