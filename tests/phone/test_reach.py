"""Every page and state held to the rules of accessibility that a machine can check, in both themes and on both phones.

The rules are those of axe-core: the Web Content Accessibility Guidelines 2.2 (WCAG) up to level AA, the contrast of
level AAA since boards are looked at in the sun, and common good practice. No rule is switched off.
"""

import io
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from typing import Final, Literal

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, FilePayload, Page, ViewportSize, expect

from service.settings import find_folder
from service.sides import SIDES
from tests.phone.boards import begin, have_read, set_bow, worker_ready

pytestmark = pytest.mark.phone

READING_S: Final = 60
#: Both phones and both themes. Colours are the same at any width and places the same in any theme, so two are enough.
LOOKS: Final[tuple[tuple[ViewportSize, Literal["light", "dark"]], ...]] = (
    (ViewportSize(width=390, height=844), "light"),
    (ViewportSize(width=320, height=640), "dark"),
)
FOLDERS: Final = tuple(find_folder("demo_photos") / name for name in ("clear_till_evening", "hailstone"))
NO_PHOTO: Final[FilePayload] = {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"}
TOO_FAR: Final = "96 parsecs"

AXE: Final = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
RULES: Final = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
    "rules": {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}},
}
BREACHES: Final = """async (rules) => (await axe.run(rules)).violations.flatMap(({ id, nodes }) =>
  nodes.map((node) => `${id}: ${node.html.slice(0, 120)}: ${node.failureSummary}`))"""


@dataclass(frozen=True)
class Kept:
    """A phone on which two boards were read and one begun."""

    browser: Browser
    phone: BrowserContext
    page: Page
    address: str
    boards: tuple[str, ...]
    empty: str

    def open(self, path: str) -> Page:
        """Open a page on this phone."""
        self.page.goto(self.address + path)
        return self.page

    def open_elsewhere(self, path: str, scripts: bool = True, stranger: bool = False) -> Page:
        """Open a page where no photo waits: with these boards or without, with the app's scripts or without."""
        storage = None if stranger else self.phone.storage_state()
        phone = self.browser.new_context(viewport=LOOKS[0][0], reduced_motion="reduce", storage_state=storage)
        page = phone.new_page()
        if not scripts:  # the rules themselves are a script, so scripts stay on
            page.route("**/main.js", lambda route: route.abort())
        page.goto(self.address + path)
        return page


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


def refused(page: Page, field: str, text: str, button: str) -> Page:
    """Type what cannot be, send it and wait for the refusal."""
    page.locator(field).fill(text)
    page.locator("form", has=page.locator(field)).get_by_role("button", name=button).click()
    expect(page.get_by_role("alert")).to_be_visible()
    return page


def refused_board(kept: Kept) -> Page:
    """Change a read board's length to what cannot be."""
    page = kept.open(kept.boards[0])
    page.get_by_text("Size and wood: ").click()
    return refused(page, "#length", TOO_FAR, "Keep this")


def refused_once(kept: Kept) -> Page:
    """Send the one form with a length that cannot be."""
    page = kept.open("/once")
    page.locator("#bow_length").fill("68")
    return refused(page, "#length", TOO_FAR, "Read the board")


def refused_photo(kept: Kept) -> Page:
    """Choose what is no photo, with scripts."""
    page = kept.open_elsewhere(kept.empty)
    page.locator("#pick_face_1_choose").set_input_files(NO_PHOTO)
    expect(page.locator("#shot_face_1 [data-shot-status]")).to_contain_text("Not taken")
    return page


def refused_plain_photo(kept: Kept) -> Page:
    """Choose what is no photo and send it without scripts."""
    page = kept.open_elsewhere(kept.empty, scripts=False)
    page.locator("#pick_face_1_choose").set_input_files(NO_PHOTO)
    page.locator("#shot_face_1").get_by_role("button", name="Send this photo").click()
    expect(page.get_by_role("alert")).to_be_visible()
    return page


