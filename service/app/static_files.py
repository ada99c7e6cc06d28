"""Styles, scripts and icons, compressed on the wire."""

from pathlib import Path
from typing import Final

from fastapi.staticfiles import StaticFiles
from starlette.datastructures import MutableHeaders
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LEAST_BYTES: Final = 500
"""Files smaller than this gain nothing."""

LEVEL: Final = 6
"""Of zlib, its own default: higher ones gain under one part in a hundred here and take longer."""


def static_files(folder: Path) -> ASGIApp:
    """Serve a folder, compressed for whoever takes that."""
    return WeakTags(GZipMiddleware(StaticFiles(directory=folder), LEAST_BYTES, LEVEL))


class WeakTags:
    """Marks the entity tag of a compressed answer as weak, for its bytes are not those of the file.

    A strong tag may not stand for two codings of a file, a weak one may (RFC 9110, section 8.8.3.3).
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""

        async def send_with_tag(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if "accept-encoding" not in headers.get("vary", "").lower():
                    headers.add_vary_header("Accept-Encoding")  # what is small or not changed says so too
                tag = headers.get("etag", "")
                if headers.get("content-encoding") == "gzip" and tag.startswith('"'):
                    headers["etag"] = f"W/{tag}"
            await send(message)

        await self._app(scope, receive, send_with_tag)
