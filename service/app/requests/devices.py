"""How a phone or browser is known: a secret in a cookie, made when something is first kept."""

from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import urlsplit

from fastapi import Depends, Request
from fastapi.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.errors import NotThere, StavesightError
from service.language import say
from service.store.opening import Store

#: Name of the cookie. Over HTTPS the prefix makes browsers hold it to this host and to HTTPS (RFC 6265bis, 4.1.3.2).
PLAIN_NAME: Final = "stavesight"
HTTPS_NAME: Final = f"__Host-{PLAIN_NAME}"

YEAR_SECONDS: Final = 365 * 24 * 3600
"""How long the cookie stays when the app is not opened."""


class Elsewhere(StavesightError):
    """A form that another site sent in the name of this phone."""

    status = 403
    code = "elsewhere"


@dataclass
class Visitor:
    """Who asks: the device, if it is known, and how to make it known."""

    request: Request
    device: str | None

    @property
    def store(self) -> Store:
        """What is kept."""
        store: Store = self.request.app.state.store
        return store

    @property
    def known(self) -> str:
        """Return the id of the device.

        Raises
        ------
        NotThere
            Nothing is kept for whoever asks.
        """
        if self.device is None:
            raise NotThere(say("No board is kept for this phone. Start from the first page."), "board")
        return self.device

    async def keep(self) -> str:
        """Return the id of the device, which is made known when it was not."""
        if self.device is None:
            fresh = await run_in_threadpool(self.store.devices.new)
            self.device = fresh.id
            self.request.state.device_secret = fresh.secret
        return self.device

    async def forget(self) -> None:
        """Delete the device with all that is kept for it."""
        if self.device is not None:
            await run_in_threadpool(self.store.devices.delete, self.device)
        self.request.state.device_secret = ""


async def _visitor(request: Request) -> Visitor:
    """Find the device that the cookie tells of."""
    secret = request.cookies.get(_name(request.url.scheme))
    store: Store = request.app.state.store
    device = await run_in_threadpool(store.devices.of, secret) if secret else None
    if device is not None:
        request.state.device_secret = secret
    return Visitor(request, device)


Visiting = Annotated[Visitor, Depends(_visitor)]


async def from_here(request: Request) -> None:
    """Refuse a change that another site asks for.

    A browser says of every form whether the same site sent it (Sec-Fetch-Site), over plain HTTP at least from which
    one (Origin). Programs that are no browsers say neither, and hold no cookie that somebody else could use.

    Raises
    ------
    Elsewhere
        It came from another site.
    """
    if request.method in ("GET", "HEAD"):
        return
    site, origin = request.headers.get("sec-fetch-site"), request.headers.get("origin")
    if site is not None:
        here = site in ("same-origin", "none")
    else:
        told = urlsplit(origin or "")
        # A page at the plain address of this host is another site too, for anybody in the network can write it.
        same = told.netloc == request.headers.get("host") and told.scheme in (request.url.scheme, "https")
        here = origin is None or same
    if not here:
        raise Elsewhere(
            say("This was sent from another site, so nothing was changed. Open the page here and try again.")
        )


def _name(scheme: str) -> str:
    return HTTPS_NAME if scheme == "https" else PLAIN_NAME


class DeviceCookie:
    """Gives a known device its cookie anew with every answer, and takes it away when the device was forgotten."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""

        async def send_with_cookie(message: Message) -> None:
            secret = scope.get("state", {}).get("device_secret")
            if message["type"] == "http.response.start" and secret is not None:
                MutableHeaders(scope=message).append("set-cookie", _cookie(scope["scheme"], secret))
            await send(message)

        await self._app(scope, receive, send_with_cookie if scope["type"] == "http" else send)


def _cookie(scheme: str, secret: str) -> str:
    """Write the cookie.

    >>> _cookie("https", "abc")
    '__Host-stavesight=abc; HttpOnly; Max-Age=31536000; Path=/; SameSite=Lax; Secure'
    """
    lasts = YEAR_SECONDS if secret else 0
    secure = "; Secure" if scheme == "https" else ""
    return f"{_name(scheme)}={secret}; HttpOnly; Max-Age={lasts}; Path=/; SameSite=Lax{secure}"
