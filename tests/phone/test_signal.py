"""Photos on a bad line: sent at once, kept on the phone while there is no signal, and arriving exactly once."""

import re
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.phone.boards import until
from tests.phone.shop import BOARD, Shop, opened_shop

pytestmark = pytest.mark.phone


@pytest.fixture
def shop() -> Iterator[Shop]:
    """Open a server with a bad line."""
    with opened_shop() as shop:
        yield shop


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """Take a phone in hand that has never been here; its worker would hide the lost connections, so it has none."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True, service_workers="block"
    )
    yield context
    context.close()


@pytest.fixture
def page(phone: BrowserContext, shop: Shop) -> Iterator[Page]:
    """Open the board's page; scripts must not fail."""
    page = phone.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(shop.board)
    expect(page.locator("[data-plain]:visible")).to_have_count(0)  # the scripts are at work
    yield page
    assert faults == []


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Make three photos of noise, which no compression makes small."""
    folder = tmp_path_factory.mktemp("photos")
    noise = np.random.default_rng(5)
    paths = [folder / f"shot_{number}.jpg" for number in (1, 2, 3)]
    for path in paths:
        Image.fromarray(noise.integers(0, 255, (600, 800, 3), np.uint8)).save(path, quality=95)
    return paths


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a photo large enough, in bytes and pixels, for the board to be looked for in it."""
    path = tmp_path_factory.mktemp("large") / "large.jpg"
    Image.fromarray(np.random.default_rng(6).integers(0, 255, (1300, 1600, 3), np.uint8)).save(path, quality=75)
    assert 600_000 < path.stat().st_size < 4_000_000
    return path


def choose(page: Page, side: str, photo: Path) -> None:
    """Choose a photo of a side."""
    page.get_by_label(f"Choose a photo of {side}").set_input_files(photo)


def status(page: Page, side: str) -> Locator:
    """Find what is said of a side's photo."""
    return page.locator("li.shot", has_text=side).locator("[data-shot-status]")


def test_a_chosen_photo_is_sent_once_and_told(page: Page, shop: Shop, photos: list[Path]) -> None:
    """Choosing a photo sends it at once: how far it is stands beside it in words, then what it is good for."""
    shop.fates = ["wait"]
    choose(page, "Face 1", photos[0])

    expect(status(page, "Face 1")).to_have_text("The photo has arrived. Looking whether it can be used.")
    expect(page.get_by_alt_text("Face 1: the photo on its way")).to_be_visible()
    shop.go.set()
    expect(status(page, "Face 1")).to_have_text("Good.")
    assert list(shop.kept.values()) == [("face_1", photos[0].stat().st_size)]
    assert len(shop.asked) == 1


def test_photos_go_one_at_a_time_in_order(page: Page, shop: Shop, photos: list[Path]) -> None:
    """A second photo waits for the first, so that the first is whole as soon as the line allows."""
    shop.fates = ["wait"]
    choose(page, "Face 1", photos[0])
    expect(status(page, "Face 1")).to_contain_text("has arrived")
    choose(page, "Edge 1", photos[1])

    expect(status(page, "Edge 1")).to_have_text("Waits for the photos before it.")
    assert len(shop.asked) == 1
    shop.go.set()
    expect(status(page, "Edge 1")).to_have_text("Good.")
    assert [slot for slot, _ in shop.kept.values()] == ["face_1", "edge_1"]


@pytest.mark.parametrize("fate", ["cut", "cut after", "login", "busy"])
def test_a_connection_lost_three_times_brings_the_photo_once(
    page: Page, shop: Shop, photos: list[Path], fate: str
) -> None:
    """Cut in the middle, cut before the answer, caught by a login page or turned away busy: it arrives, once."""
    shop.fates = [fate] * 3
    page.clock.install(time=0)
    page.goto(shop.board)
    page.clock.pause_at(60)
    choose(page, "Face 1", photos[0])

    for lost, pause_s in enumerate((1, 3, 10), 1):
        until(partial(shop.was_asked, lost), page)
        expect(page.locator("[data-outbox]")).to_contain_text("1 photo waits for signal")
        expect(status(page, "Face 1")).to_contain_text("Waits for signal")
        page.clock.run_for(pause_s * 1000)
    expect(status(page, "Face 1")).to_have_text("Good.")
    assert [size for _, size in shop.kept.values()] == [photos[0].stat().st_size]
    assert len(shop.asked) == 4
    assert len({key for key in shop.asked if key}) == 1
    expect(page.locator("[data-outbox]")).to_be_hidden()


def test_a_photo_outlives_its_page(phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]) -> None:
    """A photo taken without signal is sent when the app is opened again, from whatever page."""
    shop.close()
    choose(page, "Face 1", photos[0])
    expect(page.locator("[data-outbox]")).to_contain_text("1 photo waits for signal")
    page.close()
    assert shop.kept == {}

    shop.open()
    later = phone.new_page()
    with later.expect_response("**/photos/face_1"):
        later.goto(shop.address)

    expect(later.locator("[data-outbox]")).to_be_hidden()
    assert list(shop.kept.values()) == [("face_1", photos[0].stat().st_size)]