def useless_photo(kept: Kept) -> Page:
    """Send a photo that has to be taken again."""
    page = kept.open_elsewhere(begin(kept.phone, kept.address, "2x2").removeprefix(kept.address))
    grey = io.BytesIO()
    Image.new("RGB", (1200, 300), "grey").save(grey, "JPEG")
    page.locator("#pick_face_1_choose").set_input_files({**NO_PHOTO, "buffer": grey.getvalue()})
    expect(page.locator(".kept.again")).to_be_visible()
    return page


def waiting_photo(kept: Kept) -> Page:
    """Choose a photo without signal."""
    page = kept.open_elsewhere(kept.empty)
    page.context.set_offline(True)
    page.locator("#pick_face_1_choose").set_input_files(FOLDERS[0] / "face_1.jpg")
    expect(page.locator("[data-outbox]")).to_contain_text("1 photo waits")
    return page


def refused_file(kept: Kept) -> Page:
    """Take in what is no file of boards."""
    page = kept.open("/keep")
    page.locator("#file").set_input_files(NO_PHOTO)
    page.get_by_role("button", name="Take these boards in").click()
    expect(page.get_by_role("alert")).to_be_visible()
    return page


def waiting_board(kept: Kept, length: str = "") -> Page:
    """Begin a board without signal and photograph a face of it."""
    page = kept.open_elsewhere("/boards/new")
    worker_ready(page)
    page.context.set_offline(True)
    page.locator("#length").fill(length)
    page.get_by_role("button", name="Go on to the photos").click()
    page.wait_for_url("**/boards/waiting#*")
    page.locator("#pick_face_1_choose").set_input_files(FOLDERS[0] / "face_1.jpg")
    expect(page.locator("[data-outbox]")).to_contain_text("1 board and 1 photo wait")
    return page


def waiting_rack(kept: Kept) -> Page:
    """Look at the rack while a board waits."""
    page = waiting_board(kept)
    page.goto(kept.address)
    expect(page.get_by_role("link", name="Waiting board 1")).to_be_visible()
    return page


def refused_waiting_board(kept: Kept) -> Page:
    """Find signal for a board whose size cannot be."""
    page = waiting_board(kept, TOO_FAR)
    page.context.set_offline(False)
    expect(page.get_by_role("heading", name="Needs another look")).to_be_visible()
    return page


def mended_board(kept: Kept) -> Page:
    """Go on to mend such a board."""
    page = refused_waiting_board(kept)
    page.get_by_role("link", name="Mend it").click()
    expect(page.get_by_role("alert")).to_be_visible()
    return page


def marking_corners(kept: Kept) -> Page:
    """Begin to mark the corners of a side by hand."""
    page = kept.open("/once")
    page.locator("#face_1").set_input_files(FOLDERS[0] / "face_1.jpg")
    page.get_by_role("button", name="Mark its corners by hand").click()
    expect(page.locator("dialog canvas")).to_be_visible()
    return page


def answer_at_once(kept: Kept) -> Page:
    """Have a board read with nothing kept."""
    page = kept.open("/once")
    page.locator("#bow_length").fill("68")
    page.locator("#length").fill("96")
    page.locator("#size").select_option("1x2")
    for side in SIDES:
        page.locator(f"#{side}").set_input_files(FOLDERS[0] / f"{side}.jpg")
    page.get_by_role("button", name="Read the board").click()
    expect(page.locator(".verdict")).to_be_visible(timeout=1000 * READING_S)
    return page


def open_question(kept: Kept) -> Page:
    """Unfold the question that a board which is not sure yet leaves open."""
    page = kept.open(f"{kept.boards[0]}?ask=1#ask")
    expect(page.locator("#ask [data-shot]").first).to_be_visible()
    return page


