"""A whole rack shot without signal: every board and photo arrives exactly once, whatever the line and the phone do."""

import io
import random
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Error, FilePayload, Locator, Page, expect

from service.app import create_app
from service.settings import Settings
from service.sides import SIDES
from service.store.opening import Store
from tests.app import standins
from tests.phone.bad_line import FATES, BadLine, plan_of, served
from tests.phone.boards import until
from tests.store.made_up import pixels

pytestmark = pytest.mark.phone

BOARDS: Final = 20
BOARD_DROPS, PHOTO_DROPS = 8, 22
KILLS_WHILE_SHOOTING, KILLS_WHILE_SENDING = 2, 3
LONGEST_S: Final = 240  # for all to arrive, on a slow machine
CHECKED_MS: Final = 30_000  # for the first photo, whose checker has to start


@dataclass
class Rack:
    """The app, the bad line to it, and the phone in hand."""

    line: BadLine
    store: Store
    phone: BrowserContext
    page: Page
    faults: list[str] = field(default_factory=list)

    def open(self, path: str = "/") -> Page:
        """Open the app on the phone, after whatever became of the page before."""
        self.page = self.phone.new_page()
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.goto(self.line.address + path)
        return self.page

    def go_dead(self, dead: bool = True) -> None:
        """Lose the signal, or find it."""
        self.line.dead = dead
        self.phone.set_offline(dead)

    def counts(self) -> tuple[int, int]:
        """Count the boards and photos that the server keeps."""
        boards = self.all_boards()
        return len(boards), sum(len(self.store.photos.all(device, board)) for device, board in boards)

    def wait_for(self, boards: int, photos: int) -> None:
        """Wait until the server keeps so many, and nothing is left to be sent."""
        until(lambda: self.counts() == (boards, photos) and not self.left(), self.page, self.counts)

    def left(self) -> int:
        """Count what waits on the phone."""
        return int(self.page.evaluate("import('/static/outbox.js').then(({ outbox }) => outbox.notes.length)"))

    def all_boards(self) -> list[tuple[str, str]]:
        """Return device and id of every board of this phone, in the order they were made."""
        secret = next((one["value"] for one in self.phone.cookies() if one["name"] == "stavesight"), None)
        device = self.store.devices.of(secret) if secret else None
        if device is None:
            return []
        return [(device, row.id) for row in sorted(self.store.boards.all(device), key=lambda row: row.created)]


@pytest.fixture
def rack(browser: Browser, tmp_path: Path) -> Iterator[Rack]:
    """Run the app behind a bad line, and open it once, with signal, before going to the rack."""
    app = create_app(Settings(readers=1, waiting=50, data=str(tmp_path)), standins.read_at_once, standins.check_at_once)
    phone = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    with served(app) as port:
        line = BadLine(port)
        rack = Rack(line, app.state.store, phone, phone.new_page())
        rack.open("/")
        rack.page.wait_for_function("() => navigator.serviceWorker.ready.then(() => true)")
        yield rack
        phone.close()
        line.close()
    assert rack.faults == []


def photo_of(board: int, side: str) -> FilePayload:
    """Make a small photo that no other side or board has."""
    kept = io.BytesIO()
    Image.fromarray(pixels(10 * board + SIDES.index(side))).save(kept, "JPEG")
    return {"name": f"{board}_{side}.jpg", "mimeType": "image/jpeg", "buffer": kept.getvalue()}


def picture_of(data: bytes) -> "np.ndarray[tuple[int, ...], np.dtype[np.uint8]]":
    """Return what a photo shows, which is kept to the last pixel."""
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image)


def set_bow(page: Page, length: str = "68") -> None:
    """Set the bow."""
    page.get_by_label("Length of the bow").fill(length)
    page.get_by_role("button", name="Keep this bow").click()


def tell_size(page: Page) -> Locator:
    """Tell the size of a board, and return the button that makes it."""
    page.get_by_text("8 ft", exact=True).click()
    page.get_by_text("1x2:").click()
    return page.get_by_role("button", name="Go on to the photos")


def first_board(page: Page) -> None:
    """Make a board without signal."""
    tell_size(page).click()
    page.wait_for_url("**/boards/waiting#*")
    expect(page.get_by_role("heading", name="Waits for signal")).to_be_visible()


def shoot(page: Page, board: int, side: str) -> None:
    """Photograph a side, until the phone says that the photo is kept."""
    page.locator(f"#pick_{side}_choose").set_input_files(photo_of(board, side))
    expect(page.locator(f"#shot_{side} [data-shot-status]")).to_contain_text("kept on this phone")