def test_offline_photos_wait_and_are_sent_when_signal_comes(
    phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]
) -> None:
    """Without signal nothing is tried and the photos are counted; when it is back they go by themselves, in order."""
    phone.set_offline(True)
    choose(page, "Face 1", photos[0])
    choose(page, "Edge 1", photos[1])

    expect(page.locator("[data-outbox]")).to_contain_text("2 photos wait for signal")
    expect(status(page, "Edge 1")).to_contain_text("kept on this phone")
    assert shop.asked == []
    phone.set_offline(False)
    expect(status(page, "Edge 1")).to_have_text("Good.")
    assert [slot for slot, _ in shop.kept.values()] == ["face_1", "edge_1"]


def test_a_waiting_photo_can_be_thrown_away(phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]) -> None:
    """One that is not wanted any more goes after a question, and the other is sent alone."""
    page.on("dialog", lambda question: question.accept())
    phone.set_offline(True)
    choose(page, "Face 1", photos[0])
    choose(page, "Edge 1", photos[1])
    page.get_by_text("Show them").click()

    page.get_by_role("button", name="Throw away: Face 1").click()

    expect(page.locator("[data-outbox]")).to_contain_text("1 photo waits for signal")
    expect(status(page, "Face 1")).to_be_empty()
    phone.set_offline(False)
    expect(status(page, "Edge 1")).to_have_text("Good.")
    assert [slot for slot, _ in shop.kept.values()] == ["edge_1"]


def test_a_new_photo_takes_the_place_of_one_on_its_way(page: Page, shop: Shop, photos: list[Path]) -> None:
    """Taken again while the first is on its way: the first is cancelled, and the server told which it was."""
    shop.fates = ["wait"]
    choose(page, "Face 1", photos[0])
    expect(status(page, "Face 1")).to_contain_text("has arrived")

    choose(page, "Face 1", photos[1])

    expect(status(page, "Face 1")).to_have_text("Good.")
    first, second = shop.asked
    assert shop.kept == {second: ("face_1", photos[1].stat().st_size)}
    assert shop.instead == {second: first}


def test_a_refusal_stands_at_its_shot(page: Page, shop: Shop, photos: list[Path]) -> None:
    """What the server refuses is told at that shot, is not sent again, and holds up no other."""
    shop.fates = ["refused"]
    choose(page, "Face 1", photos[0])
    choose(page, "Edge 1", photos[1])

    expect(status(page, "Edge 1")).to_have_text("Good.")
    expect(status(page, "Face 1")).to_have_text("Not taken. This is no photo. Take it again.")
    assert len(shop.asked) == 2
    page.goto(shop.address)
    expect(page.locator("[data-outbox]")).to_contain_text("1 photo was not taken")
    page.goto(shop.board)
    choose(page, "Face 1", photos[2])
    expect(status(page, "Face 1")).to_have_text("Good.")
    expect(page.locator("[data-outbox]")).to_be_hidden()


def test_a_refused_photo_can_be_sent_again(page: Page, shop: Shop, photos: list[Path]) -> None:
    """A photo that was refused for want of room on the server is not lost: it is sent again when asked for."""
    shop.fates = ["refused"]
    choose(page, "Face 1", photos[0])
    page.get_by_text("Show them").click()
    expect(page.locator("[data-outbox] li")).to_contain_text("This is no photo. Take it again.")

    page.get_by_role("button", name="Send again: Face 1").click()

    expect(status(page, "Face 1")).to_have_text("Good.")
    assert list(shop.kept.values()) == [("face_1", photos[0].stat().st_size)]
    assert len(set(shop.asked)) == 1


def test_a_photo_that_is_too_large_is_told_before_it_is_sent(page: Page, shop: Shop, tmp_path: Path) -> None:
    """A file above the server's limit is refused on the phone, with what to do."""
    large = tmp_path / "large.jpg"
    large.write_bytes(bytes(4_000_001))

    choose(page, "Face 1", large)

    expect(status(page, "Face 1")).to_contain_text("large.jpg is larger than 4 MB. Choose a smaller size.")
    assert shop.asked == []


def test_little_room_is_told_before_there_is_none(page: Page, shop: Shop, photos: list[Path]) -> None:
    """When the phone has room for three more photos, the page says so and what to do."""
    page.evaluate(f"navigator.storage.estimate = async () => ({{ quota: {3.5 * photos[0].stat().st_size}, usage: 0 }})")
    choose(page, "Face 1", photos[0])

    expect(page.locator("[data-outbox]")).to_contain_text("There is room for about 3 more to wait on this phone")


def test_photos_go_without_a_database_too(phone: BrowserContext, shop: Shop, photos: list[Path]) -> None:
    """In a window that keeps nothing the photo is sent all the same, and the page says to leave it open."""
    page = phone.new_page()
    page.add_init_script("Object.defineProperty(window, 'indexedDB', { value: undefined })")
    page.goto(shop.board)
    expect(page.locator("[data-plain]:visible")).to_have_count(0)
    phone.set_offline(True)
    choose(page, "Face 1", photos[0])
    expect(page.locator("[data-outbox]")).to_contain_text("leave this page open")

    phone.set_offline(False)

    expect(status(page, "Face 1")).to_have_text("Good.")
    assert len(shop.kept) == 1


