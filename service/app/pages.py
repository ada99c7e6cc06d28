"""The pages' routes; every page works without scripts."""

import asyncio
import json
from collections.abc import AsyncIterator, Mapping
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from service.app.presence import LOOK_SECONDS, read_while_present
from service.app.readers import Readers
from service.app.receiving import Received, receive
from service.app.start_view import SIDE_WORDS, start_page
from service.app.views import ProblemPage, answer_page
from service.asked import PAGE_FIELDS, TEXT_FIELDS, read_units
from service.board.phrase import slope_text
from service.errors import StavesightError
from service.reading import Outcome
from service.settings import Settings

_LINES: Final = "application/x-ndjson"
_TEXT_NAMES: Final = frozenset(field.name for field in (*TEXT_FIELDS, *PAGE_FIELDS))
_LONGEST_TEXT: Final = 400  # characters of a text that is shown again


class Pages:
    """Writes the pages out of the templates."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._templates = Environment(
            loader=FileSystemLoader(settings.web_folder / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._templates.filters.update(slope=slope_text, side=SIDE_WORDS.__getitem__, sentence=_sentence)

    def start(self, typed: Mapping[str, str], refused: StavesightError | None = None) -> str:
        """Write the form."""
        shown = {name: text[:_LONGEST_TEXT] for name, text in typed.items() if name in _TEXT_NAMES}
        return self._write("start.html", start_page(self._settings, shown, refused))

    def answer(self, outcome: Outcome, typed: Mapping[str, str]) -> str:
        """Write the answer."""
        units = read_units(typed.get("units", "")) or "in"
        return self._write("answer.html", answer_page(outcome, typed, units))

    def problem(self, heading: str, text: str) -> str:
        """Write a page that says what is wrong."""
        return self._write("problem.html", ProblemPage(heading, text))

    def _write(self, template: str, page: object) -> str:
        return self._templates.get_template(template).render(page=page)


def _sentence(text: str) -> str:
    """End a text with a full stop."""
    return f"{text.removesuffix('.')}."


def page_routes(settings: Settings, readers: Readers, pages: Pages) -> APIRouter:
    """Make the pages' routes."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/")
    async def start(request: Request) -> str:
        """Show the form, with the sizes of the board before when the address holds them."""
        return pages.start(request.query_params)

    @router.get("/reading")
    async def reading_again() -> Response:
        """Lead a reloaded answer, which nobody has kept, back to the form."""
        return RedirectResponse("/", status_code=303)

    @router.post("/reading")
    async def reading(request: Request) -> Response:
        """Read a board and show the answer, with the steps before it to a script that asks for them."""
        received = await receive(request, settings)
        if request.headers.get("accept", "") == _LINES:
            return StreamingResponse(_lines(request, received, readers, pages), media_type=_LINES)
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
        yield _line(step="Waiting for a free reader")
        while not await request.is_disconnected():
            try:
                step = await asyncio.wait_for(steps.get(), timeout=LOOK_SECONDS)
            except TimeoutError:
                continue
            if step is None:
                yield _line(page=_last_page(work, received, pages))
                return
            yield _line(step=step)
    finally:
        work.cancel()


def _last_page(work: asyncio.Task[Outcome], received: Received, pages: Pages) -> str:
    try:
        return pages.answer(work.result(), received.typed)
    except StavesightError as refusal:
        return pages.start(received.typed, refusal)


def _line(**content: str) -> str:
    return json.dumps(content) + "\n"
