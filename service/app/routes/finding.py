"""Where a photo shows the board: told to a script that then sends that stretch alone."""

from collections.abc import Mapping
from typing import Final

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from service.app.requests.devices import Visiting
from service.app.requests.receiving import receive_photo
from service.app.routes.keeping import Kept
from service.app.workers.stretches import Find
from service.language import language
from service.photo.layout import read_layout
from service.sides import SIDES, BoardSize
from service.store.rows import BoardTold

WHOLE: Final[Mapping[str, object]] = {"whole": True}
"""Tells a phone to send the whole photo."""


def find_routes(kept: Kept) -> APIRouter:
    """Make the route that finds the board in a photo made small."""
    router = APIRouter()

    @router.post("/boards/{board}/find/{slot}")
    async def find(request: Request, visitor: Visiting, board: str, slot: str) -> Response:
        """Tell a script which tiles of a photo show the board, or that the whole photo is wanted."""
        device = visitor.known
        told = (await run_in_threadpool(kept.store.boards.get, device, board)).told
        got = await receive_photo(request, kept.settings)
        try:
            preview = await got.file.read()
        finally:
            got.close()
        whole = read_layout(got.layout)
        # Corners that were marked by hand tell that the board was not found right in the photo before.
        if slot not in SIDES or f"corners_{slot}" in told.asked or kept.stretches.doubted(board, slot):
            return JSONResponse(WHOLE)
        found = await kept.stretches.find(Find(preview, whole, told.length_mm, _across_mm(told, slot), language()))
        if found is None:
            return JSONResponse(WHOLE)
        tiles = [(tile.left, tile.top, tile.cols, tile.rows) for tile in found.tiles]
        return JSONResponse({"tiles": tiles, "turned": found.turned})

    return router


def _across_mm(told: BoardTold, side: str) -> tuple[float, ...]:
    if told.length_mm is None or told.width_mm is None or told.thickness_mm is None:
        return ()
    return (BoardSize(told.length_mm, told.width_mm, told.thickness_mm).across_mm(side),)
