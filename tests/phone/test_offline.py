"""The app on a home screen: opened without signal, installed, and over plain HTTP."""

import gzip
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from service.app.requests.static_files import LEVEL, slim
from service.app.routes.shell import worker_text
from tests.phone.boards import worker_ready
from tests.phone.running import HOME_NAME
from tests.phone.shop import STATIC, Shop, opened_shop

pytestmark = pytest.mark.phone

SCRIPT_BYTES: Final = 35_000
ALL_SCRIPT_BYTES: Final = 35 * 1024
FIRST_BYTES: Final = 90_000


@pytest.fixture
def shop() -> Iterator[Shop]:
    """Open a server that can be shut."""
    with opened_shop() as shop:
        yield shop


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """Take a phone in hand that has never been here."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    yield context
    context.close()


@pytest.fixture
def visited(phone: BrowserContext, shop: Shop) -> Page:
    """Open the rack and a board once, with signal, so that the worker has taken over."""
    page = phone.new_page()
    page.goto(shop.address)
    worker_ready(page)
    page.goto(shop.board)
    expect(page.locator("[data-shot]")).to_have_count(2)
    page.wait_for_function("() => caches.match(location.pathname).then(Boolean)")
    return page


def test_the_rack_and_a_board_open_without_signal(visited: Page, shop: Shop) -> None:
    """What was seen before opens as it was, with its look and scripts, and says that it is old."""
    shop.close()

    for address in (shop.address, shop.board):
        visited.goto(address)
        expect(visited.get_by_text("No signal: this page is as it was")).to_be_visible()
        assert visited.evaluate("getComputedStyle(document.body).margin") == "0px"
    expect(visited.locator("[data-plain]").first).to_be_hidden()  # a script did that


def test_with_signal_the_page_is_the_new_one(visited: Page, shop: Shop) -> None:
    """At a board the network comes first: what the phone keeps is never shown in place of what the server has."""
    shop.verdict = "A bow can come out"

    visited.goto(shop.board)

    expect(visited.get_by_text("A bow can come out")).to_be_visible()
    expect(visited.get_by_text("No signal")).to_have_count(0)


def test_a_page_never_seen_says_so(visited: Page, shop: Shop) -> None:
    """Without signal, a page that is not on the phone leads to the rack instead of the browser's own fault page."""
    shop.close()
    visited.goto(f"{shop.address}/boards/fedcba9876543210")

    expect(visited.get_by_role("heading", level=1)).to_have_text("No signal")
    visited.get_by_role("link", name="Go to the rack").click()
    expect(visited.get_by_role("heading", level=1)).to_have_text("The rack")


def test_forgetting_clears_the_pages_on_the_phone(visited: Page, shop: Shop) -> None:
    """After all is forgotten, no page of a board is left on the phone."""
    visited.get_by_role("button", name="Forget all").click()
    visited.wait_for_url(shop.address + "/")

    shop.close()
    visited.goto(shop.board)
    expect(visited.get_by_role("heading", level=1)).to_have_text("No signal")


def test_the_worker_takes_in_every_static_file_that_pages_use() -> None:
    """Its list names each style and script, so none is missing without signal."""
    listed = set(re.findall(r'"([a-z_]+[.](?:css|js|svg|html))"', worker_text(STATIC)))
    there = {path.name for path in STATIC.iterdir() if path.suffix in (".css", ".js", ".svg", ".html")}
    assert listed == there - {"sw.js"}


def test_the_icons_are_as_the_manifest_says() -> None:
    """Each icon is there, of the size told; installing needs 192 and 512 pixels (W3C Web Application Manifest)."""
    manifest = json.loads((STATIC / "app.webmanifest").read_text(encoding="utf-8"))
    sizes = set()
    for icon in manifest["icons"]:
        file = STATIC / icon["src"].removeprefix("/static/")
        assert file.is_file()
        if file.suffix == ".png":
            with Image.open(file) as image:
                assert "{}x{}".format(*image.size) == icon["sizes"]
            sizes.add(icon["sizes"])
    assert sizes == {"192x192", "512x512"}
    assert manifest["start_url"] == "/"


