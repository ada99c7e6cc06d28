"""Boards made, photographed and read by requests alone, for what comes after; and patience that has an end."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import BrowserContext, FilePayload, Page

from service.sides import SIDES

PATIENCE_S: Final = 90  # for a reading on a slow machine
PAUSE_MS: Final = 50


def set_bow(phone: BrowserContext, address: str) -> None:
    """Set a bow of 68 inches."""
    phone.request.post(f"{address}/bow", form={"units": "in", "bow_length": "68"})


def begin(phone: BrowserContext, address: str, size: str) -> str:
    """Begin a board of eight feet and return its address."""
    form: dict[str, str | float | bool] = {"once": f"begin {size}", "length_choice": "8 ft", "size": size}
    made = phone.request.post(f"{address}/boards/new", form=form)
    assert "/boards/new" not in made.url
    return made.url


def send_photo(phone: BrowserContext, board: str, side: str, file: Path) -> str:
    """Send the photo of a side and return its id."""
    photo: FilePayload = {"name": file.name, "mimeType": "image/jpeg", "buffer": file.read_bytes()}
    told: Any = {"key": f"{board[-8:]}{side}", "instead": "", "photo": photo}
    sent = phone.request.post(f"{board}/photos/{side}", multipart=told, headers={"accept": "application/json"})
    assert sent.ok
    return str(sent.json()["photo"])


def have_read(phone: BrowserContext, board: str, folder: Path) -> None:
    """Send the four sides out of a folder and wait until the board is read with all of them."""
    for side in SIDES:
        send_photo(phone, board, side, folder / f"{side}.jpg")
    until(lambda: is_read(phone.request.get(f"{board}/state").json()))


def is_read(state: dict[str, Any]) -> bool:
    """Tell whether a board has an answer and no other is under way."""
    return bool(state["verdict"]) and not state["stale"] and state["reading"] == "none"


def until(is_so: Callable[[], object], page: Page | None = None, told: Callable[[], object] = lambda: "") -> None:
    """Wait until something is so, while the page goes on; fail with what is told when it takes too long."""
    deadline = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < deadline, told()
        if page is None:
            time.sleep(PAUSE_MS / 1000)
        else:
            page.wait_for_timeout(PAUSE_MS)


def visit(page: Page, url: str) -> None:
    """Open a page, and wait until one that came early, as it was last seen, is brought up to date."""
    page.goto(url)
    page.wait_for_function("() => document.documentElement.dataset.early !== ''")


def worker_ready(page: Page) -> None:
    """Wait until the page's worker, which keeps pages for when there is no signal, has taken over."""
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
