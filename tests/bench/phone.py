"""How long a person waits on a phone with a bad line, measured in a real browser.

The line and the processor are those that web measurements take for a slow phone: 1.6 Mbit/s down, 0.75 Mbit/s up, 150
ms there and back, a processor four times slower. Targets stand beside what was measured; nothing here fails a test.
"""

import statistics
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from service.sides import SIDES
from tests.bench.slow_line import SlowLine, slow_line
from tests.drawing import photograph, random_camera, random_scene, random_solid
from tests.phone.running import ARGUMENTS, browser_path, running

UP_BITS_PER_S: Final = 0.75e6
DOWN_BITS_PER_S: Final = 1.6e6
ROUND_TRIP_S: Final = 0.150
TIMES_SLOWER: Final = 4

PACE_S: Final = 8.0
"""Between two shutters: a quarter turn of the board, a step back, a look. Common practice, no source."""

VISITS: Final = 5
PHONE: Final[dict[str, Any]] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

LONGEST_MS: Final = 600_000

#: What the browser itself tells about a page: Largest Contentful Paint, Layout Instability and Event Timing (W3C).
WATCH: Final = """() => {
  window.seen = { largest: 0, shift: 0, events: [] }
  let first = -Infinity, last = -Infinity, sum = 0
  const watch = (type, take, more = {}) => new PerformanceObserver((list) => list.getEntries().forEach(take))
    .observe({ type, buffered: true, ...more })
  watch("largest-contentful-paint", (entry) => (seen.largest = entry.startTime))
  watch("layout-shift", ({ value, startTime: now, hadRecentInput }) => {
    if (hadRecentInput) return
    if (now - last > 1000 || now - first > 5000) [first, sum] = [now, 0] // a new run of shifts
    last = now
    seen.shift = Math.max(seen.shift, (sum += value))
  })
  watch("event", (entry) => { if (entry.interactionId) seen.events.push(entry.duration) }, { durationThreshold: 16 })
}"""

USABLE: Final = "() => performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"


def slow_page(phone: BrowserContext) -> Page:
    """Open a page on a slow processor that watches itself."""
    page = phone.new_page()
    page.add_init_script(f"({WATCH})()")
    phone.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": TIMES_SLOWER})
    return page


def tell(name: str, value: str, target: str = "") -> None:
    """Print one figure."""
    print(f"{name:56s} {value:>12s}   {target}", flush=True)


def print_first_page(browser: Browser, line: SlowLine, port: int) -> None:
    """Print how soon the first page serves, on a phone that was never here and on one that was."""
    urllib.request.urlopen(f"http://127.0.0.1:{port}/").close()  # a server that has served somebody before
    first, again = [], []
    for _ in range(VISITS):
        phone = browser.new_context(**PHONE)
        first.append(visit(phone, line))
        again.append(visit(phone, line))
        phone.close()
    for words, visits, usable_s in (("first time", first, 1.5), ("after", again, 0.5)):
        middle = {name: statistics.median(one[name] for one in visits) for name in visits[0]}
        spread = [one["usable"] / 1000 for one in visits]
        tell(f"first page usable, {words}", f"{middle['usable'] / 1000:.2f} s", f"< {usable_s} s")
        tell("  from ... to", f"{min(spread):.2f}, {max(spread):.2f} s")
        tell("  largest contentful paint", f"{middle['largest'] / 1000:.2f} s", "< 1.5 s")
        tell("  layout shift", f"{middle['shift']:.3f}", "< 0.05")
        tell("  over the wire, all and scripts", f"{middle['all']:.0f}, {middle['scripts']:.0f} kB", "<= 90, 35 kB")


def visit(phone: BrowserContext, line: SlowLine) -> dict[str, float]:
    """Open the first page and return what was seen: times in ms, bytes in kB."""
    page, before = slow_page(phone), line.down.carried
    page.goto(f"http://127.0.0.1:{line.port}")
    page.wait_for_load_state("load")
    carried = line.down.carried - before  # what the page itself needs; the rest is fetched for later
    page.wait_for_timeout(1500)
    seen: dict[str, Any] = page.evaluate("() => seen")
    scripts: int = page.evaluate(
        "() => performance.getEntriesByType('resource').filter((one) => one.name.endsWith('.js'))"
        ".reduce((sum, one) => sum + one.transferSize, 0)"
    )
    usable_ms: float = page.evaluate(USABLE)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_load_state("networkidle")
    page.close()
    return {
        "usable": usable_ms,
        "largest": seen["largest"],
        "shift": seen["shift"],
        "all": carried / 1000,
        "scripts": scripts / 1000,
    }


