"""Boards kept on a phone: from the bow to the answer, on the real app with the real reader and a demo board."""

import itertools
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from service.settings import find_folder
from service.show.words import VERDICT_WORDS
from service.sides import SIDES
from tests.phone.boards import visit

pytestmark = pytest.mark.phone

READING_MS: Final = 90_000  # most a reading may take on a slow machine
SCREENS: Final = (ViewportSize(width=390, height=844), ViewportSize(width=320, height=640))
FOLDER: Final = find_folder("demo_photos") / "hailstone"

#: Least contrast of large and of small text for level AAA: Web Content Accessibility Guidelines 2.2, criterion 1.4.6.
LARGE_CONTRAST, SMALL_CONTRAST = 4.5, 7.0
TOUCH_PX: Final = 48

#: Contrast of two colours as the guidelines above define it, and the colours that an element is seen in.
CONTRAST: Final = """(element) => {
  const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number)
  const light = (colour) => {
    const [red, green, blue] = numbers(colour).slice(0, 3).map((value) => {
      const share = value / 255
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4
    })
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
  }
  let behind = element
  while (numbers(getComputedStyle(behind).backgroundColor)[3] === 0) behind = behind.parentElement
  const pair = [getComputedStyle(element).color, getComputedStyle(behind).backgroundColor].map(light)
  return (Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05)
}"""

#: Those that no label, text or attribute gives a name to.
NAMELESS: Final = """(all) => all.filter((one) => {
  const named = [...(one.labels ?? [])].map((label) => label.textContent).join("")
  return !(named || one.textContent || one.ariaLabel || one.getAttribute("aria-labelledby") || "").trim()
}).map((one) => one.outerHTML)"""


#: Scrolls each picture that is not folded away into view, and tells whether all are there; those in drawings are asked
#: for once more, as nothing tells of them.
ALL_PICTURES: Final = """async () => {
  const pictures = [...document.querySelectorAll("main img")].filter((one) => one.checkVisibility())
  const drawn = [...document.querySelectorAll("main svg image")].map((one) => one.href.baseVal)
  pictures.forEach((one) => one.scrollIntoView())
  const fetched = await Promise.all(drawn.map((url) => fetch(url).then((answer) => answer.ok, () => false)))
  return pictures.length + drawn.length > 0 && pictures.every((one) => one.complete && one.naturalWidth)
    && fetched.every(Boolean)
}"""


def set_bow(page: Page, address: str) -> None:
    """Set the bow as the demo board's truth has it."""
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
    page.goto(f"{address}/bow")
    page.get_by_label("millimetres").check()
    page.get_by_label("Length of the bow").fill(str(round(truth["bow_length_mm"], 1)))
    page.get_by_role("button", name="Keep this bow").click()
    page.wait_for_url(f"{address}/boards/new")


def make_board(page: Page, address: str) -> None:
    """Begin a board of the demo board's size, to the tap."""
    page.goto(f"{address}/boards/new")
    page.get_by_label("8 ft").check()
    page.get_by_label("1x3:").check()
    page.get_by_role("button", name="Go on to the photos").click()
    page.wait_for_url(re.compile(r"/boards/[0-9a-f]+$"))
    expect(page.get_by_role("heading", name="The four sides")).to_be_visible()


def choose(page: Page, side: str) -> None:
    """Choose the demo photo of a side."""
    page.locator(f"#pick_{side}_choose").set_input_files(FOLDER / f"{side}.jpg")


@dataclass(frozen=True)
class Kept:
    """A phone on which one board was read and another begun."""

    phone: BrowserContext
    address: str
    board: str
    empty: str

    def pages(self) -> tuple[str, ...]:
        """Return the address of every page there is to see."""
        board = self.board.removeprefix(self.address)
        compared = f"/compare?a={board.rsplit('/', 1)[1]}&b={board.rsplit('/', 1)[1]}"
        paths = ("/", "/bow", "/boards/new", board, f"{board}/answer", f"{board}/delete", "/forget", "/once", compared)
        return (*(self.address + path for path in paths), self.empty)


