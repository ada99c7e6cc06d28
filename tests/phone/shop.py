"""A server with a bad line: it keeps photos by their keys, loses connections when told to, and counts everything.

It stands in for the app so that the phone's side is seen alone. A real socket is cut, since only that shows what the
phone does about it.
"""

import email
import email.policy
import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Final

from service.app.routes.shell import worker_text
from service.settings import find_folder

STATIC: Final = find_folder("web") / "static"
KINDS: Final = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".html": "text/html; charset=utf-8",
    ".webmanifest": "application/manifest+json",
}
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "worker-src 'self'; manifest-src 'self'; form-action 'self'"
)
GOOD: Final = {"usable": True, "reasons": [], "advice": []}
BOARD: Final = "0123456789abcdef"
BODY_BYTES: Final = 64 * 1024


def page_of(main: str, title: str = "Board 1") -> str:
    """Write a page as the app does, with the given content."""
    styles = "".join(f'<link rel="stylesheet" href="/static/{path.name}">' for path in sorted(STATIC.glob("[!p]*.css")))
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<title>{title}</title><link rel="stylesheet" href="/static/page.css">{styles}'
        '<script type="module" src="/static/main.js"></script></head><body>'
        f'<section data-outbox hidden></section><main id="main" tabindex="-1" data-board="{BOARD}">{main}</main>'
        "</body></html>"
    )


def shot_form(slot: str, words: str) -> str:
    """Write one shot as the board's page has it."""
    return (
        f'<li class="shot"><h3>{words}</h3><div data-fresh="kept_{slot}"></div>'
        f'<form data-shot="{slot}" method="post" action="/boards/{BOARD}/photos/{slot}" enctype="multipart/form-data">'
        '<input type="hidden" name="key" value="plain"><input type="hidden" name="instead" value=""><div class="picks">'
        f'<label class="button pick">Take the photo of {words}'
        '<input type="file" name="photo" accept="image/*" capture="environment"></label>'
        f'<label class="button pick">Choose a photo of {words}'
        '<input type="file" name="photo" accept="image/*" data-photo-bytes="4000000"></label></div>'
        '<button class="button" type="submit" data-plain>Send</button>'
        '<p data-shot-status aria-live="polite"></p><div data-shot-thumb></div></form></li>'
    )


class Shop:
    """What the stand-in keeps, and how it will treat the next uploads.

    Attributes
    ----------
    kept
        Slot and bytes of each photo by its key.
    asked
        Key of every upload that began to arrive, in order.
    fates
        What happens to the next uploads, one after the other, then all goes well: "cut" in the middle of the photo,
        "cut after" it was kept, "login" page of somebody's Wi-Fi, "busy", "refused", "wait" for `go`.
    finds, sought
        What happens to the next questions where the board is in a photo, "cut", "busy" or else not found; how many.
    """

    def __init__(self) -> None:
        self.kept: dict[str, tuple[str, int]] = {}
        self.instead: dict[str, str] = {}
        self.asked: list[str] = []
        self.fates: list[str] = []
        self.finds: list[str] = []
        self.sought = 0
        self.go = threading.Event()
        self.reading_steps = ["Looking at face 1", "Weighing the sections"]
        self.verdict = ""
        self._server: ThreadingHTTPServer | None = None
        self._port = 0

    @property
    def address(self) -> str:
        """Return where it is reached."""
        return f"http://127.0.0.1:{self._port}"

    @property
    def board(self) -> str:
        """Return the address of its only board."""
        return f"{self.address}/boards/{BOARD}"

    def was_asked(self, times: int) -> bool:
        """Tell whether so many uploads began to arrive."""
        return len(self.asked) >= times

    def open(self) -> None:
        """Begin to answer, at the same address as before."""
        shop = self

        class Handler(_Handler):
            pass

        Handler.shop = shop
        self._server = ThreadingHTTPServer(("127.0.0.1", self._port), Handler)
        self._server.daemon_threads = True
        self._port = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()

    def close(self) -> None:
        """Answer no more: no signal."""
        if self._server is not None:
            self._server.shutdown()
            self._server.server_close()
            self._server = None

    def page(self, path: str) -> str | None:
        """Return the page of an address."""
        if path == f"/boards/{BOARD}":
            answer = f'<h1 tabindex="-1">{self.verdict}</h1>' if self.verdict else ""
            return page_of(
                f'<div data-fresh="answer">{answer}</div><h2>Shots</h2><ol class="shots">'
                f"{shot_form('face_1', 'Face 1')}{shot_form('edge_1', 'Edge 1')}</ol>"
                f'<form data-read method="post" action="/boards/{BOARD}/reading"><button class="button">Read the board'
                '</button></form><form method="post" action="/forget" data-forget><button class="button danger">Forget'
                " all</button></form>"
            )
        if path == "/no-signal":
            return page_of('<h1>No signal</h1><a href="/">Go to the rack</a>', "No signal")
        return page_of(f"<h1>The rack</h1><p>{len(self.kept)} kept</p>", "Rack") if path in ("/", "/bow") else None


