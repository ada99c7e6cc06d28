"""Whether a browser counts the address it came by as secure."""

import ipaddress
from contextvars import ContextVar
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

_secure: ContextVar[bool] = ContextVar("secure", default=True)


def address_is_secure() -> bool:
    """Tell whether the page being written is asked for by a secure address."""
    return _secure.get()


def counts_as_secure(scheme: str, host: str) -> bool:
    """Tell whether browsers count an address as secure (W3C Secure Contexts, section 3.1).

    Parameters
    ----------
    scheme, host
        Of the address; the host as the header Host has it.

    Examples
    --------
    >>> counts_as_secure("http", "192.168.1.20:8000"), counts_as_secure("https", "192.168.1.20:8000")
    (False, True)
    >>> counts_as_secure("http", "127.0.0.1:8000"), counts_as_secure("http", "[::1]"), counts_as_secure("http", "")
    (True, True, False)
    """
    if scheme == "https":
        return True
    try:
        name = urlsplit(f"//{host}").hostname or ""
        return ipaddress.ip_address(name).is_loopback
    except ValueError:  # a name, or nothing that makes sense
        return name == "localhost" or name.endswith(".localhost")


class AddressSeen:
    """Notes for each request whether it came by a secure address; a server in front was heard before."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] == "http":
            _secure.set(counts_as_secure(scope["scheme"], Headers(scope=scope).get("host", "")))
        await self._app(scope, receive, send)
