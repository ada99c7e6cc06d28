"""Every page and state held to the rules of accessibility that a machine can check, in both themes and on both phones.

The rules are those of axe-core: the Web Content Accessibility Guidelines 2.2 (WCAG) up to level AA, the contrast of
level AAA since boards are looked at in the sun, and common good practice. No rule is switched off.
"""

from collections import Counter
from collections.abc import Iterator
from importlib.resources import files
from typing import Final

import pytest
from playwright.sync_api import Browser, Page

from service.sides import SIDES
from tests.phone.boards import begin, have_read, set_bow
from tests.phone.states import FOLDERS, LOOKS, STATES, Kept

pytestmark = pytest.mark.phone

AXE: Final = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
RULES: Final = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
    "rules": {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}},
}
BREACHES: Final = """async (rules) => (await axe.run(rules)).violations.flatMap(({ id, nodes }) =>
  nodes.map((node) => `${id}: ${node.html.slice(0, 120)}: ${node.failureSummary}`))"""


@pytest.fixture(scope="module")
def kept(browser: Browser, address: str) -> Iterator[Kept]:
    """Set a bow, keep two demo boards until they are read, and begin a third."""
    phone = browser.new_context(viewport=LOOKS[0][0], has_touch=True, is_mobile=True, reduced_motion="reduce")
    set_bow(phone, address)
    boards = [begin(phone, address, size) for size in ("1x2", "1x3")]
    for board, folder in zip(boards, FOLDERS, strict=True):
        have_read(phone, board, folder)
    paths = [board.removeprefix(address) for board in (*boards, begin(phone, address, "1x4"))]
    yield Kept(browser, phone, phone.new_page(), address, tuple(paths[:2]), paths[2])
    phone.close()


def breaches(page: Page) -> list[str]:
    """Unfold everything and list what breaks a rule, in either look."""
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
    # The bar at the thumb lies over whatever is scrolled under it; that scrolling frees it is tried for itself.
    page.evaluate("document.querySelectorAll('.next').forEach((bar) => { bar.style.position = 'static' })")
    page.evaluate(AXE)
    found: list[str] = []
    for screen, theme in LOOKS:
        page.set_viewport_size(screen)
        page.emulate_media(color_scheme=theme)
        found += page.evaluate(BREACHES, RULES)
    return found


@pytest.mark.parametrize("state", STATES)
def test_no_rule_is_broken(kept: Kept, state: str) -> None:
    """Whatever is shown can be seen, heard and reached: no rule of WCAG 2.2 AA that a machine can check is broken."""
    page = STATES[state](kept)
    found = breaches(page)
    if page.context is not kept.phone:
        page.context.close()
    assert found == []


def test_a_broken_page_is_noticed(kept: Kept) -> None:
    """A field without a label (WCAG 2.2, 4.1.2), pale words (1.4.3) and touching small buttons (2.5.8) are found."""
    page = kept.open("/forget")
    page.locator("main").evaluate(
        """(main) => {
          main.innerHTML = "<h1>Board</h1><input><p>pale</p><button>a</button><button>b</button>"
          main.querySelector("p").style.cssText = "color: #999; background: #fff"
          main.querySelectorAll("button").forEach((one) => { one.style.cssText = "all: unset; font-size: 9px" })
        }"""
    )
    rules = {line.split(":")[0] for line in breaches(page)}
    assert {"label", "color-contrast", "target-size"} <= rules


def heard(page: Page) -> list[str]:
    """Go through a page by the tab key and list the names that the browser gives to screen readers."""
    session = page.context.new_cdp_session(page)
    names: list[str] = []
    for _ in range(150):
        page.keyboard.press("Tab")
        focused = session.send("Runtime.evaluate", {"expression": "document.activeElement"})["result"]
        if focused["className"] == "HTMLBodyElement":
            break
        node = session.send(
            "Accessibility.getPartialAXTree", {"objectId": focused["objectId"], "fetchRelatives": False}
        )["nodes"][0]
        names.append(node["name"]["value"])
    return names


def of_each(place: str) -> list[str]:
    """Name both ways to give a photo of each side, at one place of the board's page."""
    sides = [place + side.replace("_", " ") for side in SIDES]
    return [f"{way} of {side}" for side in sides for way in ("Take the photo", "Choose from photos")]


def test_the_board_is_gone_through_in_order(kept: Kept) -> None:
    """By the tab key a board's page goes as one works: the sides in turn, what is folded, and the next step last.

    The order has to keep the meaning: WCAG 2.2, 2.4.3.
    """
    page = kept.open(kept.empty)
    names = heard(page)
    folds = ["More photos make it surer", "Tests and finds by hand", "Name, price, note"]
    assert names[:-9] == ["Skip to the content", "Stavesight", "How to photograph", *of_each(""), *folds]
    assert [name.split(":")[0] for name in names[-9:-6]] == [
        "Size and wood",
        "The bow for this board",
        "Show the answer to others",
    ]
    assert names[-6:] == [
        "This is the one",
        "Delete this board",
        "All boards",
        "Next board",
        "Photograph face 1",
        "Delete everything",
    ]


def test_the_rack_is_gone_through_in_order(kept: Kept) -> None:
    """By the tab key the rack goes from the best board to those not read, and only then to what else can be done."""
    page = kept.open("/")
    cards = page.locator(".board-card .name").all_inner_texts()
    names = heard(page)
    assert names[:3] == ["Skip to the content", "Stavesight", "Change it"]
    assert len(cards) >= 3
    assert all(card in name for card, name in zip(cards, names[3::2], strict=False))
    assert names[4 : 3 + 2 * len(cards) : 2] == [f"More {card}" for card in cards]
    assert names[3 + 2 * len(cards) :] == [
        "Why in this order",
        "Compare two boards",
        "A board of another size",
        "All photos at once, nothing kept",
        "Save or take in boards as a file",
        "Next board",
        "Delete everything",
    ]


def test_each_button_says_what_it_is_for(kept: Kept) -> None:
    """A screen reader hears which photo a button takes, and no two places of a board's page bear the same name."""
    page = kept.open(kept.empty)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
    names = heard(page)
    assert {*of_each(""), *of_each("the close-up of "), *of_each("the next part of ")} <= set(names)
    assert [name for name, times in Counter(names).items() if times > 1] == []
