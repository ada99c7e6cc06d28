"""A running app and a browser the size of a phone."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, sync_playwright

ROOT: Final = Path(__file__).resolve().parent.parent.parent

#: A name that leads to this machine but which browsers do not trust as they do 127.0.0.1.
HOME_NAME: Final = "shed.test"

BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome")
ARGUMENTS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--host-resolver-rules=MAP {HOME_NAME} 127.0.0.1",
)

START_SECONDS: Final = 60


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Start the browser, or skip when there is none; a run that must be complete fails instead."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
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
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "service", "serve", "--host", "127.0.0.1", "--port", str(port)]
    environment = {**os.environ, "STAVESIGHT_READERS": "1", "STAVESIGHT_DATA": str(tmp_path_factory.mktemp("kept"))}
    server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)
    try:
        wait_for(f"http://127.0.0.1:{port}/health")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def wait_for(url: str) -> None:
    """Wait until the app answers."""
    deadline = time.monotonic() + START_SECONDS
    while True:
        try:
            with urllib.request.urlopen(url, timeout=2) as response:  # noqa: S310 - an address of this machine
                assert response.status == 200
                return
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.2)
