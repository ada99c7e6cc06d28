"""Reading a kept board: asked for by a button, waited for, told step by step to scripts."""

from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse
from starlette.requests import ClientDisconnect

from service.app.requests.devices import Visiting
from service.app.routes.board import show_board, state_of
from service.app.routes.keeping import Kept, go_to
from service.app.routes.once import AT_ONCE, LINES, line
from service.app.views.kept_board import face_and_edge
from service.app.workers.desk import Job, follow
from service.errors import BadInput, NotThere, StavesightError
from service.language import say


def reading_routes(kept: Kept) -> APIRouter:
    """Make the route of readings."""
    router = APIRouter()

    @router.post("/boards/{board}/reading")
    async def read(request: Request, visitor: Visiting, board: str) -> Response:
        """Read a board now and wait for it; when somebody goes away it is read all the same."""
        device, lines = visitor.known, request.headers.get("accept", "") == LINES
        try:
            job = await _start(kept, device, board)
            if lines:
                return StreamingResponse(_lines(job), headers=AT_ONCE, media_type=LINES)
            await _finish(request, job)
        except NotThere:
            raise
        except StavesightError as refused:
            if lines:
                raise
            return await show_board(kept, device, board, refused=refused)
        return go_to(f"/boards/{board}")

    return router


async def _start(kept: Kept, device: str, board: str) -> Job | None:
    """Have a board read; None when its answer holds already."""
    state = await state_of(kept, device, board, 0.0)
    if not face_and_edge(state.photos):
        raise BadInput(say("Photograph at least one face and one edge of the board, then read it."))
    if state.answer is not None and not state.stale and not state.is_reading:
        return None
    return await kept.desk.start(device, board)


async def _finish(request: Request, job: Job | None) -> None:
    """Wait for a reading for as long as somebody is there."""
    if job is None:
        return
    async for _ in follow(job):
        if await request.is_disconnected():
            raise ClientDisconnect
    if job.refusal is not None:
        raise job.refusal


async def _lines(job: Job | None) -> AsyncIterator[str]:
    """Write each step of a reading as a line of JSON, and at last that it is done, or why it is not."""
    if job is not None:
        async for step in follow(job):
            if step:
                yield line(step=step)
        if job.refusal is not None:
            refusal = job.refusal
            yield line(code=refusal.code, text=refusal.text, field=refusal.field)
            return
    yield line(done=True)
