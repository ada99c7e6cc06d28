"""What arrives on a board's page moves nothing that is looked at, measured as the browser itself does."""

from typing import Any, Final

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from service.settings import find_folder
from service.sides import SIDES

pytestmark = pytest.mark.phone

FOLDER: Final = find_folder("demo_photos") / "clear_till_evening"
READING_MS: Final = 90_000
SCREENS: Final = (ViewportSize(width=390, height=844), ViewportSize(width=320, height=640))

#: Half of the shift up to which a page counts as still by the usual mark of 0.1 (web vitals; from memory).
MOST_SHIFT: Final = 0.05

#: All shifts without recent input (Layout Instability, W3C), added up; which part moved by how much is told besides.
WATCH: Final = """() => {
  window.shifts = []
  new PerformanceObserver((list) => list.getEntries().forEach(({ value, hadRecentInput, sources }) => {
    if (hadRecentInput) return
    const moved = sources.map(({ node, previousRect: from, currentRect: to }) =>
      `${node?.nodeName} ${node?.className} ${node?.id}: ${from.top} ${from.height} to ${to.top} ${to.height}`)
    shifts.push({ value, moved })
  })).observe({ type: "layout-shift", buffered: true })
}"""

ANSWERED: Final = """() => document.querySelector("#answer .verdict:not(.unread)")
  && !document.querySelector(".result .state").textContent.includes("read")"""


def begin(page: Page, address: str) -> None:
    """Set a bow and begin a board."""
    phone = page.context
    phone.request.post(f"{address}/bow", form={"units": "in", "bow_length": "68"})
    sizes: dict[str, str | float | bool] = {"once": "still", "length_choice": "8 ft", "size": "1x2"}
    page.goto(phone.request.post(f"{address}/boards/new", form=sizes).url)


def take_in(page: Page) -> None:
    """Take the four sides as one walks down the page."""
    for side in SIDES:
        shot = page.locator(f"#shot_{side}")
        shot.scroll_into_view_if_needed()
        shot.locator("[capture]").set_input_files(FOLDER / f"{side}.jpg")
        expect(shot.locator(".kept")).to_be_visible(timeout=READING_MS)


@pytest.mark.parametrize("screen", SCREENS, ids=lambda screen: f"{screen['width']}")
@pytest.mark.parametrize("top", [True, False], ids=["at the top", "along the sides"])
def test_nothing_moves_while_photos_and_answer_arrive(
    browser: Browser, address: str, screen: ViewportSize, top: bool
) -> None:
    """All shifts added up stay below half of what counts as still, also for who waits for the answer at the top."""
    phone = browser.new_context(viewport=screen, has_touch=True, is_mobile=True)
    page = phone.new_page()
    page.add_init_script(f"({WATCH})()")
    begin(page, address)
    if top:
        page.locator("[data-shot]").first.wait_for()
        for side in SIDES:
            page.locator(f"#shot_{side} [capture]").set_input_files(FOLDER / f"{side}.jpg")
        page.evaluate("scrollTo(0, 0)")
        expect(page.locator(".kept")).to_have_count(len(SIDES), timeout=READING_MS)
    else:
        take_in(page)
    page.wait_for_function(ANSWERED, timeout=READING_MS)
    page.wait_for_timeout(300)
    shifts: list[dict[str, Any]] = page.evaluate("() => shifts")
    phone.close()
    assert sum(shift["value"] for shift in shifts) < MOST_SHIFT, shifts


def test_a_page_that_moves_is_noticed(browser: Browser, address: str) -> None:
    """A paragraph that pushes the whole page down half a screen is counted."""
    page = browser.new_page(viewport=SCREENS[0])
    page.add_init_script(f"({WATCH})()")
    page.goto(f"{address}/bow")
    page.wait_for_timeout(600)
    page.evaluate("document.querySelector('main').style.paddingBlockStart = '420px'")
    page.wait_for_function("() => shifts.length > 0")
    assert page.evaluate("() => shifts.reduce((sum, { value }) => sum + value, 0)") > MOST_SHIFT
    page.close()