def draw_photos(folder: Path, seed: int) -> dict[str, Path]:
    """Draw the four sides of a board as a 12-megapixel phone takes them."""
    solid, photos = random_solid(seed), {}
    for number, side in enumerate(SIDES):
        scene = random_scene(100 * seed + number, place=seed, quality=95)
        photos[side] = folder / f"{side}.jpg"
        photos[side].write_bytes(photograph(solid, side, random_camera(100 * seed + number, solid), scene)[0])
    return photos


def begin_board(page: Page, address: str, seed: int) -> None:
    """Set the bow and begin a board of the drawn board's size."""
    solid = random_solid(seed)
    page.goto(f"{address}/bow")
    page.get_by_label("millimetres").check()
    page.get_by_label("Length of the bow").fill(f"{0.8 * solid.length_mm:.0f}")
    page.get_by_role("button", name="Keep this bow").click()
    page.wait_for_url(f"{address}/boards/new")
    page.get_by_label("None, I measured it").check()
    for name in ("length", "width", "thickness"):
        page.locator(f"#{name}").fill(f"{getattr(solid, f'{name}_mm'):.1f}")
    page.get_by_role("button", name="Go on to the photos").click()
    page.locator("#pick_face_1_choose").wait_for(state="attached")


def print_board(phone: BrowserContext, line: SlowLine, address: str, photos: dict[str, Path], whole: bool) -> None:
    """Shoot the four sides at a person's pace and print how long the answer takes."""
    page = slow_page(phone)
    if whole:
        page.route("**/find/**", lambda route: route.fulfill(json={"whole": True, "why": "for comparison"}))
    begin_board(page, address, 1)
    before, began = line.up.carried, time.monotonic()
    for number, side in enumerate(SIDES):
        page.wait_for_timeout(max((began + number * PACE_S - time.monotonic()) * 1000, 0))
        page.locator(f"#pick_{side}_choose").set_input_files(photos[side])
    shut = time.monotonic()
    answered = (
        "() => document.querySelector('#answer .verdict:not(.unread)')"
        f" && document.querySelectorAll('[data-fresh^=kept_] img').length === {len(SIDES)}"
        " && !document.querySelector('#answer')?.textContent.includes('again')"
    )
    page.wait_for_function(answered, timeout=LONGEST_MS)
    waited_s = time.monotonic() - shut
    sent, there = line.up.carried - before, sum(photo.stat().st_size for photo in photos.values())
    words = "whole photos" if whole else "the board's stretch"
    tell(f"last shutter to the answer, {words}", f"{waited_s:.1f} s", "" if whole else "< 6 s")
    tell("  bytes sent of the photos'", f"{sent / there:.1%}", "" if whole else "<= 15 %")
    seen: dict[str, Any] = page.evaluate("() => seen")
    tell("  layout shift", f"{seen['shift']:.3f}", "< 0.05")
    print_taps(page)
    page.close()


def print_taps(page: Page) -> None:
    """Tap what can be tapped on the board's page and print the slowest answer to a tap."""
    for fold in page.locator("main > details > summary").all():
        fold.tap()
        fold.tap()
    page.wait_for_timeout(500)
    events: list[float] = page.evaluate("() => seen.events")
    tell("  interaction to next paint, slowest", f"{max(events, default=0):.0f} ms", "< 200 ms")


def print_phone() -> None:
    """Print the table of waits on a slow phone."""
    with (
        tempfile.TemporaryDirectory() as folder,
        running(Path(folder) / "kept") as port,
        slow_line(port, UP_BITS_PER_S, DOWN_BITS_PER_S, ROUND_TRIP_S) as line,
        sync_playwright() as playwright,
    ):
        address = f"http://127.0.0.1:{line.port}"
        photos = draw_photos(Path(folder), 1)
        total = sum(photo.stat().st_size for photo in photos.values())
        print(f"Four photos of 12 megapixels, {total / 1e6:.1f} MB; a shutter every {PACE_S:.0f} s")
        browser = playwright.chromium.launch(executable_path=browser_path(), args=list(ARGUMENTS))
        print_first_page(browser, line, port)
        for whole in (False, True):
            phone = browser.new_context(**PHONE)
            print_board(phone, line, address, photos, whole)
            phone.close()
        browser.close()
