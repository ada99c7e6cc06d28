"""Answers of kept boards: shown whole, with their pictures, and two side by side."""

from collections.abc import Mapping

from fastapi import APIRouter
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from service.app.requests.devices import Visiting
from service.app.routes.board import state_of
from service.app.routes.keeping import Kept
from service.app.views.answer import Around, answer_page
from service.app.views.board import BoardState
from service.app.views.compare import Told, compare_page
from service.app.views.kept_board import picture_address, units_of
from service.app.views.rack import worst_of
from service.errors import NotThere
from service.judge.record import Answer
from service.language import say
from service.store.rows import ReadingRow

DAY_SECONDS = 24 * 3600

PICTURE_HEADERS: Mapping[str, str] = {
    "cache-control": f"private, max-age={DAY_SECONDS}",
    # A picture has styles and photos inside itself, and nothing else.
    "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox",
}


def record_of(reading: ReadingRow | None) -> tuple[ReadingRow, Answer]:
    """Return an answer that is there and can still be shown.

    Raises
    ------
    NotThere
        The board was not read, or by a version that wrote it otherwise.
    """
    if reading is None:
        raise NotThere(say("This board has no answer yet. Photograph a face and an edge, then read it."), "board")
    answer = reading.record()
    if answer is None:
        raise NotThere(say("Another version of the program wrote this answer. Read the board again."), "board")
    return reading, answer


def svg(text: str) -> Response:
    """Hand over a picture."""
    return Response(text, media_type="image/svg+xml", headers=dict(PICTURE_HEADERS))


def answer_routes(kept: Kept) -> APIRouter:
    """Make the routes of answers."""
    router = APIRouter()

    @router.get("/boards/{board}/answer")
    async def answer(visitor: Visiting, board: str) -> Response:
        """Show the newest answer whole."""
        state = await state_of(kept, visitor.known, board, 0.0)
        reading, record = record_of(state.reading)
        told = state.board.told
        words = say("Back to the photos") if record.open_questions else say("Back to the board")
        around = Around(
            f"/boards/{board}", words, told.name or say("Board"), state.stale, sides_at=f"/boards/{board}/answer"
        )
        pictures = {name: picture_address(board, reading, name) for name in reading.pictures}
        return kept.show("answer.html", answer_page(record, pictures, units_of(told), around))

    @router.get("/boards/{board}/answer.json")
    async def record(visitor: Visiting, board: str) -> Response:
        """Hand over the newest answer as the record that programs get."""
        state = await state_of(kept, visitor.known, board, 0.0)
        reading, _ = record_of(state.reading)
        headers = {"content-disposition": 'attachment; filename="answer.json"'}
        return JSONResponse(dict(reading.answer), headers=headers)

    @router.get("/boards/{board}/pictures/{name}")
    async def picture(visitor: Visiting, board: str, name: str, of: str = "") -> Response:
        """Show a picture of the newest answer, or of the one that is named."""
        readings = await run_in_threadpool(kept.store.readings.all, visitor.known, board)
        known = [row.id for row in readings]
        if not known or (of and of not in known):
            raise NotThere(say("This picture is not there, or no longer. Read the board again."), "picture")
        return svg(await run_in_threadpool(kept.store.readings.picture, visitor.known, of or known[0], name))

    @router.get("/compare")
    async def compare(visitor: Visiting, a: str = "", b: str = "") -> Response:
        """Show two answers side by side."""
        states = [await state_of(kept, visitor.known, board, 0.0) for board in (a, b)]
        told = [_told(state) for state in states]
        return kept.show("compare.html", compare_page(told[0], told[1]))

    return router


def _told(state: BoardState) -> Told:
    """Gather what is compared of a board."""
    reading, answer = record_of(state.reading)
    return state.board, answer, state.stale, worst_of(state.board, reading, answer)
