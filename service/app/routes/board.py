"""The page of a board, and what is told about it."""

from collections.abc import Mapping
from dataclasses import replace

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from service.app.requests.devices import Visiting
from service.app.requests.receiving import receive_texts
from service.app.routes.confirming import ConfirmPage
from service.app.routes.keeping import Kept, go_to
from service.app.routes.rack import new_touch
from service.app.views.board import BoardState, board_page
from service.app.views.kept_board import TEXT_NAMES, change_told, face_and_edge, fingerprint, with_texts
from service.app.views.shots import check_words
from service.checking import PhotoCheck
from service.errors import BadInput, StavesightError
from service.language import say
from service.show.words import verdict_word
from service.store.opening import Store
from service.store.rows import BoardTold

CHECK_SECONDS = 3.0
"""How long a page waits for checks that are not done; the photos of a board take that long on a slow machine."""

WAIT_SECONDS = 10.0
"""How long a script that waits for a reading is kept waiting; then it asks again, so that a dead line is noticed."""


async def state_of(kept: Kept, device: str, board: str, seconds: float = CHECK_SECONDS) -> BoardState:
    """Gather all that is known of a board, the checks of its photos among it.

    Raises
    ------
    NotThere
        The board is not there for this device.
    """
    state = await run_in_threadpool(_fetch, kept, device, board)
    checks = await kept.checks.several(device, state.board.told, state.photos, seconds)
    return replace(state, checks=checks)


def _fetch(kept: Kept, device: str, board: str) -> BoardState:
    store = kept.store
    store.boards.touch(device, board)
    readings, photos = store.readings.all(device, board), store.photos.all(device, board)
    return BoardState(
        board=store.boards.get(device, board),
        photos=photos,
        checks={},
        reading=readings[0] if readings else None,
        shares=store.shares.all(device, board),
        is_reading=kept.desk.is_reading(board),
        refusal=kept.desk.refusal(board),
        is_first=not photos and len(store.boards.all(device)) == 1,
    )


async def show_board(
    kept: Kept,
    device: str,
    board: str,
    typed: Mapping[str, str] | None = None,
    refused: StavesightError | None = None,
    wanted: str = "",
) -> Response:
    """Write a board's page, with what was typed in vain and why, and the open question that is wanted."""
    state = await state_of(kept, device, board)
    page = board_page(kept.settings, state, new_touch(), typed, refused, wanted)
    return kept.show("board.html", page, refused.status if refused is not None else 200)


def state_json(state: BoardState) -> dict[str, object]:
    """Tell scripts how a board stands."""
    answer = state.answer
    reading = "started" if state.is_reading else "none" if face_and_edge(state.photos) else "waiting"
    return {
        "photos": [
            {"id": row.id, "slot": row.slot, "place": row.place, "check": check_json(state.checks.get(row.id))}
            for row in state.photos
        ],
        "verdict": answer.verdict if answer is not None else None,
        "word": verdict_word(answer.verdict) if answer is not None else None,
        "stale": state.stale,
        "reading": reading,
        "refusal": state.refusal.text if state.refusal is not None else None,
    }


def check_json(check: PhotoCheck | None) -> dict[str, object] | None:
    """Tell scripts what a photo is good for."""
    if check is None:
        return None
    told = check.model_dump(include={"usable", "reasons", "advice"})
    return {**told, "words": check_words(check)}


def board_routes(kept: Kept) -> APIRouter:
    """Make the routes of a board."""
    router = APIRouter()

    @router.get("/boards/{board}")
    async def show(visitor: Visiting, board: str, ask: str = "") -> Response:
        """Show a board, and one of its open questions unfolded."""
        return await show_board(kept, visitor.known, board, wanted=ask)

    @router.get("/boards/{board}/state")
    async def state(visitor: Visiting, board: str, wait: bool = False) -> dict[str, object]:
        """Tell a script how a board stands; checks that are not done are not waited for, a reading only if asked."""
        device = visitor.known
        await run_in_threadpool(kept.store.boards.get, device, board)  # before anybody waits for it
        if wait:
            await kept.desk.wait(board, WAIT_SECONDS)
        return state_json(await state_of(kept, device, board, 0.05))

    @router.post("/boards/{board}")
    async def change(request: Request, visitor: Visiting, board: str) -> Response:
        """Change what was sent and nothing else; what cannot be used is told at its field."""
        device, typed = visitor.known, await receive_texts(request)
        try:
            reads = await run_in_threadpool(change_board, kept.store, device, board, typed)
        except BadInput as refused:
            return await show_board(kept, device, board, typed, refused)
        if reads:
            await kept.desk.start(device, board)
        return go_to("/" if typed.get("then") == "rack" else f"/boards/{board}")

    @router.get("/boards/{board}/delete")
    async def ask_again(visitor: Visiting, board: str) -> Response:
        """Ask once more before a board is deleted."""
        row = await run_in_threadpool(kept.store.boards.get, visitor.known, board)
        heading = say("Delete {name}?", name=row.told.name) if row.told.name else say("Delete this board?")
        text = say("Its photos, its answers and shared addresses go with it. They cannot be brought back.")
        return kept.show("confirm.html", ConfirmPage(heading, f"/boards/{board}/delete", text, f"/boards/{board}"))

    @router.post("/boards/{board}/delete")
    async def delete(request: Request, visitor: Visiting, board: str) -> Response:
        """Delete a board, once that was confirmed."""
        if (await receive_texts(request)).get("sure") != "yes":
            return go_to(f"/boards/{board}/delete")
        await run_in_threadpool(kept.store.boards.delete, visitor.known, board)
        return go_to("/")

    return router


def change_board(store: Store, device: str, board: str, typed: Mapping[str, str]) -> bool:
    """Change what is told about a board; return whether it has to be read again.

    Raises
    ------
    BadInput
        A text that cannot be used; its field says which.
    """
    before = store.boards.get(device, board).told
    told = change_told(store, device, board, lambda now: _changed(now, typed))
    return fingerprint(told) != fingerprint(before) and face_and_edge(store.photos.all(device, board))


def _changed(told: BoardTold, typed: Mapping[str, str]) -> BoardTold:
    """Put what was typed in the place of what was told."""
    told = replace(
        told,
        name=typed.get("name", told.name).strip() or told.name,
        price=typed.get("price", told.price).strip(),
        note=typed.get("note", told.note).strip(),
        chosen=typed["chosen"] == "yes" if "chosen" in typed else told.chosen,
    )
    texts = {name: text for name, text in typed.items() if name in TEXT_NAMES}
    return with_texts(told, texts) if texts else told