@contextmanager
def opened_shop() -> Iterator[Shop]:
    """Open a stand-in for as long as it is used."""
    shop = Shop()
    shop.open()
    try:
        yield shop
    finally:
        shop.go.set()
        shop.close()


class _Handler(BaseHTTPRequestHandler):
    shop: Shop
    protocol_version = "HTTP/1.0"  # one connection each: a browser quietly sends again over one used before

    def log_message(self, *_: object) -> None:
        """Stay quiet."""

    def do_GET(self) -> None:
        """Give a page, the state or a static file."""
        path = self.path.split("?")[0]
        page = self.shop.page(path)
        if page is not None:
            return self._answer(200, page.encode(), "text/html; charset=utf-8")
        if path.endswith("/state"):
            return self._json(200, {"photos": [], "verdict": self.shop.verdict, "stale": False, "reading": "none"})
        if path == "/sw.js":
            return self._answer(200, worker_text(STATIC).encode(), KINDS[".js"])
        name = path.removeprefix("/static/") if path.startswith("/static/") else path.lstrip("/")
        file = STATIC / Path(name).name
        if file.is_file():
            return self._answer(200, file.read_bytes(), KINDS[file.suffix])
        return self._answer(404, b"not here", "text/plain")

    def do_POST(self) -> None:
        """Take in a photo, read the board or forget everything."""
        if "/photos/" in self.path:
            return self._photo()
        self.rfile.read(int(self.headers.get("content-length", 0)))
        if "/find/" in self.path:
            self.shop.sought += 1
            fate = self.shop.finds.pop(0) if self.shop.finds else ""
            if fate == "cut":
                return self._cut()
            return self._json(503 if fate == "busy" else 404, {"code": fate, "text": "Not found.", "field": None})
        if self.path.endswith("/reading"):
            return self._reading()
        self.shop.kept.clear()
        self.send_response(303)
        self.send_header("location", "/")
        self.send_header("content-length", "0")
        self.end_headers()
        return None

    def _photo(self) -> None:
        shop, length = self.shop, int(self.headers["content-length"])
        fate = shop.fates.pop(0) if shop.fates else ""
        if fate == "cut":
            shop.asked.append("")
            self.rfile.read(min(length, BODY_BYTES))
            return self._cut()
        fields = self._fields(self.rfile.read(length))
        key = str(fields["key"])
        shop.asked.append(key)
        if fate == "wait":
            shop.go.wait(20)
        if fate == "login":
            return self._answer(200, b"<title>Welcome to our Wi-Fi</title>", "text/html")
        if fate == "busy":
            return self._json(503, {"code": "busy", "text": "Too many wait.", "field": None}, {"retry-after": "1"})
        if fate == "refused":
            return self._json(415, {"code": "bad_photo", "text": "This is no photo. Take it again.", "field": "photo"})
        shop.kept[key] = (self.path.rsplit("/", 1)[1], len(fields["photo"]))
        if "instead" in fields:
            shop.instead[key] = str(fields["instead"])
            shop.kept.pop(shop.instead[key], None)
        if fate == "cut after":
            return self._cut()
        return self._json(200, {"photo": "a" * 32, "check": GOOD, "reading": "waiting"})

    def _fields(self, body: bytes) -> dict[str, Any]:
        head = f"content-type: {self.headers['content-type']}\r\n\r\n".encode()
        message: Any = email.message_from_bytes(head + body, policy=email.policy.HTTP)
        fields: dict[str, Any] = {}
        for part in message.iter_parts():
            name = part.get_param("name", header="content-disposition")
            content = part.get_payload(decode=True)
            fields[name] = content if name == "photo" else content.decode()
        return fields

    def _reading(self) -> None:
        self.shop.verdict = "A bow can come out"
        lines = [{"step": step} for step in self.shop.reading_steps]
        body = "".join(json.dumps(line) + "\n" for line in (*lines, {"done": True}))
        self._answer(200, body.encode(), "application/x-ndjson")

    def _cut(self) -> None:
        self.connection.shutdown(socket.SHUT_RDWR)

    def _json(self, status: int, content: object, headers: dict[str, str] | None = None) -> None:
        self._answer(status, json.dumps(content).encode(), "application/json", headers)

    def _answer(self, status: int, body: bytes, kind: str, headers: dict[str, str] | None = None) -> None:
        self.send_response(status)
        for name, value in {
            "content-type": kind,
            "content-length": str(len(body)),
            "cache-control": "no-store",
            "content-security-policy": POLICY,
            **(headers or {}),
        }.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)
