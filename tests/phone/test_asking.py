"""An open question answered on the phone, by the photo that it asks for."""

from collections.abc import Iterator
from typing import Final

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from service.settings import find_folder
from tests.phone.boards import PATIENCE_S, begin, have_read, set_bow

pytestmark = pytest.mark.phone

FOLDER: Final = find_folder("demo_photos") / "clear_till_evening"
SCREEN: Final = ViewportSize(width=390, height=844)


@pytest.fixture(scope="module")
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """Make a phone."""
    phone = browser.new_context(viewport=SCREEN, has_touch=True, is_mobile=True)
    yield phone
    phone.close()


@pytest.fixture(scope="module")
def board(phone: BrowserContext, address: str) -> str:
    """Have a board read by its four sides alone, which leaves the fibre unknown."""
    set_bow(phone, address)
    board = begin(phone, address, "1x2")
    have_read(phone, board, FOLDER)
    return board


@pytest.fixture
def page(phone: BrowserContext) -> Iterator[Page]:
    """Open a page on that phone; scripts must not fail."""
    page = phone.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    page.close()
    assert faults == []


def test_a_field_at_work_is_not_taken_away(page: Page, board: str) -> None:
    """While the camera is open for a question's photo the page may change, but the field that waits for it stays."""
    page.goto(f"{board}?ask=1#ask")
    field = page.locator("#ask [capture]").first
    with page.expect_file_chooser():
        field.evaluate("(field) => { window.waiting = field; field.click() }")
    freshened = "import('/static/fresh.js').then(({ freshen }) => freshen())"
    page.evaluate(freshened)
    assert page.evaluate("waiting.isConnected")
    field.dispatch_event("cancel")
    page.evaluate(freshened)
    assert not page.evaluate("waiting.isConnected")
    expect(page.locator("#ask [capture]").first).to_be_attached()


def test_the_photo_that_is_asked_for_settles_its_question(page: Page, board: str) -> None:
    """The step at the thumb leads to the question; its photo goes from there, and the next reading asks it no more."""
    page.goto(board)
    page.get_by_role("link", name="See what would tell").click()
    question = page.locator("#ask h2")
    expect(question).to_have_text("Whether the fibres turn within the rings (spiral grain).")
    page.locator("#ask form[data-shot^=close_] [capture]").set_input_files(FOLDER / "face_1_close.jpg")
    page.wait_for_function(
        """() => !document.querySelector("#ask h2")?.textContent.includes("fibres turn")
          && !document.querySelector(".result .state").textContent.includes("read")""",
        timeout=1000 * PATIENCE_S,
    )
    assert "close_face_1" in [photo["slot"] for photo in page.context.request.get(f"{board}/state").json()["photos"]]
