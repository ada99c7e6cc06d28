"""The web app put together: routes, refusals, headers, static files and the workers' life."""

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from service.app.api import Refusal, api_routes
from service.app.headers import HEADERS, SecurityHeaders
from service.app.pages import Pages, page_routes
from service.app.readers import Read, Readers
from service.errors import Busy, StavesightError
from service.reading import read_board
from service.settings import Settings

_log = logging.getLogger(__name__)

#: Seconds after which a person who met a full queue may try again: about one reading.
RETRY_SECONDS = 15


def create_app(settings: Settings, read: Read = read_board) -> FastAPI:
    """Make the app.

    Parameters
    ----------
    settings
        How it is run.
    read
        What reads a board; it is called in worker processes, so it must be importable by name.
    """
    readers = Readers(read, count=settings.readers, waiting=settings.waiting, seconds=settings.seconds)
    pages = Pages(settings)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        readers.start()
        yield
        readers.stop()

    # The framework's own documentation pages load scripts from elsewhere; the schema itself stays.
    app = FastAPI(title="Stavesight", version="1", docs_url=None, redoc_url=None, lifespan=lifespan)
    app.add_middleware(SecurityHeaders)
    app.include_router(api_routes(settings, readers))
    app.include_router(page_routes(settings, readers, pages))
    app.mount("/static", StaticFiles(directory=settings.web_folder / "static"), name="static")
    _answer_refusals(app, pages)
    return app


def _answer_refusals(app: FastAPI, pages: Pages) -> None:
    """Turn each kind of failure into one response: JSON for programs, a page for people."""

    @app.exception_handler(StavesightError)
    async def refused(request: Request, error: StavesightError) -> Response:
        headers = {"retry-after": str(RETRY_SECONDS)} if isinstance(error, Busy) else {}
        if _for_program(request):
            return _refusal(error.status, error.code, error.text, error.field, headers)
        typed = getattr(request.state, "typed", {})
        return HTMLResponse(pages.start(typed, error), error.status, headers)

    @app.exception_handler(HTTPException)
    async def no_such_place(request: Request, error: HTTPException) -> Response:
        phrase = HTTPStatus(error.status_code).phrase
        if _for_program(request):
            return _refusal(error.status_code, phrase.lower().replace(" ", "_"), f"{phrase}.", None, error.headers)
        text = "The address leads nowhere. Everything is reached from the start page."
        return HTMLResponse(pages.problem(phrase, text), error.status_code, error.headers)

    @app.exception_handler(ClientDisconnect)
    async def gone(_: Request, __: ClientDisconnect) -> Response:
        return Response(status_code=HTTPStatus.BAD_REQUEST)  # nobody is there to see it

    @app.exception_handler(Exception)
    async def failed(request: Request, error: Exception) -> Response:
        text = "Something went wrong here, through a fault in the program. Try once more."
        if _for_program(request):
            return _refusal(500, "fault", text, None, HEADERS)
        return HTMLResponse(pages.problem("A fault in the program", text), 500, HEADERS)


def _for_program(request: Request) -> bool:
    return request.url.path.startswith(("/api/", "/health", "/openapi"))


def _refusal(status: int, code: str, text: str, field: str | None, headers: object) -> JSONResponse:
    content = Refusal(code=code, text=text, field=field).model_dump()
    return JSONResponse(content, status, dict(headers or {}))  # type: ignore[call-overload]  # str to str by its makers
