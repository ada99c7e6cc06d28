"""The whole way with a demo board on one phone, held upright and across: from the bow to the last board deleted."""

import re
from typing import Final

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from service.show.words import VERDICT_WORDS
from service.sides import SIDES
from tests.phone.test_kept import READING_MS, choose, make_board, set_bow

pytestmark = pytest.mark.phone

SCREENS: Final = ((390, 844), (844, 390), (320, 640), (640, 320))

A_BOARD: Final = re.compile(r"/boards/[0-9a-f]+$")
"""The address of a board that the server has; one that waits for signal has another."""

MOST_TAPS: Final = 6
"""Beyond the shots, from the second board on."""

COUNT_TAPS: Final = (
    "addEventListener('click', () => { sessionStorage.taps = 1 + Number(sessionStorage.taps ?? 0) }, true)"
)


def answered(page: Page) -> None:
    """Wait until the board is read as it stands."""
    expect(page.locator(".verdict:not(.unread) h1")).to_have_text(VERDICT_WORDS["fail"], timeout=READING_MS)
    expect(page.locator("#answer")).not_to_contain_text("read again now", timeout=READING_MS)


def fits(page: Page, width: int) -> None:
    """See that the page does not scroll sideways."""
    assert page.evaluate("document.documentElement.scrollWidth") <= width, page.url


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_the_whole_way(browser: Browser, address: str, width: int, height: int) -> None:
    """Two boards shot, one photo taken again, one sent late from a new page, compared, shared, withdrawn, deleted."""
    screen = ViewportSize(width=width, height=height)
    phone = browser.new_context(viewport=screen, has_touch=True, is_mobile=True)
    phone.add_init_script(COUNT_TAPS)
    page = phone.new_page()

    set_bow(page, address)
    make_board(page, address)
    first = page.url
    for side in SIDES:
        choose(page, side)
    answered(page)
    fits(page, width)

    # The second board, shot at the same place in the store.
    page.evaluate("sessionStorage.taps = 0")
    page.locator(".next").get_by_role("button", name="Next board").tap()
    page.wait_for_url(lambda url: bool(A_BOARD.search(url)) and url != first)
    second = page.url
    for side in SIDES:
        choose(page, side)
    answered(page)
    fits(page, width)
    assert 1 <= int(page.evaluate("sessionStorage.taps")) <= MOST_TAPS

    # One photo taken again takes the place of the one before.
    before = page.locator("[data-fresh=kept_face_1] img").get_attribute("src")
    choose(page, "face_1")
    expect(page.locator("[data-fresh=kept_face_1] img")).not_to_have_attribute("src", str(before), timeout=READING_MS)
    expect(page.locator("[data-fresh=kept_face_1] img")).to_have_count(1)
    answered(page)

    # One more without signal, on a page that is closed before the signal is back.
    before = page.locator("[data-fresh=kept_edge_1] img").get_attribute("src")
    phone.set_offline(True)
    choose(page, "edge_1")
    expect(page.locator("#shot_edge_1 [data-shot-status]")).to_contain_text("Waits for signal")
    page.close()
    phone.set_offline(False)
    page = phone.new_page()
    page.goto(second)
    expect(page.locator("[data-fresh=kept_edge_1] img")).not_to_have_attribute("src", str(before), timeout=READING_MS)
    answered(page)

    page.goto(address)
    page.get_by_text("Compare two boards").tap()
    page.get_by_role("button", name="Compare them").tap()
    expect(page.locator("table.compare thead th")).to_have_count(3)
    fits(page, width)

    page.goto(first)
    page.get_by_text("Show the answer to others").tap()
    page.get_by_role("button", name="Make an address").tap()
    shared = page.get_by_label("Address").input_value()
    other = browser.new_context(viewport=screen).new_page()
    other.goto(shared)
    expect(other.get_by_role("heading", level=1)).to_have_text(VERDICT_WORDS["fail"])
    fits(other, width)
    page.get_by_role("button", name="Withdraw it").tap()
    page.wait_for_url(f"{first}*")
    told = other.goto(shared)
    assert told is not None
    assert told.status == 404
    other.context.close()

    for board, left in ((first, 1), (second, 0)):
        page.goto(board)
        page.get_by_role("link", name="Delete this board").tap()
        page.get_by_role("button", name="Yes, delete").tap()
        page.wait_for_url(f"{address}/")
        expect(page.locator(".board-card")).to_have_count(left)
    phone.close()
