"""The bow that is looked for, set once for a device and used for its new boards."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from service.app.requests.devices import Visiting, Visitor
from service.app.requests.receiving import receive_texts
from service.app.routes.keeping import Kept, go_to
from service.app.routes.refusing import for_program
from service.app.views.kept_board import BOW_NAMES
from service.app.views.start import start_page
from service.asked import read_units
from service.errors import BadInput
from service.lengths import use_units
from service.limit_texts import read_bow_width, read_limits
from service.sides import BoardSize
from service.sizes import BOW_LENGTH, WIDTH, parse_length

BOW: str = "bow"
"""Name of the setting."""

_ANY_BOARD = BoardSize(BOW_LENGTH.high_mm, WIDTH.high_mm, WIDTH.high_mm)


def read_bow(typed: Mapping[str, str]) -> dict[str, str]:
    """Return the texts of a bow that is no board's yet.

    Raises
    ------
    BadInput
        A text that cannot be used; its field says which.
    """
    bow = {name: text.strip() for name in BOW_NAMES if (text := typed.get(name, "")).strip()}
    units = read_units(bow.get("units", ""))
    with use_units(units or "in"):
        parse_length(bow.get("bow_length", ""), BOW_LENGTH, "bow_length", units)
        read_bow_width(bow.get("bow_width", ""), _ANY_BOARD, units)
        read_limits(bow, units)
    return bow


async def kept_bow(visitor: Visitor) -> dict[str, str]:
    """Return the bow of a device; empty when none was set."""
    if visitor.device is None:
        return {}
    settings = await run_in_threadpool(visitor.store.devices.settings, visitor.device)
    return dict(settings.get(BOW) or {})


def bow_routes(kept: Kept) -> APIRouter:
    """Make the bow's routes."""
    router = APIRouter()

    @router.get("/bow")
    async def show(visitor: Visiting) -> Response:
        """Show the bow."""
        return kept.show("bow.html", start_page(kept.settings, await kept_bow(visitor)))

    @router.post("/bow")
    async def keep(request: Request, visitor: Visiting) -> Response:
        """Keep the bow; the first time, go on to the first board."""
        typed = await receive_texts(request)
        try:
            bow = read_bow(typed)
        except BadInput as refused:
            if for_program(request):
                raise
            return kept.show("bow.html", start_page(kept.settings, typed, refused), refused.status)
        device = await visitor.keep()
        await run_in_threadpool(kept.store.devices.keep_setting, device, BOW, bow)
        boards = await run_in_threadpool(kept.store.boards.all, device)
        page = "/" if boards else "/boards/new"
        return JSONResponse({"bow": True, "page": page}) if for_program(request) else go_to(page)

    return router
