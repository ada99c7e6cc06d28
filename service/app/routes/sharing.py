"""Addresses that show a board's answer to others, until they are withdrawn."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from service.app.requests.devices import Visiting
from service.app.routes.answers import record_of, svg
from service.app.routes.keeping import Kept, go_to
from service.app.views.answer import Around, answer_page
from service.language import say


@dataclass(frozen=True)
class SharePage:
    """The address of a share, which is told this once."""

    board: str
    name: str
    address: str


def share_routes(kept: Kept) -> APIRouter:
    """Make the routes of shares."""
    router = APIRouter()

    @router.post("/boards/{board}/share")
    async def share(visitor: Visiting, board: str) -> Response:
        """Make an address that shows a board's answer."""
        readings = await run_in_threadpool(kept.store.readings.all, visitor.known, board)
        record_of(readings[0] if readings else None)
        _, token = await run_in_threadpool(kept.store.shares.add, visitor.known, board)
        return go_to(f"/boards/{board}/share?token={token}")

    @router.get("/boards/{board}/share")
    async def told(request: Request, visitor: Visiting, board: str, token: str = "") -> Response:
        """Tell the address, as long as it shows something."""
        row = await run_in_threadpool(kept.store.boards.get, visitor.known, board)
        await run_in_threadpool(kept.store.shares.shared, token)
        page = SharePage(board, row.told.name or say("Board"), f"{str(request.base_url).rstrip('/')}/s/{token}")
        return kept.show("share.html", page)

    @router.post("/boards/{board}/share/withdraw")
    async def withdraw(visitor: Visiting, board: str) -> Response:
        """Withdraw every address of a board."""
        await run_in_threadpool(kept.store.shares.withdraw, visitor.known, board)
        return go_to(f"/boards/{board}")

    @router.get("/s/{token}")
    async def shared(token: str) -> Response:
        """Show the answer to whoever has the address: no note, price or photo."""
        found = await run_in_threadpool(kept.store.shares.shared, token)
        reading, answer = record_of(found.reading)
        pictures = {name: f"/s/{token}/pictures/{name}?of={reading.id}" for name in reading.pictures}
        around = Around(name=found.name or say("Board"), shared=True, sides_at=f"/s/{token}/answer")
        page = answer_page(answer, pictures, "mm" if found.units == "mm" else "in", around)
        response = kept.show("answer.html", page)
        response.headers["x-robots-tag"] = "noindex"
        return response

    @router.get("/s/{token}/pictures/{name}")
    async def picture(token: str, name: str, of: str) -> Response:
        """Show a picture of a shared answer."""
        response = svg(await run_in_threadpool(kept.store.shares.picture, token, of, name))
        response.headers["cache-control"] = "no-store"  # so that nothing is left when it is withdrawn
        return response

    return router
