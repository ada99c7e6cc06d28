"""What other browser engines do differently, tried by telling this one to do the same."""

import io
from pathlib import Path
from typing import Final

import pytest
from PIL import Image
from playwright.sync_api import Browser, ViewportSize, expect

from tests.phone.boards import worker_ready
from tests.phone.running import running
from tests.phone.test_camera import begun, film, opened, seeing

pytestmark = pytest.mark.phone

VIEWPORT: Final = ViewportSize(width=390, height=844)

#: What engines that are a few years old do not know: `:has()` in a selector, and turning a photo upright by its name.
OLDER: Final = """
const forget = (kind) => {
  const own = kind.prototype.querySelectorAll
  kind.prototype.querySelectorAll = function (marked) {
    if (marked.includes(":has(")) throw new DOMException("not known", "SyntaxError")
    return own.call(this, marked)
  }
}
forget(Document)
forget(Element)
const opened = self.createImageBitmap
self.createImageBitmap = async (photo, { imageOrientation: way = "none", ...more } = {}) => {
  if (!["none", "flipY"].includes(way)) throw new TypeError(`${way} is not a valid value`)
  return opened(photo, more)
}
"""

#: Whether what is seen in the middle of an element is the element itself.
ON_TOP: Final = """(one) => {
  const { left, top, width, height } = one.getBoundingClientRect()
  return document.elementFromPoint(left + width / 2, top + height / 2) === one
}"""


def test_files_are_there_without_signal_whatever_language_is_asked_for(browser: Browser, tmp_path: Path) -> None:
    """Where a browser tells the language before the worker sees a request, scripts still come out of what is kept.

    Answers say that they vary by language (RFC 9110, section 12.5.5), so a kept one would else match only requests
    that tell the same.
    """
    context = browser.new_context(viewport=VIEWPORT)
    page = context.new_page()
    with running(tmp_path) as port:
        page.goto(f"http://127.0.0.1:{port}/")
        worker_ready(page)

    got = page.evaluate("fetch('/static/main.js', { headers: { 'Accept-Language': 'nl' } }).then((one) => one.status)")
    never = page.evaluate("fetch('/health').catch(() => 'no signal')")

    assert (got, never) == (200, "no signal")
    context.close()


def test_forgetting_all_goes_past_the_worker(browser: Browser, address: str) -> None:
    """The answer that clears the site's data does not come from the worker, which is ended by it.

    WebKit clears before it hands the answer on and waits for the worker to end, which waits for its answer: more than
    a minute passes. Afterwards the app opens without signal as before.
    """
    context = browser.new_context(viewport=VIEWPORT)
    page = context.new_page()
    page.goto(f"{address}/forget")
    worker_ready(page)

    with page.expect_response(lambda answer: answer.request.method == "POST") as answered:
        page.get_by_role("button", name="Yes, delete").click()
    page.wait_for_url(f"{address}/")

    assert not answered.value.from_service_worker
    page.wait_for_function("() => caches.match('/no-signal', { cacheName: 'pages' }).then(Boolean)")
    context.close()


def test_corners_are_marked_in_an_older_engine(browser: Browser, address: str) -> None:
    """Without a newer kind of selector scripts still attach, and a photo that its notes turn is shown upright."""
    context = browser.new_context(viewport=VIEWPORT)
    page = context.new_page()
    page.add_init_script(OLDER)
    page.goto(f"{address}/once")
    page.locator("#face_1").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": turned_photo()})

    page.locator("[data-corners-open]").first.click()

    expect(page.locator("dialog canvas")).to_be_visible()
    assert page.locator("dialog canvas").evaluate("(one) => [one.width, one.height]") == [300, 400]
    context.close()


def test_the_guide_lies_over_the_live_picture(browser: Browser, address: str, tmp_path: Path) -> None:
    """Where a video is painted like what is positioned, as in WebKit, the guide still lies over it."""
    with seeing(browser, film(tmp_path, 0.5, cols=640, rows=480)) as other:
        dialog = opened(begun(other.new_context(viewport=VIEWPORT, permissions=["camera"]), address))
        dialog.locator("video").evaluate("(video) => (video.style.position = 'relative')")

        assert dialog.locator(".guide-tape").evaluate(ON_TOP)


def turned_photo() -> bytes:
    """Draw a photo of 400 x 300 pixels that was taken upright: its notes say so by 6 (Exif 2.32, tag 0x0112)."""
    notes = Image.Exif()
    notes[0x0112] = 6
    file = io.BytesIO()
    Image.new("RGB", (400, 300), "tan").save(file, "JPEG", exif=notes)
    return file.getvalue()
