"""Speaks each visitor's language."""

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.language import choose_language, offered, use_language


class Speaking:
    """Has each request answered in the language its browser asks for, among those that are offered."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._offered = offered()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_language(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).add_vary_header("Accept-Language")
            await send(message)

        with use_language(choose_language(Headers(scope=scope).get("accept-language", ""), self._offered)):
            await self._app(scope, receive, send_with_language)
