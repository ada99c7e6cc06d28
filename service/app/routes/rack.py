"""The rack: today's boards, the best first, and those of other days; making and deleting them."""

import secrets

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from service.app.requests.devices import Visiting
from service.app.requests.receiving import receive_texts
from service.app.routes.confirming import ConfirmPage
from service.app.routes.keeping import Kept, go_to
from service.app.views.rack import day_words, rack_page
from service.errors import CannotStore, NotThere
from service.language import say, say_many
from service.store.opening import Store
from service.store.rows import OutingRow


def new_touch() -> str:
    """Make a text that tells one touch of a button, or one upload, from the next."""
    return secrets.token_urlsafe(12)


def rack_routes(kept: Kept) -> APIRouter:
    """Make the rack's routes."""
    router = APIRouter()

    @router.get("/")
    async def rack(visitor: Visiting) -> Response:
        """Show the rack."""
        today = kept.store.boards.now().astimezone().date()
        page = await run_in_threadpool(rack_page, kept.store, visitor.device, kept.desk.is_reading, today, new_touch())
        return kept.show("rack.html", page)

    @router.get("/outings/{outing}/delete")
    async def ask_outing(visitor: Visiting, outing: str) -> Response:
        """Ask once more before the boards of a day are deleted."""
        row, count = await run_in_threadpool(_outing, kept.store, visitor.known, outing)
        heading = say_many(
            "Delete {count} board of {day} with all photos and answers?",
            "Delete {count} boards of {day} with all photos and answers?",
            count,
            day=row.name or day_words(row.day),
        )
        return kept.show("confirm.html", ConfirmPage(heading, f"/outings/{outing}/delete"))

    @router.post("/outings/{outing}/delete")
    async def delete_outing(request: Request, visitor: Visiting, outing: str) -> Response:
        """Delete the boards of a day, once that was confirmed."""
        if (await receive_texts(request)).get("sure") != "yes":
            return go_to(f"/outings/{outing}/delete")
        await run_in_threadpool(_delete_outing, kept.store, visitor.known, outing)
        return go_to("/")

    @router.get("/forget")
    async def ask_forget(visitor: Visiting) -> Response:
        """Ask once more before everything is deleted."""
        heading = say("Delete everything that is kept for this phone?")
        text = say("All boards, photos, answers and shared addresses, and the bow. Nothing of it can be brought back.")
        return kept.show("confirm.html", ConfirmPage(heading, "/forget", text, forget=True))

    @router.post("/forget")
    async def forget(request: Request, visitor: Visiting) -> Response:
        """Delete a device with all that is kept for it, once that was confirmed."""
        if (await receive_texts(request)).get("sure") != "yes":
            return go_to("/forget")
        await visitor.forget()
        response = go_to("/")
        response.headers["clear-site-data"] = '"cache", "storage"'
        return response

    return router


def _outing(store: Store, device: str, outing_id: str) -> tuple[OutingRow, int]:
    found = next((outing for outing in store.boards.outings(device) if outing.id == outing_id), None)
    if found is None:
        raise NotThere(say("This day is not there, or no longer. Go back to your boards."), "outing")
    return found, len(store.boards.all(device, outing_id))


def _delete_outing(store: Store, device: str, outing_id: str) -> None:
    """Delete all boards of a day; a file that cannot be removed keeps none of the others."""
    _outing(store, device, outing_id)
    stuck: CannotStore | None = None
    for board in store.boards.all(device, outing_id):
        try:
            store.boards.delete(device, board.id)
        except CannotStore as error:
            stuck = error
    if stuck is not None:
        raise stuck
