"""Starting the web app and telling the phone's address."""

import contextlib
import dataclasses
import io
import socket
from collections.abc import Mapping
from typing import Final

import segno
import uvicorn

from service.app import create_app
from service.certificate import Certificate, open_certificate
from service.errors import BadInput
from service.language import say
from service.network import phone_address
from service.settings import Settings

#: Connections open at the same time; keeps uploads that come all at once from filling the disk.
MOST_CONNECTIONS: Final = 64

#: Seconds that open requests have to end after Ctrl-C.
GRACE_SECONDS: Final = 5


def serve(given: Mapping[str, str | int | None]) -> int:
    """Run the web app until it is stopped; settings that are given go before those of the environment."""
    told = {name: value for name, value in given.items() if value is not None}
    settings = dataclasses.replace(Settings.from_environment(), **told)  # type: ignore[arg-type]  # each of its kind
    certificate = open_certificate(settings.certificate, settings.key) if settings.certificate else None
    with listening(settings) as place:
        config = uvicorn.Config(
            create_app(settings),
            access_log=False,  # who asked for what is nobody's business
            log_level="warning",
            limit_concurrency=MOST_CONNECTIONS,
            timeout_graceful_shutdown=GRACE_SECONDS,
            # Anybody can write the headers of a server in front, so they count from those that were named alone.
            proxy_headers=bool(settings.behind_proxy),
            forwarded_allow_ips=[address.strip() for address in settings.behind_proxy.split(",")],
            ssl_certfile=settings.certificate or None,
            ssl_keyfile=settings.key or None,
        )
        print(invitation(settings, certificate), flush=True)
        with contextlib.suppress(KeyboardInterrupt):  # Ctrl-C is the way to stop it
            uvicorn.Server(config).run(sockets=[place])
    return 0


def listening(settings: Settings) -> socket.socket:
    """Take the address, before anybody is invited to it.

    Raises
    ------
    BadInput
        It is taken by another program, or is none of this machine's.
    """
    place = socket.socket(socket.AF_INET6 if ":" in settings.host else socket.AF_INET)
    place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        place.bind((settings.host, settings.port))
    except OSError as error:
        place.close()
        raise BadInput(
            say(
                "{host}, port {port}, cannot be used: {why}. Choose another --host or --port.",
                host=settings.host,
                port=settings.port,
                why=error.strerror,
            )
        ) from error
    return place


def invitation(settings: Settings, certificate: Certificate | None = None) -> str:
    """Say where the app is reached, from here and from a phone, with a code for its camera."""
    scheme = "https" if certificate else "http"
    lines = [say("On this machine: {address}", address=f"{scheme}://localhost:{settings.port}")]
    address = phone_address(settings.host)
    if settings.behind_proxy:
        lines.append(say("Phones reach it through the web server in front, by the address that has there."))
    elif address is None:
        lines.append(say("No phone can reach it: it listens on this machine only, or there is no network."))
    else:
        reached = certificate.reach(address) if certificate else address
        if reached is None:
            lines.append(
                say(
                    "The certificate does not hold for {address}, so phones will warn of it. Make one that names it.",
                    address=address,
                )
            )
        lines += _code_for(f"{scheme}://{_written(reached or address)}:{settings.port}")
    lines.append(say("Boards and photos are kept in {folder}.", folder=settings.data_folder))
    lines.append(say("Stop it with Ctrl-C."))
    return "\n".join(lines)


def _written(host: str) -> str:
    """Write a host as addresses have it: numbers with colons stand in brackets (RFC 3986, section 3.2.2)."""
    return f"[{host}]" if ":" in host else host


def _code_for(url: str) -> list[str]:
    code = io.StringIO()
    segno.make(url).terminal(code, compact=True)
    return [say("On a phone in the same network: {address}", address=url), "", code.getvalue()]
