"""What a person or a program gets when something is refused or fails."""

from http import HTTPStatus
from typing import Final

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from service.app.requests.headers import HEADERS
from service.app.routes.api import Refusal
from service.app.routes.pages import Pages
from service.app.views.answer import ProblemPage
from service.errors import Busy, StavesightError
from service.language import choose_language, mark, offered, say, use_language

#: Seconds after which a person who met a full queue may try again: about one reading.
RETRY_SECONDS: Final = 15

HEADINGS: Final = {
    "not_there": mark("Not there"),
    "busy": mark("All readers are at work"),
    "cannot_store": mark("Nothing more can be kept"),
    "too_large": mark("That is too much"),
    "elsewhere": mark("Nothing was changed"),
    "unfinished": mark("The reading stopped"),
}

_ANOTHER_LOOK: Final = mark("Something needs another look")

#: What HTTP calls that which is met when an address is mistyped (RFC 9110, sections 15.5.5 and 15.5.6).
_PHRASES: Final = {404: mark("Not Found"), 405: mark("Method Not Allowed")}


def answer_refusals(app: FastAPI, pages: Pages) -> None:
    """Turn each kind of failure into one response: JSON for programs, a page for people."""

    @app.exception_handler(StavesightError)
    async def refused(request: Request, error: StavesightError) -> Response:
        headers = {"retry-after": str(RETRY_SECONDS)} if isinstance(error, Busy) else {}
        if for_program(request):
            return _refusal(error.status, error.code, error.text, error.field, headers)
        if request.url.path == "/reading":
            return HTMLResponse(pages.start(getattr(request.state, "typed", {}), error), error.status, headers)
        heading = say(HEADINGS.get(error.code, _ANOTHER_LOOK))
        return HTMLResponse(pages.problem(ProblemPage(heading, error.text, *_way_on(request))), error.status, headers)

    @app.exception_handler(HTTPException)
    async def no_such_place(request: Request, error: HTTPException) -> Response:
        phrase = HTTPStatus(error.status_code).phrase
        if for_program(request):
            return _refusal(error.status_code, phrase.lower().replace(" ", "_"), f"{phrase}.", None, error.headers)
        heading = say(_PHRASES.get(error.status_code, _ANOTHER_LOOK))
        text = say("The address leads nowhere. Everything is reached from the start page.")
        return HTMLResponse(pages.problem(ProblemPage(heading, text)), error.status_code, error.headers)

    @app.exception_handler(ClientDisconnect)
    async def gone(_: Request, __: ClientDisconnect) -> Response:
        return Response(status_code=HTTPStatus.BAD_REQUEST)  # nobody is there to see it

    @app.exception_handler(Exception)
    async def failed(request: Request, error: Exception) -> Response:
        wanted = request.headers.get("accept-language", "")
        with use_language(choose_language(wanted, offered())):  # what chose it for the request has ended by now
            text = say("Something went wrong here, through a fault in the program. Try once more.")
            if for_program(request):
                return _refusal(500, "fault", text, None, HEADERS)
            return HTMLResponse(pages.problem(ProblemPage(say("A fault in the program"), text)), 500, HEADERS)


def for_program(request: Request) -> bool:
    """Tell whether a program or script asks, rather than a browser for a page."""
    accepted = request.headers.get("accept", "")
    asks_for_data = accepted.startswith(("application/json", "application/x-ndjson")) and request.url.path != "/reading"
    return asks_for_data or request.url.path.startswith(("/api/", "/health", "/openapi"))


def _way_on(request: Request) -> tuple[str, str]:
    """Say where a person goes on: to the board that was open, else to all boards."""
    board = request.path_params.get("board")
    if request.method == "POST" and board is not None:
        return f"/boards/{board}", say("Back to the board")
    return "/", say("Go to your boards")


def _refusal(status: int, code: str, text: str, field: str | None, headers: object) -> JSONResponse:
    content = Refusal(code=code, text=text, field=field).model_dump()
    return JSONResponse(content, status, dict(headers or {}))  # type: ignore[call-overload]  # str to str by its makers