def kept_corners(kept: Kept) -> str:
    """Return the path of the page that shows the corners of a kept photo."""
    photos = kept.phone.request.get(f"{kept.address}{kept.boards[0]}/state").json()["photos"]
    return f"{kept.boards[0]}/photos/{photos[0]['id']}/corners"


def refused_corners(kept: Kept) -> Page:
    """Type a corner that lies outside of the photo."""
    page = kept.open(kept_corners(kept))
    page.get_by_text("The corners in numbers").click()
    return refused(page, "[name=col_1]", "99999", "Keep these corners")


def made_share(kept: Kept) -> Page:
    """Make an address that shows a board to others."""
    page = kept.open(kept.boards[0])
    page.get_by_text("Show the answer to others").click()
    page.get_by_role("button", name="Make an address").click()
    expect(page.get_by_label("Address")).to_be_visible()
    return page


def shared_answer(kept: Kept) -> Page:
    """Look at what the others see."""
    page = made_share(kept)
    page.get_by_role("link", name="Look at it").click()
    expect(page.locator(".verdict")).to_be_visible()
    return page


STATES: Final[dict[str, Callable[[Kept], Page]]] = {
    "first page": lambda kept: kept.open_elsewhere("/", stranger=True),
    "bow": lambda kept: kept.open("/bow"),
    "bow refused": lambda kept: refused(kept.open("/bow"), "#bow_length", TOO_FAR, "Keep this bow"),
    "new board": lambda kept: kept.open("/boards/new"),
    "new board refused": lambda kept: refused(kept.open("/boards/new"), "#length", TOO_FAR, "Go on to the photos"),
    "board empty": lambda kept: kept.open(kept.empty),
    "board read": lambda kept: kept.open(kept.boards[0]),
    "board refused": refused_board,
    "photo refused": refused_photo,
    "photo refused without scripts": refused_plain_photo,
    "photo to take again": useless_photo,
    "photo that waits": waiting_photo,
    "board that waits": waiting_board,
    "board that waits refused": refused_waiting_board,
    "board that waits mended": mended_board,
    "rack with a board that waits": waiting_rack,
    "no board that waits": lambda kept: kept.open_elsewhere("/boards/waiting#none"),
    "answer": lambda kept: kept.open(f"{kept.boards[0]}/answer"),
    "answer that no bow comes out": lambda kept: kept.open(f"{kept.boards[1]}/answer"),
    "answer at once": answer_at_once,
    "side from close": lambda kept: kept.open(f"{kept.boards[0]}/answer/face_1"),
    "side without scripts": lambda kept: kept.open_elsewhere(f"{kept.boards[0]}/answer/edge_1", scripts=False),
    "side refused": lambda kept: kept.open(f"{kept.boards[0]}/answer/face_2?at=9+parsecs"),
    "open question": open_question,
    "corners of a kept photo": lambda kept: kept.open(kept_corners(kept)),
    "corners of a kept photo refused": refused_corners,
    "corners of a kept photo without scripts": lambda kept: kept.open_elsewhere(kept_corners(kept), scripts=False),
    "rack": lambda kept: kept.open("/"),
    "compare": lambda kept: kept.open("/compare?a={}&b={}".format(*(path.split("/")[-1] for path in kept.boards))),
    "share": made_share,
    "shared answer": shared_answer,
    "delete": lambda kept: kept.open(f"{kept.boards[0]}/delete"),
    "forget": lambda kept: kept.open("/forget"),
    "keep": lambda kept: kept.open("/keep"),
    "keep refused": refused_file,
    "keep for the first time": lambda kept: kept.open_elsewhere("/keep", stranger=True),
    "once": lambda kept: kept.open("/once"),
    "once refused": refused_once,
    "corners": marking_corners,
    "problem": lambda kept: kept.open("/boards/nowhere"),
    "no signal": lambda kept: kept.open("/no-signal"),
}


def breaches(page: Page) -> list[str]:
    """Unfold everything and list what breaks a rule, in either look."""
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
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
