"""All boards of a phone saved as one file, and taken in from one."""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
from typing import BinaryIO, Final

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response, StreamingResponse
from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser

from service.app.requests.devices import Visiting, Visitor
from service.app.routes.keeping import Kept, go_to
from service.app.routes.pages import Pages
from service.app.views.answer import Around, answer_page
from service.app.views.kept_board import units_of, with_texts
from service.app.views.rack import line_of
from service.errors import BadInput, StavesightError, TooLarge
from service.judge.ranking import make_ranking
from service.judge.record import Answer
from service.language import say, say_many
from service.store.opening import Store
from service.store.parcel import Parcel
from service.store.parcel_in import Check, TakenIn, open_parcel, take_in
from service.store.parcel_out import save_boards
from service.store.rows import BoardTold

_MIB: Final = 1024 * 1024

#: What the file holds beside photos and pictures: lists and answers.
_MORE_BYTES: Final = 64 * _MIB

MOST_TOLD: Final = 5
"""Boards that are named when they could not be taken in."""


@dataclass(frozen=True)
class KeepPage:
    """What is kept, what came of a file that was sent, and why it was refused."""

    count: int
    megabytes: str
    most_megabytes: int
    came: tuple[str, ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    refusal: str | None = None


def parcel_routes(kept: Kept) -> APIRouter:
    """Make the routes of that page."""
    router = APIRouter()
    taking = asyncio.Lock()  # one file at a time: each is looked through photo by photo

    async def show(visitor: Visitor, status: int = 200, **told: object) -> Response:
        count, used_bytes = await run_in_threadpool(_used, kept.store, visitor.device)
        most = kept.settings.device_bytes // _MIB
        page = KeepPage(count, _megabytes(used_bytes), most, **told)  # type: ignore[arg-type]  # its own fields
        return kept.show("keep.html", page, status)

    @router.get("/keep")
    async def page(request: Request, visitor: Visiting) -> Response:
        """Show how boards are saved as a file and taken in from one."""
        return await show(visitor, came=_came(request.query_params.get("added"), request.query_params.get("there")))

    @router.get("/keep/boards.zip")
    async def save(visitor: Visiting) -> Response:
        """Hand over all boards as one file."""
        day = kept.store.boards.now().astimezone().date()
        name = f"stavesight-boards-{day.isoformat()}.zip"
        headers = {"content-disposition": f'attachment; filename="{name}"'}
        return StreamingResponse(save_boards(kept.store, visitor.known), media_type="application/zip", headers=headers)

    @router.post("/keep")
    async def take(request: Request, visitor: Visiting) -> Response:
        """Take in the boards of a file."""
        most_bytes = kept.settings.device_bytes + _MORE_BYTES
        try:
            async with _sent_file(request, most_bytes) as file, taking:
                taken = await _take(visitor, file, most_bytes, partial(_refuse_unshowable, kept.pages))
        except StavesightError as refused:
            return await show(visitor, refused.status, refusal=refused.text)
        if not taken.refused and not taken.answers_left:
            return go_to(f"/keep?added={taken.added}&there={taken.there}")
        came = _came(str(taken.added), str(taken.there)) + _answers_left(taken.answers_left)
        return await show(visitor, 422 if taken.refused else 200, came=came, left_out=_left_out(taken))

    return router


async def _take(visitor: Visitor, file: BinaryIO, most_bytes: int, check: Check) -> TakenIn:
    """Look at the list before anybody is made known, then take the boards in."""
    listed = await run_in_threadpool(_list, file, most_bytes)
    device = await visitor.keep()

    def take_listed() -> TakenIn:
        with open_parcel(file, most_bytes) as parcel:
            return take_in(visitor.store, device, parcel, listed, check)

    return await run_in_threadpool(take_listed)


def _list(file: BinaryIO, most_bytes: int) -> Parcel:
    with open_parcel(file, most_bytes) as parcel:
        listed = parcel.listed()
    if not listed.boards:
        raise BadInput(say("There is no board in this file. Choose another one."), "file")
    return listed


def _refuse_unshowable(pages: Pages, told: BoardTold, answers: Sequence[Answer]) -> None:
    """Refuse a board of which no page could be made: it would stand in the way of the others on the rack."""
    with_texts(told, {})
    units = units_of(told)
    try:
        for answer in answers:
            make_ranking([("board", answer)])
            line_of(answer, units)
            pages.write("answer.html", answer_page(answer, {}, units, Around()))
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise BadInput(
            say("Its answer makes no sense. Have the board read again where it is, then save it anew."), "file"
        ) from error


def _used(store: Store, device: str | None) -> tuple[int, int]:
    return (0, 0) if device is None else (len(store.boards.all(device)), store.devices.used_bytes(device))


def _megabytes(count_bytes: int) -> str:
    """Write a count of bytes, as a tenth of a megabyte at least; nothing for none.

    >>> _megabytes(0), _megabytes(900), _megabytes(300_000), _megabytes(1_500_000_000)
    ('', '0.1', '0.3', '1431')
    """
    megabytes = count_bytes / _MIB
    if megabytes >= 10:
        return f"{megabytes:.0f}"
    return f"{max(megabytes, 0.1):.1f}" if megabytes else ""


def _came(added: str | None, there: str | None) -> tuple[str, ...]:
    """Say what came of a file, as its address tells it."""
    told = []
    if added is not None and added.isdecimal():
        count = int(added[:6])
        taken = say_many("{count} board was taken in.", "{count} boards were taken in.", count)
        told.append(taken if count else say("No board was taken in."))
    if there is not None and there.isdecimal() and int(there) > 0:
        told.append(
            say_many(
                "{count} board of the file was here already and stays as it is.",
                "{count} boards of the file were here already and stay as they are.",
                int(there[:6]),
            )
        )
    return tuple(told)


def _answers_left(count: int) -> tuple[str, ...]:
    if not count:
        return ()
    return (
        say_many(
            "{count} answer was written by another version of the program: have that board read again.",
            "{count} answers were written by another version of the program: have those boards read again.",
            count,
        ),
    )


def _left_out(taken: TakenIn) -> tuple[tuple[str, str], ...]:
    """Name boards that could not be taken in, each with the reason, and count those that are not named."""
    named = [(name or say("A board without a name"), why) for name, why in taken.refused[:MOST_TOLD]]
    more = len(taken.refused) - MOST_TOLD
    if more > 0:
        named.append((say_many("{count} more board", "{count} more boards", more), say("Left out likewise.")))
    return tuple(named)


@asynccontextmanager
async def _sent_file(request: Request, most_bytes: int) -> AsyncIterator[BinaryIO]:
    """Take in a form with one file; larger ones wait on disk.

    Raises
    ------
    BadInput
        It is no such form, or no file was chosen.
    TooLarge
        It holds more bytes than are kept for a phone.
    """
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise BadInput(say("Send the file by the form of this page."), "file")
    parser = MultiPartParser(request.headers, _within(request, most_bytes), max_files=1, max_fields=1)
    try:
        form = await parser.parse()
    except MultiPartException as error:
        raise BadInput(say("The file did not arrive whole. Send it once more."), "file") from error
    try:
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.size:
            raise BadInput(say("No file was chosen. Choose the one that you saved, then take it in."), "file")
        yield file.file
    finally:
        await form.close()


async def _within(request: Request, most_bytes: int) -> AsyncGenerator[bytes, None]:
    """Pass a request on until it is longer than allowed; the rest is read and dropped, so that the answer is seen."""
    seen_bytes = 0
    async for chunk in request.stream():
        seen_bytes += len(chunk)
        if seen_bytes <= most_bytes:
            yield chunk
        elif seen_bytes > 2 * most_bytes:
            break
    if seen_bytes > most_bytes:
        raise TooLarge(
            say(
                "The file holds more than {megabytes} MB, which is all that is kept for a phone. Save fewer boards "
                "in it.",
                megabytes=most_bytes // _MIB,
            ),
            "file",
        )
