"""A running app and a browser the size of a phone."""

import os
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.phone.running import ARGUMENTS, browser_path, running


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Start the browser, or skip when there is none; a run that must be complete fails instead."""
    found = browser_path()
    if found is None:
        reason = "no Chromium is installed, so the pages cannot be tried at phone size"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(ARGUMENTS))
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start the web app by its own command and return its address."""
    with running(tmp_path_factory.mktemp("kept")) as port:
        yield f"http://127.0.0.1:{port}"
