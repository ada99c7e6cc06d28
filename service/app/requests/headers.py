"""Headers that every response carries."""

from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEADERS: Final = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
        "connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    # The live picture of a board needs the camera; nothing else of the phone is used.
    "permissions-policy": (
        "camera=(self), accelerometer=(), display-capture=(), geolocation=(), gyroscope=(), magnetometer=(), "
        "microphone=()"
    ),
    # Nothing goes elsewhere, and our own forms still say where they come from, which is checked.
    "referrer-policy": "same-origin",
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
}


class SecurityHeaders:
    """Puts `HEADERS` on every response that does not set them itself."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if scope["path"].startswith("/static/"):
                    headers.setdefault("cache-control", "no-cache")  # kept, but asked for again each time
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, send_with_headers)
