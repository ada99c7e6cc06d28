"""The page that takes all photos at once and keeps nothing; it works without scripts."""

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse

from service.app.requests.receiving import Received, receive
from service.app.routes.pages import Pages
from service.app.workers.presence import LOOK_SECONDS, read_while_present
from service.app.workers.readers import Readers
from service.errors import StavesightError
from service.language import say
from service.reading import Outcome
from service.settings import Settings

LINES: Final = "application/x-ndjson"

AT_ONCE: Final = {"x-accel-buffering": "no"}
"""Asks a server in front to pass the lines on as they come."""


def once_routes(settings: Settings, readers: Readers, pages: Pages) -> APIRouter:
    """Make the routes of that page."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/once")
    async def start(request: Request) -> str:
        """Show the form, with the sizes of the board before when the address holds them."""
        return pages.start(request.query_params)

    @router.get("/reading")
    async def reading_again() -> Response:
        """Lead a reloaded answer, which nobody has kept, back to the form."""
        return RedirectResponse("/once", status_code=303)

    @router.post("/reading")
    async def reading(request: Request) -> Response:
        """Read a board and show the answer, with the steps before it to a script that asks for them."""
        received = await receive(request, settings)
        if request.headers.get("accept", "") == LINES:
            return StreamingResponse(_lines(request, received, readers, pages), headers=AT_ONCE, media_type=LINES)
        outcome = await read_while_present(request, readers, received)
        return HTMLResponse(pages.answer(outcome, received.typed))

    return router


async def _lines(request: Request, received: Received, readers: Readers, pages: Pages) -> AsyncIterator[str]:
    """Write each step of a reading as a line of JSON, and at last the page; end it when the person goes away."""
    steps: asyncio.Queue[str | None] = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def progress(step: str) -> None:
        loop.call_soon_threadsafe(steps.put_nowait, step)

    work = asyncio.create_task(readers.read(received, progress))
    work.add_done_callback(lambda _: steps.put_nowait(None))
    try:
        yield line(step=say("Waiting for a free reader"))
        while not await request.is_disconnected():
            try:
                step = await asyncio.wait_for(steps.get(), timeout=LOOK_SECONDS)
            except TimeoutError:
                continue
            if step is None:
                yield line(page=_last_page(work, received, pages))
                return
            yield line(step=step)
    finally:
        work.cancel()


def _last_page(work: asyncio.Task[Outcome], received: Received, pages: Pages) -> str:
    try:
        return pages.answer(work.result(), received.typed)
    except StavesightError as refusal:
        return pages.start(received.typed, refusal)


def line(**content: object) -> str:
    """Write a line of JSON."""
    return json.dumps(content) + "\n"
