"""The board's stretch, cut out by the browser itself: few bytes go, and it is read as the whole photo is."""

import base64
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from service.board.assemble import board_grid
from service.photo.layout import read_layout
from service.photo.stretch import lay_back
from service.sight import see_side
from service.upload import Upload
from tests.drawing import over_whole, photograph, random_scene, random_solid

pytestmark = pytest.mark.phone

LENGTH_MM = 2438.4
ANGLE_DEG = 0.05
BYTES = 0.15

LIGHTEN = """async (action) => {
  const [file] = document.querySelector("#given").files
  const { lighten } = await import("/static/cut.js")
  const bytes = await file.arrayBuffer()
  const light = await lighten({ action, type: file.type }, bytes, { signal: new AbortController().signal })
  const text = (blob) => new Promise((resolve) => {
    const reader = new FileReader()
    reader.onload = () => resolve(reader.result.split(",")[1])
    reader.readAsDataURL(blob)
  })
  return light && { photo: await text(light.photo), around: await text(light.around), layout: light.layout }
}"""


@cache
def drawn(portrait: bool) -> bytes:
    """Draw face 1 of a board, lying level or running up the photo, whose file says that it is turned."""
    scene = random_scene(
        61, ground="floor", below_mm=0.0, portrait=portrait, orientation=6 if portrait else 1, quality=92, noise=0.012
    )
    return photograph(random_solid(61), "face_1", over_whole(LENGTH_MM, 0.9, roll_deg=1.5), scene)[0]


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    """Open a new board's page on a phone; scripts must not fail."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page, faults = context.new_page(), list[str]()
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(make_board(page, address))
    yield page
    context.close()
    assert faults == []


def make_board(page: Page, address: str) -> str:
    """Set a bow and make a board of the drawn one's size; return its address."""
    size = random_solid(61)
    bow: dict[str, str | float | bool] = {
        "units": "in",
        "bow_length": "68",
        "bow_width": "",
        "purpose": "unbacked",
        "tolerance": "usual",
    }
    told: dict[str, str | float | bool] = {
        "width": f"{size.width_mm} mm",
        "thickness": f"{size.thickness_mm} mm",
        "length_choice": "8 ft",
    }
    assert page.request.post(f"{address}/bow", form=bow).ok
    told |= {"length": "", "size": "", "size_other": ""}
    made = page.request.post(f"{address}/boards/new", form=told)
    assert "/boards/" in made.url
    return made.url


def give(page: Page, photo: bytes) -> None:
    """Hand a photo to the page in a field of its own, which no script of the app knows."""
    page.evaluate(
        """() => {
          const field = document.createElement("input")
          field.type = "file"
          field.id = "given"
          document.body.append(field)
        }"""
    )
    page.locator("#given").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo})


@pytest.mark.parametrize("portrait", [False, True], ids=["level", "upright"])
def test_the_browsers_own_cut_reads_as_the_whole_photo(page: Page, portrait: bool) -> None:
    """Chromium's tiles, turned as the file says, give the same grain within 0.05 degrees in a seventh of the bytes."""
    whole, solid = drawn(portrait), random_solid(61)
    give(page, whole)

    light: dict[str, Any] = page.evaluate(LIGHTEN, f"{page.url}/photos/face_1")

    tiles, around = base64.b64decode(light["photo"]), base64.b64decode(light["around"])
    layout = read_layout(light["layout"], tiled=True)
    laid = lay_back(tiles, around, layout)
    grains = [
        see_side((Upload("a.jpg", data),), LENGTH_MM, solid.across_mm("face_1"), board_grid(LENGTH_MM)).grain
        for data in (whole, laid)
    ]
    angles = [np.degrees(np.arctan(grain.line)) for grain in grains if grain is not None]
    assert len(angles) == 2
    assert np.nanmean(np.abs(angles[1] - angles[0])) <= ANGLE_DEG
    assert layout.turned is portrait
    assert layout.focal_35_mm == 26.0  # as the drawn file notes it
    assert len(tiles) + 2 * len(around) <= BYTES * len(whole)


def test_a_chosen_photo_goes_as_its_stretch(page: Page, tmp_path: Path) -> None:
    """A photo chosen on the board's page is found, cut and judged good; less than a seventh of it is sent."""
    photo, sent = tmp_path / "side.jpg", dict[str, int]()
    photo.write_bytes(drawn(False))
    page.on("requestfinished", lambda asked: sent.update({asked.url: asked.sizes()["requestBodySize"]}))

    page.locator("#pick_face_1_choose").set_input_files(photo)

    expect(page.locator("#shot_face_1")).to_contain_text("Good", timeout=60_000)
    assert any("/find/face_1" in url for url in sent)
    assert sum(sent.values()) <= BYTES * photo.stat().st_size
    state = json.loads(page.request.get(f"{page.url}/state").text())
    assert [one["slot"] for one in state["photos"]] == ["face_1"]


def test_without_scripts_the_whole_photo_goes(browser: Browser, address: str, tmp_path: Path) -> None:
    """A browser without scripts sends the photo as it is, and gets the same word of it."""
    photo = tmp_path / "side.jpg"
    photo.write_bytes(drawn(False))
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(make_board(page, address))

    page.locator("#pick_face_1_choose").set_input_files(photo)
    page.locator("form[data-shot=face_1]:not([data-adds]) [data-plain]").click()

    expect(page.locator("#shot_face_1")).to_contain_text("Good", timeout=60_000)
    context.close()
