"""A web server with a certificate in front of the app, as small as it can be."""

import contextlib
import socket
import socketserver
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

PIECE_BYTES: Final = 64 * 1024
QUIET_S: Final = 60


@contextmanager
def in_front_of(port: int, certificate: ssl.SSLContext) -> Iterator[int]:
    """Take requests over https at a free port, and pass them on to the app's port on this machine."""
    with _Front(port, certificate) as front:
        threading.Thread(target=front.serve_forever, args=(0.05,), daemon=True).start()
        yield front.server_address[1]
        front.shutdown()


class _Front(socketserver.ThreadingTCPServer):
    allow_reuse_address = True
    daemon_threads = True

    def __init__(self, port: int, certificate: ssl.SSLContext) -> None:
        super().__init__(("127.0.0.1", 0), _Passing)
        self.app_port = port
        self.certificate = certificate


class _Passing(socketserver.BaseRequestHandler):
    """Passes one request on, with what the web server knows of it in the place of what the sender says."""

    server: _Front

    def handle(self) -> None:
        """Pass it on; whoever breaks off, on either side, ends it."""
        self.request.settimeout(QUIET_S)
        with (
            contextlib.suppress(OSError),
            self.server.certificate.wrap_socket(self.request, server_side=True) as sender,
            socket.create_connection(("127.0.0.1", self.server.app_port), QUIET_S) as app,
        ):
            self._retell(sender, app)
            while piece := app.recv(PIECE_BYTES):
                sender.sendall(piece)
            sender.unwrap()

    def _retell(self, sender: ssl.SSLSocket, app: socket.socket) -> None:
        """Write the request's head anew, and pass its body on as it comes."""
        seen = b""
        while b"\r\n\r\n" not in seen:
            seen += _piece(sender)
        head, _, body = seen.partition(b"\r\n\r\n")
        lines = head.split(b"\r\n")
        kept = [line for line in lines if not line.lower().startswith((b"x-forwarded-", b"connection:"))]
        told = (
            b"X-Forwarded-Proto: https",
            f"X-Forwarded-For: {self.client_address[0]}".encode(),
            b"Connection: close",
        )
        app.sendall(b"\r\n".join([*kept, *told]) + b"\r\n\r\n" + body)
        lengths = [line.partition(b":")[2] for line in lines if line.lower().startswith(b"content-length:")]
        left_bytes = int(lengths[0]) - len(body) if lengths else 0
        while left_bytes > 0:
            piece = _piece(sender)
            app.sendall(piece)
            left_bytes -= len(piece)


def _piece(source: socket.socket) -> bytes:
    """Read what has come; an end in between ends all."""
    piece = source.recv(PIECE_BYTES)
    if not piece:
        raise ConnectionError("it broke off")
    return piece