@pytest.fixture(scope="module")
def kept(browser: Browser, address: str) -> Iterator[Kept]:
    """Shoot and read a board once, for all that look at the pages."""
    phone = browser.new_context(viewport=SCREENS[0], has_touch=True, is_mobile=True)
    page = phone.new_page()
    set_bow(page, address)
    make_board(page, address)
    board = page.url
    for side in SIDES:
        choose(page, side)
    expect(page.locator(".verdict:not(.unread)")).to_be_visible(timeout=READING_MS)
    expect(page.locator("#answer")).not_to_contain_text("read again now", timeout=READING_MS)
    make_board(page, address)
    yield Kept(phone, address, board, page.url)
    phone.close()


@pytest.fixture
def page(kept: Kept) -> Iterator[Page]:
    """Open a page on that phone; scripts must not fail."""
    page = kept.phone.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    page.close()
    assert faults == []


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no_scripts"])
@pytest.mark.parametrize("screen", SCREENS, ids=["390", "320"])
def test_a_board_is_kept_shot_and_read(browser: Browser, address: str, scripts: bool, screen: ViewportSize) -> None:
    """From the bow over four photos to the verdict that the board's truth asks for, and onto the rack."""
    phone = browser.new_context(
        viewport=screen,
        has_touch=True,
        is_mobile=True,
        java_script_enabled=scripts,
    )
    page = phone.new_page()
    set_bow(page, address)
    make_board(page, address)
    board = page.url

    for side in SIDES:
        choose(page, side)
        if not scripts:
            page.locator(f"#shot_{side}").get_by_role("button", name="Send this photo").click()
    if scripts:
        expect(page.locator(".verdict:not(.unread)")).to_be_visible(timeout=READING_MS)
        expect(page.locator("#answer")).not_to_contain_text("read again now", timeout=READING_MS)
    else:
        page.goto(board)
        button = page.get_by_role("button", name="Read the board")
        if button.count():
            button.first.click(timeout=READING_MS)
        page.goto(board)

    expect(page.get_by_role("heading", level=1)).to_have_text(VERDICT_WORDS["fail"], timeout=READING_MS)
    page.goto(address)
    expect(page.locator(".board-card .word")).to_have_text(VERDICT_WORDS["fail"])
    phone.close()


@pytest.mark.parametrize("width", [320, 390, 1200])
@pytest.mark.parametrize("way", ["ltr", "rtl"])
def test_nothing_is_wider_than_the_screen(kept: Kept, page: Page, width: int, way: str) -> None:
    """No page scrolls sideways, from 320 pixels on (WCAG 2.2, 1.4.10), in either direction of writing."""
    page.set_viewport_size({"width": width, "height": 844})
    for url in kept.pages():
        visit(page, url)
        page.evaluate("way => { document.documentElement.dir = way }", way)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, url


def test_text_twice_as_large_fits(kept: Kept, page: Page) -> None:
    """With text at 200 % nothing is cut off sideways (WCAG 2.2, 1.4.4)."""
    for url in kept.pages():
        visit(page, url)
        page.evaluate("document.documentElement.style.fontSize = '36px'")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, url


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_words_of_the_answer_stand_out(kept: Kept, page: Page, theme: str) -> None:
    """Verdicts and what is said of photos keep the highest level of contrast in both themes (WCAG 2.2, 1.4.6)."""
    page.emulate_media(color_scheme="dark" if theme == "dark" else "light")
    seen = 0
    for url, places in (
        (kept.address, ".board-card .word, .board-card .name, .board-card .why-line"),
        (kept.board, ".verdict h1, .verdict p, .kept figcaption, .state, .next .button"),
        (f"{kept.board}/answer", ".verdict h1, .verdict p, .reasons li, .big"),
    ):
        visit(page, url)
        for place in page.locator(places).all():
            assert place.evaluate(CONTRAST) >= SMALL_CONTRAST
            seen += 1
    assert seen > 12


def test_what_is_touched_is_large_enough(kept: Kept, page: Page) -> None:
    """Buttons, fields, folds and cards are 48 pixels high at least."""
    for url in kept.pages():
        visit(page, url)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
        for place in page.locator(
            ".button:visible, select:visible, input[type=text]:visible, summary:visible, .board-card a, .choice label"
        ).all():
            box = place.bounding_box()
            assert box is not None
            assert box["height"] >= TOUCH_PX, (url, place.inner_text())


