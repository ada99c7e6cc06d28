"""Photos of kept boards: taken in one by one, checked at once, shown small, deleted."""

import io

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response
from PIL import Image, ImageOps

from service.app.requests.devices import Visiting
from service.app.requests.receiving import OnePhoto, receive_photo, receive_texts
from service.app.routes.board import check_json, show_board
from service.app.routes.keeping import Kept, go_to
from service.app.routes.refusing import for_program
from service.app.views.corners import CUT, forget, remember, tiles_text
from service.app.views.kept_board import face_and_edge, is_stale
from service.app.workers.stretches import is_doubtful
from service.errors import NotThere, SendWhole, StavesightError
from service.language import say
from service.photo.layout import read_layout
from service.sides import SIDES
from service.store.opening import Store
from service.store.photos import Sent
from service.store.rows import SLOTS, PhotoRow

PREVIEW_PX = 640
"""Longest side of a photo as it is shown."""

LARGE_PX = 1600
"""The same where corners are set in it: of a photo of 4032 pixels, two and a half of its own to a pixel."""

PREVIEW_QUALITY = 80

DAY_SECONDS = 24 * 3600

ALONE = frozenset({*SIDES, "end"})
"""Places where a new photo takes the place of the one before, unless it is sent as one more part of the side."""


def photo_routes(kept: Kept) -> APIRouter:
    """Make the routes of photos."""
    router = APIRouter()

    @router.post("/boards/{board}/photos/{slot}")
    async def keep(request: Request, visitor: Visiting, board: str, slot: str) -> Response:
        """Keep a photo, say what it is good for, and have the board read once there is something to read."""
        device = visitor.known
        told = (await run_in_threadpool(kept.store.boards.get, device, board)).told  # before its photo is taken in
        try:
            row, cut = await _take_in(kept, request, device, board, slot)
        except StavesightError as refused:
            if for_program(request) or isinstance(refused, NotThere) or slot not in SLOTS:
                raise
            refused.field = f"shot_{slot}"  # without scripts, told there on the board's page
            return await show_board(kept, device, board, refused=refused)
        check = await kept.checks.of(device, told, row)
        if cut and is_doubtful(check):
            await run_in_threadpool(_delete, kept.store, device, board, row.id)
            kept.stretches.doubt(board, slot)
            raise SendWhole(
                say("The board was not found for sure in the part that came. Send the whole photo."), "photo"
            )
        reading = await _start_reading(kept, device, board, wanted=check is None or check.usable)
        if for_program(request):
            return JSONResponse({"photo": row.id, "check": check_json(check), "reading": reading})
        return go_to(f"/boards/{board}#shot_{slot}")

    @router.get("/boards/{board}/photos/{photo}")
    async def show(visitor: Visiting, board: str, photo: str, large: bool = False) -> Response:
        """Show a photo small, or large enough to set corners in it."""
        longest_px = LARGE_PX if large else PREVIEW_PX
        small = await run_in_threadpool(_preview, kept.store, visitor.known, board, photo, longest_px)
        headers = {"cache-control": f"private, max-age={DAY_SECONDS}"}
        return Response(small, media_type="image/jpeg", headers=headers)

    @router.post("/boards/{board}/photos/{photo}/delete")
    async def delete(visitor: Visiting, board: str, photo: str) -> Response:
        """Delete a photo."""
        slot = await run_in_threadpool(_delete, kept.store, visitor.known, board, photo)
        return go_to(f"/boards/{board}#shot_{slot}")

    @router.post("/boards/{board}/photos/{photo}/move")
    async def move(request: Request, visitor: Visiting, board: str, photo: str) -> Response:
        """Put a photo to another side, or before others of its side."""
        typed = await receive_texts(request)
        slot, told = typed.get("slot", ""), typed.get("place", "")
        place = int(told) if told.isdecimal() else kept.settings.files  # the last one, unless told
        await run_in_threadpool(_move, kept.store, visitor.known, board, photo, slot, place)
        return go_to(f"/boards/{board}#shot_{slot}")

    return router


