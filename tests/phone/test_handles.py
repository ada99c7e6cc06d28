"""Corners of a board dragged, pressed and tapped into place on its kept photo."""

from collections.abc import Iterator
from typing import Final

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from service.settings import find_folder
from tests.phone.boards import begin, send_photo, set_bow

pytestmark = pytest.mark.phone

PHOTO: Final = find_folder("demo_photos") / "hailstone" / "face_1.jpg"
SCREENS: Final = (ViewportSize(width=390, height=844), ViewportSize(width=320, height=640))
TOUCH_PX: Final = 48


@pytest.fixture(scope="module")
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """Make a phone."""
    phone = browser.new_context(viewport=SCREENS[0], has_touch=True, is_mobile=True)
    yield phone
    phone.close()


@pytest.fixture(scope="module")
def corners(phone: BrowserContext, address: str) -> str:
    """Keep a photo and return the address of its corners."""
    set_bow(phone, address)
    board = begin(phone, address, "1x3")
    return f"{board}/photos/{send_photo(phone, board, 'face_1', PHOTO)}/corners"


@pytest.fixture
def page(phone: BrowserContext, corners: str) -> Iterator[Page]:
    """Open the photo's corners; scripts must not fail."""
    page = phone.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(corners)
    expect(page.locator(".handle")).to_have_count(4)
    page.locator(".sheet img").evaluate("(image) => image.decode()")
    yield page
    page.close()
    assert faults == []


def places(page: Page) -> list[tuple[int, int]]:
    """Return the four corners as they would be sent."""
    read = [int(field.input_value()) for field in page.locator("[data-corner] input").all()]
    return list(zip(read[::2], read[1::2], strict=True))


def scale(page: Page) -> float:
    """Return pixels of the photo for each pixel of the screen."""
    cols = float(str(page.locator("[data-cols]").get_attribute("data-cols")))
    return cols / float(page.locator(".sheet").evaluate("(sheet) => sheet.clientWidth"))


def middle(page: Page, number: int) -> tuple[float, float]:
    """Return the middle of a handle on the screen."""
    handle = page.locator(".handle").nth(number)
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.mark.parametrize("by", ["touch", "mouse"])
def test_a_handle_carries_its_corner(page: Page, by: str) -> None:
    """Dragged by 30 pixels to the right and 12 up, the corner goes as far in the photo, and no other one moves."""
    before, (x, y), unit = places(page), middle(page, 0), scale(page)
    if by == "mouse":
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 30, y - 12, steps=4)
        expect(page.locator("[data-loupe]")).to_be_visible()
        page.mouse.up()
    else:
        session = page.context.new_cdp_session(page)
        for kind, points in (
            ("touchStart", [{"x": x, "y": y}]),
            ("touchMove", [{"x": x + 15, "y": y - 6}]),
            ("touchMove", [{"x": x + 30, "y": y - 12}]),
            ("touchEnd", []),
        ):
            session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        session.detach()
    after = places(page)
    assert after[0] == pytest.approx((before[0][0] + 30 * unit, before[0][1] - 12 * unit), abs=unit)
    assert after[1:] == before[1:]


def test_keys_and_buttons_move_a_corner(page: Page) -> None:
    """Arrow keys move the corner that has the focus, the shift key farther; the four buttons do without any drag.

    Everything done by dragging can be done otherwise: WCAG 2.2, 2.1.1 and 2.5.7.
    """
    before = places(page)
    page.locator(".handle").nth(2).focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowDown")
    by_key = places(page)
    step = before[2][0] - by_key[2][0]
    assert 0 < step <= 4
    assert by_key[2] == (before[2][0] - step, before[2][1] + step)
    page.keyboard.press("Shift+ArrowUp")
    assert places(page)[2] == (by_key[2][0], by_key[2][1] - 20 * step)
    expect(page.locator("[data-told]")).to_contain_text("Far end, lower corner")
    page.get_by_role("button", name="To the right").click()
    assert places(page)[2] == (by_key[2][0] + step, by_key[2][1] - 20 * step)
    assert [*places(page)[:2], places(page)[3]] == [*before[:2], before[3]]


def test_a_tap_brings_the_chosen_corner(page: Page) -> None:
    """After a touch of its handle a corner goes where the photo is tapped."""
    x, y = middle(page, 1)
    page.touchscreen.tap(x, y)
    box = page.locator(".sheet").bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + 200, box["y"] + 20)
    assert places(page)[1] == pytest.approx((200 * scale(page), 20 * scale(page)), abs=scale(page))


@pytest.mark.parametrize("screen", SCREENS, ids=lambda screen: f"{screen['width']}")
def test_handles_can_be_touched_and_hide_no_corner(page: Page, screen: ViewportSize) -> None:
    """Each handle is as large as a finger, none lies on another or on its own corner, and all are on the screen."""
    page.set_viewport_size(screen)
    page.wait_for_timeout(100)
    boxes = [handle.bounding_box() for handle in page.locator(".handle").all()]
    sheet = page.locator(".sheet").bounding_box()
    assert sheet is not None
    for number, box in enumerate(boxes):
        assert box is not None
        assert min(box["width"], box["height"]) >= TOUCH_PX
        assert box["x"] >= 0 and box["x"] + box["width"] <= screen["width"]
        col, row = (place / scale(page) for place in places(page)[number])
        far = ((box["x"] + 24 - sheet["x"] - col) ** 2 + (box["y"] + 24 - sheet["y"] - row) ** 2) ** 0.5
        assert far > TOUCH_PX / 2
        for other in boxes[:number]:
            assert other is not None
            assert max(abs(box["x"] - other["x"]), abs(box["y"] - other["y"])) >= TOUCH_PX - 1


def test_corners_are_kept_and_seen(page: Page) -> None:
    """One button keeps them; the board's page shows the new outline and says that it was set by hand."""
    page.locator(".handle").nth(0).focus()
    page.keyboard.press("Shift+ArrowRight")
    put = places(page)
    page.get_by_role("button", name="Keep these corners").click()
    page.wait_for_url("**/boards/*#shot_face_1")
    line = page.locator("#shot_face_1 .seen .line").get_attribute("points")
    assert line == " ".join(f"{col},{row}" for col, row in put)
    page.get_by_role("link", name="Corners set by hand: change them").click()
    page.get_by_role("button", name="Find the board by itself again").click()
    expect(page.get_by_role("link", name="Is the line not on the board?")).to_be_visible()


def test_without_scripts_numbers_do(browser: Browser, phone: BrowserContext, corners: str) -> None:
    """The photo with a grid and eight fields keeps the same corners."""
    plain = browser.new_context(viewport=SCREENS[0], java_script_enabled=False, storage_state=phone.storage_state())
    page = plain.new_page()
    page.goto(corners)
    expect(page.locator(".handle")).to_have_count(0)
    assert page.locator("[data-grid] path").count() == 9
    page.get_by_text("The corners in numbers").click()
    page.get_by_label("From the left: Marked end, upper corner").fill("170")
    page.get_by_role("button", name="Keep these corners").click()
    page.wait_for_url("**/boards/*#shot_face_1")
    assert str(page.locator("#shot_face_1 .seen .line").get_attribute("points")).startswith("170,")
    plain.close()
