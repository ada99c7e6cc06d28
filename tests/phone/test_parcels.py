"""Boards saved as a file on one phone and taken in on another, in a real browser, with scripts and without."""

from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from tests.phone.test_kept import make_board, set_bow

pytestmark = pytest.mark.phone

SCREEN: Final = ViewportSize(width=390, height=844)
SMALL: Final = ViewportSize(width=320, height=640)


def test_boards_go_to_another_phone(browser: Browser, address: str, tmp_path: Path) -> None:
    """The worker, once it serves the pages, lets the file through; the other phone needs no scripts."""
    one, other = browser.new_context(viewport=SCREEN), browser.new_context(viewport=SMALL, java_script_enabled=False)
    page = one.new_page()
    set_bow(page, address)
    make_board(page, address)
    page.wait_for_function("() => navigator.serviceWorker.ready.then(() => true)")
    page.goto(address)
    page.get_by_role("link", name="Save or take in boards as a file").click()
    with page.expect_download() as saving:
        page.get_by_role("link", name="Save them as one file").click()
    saving.value.save_as(tmp_path / saving.value.suggested_filename)
    (file,) = tmp_path.iterdir()

    fresh = other.new_page()
    fresh.goto(address)
    fresh.get_by_role("link", name="Save or take in boards as a file").click()
    assert take_in(fresh, file) == "1 board was taken in."
    assert "here already" in take_in(fresh, file)
    fresh.get_by_role("link", name="Go to your boards").click()
    expect(fresh.locator(".board-card")).to_have_count(1)
    one.close()
    other.close()


def take_in(page: Page, file: Path) -> str:
    """Send the file by the form, and return what the page says of it."""
    page.get_by_label("A file that was saved here").set_input_files(file)
    page.get_by_role("button", name="Take these boards in").click()
    told = page.get_by_role("status")
    expect(told).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= (page.viewport_size or SCREEN)["width"]
    return " ".join(told.locator("p").all_inner_texts()[:-1])