async def _take_in(kept: Kept, request: Request, device: str, board: str, slot: str) -> tuple[PhotoRow, bool]:
    """Take a photo in and keep it; tell whether only a stretch of it came."""
    got = await receive_photo(request, kept.settings)
    try:
        data, around = await got.file.read(), await got.around.read() if got.around is not None else b""
    finally:
        got.close()
    if got.layout:
        data = await kept.stretches.lay_back(data, around, got.layout)
    sent = Sent(slot, got.key, got.file.filename or slot, data, cut=bool(got.layout))
    more = "more" in request.query_params
    row = await run_in_threadpool(_keep, kept.store, device, board, sent, got, more)
    if sent.cut:
        tiles = tiles_text(read_layout(got.layout, tiled=True))
        await run_in_threadpool(remember, kept.store, device, board, f"{CUT}{row.id}", tiles)
    return row, sent.cut


def _keep(store: Store, device: str, board: str, sent: Sent, got: OnePhoto, more: bool) -> PhotoRow:
    """Keep a photo, and drop what it takes the place of: those before it, and an upload it was sent instead of."""
    row = store.photos.add(device, board, sent)
    for other in store.photos.all(device, board):
        before = other.slot == row.slot and other.place < row.place and row.slot in ALONE and not more
        if other.id != row.id and (before or (got.instead and other.upload_key == got.instead)):
            store.photos.delete(device, other.id)
            forget(store, device, board, f"corners_{other.slot}", f"{CUT}{other.id}")
    if sum(other.slot == row.slot for other in store.photos.all(device, board)) > 1:
        forget(store, device, board, f"corners_{row.slot}")  # they hold for a side's only photo
    return row


async def _start_reading(kept: Kept, device: str, board: str, wanted: bool) -> str:
    """Have a board read when there is something new to read; tell scripts whether it is."""
    photos = await run_in_threadpool(kept.store.photos.all, device, board)
    if not face_and_edge(photos):
        return "waiting"
    row = await run_in_threadpool(kept.store.boards.get, device, board)
    readings = await run_in_threadpool(kept.store.readings.all, device, board)
    fresh = bool(readings) and not is_stale(row, photos, readings[0])
    if wanted and not fresh:
        await kept.desk.start(device, board)
    return "started" if kept.desk.is_reading(board) else "none"


def _own(store: Store, device: str, board: str, photo: str) -> tuple[PhotoRow, bytes]:
    row, data = store.photos.content(device, photo)
    if row.board_id != board:
        raise NotThere(say("This photo is not there, or no longer. Go back to the board."), "photo")
    return row, data


def _preview(store: Store, device: str, board: str, photo: str, longest_px: int) -> bytes:
    """Make a small upright JPEG of a photo."""
    _, data = _own(store, device, board, photo)
    with Image.open(io.BytesIO(data)) as image:
        image.draft("RGB", (2 * longest_px, 2 * longest_px))  # JPEG alone can be opened smaller; others ignore it
        upright = ImageOps.exif_transpose(image).convert("RGB")
        upright.thumbnail((longest_px, longest_px))
        small = io.BytesIO()
        upright.save(small, "JPEG", quality=PREVIEW_QUALITY)
    return small.getvalue()


def _delete(store: Store, device: str, board: str, photo: str) -> str:
    row = next((row for row in store.photos.all(device, board) if row.id == photo), None)
    if row is None:
        raise NotThere(say("This photo is not there, or no longer. Go back to the board."), "photo")
    store.photos.delete(device, photo)
    forget(store, device, board, f"corners_{row.slot}", f"{CUT}{photo}")
    return row.slot


def _move(store: Store, device: str, board: str, photo: str, slot: str, place: int) -> None:
    row, _ = _own(store, device, board, photo)
    store.photos.move(device, photo, slot, place)
    forget(store, device, board, f"corners_{row.slot}", f"corners_{slot}")
