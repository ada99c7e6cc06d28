"""Pages of one side of an answer, for its owner and for whoever has a shared address."""

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from service.app.requests.devices import Visiting
from service.app.routes.answers import record_of
from service.app.routes.board import state_of
from service.app.routes.keeping import Kept
from service.app.views.answer import Around
from service.app.views.kept_board import picture_address, units_of
from service.app.views.side import side_page
from service.language import say
from service.lengths import Units


def side_routes(kept: Kept) -> APIRouter:
    """Make the routes of a side's page."""
    router = APIRouter()

    @router.get("/boards/{board}/answer/{side}")
    async def side(request: Request, visitor: Visiting, board: str, side: str) -> Response:
        """Show a side of the newest answer from close."""
        state = await state_of(kept, visitor.known, board, 0.0)
        reading, record = record_of(state.reading)
        told = state.board.told
        here = f"/boards/{board}/answer"
        around = Around(here, name=told.name or say("Board"), stale=state.stale, sides_at=here)
        pictures = {name: picture_address(board, reading, name) for name in reading.pictures}
        page = side_page(record, side, pictures, units_of(told), request.query_params, around)
        return kept.show("side.html", page, 422 if page.refusal else 200)

    @router.get("/s/{token}/answer/{side}")
    async def shared(request: Request, token: str, side: str) -> Response:
        """Show a side of a shared answer from close."""
        found = await run_in_threadpool(kept.store.shares.shared, token)
        reading, record = record_of(found.reading)
        pictures = {name: f"/s/{token}/pictures/{name}?of={reading.id}" for name in reading.pictures}
        name = found.name or say("Board")
        around = Around(f"/s/{token}", name=name, shared=True, sides_at=f"/s/{token}/answer")
        units: Units = "mm" if found.units == "mm" else "in"
        page = side_page(record, side, pictures, units, request.query_params, around)
        response = kept.show("side.html", page, 422 if page.refusal else 200)
        response.headers["x-robots-tag"] = "noindex"
        return response

    return router
