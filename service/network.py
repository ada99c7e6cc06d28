"""The address at which a phone in the same network reaches this machine."""

import socket
from typing import Final

# An address reserved for documentation (RFC 5737): connecting a datagram socket to it sends nothing,
# it only makes the system choose the network card that leads out.
_ELSEWHERE: Final = ("192.0.2.1", 9)


def phone_address(host: str) -> str | None:
    """Return the address to type into a phone, or None when only this machine can reach the app.

    >>> phone_address("127.0.0.1") is None
    True
    >>> phone_address("192.0.2.7")
    '192.0.2.7'
    """
    if host in ("127.0.0.1", "localhost", "::1"):
        return None
    if host not in ("0.0.0.0", "::", ""):  # noqa: S104 - compared, not listened on
        return host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
        except OSError:
            return None
        address: str = probe.getsockname()[0]
    return None if address.startswith("127.") else address
