"""Where a photo shows the board: told to a script that then sends that stretch alone."""

from collections.abc import Mapping
from typing import Final

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from service.app.devices import Visiting
from service.app.keeping import Kept
from service.app.receiving import receive_photo
from service.app.stretches import Find
from service.photo.layout import read_layout
from service.sides import SIDES, BoardSize
from service.store.rows import BoardTold

WHOLE: Final[Mapping[str, object]] = {"whole": True}
"""Tells a phone to send the whole photo."""

ELSEWHERE: Final = frozenset({"blurred", "too_dark", "burnt_out"})
"""Reasons to take a photo again that cast no doubt on where the board was found."""


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
        if slot not in SIDES or await _went_wrong(kept, device, board, told, slot):
            return JSONResponse(WHOLE)
        found = await kept.stretches.find(Find(preview, whole, told.length_mm, _across_mm(told, slot)))
        if found is None:
            return JSONResponse(WHOLE)
        tiles = [(tile.left, tile.top, tile.cols, tile.rows) for tile in found.tiles]
        return JSONResponse({"tiles": tiles, "turned": found.turned})

    return router


def _across_mm(told: BoardTold, side: str) -> tuple[float, ...]:
    if told.length_mm is None or told.width_mm is None or told.thickness_mm is None:
        return ()
    return (BoardSize(told.length_mm, told.width_mm, told.thickness_mm).across_mm(side),)


async def _went_wrong(kept: Kept, device: str, board: str, told: BoardTold, side: str) -> bool:
    """Say whether a side is taken again because the board was not found right: cut once more, it would be no better."""
    if f"corners_{side}" in told.asked:
        return True
    photos = await run_in_threadpool(kept.store.photos.all, device, board)
    known = kept.checks.known(told, [photo for photo in photos if photo.slot == side])
    return any(reason.code not in ELSEWHERE for check in known for reason in check.reasons)
