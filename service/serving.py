"""Starting the web app and telling the phone's address."""

import contextlib
import dataclasses
import io
import socket
from typing import Final

import segno
import uvicorn

from service.app import create_app
from service.errors import BadInput
from service.network import phone_address
from service.settings import Settings

#: Connections open at the same time; keeps uploads that come all at once from filling the disk.
MOST_CONNECTIONS: Final = 64

#: Seconds that open requests have to end after Ctrl-C.
GRACE_SECONDS: Final = 5


def serve(host: str | None, port: int | None) -> int:
    """Run the web app until it is stopped."""
    given = {name: value for name, value in (("host", host), ("port", port)) if value is not None}
    settings = dataclasses.replace(Settings.from_environment(), **given)  # type: ignore[arg-type]  # a str, an int
    with listening(settings) as place:
        config = uvicorn.Config(
            create_app(settings),
            access_log=False,  # who asked for what is nobody's business
            log_level="warning",
            limit_concurrency=MOST_CONNECTIONS,
            timeout_graceful_shutdown=GRACE_SECONDS,
        )
        print(invitation(settings), flush=True)
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
        where = f"{settings.host}, port {settings.port},"
        raise BadInput(f"{where} cannot be used: {error.strerror}. Choose another --host or --port.") from error
    return place


def invitation(settings: Settings) -> str:
    """Say where the app is reached, from here and from a phone, with a code for its camera."""
    lines = [f"On this machine: http://localhost:{settings.port}"]
    address = phone_address(settings.host)
    if address is None:
        lines.append("No phone can reach it: it listens on this machine only, or there is no network.")
    else:
        url = f"http://{address}:{settings.port}"
        code = io.StringIO()
        segno.make(url).terminal(code, compact=True)
        lines += [f"On a phone in the same network: {url}", "", code.getvalue()]
    lines.append(f"Boards and photos are kept in {settings.data_folder}.")
    lines.append("Stop it with Ctrl-C.")
    return "\n".join(lines)
