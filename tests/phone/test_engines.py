"""What other browser engines do differently, tried by telling this one to do the same."""

from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, ViewportSize

from tests.phone.running import running

pytestmark = pytest.mark.phone

VIEWPORT: Final = ViewportSize(width=390, height=844)

#: Waits until the worker answers for the page.
TAKEN_OVER: Final = """() => new Promise((done) => {
  const worker = navigator.serviceWorker
  if (worker.controller) done()
  worker.addEventListener("controllerchange", done)
})"""


def test_files_are_there_without_signal_whatever_language_is_asked_for(browser: Browser, tmp_path: Path) -> None:
    """Where a browser tells the language before the worker sees a request, scripts still come out of what is kept.

    Answers say that they vary by language (RFC 9110, section 12.5.5), so a kept one would else match only requests
    that tell the same.
    """
    context = browser.new_context(viewport=VIEWPORT)
    page = context.new_page()
    with running(tmp_path) as port:
        page.goto(f"http://127.0.0.1:{port}/")
        page.evaluate(TAKEN_OVER)

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
    page.evaluate(TAKEN_OVER)

    with page.expect_response(lambda answer: answer.request.method == "POST") as answered:
        page.get_by_role("button", name="Yes, delete").click()
    page.wait_for_url(f"{address}/")

    assert not answered.value.from_service_worker
    page.wait_for_function("caches.match('/no-signal', { cacheName: 'pages' }).then(Boolean)")
    context.close()