def test_forgetting_drops_what_waits(phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]) -> None:
    """Forgetting all takes the photos off the phone that have not been sent."""
    shop.fates = ["busy"]
    choose(page, "Face 1", photos[0])
    expect(page.locator("[data-outbox]")).to_contain_text("1 photo waits")

    page.get_by_role("button", name="Forget all").click()
    page.wait_for_url(shop.address + "/")

    expect(page.locator("[data-outbox]")).to_be_hidden()
    assert page.evaluate("async () => (await indexedDB.databases()).length") == 1
    page.goto(shop.board)
    expect(status(page, "Face 1")).to_be_empty()
    assert shop.kept == {}


def test_a_reading_tells_its_steps_and_brings_the_answer(page: Page, shop: Shop) -> None:
    """Read the board in the background: the answer is put into the page and the focus goes to it."""
    page.evaluate("document.querySelector('main').dataset.same = 'yes'")
    page.get_by_role("button", name="Read the board").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("A bow can come out")
    expect(page.get_by_role("heading", level=1)).to_be_focused()
    expect(page.get_by_role("button", name="Read the board")).to_be_visible()
    assert page.locator("main").get_attribute("data-same") == "yes"


def test_a_reading_without_signal_is_told(phone: BrowserContext, page: Page) -> None:
    """When the line is lost, the page says that nothing is, and the button is there again with the focus."""
    phone.set_offline(True)
    page.get_by_role("button", name="Read the board").click()

    expect(page.get_by_role("alert")).to_contain_text("The connection was lost. The photos are kept")
    expect(page.get_by_role("button", name="Read the board")).to_be_focused()


def test_the_board_page_is_named(shop: Shop) -> None:
    """The address of the stand-in's board is one that the worker keeps."""
    assert shop.board.endswith(f"/boards/{BOARD}")


#: Has the phone's database take in no more, as when its room is used up.
NO_ROOM: Final = """() => {
  const put = IDBObjectStore.prototype.put
  IDBObjectStore.prototype.put = function (...all) {
    if (all[0] instanceof ArrayBuffer) throw new DOMException("", "QuotaExceededError")
    return put.apply(this, all)
  }
}"""


def test_a_phone_without_room_still_sends(phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]) -> None:
    """When the phone's database takes no more, the open page holds the photo, says so at the shot, and sends it."""
    page.evaluate(NO_ROOM)
    phone.set_offline(True)
    choose(page, "Face 1", photos[0])
    expect(page.locator("[data-outbox]")).to_contain_text("leave this page open until all is sent")
    expect(status(page, "Face 1")).to_contain_text("The phone has no room to keep this photo. Leave this page open")

    phone.set_offline(False)

    expect(status(page, "Face 1")).to_have_text("Good.")
    assert len(shop.kept) == 1


def test_want_of_room_loses_nothing_that_was_kept(
    phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]
) -> None:
    """A photo that finds no room does not take the place of the one it was to replace, should the page be closed."""
    phone.set_offline(True)
    choose(page, "Face 1", photos[0])
    expect(status(page, "Face 1")).to_contain_text("kept on this phone")
    page.evaluate(NO_ROOM)
    choose(page, "Face 1", photos[1])
    expect(page.locator("[data-outbox]")).to_contain_text("2 photos wait for signal")
    page.close()

    later = phone.new_page()
    phone.set_offline(False)
    later.goto(shop.address)

    expect(later.locator("[data-outbox]")).to_be_hidden()
    until(lambda: shop.kept, later)
    assert list(shop.kept.values()) == [("face_1", photos[0].stat().st_size)]


@pytest.mark.parametrize("fate", ["cut", "busy"])
def test_a_lost_question_for_the_board_counts_as_a_lost_photo(page: Page, shop: Shop, large: Path, fate: str) -> None:
    """When the line breaks while the board is looked for, the photo is tried again; not found, it goes whole."""
    shop.finds = [fate]
    choose(page, "Face 1", large)
    expect(status(page, "Face 1")).to_contain_text("Waits for signal")
    assert shop.kept == {}

    page.evaluate("dispatchEvent(new Event('online'))")

    expect(status(page, "Face 1")).to_have_text("Good.")
    assert shop.sought == 2
    assert list(shop.kept.values()) == [("face_1", large.stat().st_size)]


def test_two_open_pages_send_a_photo_under_one_key(
    phone: BrowserContext, page: Page, shop: Shop, photos: list[Path]
) -> None:
    """A second page of the app sees what waits; whichever sends it, the server gets the same key and keeps it once."""
    other = phone.new_page()
    other.goto(shop.address)
    phone.set_offline(True)
    choose(page, "Face 1", photos[0])
    expect(other.locator("[data-outbox]")).to_contain_text("1 photo waits for signal")

    phone.set_offline(False)

    expect(status(page, "Face 1")).to_have_text(re.compile("^(Good[.])?$"))
    expect(other.locator("[data-outbox]")).to_be_hidden()
    assert len(set(shop.asked)) == len(shop.kept) == 1