def test_the_keyboard_reaches_all_and_the_bar_hides_nothing(kept: Kept, page: Page) -> None:
    """Going by the tab key, whatever has the focus is seen, not under the bar (WCAG 2.2, 2.4.11), and has a name."""
    page.emulate_media(reduced_motion="reduce")
    for url in (kept.empty, kept.board):
        visit(page, url)
        reached = []
        for _ in range(60):
            page.keyboard.press("Tab")
            found = page.evaluate("""() => {
              const element = document.activeElement
              const { left, top, width, height } = element.getBoundingClientRect()
              const seen = document.elementFromPoint(left + width / 2, top + height / 2)
              const clear = element.contains(seen) || element.closest("label")?.contains(seen)
              return element === document.body ? null : [element.outerHTML.slice(0, 80), Boolean(clear)]
            }""")
            if found is None:
                break
            reached.append(found[0])
            assert found[1], f"{found[0]} lies under something on {url}"
        assert sum("pick_face_1" in place for place in reached) >= 2
        assert any("button main" in place for place in reached)


def test_every_field_and_button_has_a_name_and_headings_are_in_order(kept: Kept, page: Page) -> None:
    """Each can be called by a name (WCAG 2.2, 4.1.2), and no level of headings is left out."""
    for url in kept.pages():
        visit(page, url)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
        unnamed = page.locator("button, a, summary, select, textarea, input:not([type=hidden])").evaluate_all(NAMELESS)
        assert unnamed == [], url
        levels = [
            int(name[1])
            for name in page.locator("h1, h2, h3, h4").evaluate_all("all => all.map((one) => one.localName)")
        ]
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in itertools.pairwise(levels)), (url, levels)


def test_what_was_looked_at_opens_without_signal(kept: Kept, page: Page) -> None:
    """A board's page, its answer and a side from close, seen once, open with their pictures and say they are old."""
    page.goto(kept.address)
    page.wait_for_function("() => navigator.serviceWorker.ready.then(() => true)")
    seen = (kept.board, f"{kept.board}/answer", f"{kept.board}/answer/face_1")
    for url in seen:
        page.goto(url)
        page.wait_for_function(ALL_PICTURES)

    kept.phone.set_offline(True)
    try:
        for url in seen:
            page.goto(url)
            expect(page.get_by_text("No signal: this page is as it was")).to_be_visible()
            page.wait_for_function(ALL_PICTURES)
    finally:
        kept.phone.set_offline(False)


def test_the_answer_prints_in_full(kept: Kept, page: Page) -> None:
    """On paper the buttons are gone and the folded parts are there."""
    page.goto(f"{kept.board}/answer")
    page.emulate_media(media="print")

    expect(page.get_by_role("link", name="Back to the board")).to_be_hidden()
    expect(page.get_by_text("What the bow was held to")).to_be_visible()


def test_nothing_moves_for_whoever_asks_for_that(kept: Kept, page: Page) -> None:
    """Who asks for less motion gets none: no transition or animation on any element."""
    page.emulate_media(reduced_motion="reduce")
    for url in (kept.address, kept.board):
        visit(page, url)
        moving = page.evaluate("""() => [...document.querySelectorAll("*")].filter((one) => {
          const { transitionDuration, animationName } = getComputedStyle(one)
          return transitionDuration !== "0s" || animationName !== "none"
        }).length""")
        assert moving == 0


def test_a_board_is_shot_by_one_button(browser: Browser, address: str) -> None:
    """The button at the thumb opens the camera side by side, without waiting for the photo before to arrive."""
    phone = browser.new_context(viewport=SCREENS[0], has_touch=True, is_mobile=True)
    page = phone.new_page()
    set_bow(page, address)
    make_board(page, address)
    phone.set_offline(True)

    for side in SIDES:
        words = side.replace("_", " ")
        with page.expect_file_chooser() as camera:
            page.get_by_role("link", name=f"Photograph {words}").tap()
        assert camera.value.element.get_attribute("capture") == "environment"
        camera.value.set_files(FOLDER / f"{side}.jpg")
        expect(page.locator(f"#shot_{side} [data-shot-status]")).to_contain_text("Waits for signal")

    expect(page.locator("[data-outbox]")).to_contain_text("4 photos wait for signal")
    expect(page.get_by_role("link", name="The photos are on their way")).to_be_visible()
    phone.set_offline(False)
    expect(page.locator(".verdict:not(.unread)")).to_be_visible(timeout=READING_MS)
    phone.close()