def test_a_rack_shot_without_signal_arrives_once(rack: Rack) -> None:
    """20 boards of 4 photos come through 30 broken connections and 5 dead pages: each once, in its place, unchanged."""
    chance = random.Random(11)  # noqa: S311 - no secret, the same each time
    rack.go_dead()
    page = rack.page
    page.goto(f"{rack.line.address}/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    first_board(page)
    killed_at = set(chance.sample(range(1, BOARDS), KILLS_WHILE_SHOOTING))
    for board in range(1, BOARDS + 1):
        for side in SIDES:
            shoot(page, board, side)
            if board in killed_at and side == SIDES[1]:
                page.close()
                page = rack.open()
                page.get_by_role("link", name=f"Waiting board {board}", exact=True).click()
        if board < BOARDS:
            page.locator(".next").get_by_role("button", name="Next board").click()
            expect(page.locator(".name")).to_have_text(f"Waiting board {board + 1}")
    expect(page.locator("[data-outbox]")).to_contain_text("20 boards and 80 photos wait for signal")
    assert rack.counts() == (0, 0)

    rack.line.board_plan = plan_of(BOARD_DROPS, 1 + BOARDS, seed=5)
    rack.line.photo_plan = plan_of(PHOTO_DROPS, 4 * BOARDS, seed=6)
    kill_after = sorted(chance.sample(range(5, 4 * BOARDS - 5), KILLS_WHILE_SENDING))
    rack.go_dead(False)
    send_all(rack, kill_after)

    assert len(rack.line.broken) == BOARD_DROPS + PHOTO_DROPS
    assert set(rack.line.broken) == set(FATES)
    assert rack.counts() == (BOARDS, 4 * BOARDS)
    for number, (device, made) in enumerate(rack.all_boards(), 1):
        rows = rack.store.photos.all(device, made)
        assert [(row.slot, row.name) for row in rows] == [(side, f"{number}_{side}.jpg") for side in SIDES]
        for row in rows:
            sent = picture_of(photo_of(number, row.slot)["buffer"])
            assert (picture_of(rack.store.photos.content(device, row.id)[1]) == sent).all()
    keys = [row.upload_key for place in rack.all_boards() for row in rack.store.photos.all(*place)]
    assert len(set(keys)) == 4 * BOARDS


def send_all(rack: Rack, kill_after: list[int]) -> None:
    """Have everything sent, kill the page now and then, and wait until nothing is left."""
    deadline = time.monotonic() + LONGEST_S
    while True:
        assert time.monotonic() < deadline, (rack.counts(), rack.line.broken)
        if kill_after and rack.counts()[1] >= kill_after[0]:
            kill_after.pop(0)
            if kill_after:
                rack.page.close()
            else:
                with pytest.raises(Error):
                    rack.page.goto("chrome://crash", timeout=3000)
            rack.open()
        if not rack.left() and rack.counts() == (BOARDS, 4 * BOARDS):
            return
        rack.page.evaluate("dispatchEvent(new Event('online'))")  # the phone finds signal again
        rack.page.wait_for_timeout(200)


def test_a_board_and_its_bow_wait_and_lead_on(rack: Rack) -> None:
    """Bow, board and photo wait together, the board is there at its own page, and that leads on once all was sent."""
    rack.go_dead()
    page = rack.page
    page.goto(f"{rack.line.address}/bow")
    set_bow(page, "60")
    page.wait_for_url("**/boards/new")
    expect(page.get_by_text("For the bow you have set, 60 in long.")).to_be_visible()
    first_board(page)
    expect(page.get_by_text("8 ft, 1x2")).to_be_visible()
    shoot(page, 1, "face_1")
    expect(page.locator("[data-outbox]")).to_contain_text(
        "Your bow waits for signal. 1 board and 1 photo wait for signal."
    )

    rack.go_dead(False)

    page.wait_for_url(re.compile("/boards/[0-9a-f]{32}$"))
    expect(page.locator("#shot_face_1 .kept")).to_be_visible()
    expect(page.get_by_text("The bow for this board: 60 in long")).to_be_visible()
    rack.wait_for(1, 1)


def test_a_refused_board_is_mended_where_it_waits(rack: Rack) -> None:
    """What the server refuses stands at that board and, with what was typed, at its field; its likes are mended too."""
    page = rack.page
    page.goto(f"{rack.line.address}/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    rack.go_dead()
    page.get_by_label("Or another length").fill("96 parsecs")
    first_board(page)
    shoot(page, 1, "face_1")
    page.locator("form").get_by_role("button", name="Next board").first.click()
    expect(page.locator(".name")).to_have_text("Waiting board 2")
    shoot(page, 2, "edge_1")
    rack.go_dead(False)
    expect(page.get_by_role("heading", name="Needs another look")).to_be_visible()
    expect(page.locator("#shot_edge_1 [data-shot-status]")).to_contain_text("sent once its board is mended")
    assert rack.counts() == (0, 0)

    page.get_by_role("link", name="Mend it").click()

    expect(page.get_by_role("alert")).to_contain_text("96 parsecs")
    length = page.get_by_label("Or another length")
    expect(length).to_have_value("96 parsecs")
    expect(length).to_have_attribute("aria-invalid", "true")
    length.fill("96")
    page.get_by_role("button", name="Go on to the photos").click()
    page.wait_for_url(re.compile("/boards/[0-9a-f]{32}$"))
    rack.wait_for(2, 2)


def test_a_waiting_board_can_be_thrown_away(rack: Rack) -> None:
    """From the rack, with its photos, after a question; what else waits stays."""
    rack.go_dead()
    page = rack.page
    page.on("dialog", lambda question: question.accept())
    page.goto(f"{rack.line.address}/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    first_board(page)
    shoot(page, 1, "face_1")
    page.locator("form").get_by_role("button", name="Next board").first.click()
    expect(page.locator(".name")).to_have_text("Waiting board 2")
    page.goto(rack.line.address)

    page.get_by_role("button", name="Throw away: Waiting board 1").click()

    expect(page.locator("[data-outbox]")).to_contain_text("1 board waits for signal")
    rack.go_dead(False)
    expect(page.locator(".board-card")).to_have_count(1)
    rack.wait_for(1, 0)


def test_room_running_short_is_told_with_a_board_too(rack: Rack) -> None:
    """When the phone has room for three more photos, the page of a waiting board says so before any is taken."""
    rack.phone.add_init_script("navigator.storage.estimate = async () => ({ quota: 14e6, usage: 0 })")
    rack.go_dead()
    page = rack.open("/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    expect(page.locator("[data-outbox]")).to_contain_text("There is room for about 3 more to wait on this phone")


def test_without_a_place_that_lasts_a_board_goes_the_plain_way(rack: Rack) -> None:
    """Where nothing can be kept for later, forms are sent as by a page without scripts."""
    rack.phone.add_init_script("Object.defineProperty(window, 'indexedDB', { value: undefined })")
    page = rack.open("/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    tell_size(page).click()
    page.wait_for_url(re.compile("/boards/[0-9a-f]{32}$"))
    rack.wait_for(1, 0)


def test_where_no_page_opens_without_signal_the_form_stays(rack: Rack, browser: Browser) -> None:
    """At an address that is not secure browsers allow no worker: the board is kept, and goes on when it was sent."""
    phone = browser.new_context(service_workers="block")
    page = phone.new_page()
    page.goto(f"{rack.line.address}/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    phone.set_offline(True)
    tell_size(page).click()
    expect(page.get_by_text("Leave this page open: it goes on then.")).to_be_visible()

    phone.set_offline(False)

    page.wait_for_url(re.compile("/boards/[0-9a-f]{32}$"))
    expect(page.get_by_role("heading", name="The four sides")).to_be_visible()
    phone.close()


def test_a_board_seen_once_opens_with_its_pictures(rack: Rack) -> None:
    """Photos and answers that were looked at are there without signal; once deleted, they are not."""
    page = rack.page
    page.goto(f"{rack.line.address}/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    tell_size(page).click()
    page.wait_for_url(re.compile("/boards/[0-9a-f]{32}$"))
    page.locator("#pick_face_1_choose").set_input_files(photo_of(1, "face_1"))
    photo = page.locator("#shot_face_1 .kept img")
    expect(photo).to_be_visible(timeout=CHECKED_MS)
    board = page.url
    page.goto(board)  # as it is with the photo
    expect(photo).to_have_js_property("complete", True)
    rack.go_dead()

    page.goto(board)

    expect(page.get_by_text("No signal: this page is as it was")).to_be_visible()
    photo.scroll_into_view_if_needed()
    expect(photo).not_to_have_js_property("naturalWidth", 0)
    rack.go_dead(False)
    page.goto(f"{board}/delete")
    page.get_by_role("button", name="Delete").click()
    page.wait_for_url(f"{rack.line.address}/")
    kept = "caches.open('pictures').then((kept) => kept.keys()).then((all) => all.length)"
    assert page.evaluate(kept) == 0


def test_a_board_with_signal_goes_straight_to_its_page(rack: Rack) -> None:
    """With signal nobody sees the waiting page, and a glove that touches twice makes one board."""
    page = rack.page
    page.goto(f"{rack.line.address}/bow")
    set_bow(page)
    page.wait_for_url("**/boards/new")
    tell_size(page).dblclick()
    page.wait_for_url(re.compile("/boards/[0-9a-f]{32}$"))
    rack.wait_for(1, 0)
