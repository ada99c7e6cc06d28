"""Filling in the form, sending four demo photos and reading the verdict, at 390 by 844 pixels."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from service.settings import find_folder
from service.show.words import VERDICT_WORDS
from service.sides import SIDES

pytestmark = pytest.mark.phone

READING_MS: Final = 60_000  # most a reading may take on a slow machine

#: Where the corners are tapped: share of the photo's width, and above (-1) or below (1) its middle.
CORNERS: Final = ((0.25, -1), (0.75, -1), (0.75, 1), (0.25, 1))

#: Smallest height of what is touched, in CSS pixels: the larger of the two sizes that the Web Content
#: Accessibility Guidelines 2.2 ask for is 44 (success criterion 2.5.5); ours is 48.
TOUCH_PX: Final = 48


@pytest.fixture(scope="module")
def board() -> tuple[Path, dict[str, Any]]:
    """Return the first demo board's folder and what is known of it."""
    folder = sorted(truth.parent for truth in find_folder("demo_photos").glob("*/truth.json"))[0]
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    measures = ("length_mm", "width_mm", "thickness_mm", "bow_length_mm")
    return folder, truth | {name: round(truth[name], 2) for name in measures}


@pytest.fixture(params=[True, False], ids=["scripts", "no_scripts"])
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """Open the one-form page on a phone, with scripts and without; every request must stay on this machine."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True, java_script_enabled=request.param
    )
    page = context.new_page()
    elsewhere: list[str] = []
    faults: list[str] = []
    page.on(
        "request", lambda sent: None if sent.url.startswith((address, "data:", "blob:")) else elsewhere.append(sent.url)
    )
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(f"{address}/once")
    yield page
    context.close()
    assert elsewhere == []
    assert faults == []


def fill_in(page: Page, folder: Path, truth: dict[str, Any]) -> None:
    """Type the sizes and choose a photo of each side and a close-up."""
    page.get_by_label("millimetres").check()
    page.get_by_label("Length of the bow").fill(str(truth["bow_length_mm"]))
    page.get_by_label("Length of the board").fill(str(truth["length_mm"]))
    page.get_by_label("Width", exact=True).fill(str(truth["width_mm"]))
    page.get_by_label("Thickness").fill(str(truth["thickness_mm"]))
    for side in SIDES:
        page.locator(f"#{side}").set_input_files(folder / f"{side}.jpg")
    page.get_by_text("More photos make it surer").click()
    for side in ("face_1", "edge_1"):
        page.locator(f"#close_{side}").set_input_files(folder / f"{side}_close.jpg")
    page.locator("#end").set_input_files(folder / "end.jpg")


def test_a_board_is_read_on_a_phone(page: Page, board: tuple[Path, dict[str, Any]]) -> None:
    """Four photos of a demo board lead to its right verdict, with its pictures and cautions, and back again."""
    folder, truth = board
    fill_in(page, folder, truth)

    page.get_by_role("button", name="Read the board").click()

    expect(page.get_by_role("heading", name="Where to cut")).to_be_visible(timeout=READING_MS)
    expect(page.get_by_role("heading", level=1)).to_have_text(VERDICT_WORDS[truth["expected"]["verdict"]])
    expect(page.get_by_role("img", name="Face 1 with its grain lines")).to_be_visible()
    expect(page.get_by_role("heading", name="Before you cut or bend")).to_be_visible()
    page.get_by_role("link", name="Change photos or sizes").click()
    expect(page.get_by_label("Length of the board")).to_have_value(str(truth["length_mm"]))


def test_a_wrong_size_is_told_at_its_field(page: Page, board: tuple[Path, dict[str, Any]]) -> None:
    """A length that cannot be is refused in words, at its field, and what was typed stays."""
    folder, truth = board
    fill_in(page, folder, truth)
    page.get_by_label("Length of the board").fill("96 parsecs")

    page.get_by_role("button", name="Read the board").click()

    expect(page.get_by_role("alert")).to_contain_text("“96 parsecs” is no length that can be read", timeout=READING_MS)
    expect(page.get_by_label("Length of the board")).to_have_value("96 parsecs")
    expect(page.get_by_label("Length of the bow")).to_have_value(str(truth["bow_length_mm"]))


def test_stricter_limits_are_chosen_and_shown(page: Page, board: tuple[Path, dict[str, Any]]) -> None:
    """A purpose picked by touch changes the limits: the answer says so, and tells each with the usual one."""
    fill_in(page, *board)
    page.get_by_text("Bow and limits").click()
    page.get_by_label("A first bow").check()
    page.get_by_label("Saw cut between two bows").fill("2")

    page.get_by_role("button", name="Read the board").click()

    changed = page.get_by_text("Judged by limits that are not the usual ones")
    expect(changed).to_contain_text("slope on the back 1 in 25 (2.3 deg) instead of 1 in 20", timeout=READING_MS)
    expect(changed).to_contain_text("saw cut between two bows 2 mm instead of 3 mm")
    page.get_by_text("The limits", exact=True).click()
    expect(page.get_by_text("Slope on the back: 1 in 25 (2.3 deg), changed from 1 in 20 (2.9 deg)")).to_be_visible()
    page.get_by_role("link", name="Change photos or sizes").click()
    expect(page.get_by_label("A first bow")).to_be_checked()


def test_nothing_is_too_small_to_touch_or_wider_than_the_phone(page: Page) -> None:
    """Every field and button is 48 pixels high at least, and the page does not scroll sideways."""
    for summary in page.locator("summary").all():
        summary.click()
    for touched in page.locator(
        "button:visible, select, input[type=text], input[type=file], label:has(input), summary"
    ).all():
        box = touched.bounding_box()
        assert box is not None
        assert box["height"] >= TOUCH_PX
        assert box["x"] + box["width"] <= 390


@pytest.mark.parametrize("page", [True], indirect=True, ids=["scripts"])
def test_chosen_photos_are_shown_and_a_reading_can_be_stopped(page: Page, board: tuple[Path, dict[str, Any]]) -> None:
    """With scripts the chosen photos are seen small, a reading can be stopped, and the form is as it was."""
    fill_in(page, *board)
    expect(page.get_by_alt_text("Chosen photo 1")).to_have_count(7)

    send = page.get_by_role("button", name="Read the board")
    send.click()
    expect(send).to_be_disabled()
    page.get_by_role("button", name="Stop").click()

    expect(send).to_be_enabled()
    expect(page.get_by_role("button", name="Stop")).to_be_hidden()
    assert page.locator("#face_1").evaluate("input => input.files.length") == 1


@pytest.mark.parametrize("page", [True], indirect=True, ids=["scripts"])
def test_corners_are_marked_by_hand(page: Page, board: tuple[Path, dict[str, Any]]) -> None:
    """Six taps on the photo give its four corners in pixels of the upright photo, in the server's order."""
    page.locator("#face_1").set_input_files(board[0] / "face_1.jpg")
    page.get_by_role("button", name="Mark its corners by hand").click()
    picture = page.locator("dialog canvas")
    expect(picture).to_be_visible()
    box = picture.bounding_box()
    assert box is not None

    for share in (0.25, 0.75):
        picture.click(position={"x": share * box["width"], "y": 0.5 * box["height"]})
        piece = picture.bounding_box()
        assert piece is not None
        for height in (0.4, 0.6):
            picture.click(position={"x": 0.5 * piece["width"], "y": height * piece["height"]})

    corners = [
        [float(pixel) for pixel in pair.split(",")]
        for pair in page.locator("[name=corners_face_1]").input_value().split()
    ]
    with Image.open(board[0] / "face_1.jpg") as photo:
        long_px, (width_px, height_px) = max(photo.size), photo.size
    step_px = width_px / box["width"]  # a tap falls on a whole CSS pixel of the whole picture
    expected = [[share * width_px, 0.5 * height_px + up * 0.1 * long_px / 12] for share, up in CORNERS]
    assert np.abs(np.array(corners) - np.array(expected)).max() <= 2 * step_px


@pytest.mark.parametrize("page", [True], indirect=True, ids=["scripts"])
def test_a_picture_is_saved(page: Page, board: tuple[Path, dict[str, Any]]) -> None:
    """With scripts a side's marked picture can be saved as a file of its own; the answer fits narrow phones."""
    fill_in(page, *board)
    page.get_by_role("button", name="Read the board").click()

    with page.expect_download(timeout=READING_MS) as download:
        page.locator("[data-save='face_1.svg']").click(timeout=READING_MS)

    assert download.value.suggested_filename == "face_1.svg"
    for width in (390, 320):  # 320 is the narrowest that the guidelines above ask for (1.4.10)
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert download.value.path().read_text(encoding="utf-8").lstrip().startswith(("<svg", "<?xml"))