def test_the_first_load_is_small(browser: Browser, address: str) -> None:
    """Over the wire, all that the real first page loads holds 90 kB at most, its scripts 35 kB."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    urls: dict[str, str] = {}
    loaded: dict[str, int] = {}
    session.on("Network.responseReceived", lambda told: urls.update({told["requestId"]: told["response"]["url"]}))
    session.on("Network.loadingFinished", lambda told: loaded.update({told["requestId"]: told["encodedDataLength"]}))
    page.goto(address, wait_until="networkidle")
    context.close()

    scripts = [size for key, size in loaded.items() if urls[key].endswith(".js")]
    assert all(url.startswith(address) for url in urls.values())
    assert min(len(scripts), len(loaded) - len(scripts)) >= 5  # else nothing was measured
    assert sum(scripts) <= SCRIPT_BYTES
    assert sum(loaded.values()) <= FIRST_BYTES


def test_all_scripts_together_are_small() -> None:
    """Slim and compressed as they are sent, all scripts of all pages hold 35 KiB at most."""
    scripts = {path.name: slim(path.read_text(encoding="utf-8")).encode() for path in STATIC.glob("*.js")}
    packed = {name: len(gzip.compress(script, LEVEL)) for name, script in scripts.items()}
    assert sum(packed.values()) <= ALL_SCRIPT_BYTES, packed


def test_the_real_app_is_kept_by_its_version(phone: BrowserContext, address: str) -> None:
    """The app's worker takes in all files under a digest of them, so that new ones replace them together."""
    page = phone.new_page()
    page.goto(address)
    page.wait_for_function("() => navigator.serviceWorker.ready.then(() => true)")

    names = page.evaluate("caches.keys()")

    kept = [name for name in names if name.startswith("static ")]
    assert len(kept) == 1
    assert re.fullmatch(r"static [0-9a-f]{8,}", kept[0])
    paths = page.evaluate("name => caches.open(name).then((kept) => kept.keys()).then((all) => all.length)", kept[0])
    assert paths >= len(list(STATIC.glob("*.css"))) + len(list(STATIC.glob("*.js"))) - 1


def test_photos_are_sent_over_plain_http(phone: BrowserContext, shop: Shop, tmp_path: Path) -> None:
    """Where browsers hold back much, such as a name on a home network without https, photos still get keys and go."""
    page = phone.new_page()
    page.goto(shop.board.replace("127.0.0.1", HOME_NAME))
    assert page.evaluate("[isSecureContext, typeof crypto.randomUUID]") == [False, "undefined"]
    photo = tmp_path / "shot.jpg"
    Image.new("RGB", (40, 30)).save(photo)

    page.get_by_label("Choose a photo of Face 1").set_input_files(photo)

    expect(page.locator("[data-shot-status]").first).to_have_text("Good.")
    assert [len(key) for key in shop.kept] == [32]


def test_the_app_opens_as_last_seen_and_brings_itself_up_to_date(phone: BrowserContext, address: str) -> None:
    """Opened anew, the rack is there before the server has answered, and then shows what came since."""
    page = phone.new_page()
    page.goto(address)
    page.wait_for_function("() => navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => caches.open('pages').then((kept) => kept.match('/')).then((kept) => Boolean(kept))")
    page.goto(f"{address}/bow")
    page.get_by_label("Length of the bow").fill("66 in")
    page.get_by_role("button", name="Keep this bow").click()
    page.get_by_label("8 ft").check()
    page.get_by_label("1x3:").check()
    page.get_by_role("button", name="Go on to the photos").click()
    expect(page.get_by_role("heading", name="The four sides")).to_be_visible()
    page.close()

    page = phone.new_page()
    page.goto(address)

    assert page.locator("html[data-early]").count() == 1
    expect(page.get_by_role("heading", name="Your boards")).to_be_visible()
    expect(page.locator(".board-card")).to_have_count(1)
