"""The web app put together: routes, headers, static files, what is kept, and the workers' life."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Final

from fastapi import Depends, FastAPI
from fastapi.concurrency import run_in_threadpool

from service.app.requests.devices import DeviceCookie, from_here
from service.app.requests.headers import SecurityHeaders
from service.app.requests.secure import AddressSeen
from service.app.requests.speaking import Speaking
from service.app.requests.static_files import static_files
from service.app.routes.api import api_routes
from service.app.routes.keeping import Kept
from service.app.routes.once import once_routes
from service.app.routes.pages import Pages
from service.app.routes.private import private_routes
from service.app.routes.refusing import answer_refusals
from service.app.routes.shell import shell_routes
from service.app.workers.checks import Checkers, Checks, PhotoAsked, check_asked
from service.app.workers.desk import VERSION, Desk
from service.app.workers.readers import Progress, Read, Readers
from service.app.workers.stretches import Stretchers, Stretches, stretch_asked
from service.checking import PhotoCheck
from service.errors import StavesightError
from service.reading import read_board
from service.settings import Settings
from service.store.opening import Store, open_store

_log = logging.getLogger(__name__)

SWEEP_SECONDS: Final = 24 * 3600


def create_app(
    settings: Settings,
    read: Read = read_board,
    check: Callable[[PhotoAsked, Progress], PhotoCheck] = check_asked,
) -> FastAPI:
    """Make the app, and open what is kept.

    Parameters
    ----------
    settings
        How it is run.
    read
        What reads a board; it is called in worker processes, so it must be importable by name.
    check
        What checks a photo, likewise.

    Raises
    ------
    BadInput, Busy, CannotStore
        The folder or database of what is kept cannot be used.
    """
    store = open_store(settings)
    readers = Readers(read, count=settings.readers, waiting=settings.waiting, seconds=settings.seconds)
    # A worker of their own, so that a photo is judged at once while boards are being read.
    checkers = Checkers(check, count=1, waiting=settings.files, seconds=settings.seconds)
    stretchers = Stretchers(stretch_asked, count=1, waiting=settings.files, seconds=settings.seconds)
    desk = Desk(readers, store)
    checks = Checks(checkers, store)
    kept = Kept(settings, store, Pages(settings), checks, Stretches(stretchers), desk)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        readers.start()
        checkers.start()
        stretchers.start()
        sweeping = asyncio.create_task(_sweep_daily(store))
        yield
        sweeping.cancel()
        await desk.stop()
        await checks.stop()
        readers.stop()
        checkers.stop()
        stretchers.stop()
        store.close()

    # The framework's own documentation pages load scripts from elsewhere; the schema itself stays.
    app = FastAPI(title="Stavesight", version=VERSION, docs_url=None, redoc_url=None, lifespan=lifespan)
    app.state.store = store
    app.add_middleware(DeviceCookie)
    app.add_middleware(SecurityHeaders)
    app.add_middleware(Speaking)
    app.add_middleware(AddressSeen)
    app.include_router(api_routes(settings, readers))
    app.include_router(once_routes(settings, readers, kept.pages))
    app.include_router(shell_routes(settings.web_folder / "static", kept.pages))
    for router in private_routes(kept):
        app.include_router(router, include_in_schema=False, dependencies=[Depends(from_here)])
    app.mount("/static", static_files(settings.web_folder / "static"), name="static")
    answer_refusals(app, kept.pages)
    return app


async def _sweep_daily(store: Store) -> None:
    """Clear away what is old or left over, at the start and once a day."""
    while True:
        try:
            swept = await run_in_threadpool(store.sweep)
            _log.info("cleared away %d boards, %d files, %d rows", swept.boards, swept.files, swept.rows)
        except StavesightError as error:
            _log.error("nothing could be cleared away: %s", error.text)
        await asyncio.sleep(SWEEP_SECONDS)
