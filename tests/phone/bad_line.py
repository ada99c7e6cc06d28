"""A bad line to the real app: it goes dead, breaks connections by a plan, and holds what it may hold back.

It stands between phone and app, so that both are the real ones and only what lies between them fails.
"""

import http.client
import json
import random
import socket
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Final

import uvicorn
from fastapi import FastAPI

#: What becomes of something sent: cut before it began, in the middle, or after it was taken in whole but before the
#: answer; turned away by a server that is busy; answered by the login page of somebody else's Wi-Fi.
FATES: Final = ("before", "middle", "after", "busy", "login")

DROPPED: Final = frozenset({"connection", "transfer-encoding", "keep-alive", "date", "server", "content-length"})


def plan_of(drops: int, sent: int, seed: int) -> list[str]:
    """Plan which of the first things sent meet which fate, each fate in turn; an empty one goes well.

    >>> plan = plan_of(3, 10, seed=1)
    >>> len(plan), sum(fate != "" for fate in plan)
    (10, 3)
    """
    chance = random.Random(seed)  # noqa: S311 - no secret, the same plan each time
    plan = [""] * sent
    for drop, place in enumerate(chance.sample(range(sent), drops)):
        plan[place] = FATES[drop % len(FATES)]
    return plan


class BadLine:
    """The line.

    Attributes
    ----------
    dead
        Whether nothing gets through at all.
    board_plan, photo_plan
        What becomes of the next boards and bows, and of the next photos, that are sent.
    broken
        The fates that were met so far.
    """

    def __init__(self, app_port: int) -> None:
        self.app_port = app_port
        self.dead = False
        self.board_plan: list[str] = []
        self.photo_plan: list[str] = []
        self.broken: list[str] = []
        self._lock = threading.Lock()
        line = self

        class Handler(_Handler):
            pass

        Handler.line = line
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()

    @property
    def address(self) -> str:
        """Return where the phone reaches the app."""
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def next_fate(self, path: str) -> str:
        """Return what becomes of something that is being sent now."""
        plan = self.photo_plan if "/photos/" in path else self.board_plan
        with self._lock:
            fate = plan.pop(0) if plan else ""
            if fate:
                self.broken.append(fate)
            return fate

    def close(self) -> None:
        """Stop."""
        self._server.shutdown()
        self._server.server_close()


@contextmanager
def served(app: FastAPI) -> Iterator[int]:
    """Serve an app on a free port of this process."""
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="critical", timeout_graceful_shutdown=1))
    with socket.socket() as place:
        place.bind(("127.0.0.1", 0))
        place.listen()  # who comes before the app has started waits instead of being turned away
        thread = threading.Thread(target=server.run, args=([place],), daemon=True)
        thread.start()
        yield int(place.getsockname()[1])
        server.should_exit = True
        thread.join(20)


class _Handler(BaseHTTPRequestHandler):
    line: BadLine
    protocol_version = "HTTP/1.0"  # one connection each: a browser quietly sends again over one used before

    def log_message(self, *_: object) -> None:
        """Stay quiet."""

    def do_GET(self) -> None:
        """Pass a question on."""
        if self.line.dead:
            return self._cut()
        return self._pass_on(b"")

    def do_POST(self) -> None:
        """Pass on what is sent, as its fate is."""
        fate = "" if self.line.dead else self.line.next_fate(self.path)
        if self.line.dead or fate == "before":
            return self._cut()
        length = int(self.headers.get("content-length", 0))
        if fate == "middle":
            half = self.rfile.read(length // 2)
            with socket.create_connection(("127.0.0.1", self.line.app_port)) as app:
                head = "".join(f"{name}: {value}\r\n" for name, value in self.headers.items())
                app.sendall(f"POST {self.path} HTTP/1.1\r\n{head}\r\n".encode() + half)
            return self._cut()
        body = self.rfile.read(length)
        if fate == "busy":
            told = json.dumps({"code": "busy", "text": "Too many wait.", "field": None}).encode()
            return self._answer(503, [("content-type", "application/json"), ("retry-after", "1")], told)
        if fate == "login":
            return self._answer(200, [("content-type", "text/html")], b"<title>Welcome to our Wi-Fi</title>")
        return self._pass_on(body, cut=fate == "after")

    def _pass_on(self, body: bytes, cut: bool = False) -> None:
        app = http.client.HTTPConnection("127.0.0.1", self.line.app_port, timeout=60)
        headers = {name: value for name, value in self.headers.items() if name.lower() != "connection"}
        app.request(self.command, self.path, body or None, headers)
        answer = app.getresponse()
        content = answer.read()
        app.close()
        if cut:
            return self._cut()
        return self._answer(answer.status, answer.getheaders(), content)

    def _cut(self) -> None:
        with suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)

    def _answer(self, status: int, headers: Sequence[tuple[str, str]], body: bytes) -> None:
        self.send_response_only(status)
        for name, value in headers:
            if name.lower() not in DROPPED:
                self.send_header(name, value)
        self.send_header("content-length", str(len(body)))
        with suppress(OSError):  # the phone's page may be gone
            self.end_headers()
            self.wfile.write(body)
