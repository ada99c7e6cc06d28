"""Every page and state of the app: the phone on which they are come upon, and the way to each."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from PIL import Image
from playwright.sync_api import Browser, BrowserContext, FilePayload, Page, ViewportSize, expect

from service.settings import find_folder
from service.sides import SIDES
from tests.phone.boards import PATIENCE_S, begin, visit, worker_ready

#: Both phones and both themes. Colours are the same at any width and places the same in any theme, so two are enough.
LOOKS: Final[tuple[tuple[ViewportSize, Literal["light", "dark"]], ...]] = (
    (ViewportSize(width=390, height=844), "light"),
    (ViewportSize(width=320, height=640), "dark"),
)
FOLDERS: Final = tuple(find_folder("demo_photos") / name for name in ("clear_till_evening", "hailstone"))
NO_PHOTO: Final[FilePayload] = {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"}
TOO_FAR: Final = "96 parsecs"


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
        visit(self.page, self.address + path)
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
    expect(page.locator(".verdict")).to_be_visible(timeout=1000 * PATIENCE_S)
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
