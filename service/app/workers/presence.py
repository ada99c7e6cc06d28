"""Reading a board for as long as somebody waits for the answer."""

import asyncio
from typing import Final

from starlette.requests import ClientDisconnect, Request

from service.app.requests.receiving import Received
from service.app.workers.readers import Readers
from service.reading import Outcome

LOOK_SECONDS: Final = 1.0  # how often to look whether the person is still there


async def read_while_present(request: Request, readers: Readers, received: Received) -> Outcome:
    """Have a board read; end the reading when the connection is closed.

    Raises
    ------
    ClientDisconnect
        The person has gone away.
    StavesightError
        What the reading refused.
    """
    work = asyncio.create_task(readers.read(received))
    try:
        while not work.done():
            if await request.is_disconnected():
                raise ClientDisconnect
            await asyncio.wait({work}, timeout=LOOK_SECONDS)
        return work.result()
    finally:
        work.cancel()
