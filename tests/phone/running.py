"""The web app started by its own command, and a browser to look at it."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

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


def browser_path() -> str | None:
    """Find a browser on this machine."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


@contextmanager
def running(kept: Path, *options: str) -> Iterator[int]:
    """Run the web app on a free port with options of its command, and keep boards in a folder."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-m", "service", "serve", "--host", "127.0.0.1", "--port", str(port), *options]
    environment = {**os.environ, "STAVESIGHT_READERS": "1", "STAVESIGHT_DATA": str(kept)}
    server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)
    try:
        wait_for(port)
        yield port
    finally:
        server.terminate()
        server.wait(timeout=20)


def wait_for(port: int) -> None:
    """Wait until the app listens."""
    deadline = time.monotonic() + START_SECONDS
    while True:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=2):
                return
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.2)
