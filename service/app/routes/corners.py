"""A kept photo on which the four corners of the board are put right by hand."""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response
from PIL import Image

from service.app.requests.devices import Visiting
from service.app.requests.receiving import receive_texts
from service.app.routes.board import CHECK_SECONDS
from service.app.routes.keeping import Kept, go_to
from service.app.views.corners import PUT, came_sharp, corners_text, forget, rectangle, remember
from service.app.views.kept_board import change_told, face_and_edge, hand_corners, with_texts
from service.asked import Corners, read_corners
from service.board.phrase import side_title
from service.checking import PhotoCheck
from service.errors import BadInput, NotThere
from service.language import mark, say
from service.photo.by_hand import check_corners
from service.sides import SIDES
from service.store.rows import BoardTold, PhotoRow

_ORIENTATION: Final = 0x0112
_SIDEWAYS: Final = frozenset({5, 6, 7, 8})
"""Values of the orientation noted by a camera (Exif 2.32, tag 0x0112) for which rows lie upright."""

CORNERS: Final = (
    mark("Marked end, upper corner"),
    mark("Far end, upper corner"),
    mark("Far end, lower corner"),
    mark("Marked end, lower corner"),
)


@dataclass(frozen=True)
class Corner:
    """A corner: what it is called, and its place in the photo as it is typed."""

    words: str
    col: str
    row: str


@dataclass(frozen=True)
class CornersPage:
    """A photo with its four corners.

    Attributes
    ----------
    board, name, side
        The board's address and name, and which side the photo shows.
    photo
        Address of the photo.
    cols, rows
        Its size in pixels.
    corners
        In the order of `CORNERS`; none when they cannot be set because the side has several photos.
    found, by_hand
        Whether the board was found in it, and whether by hand.
    refusal
        Why the corners cannot be kept.
    shot
        Where the photo can be chosen once more, if that is what has to be done.
    """

    board: str
    name: str
    side: str
    photo: str
    cols: int
    rows: int
    corners: Sequence[Corner]
    found: bool
    by_hand: bool
    refusal: str = ""
    shot: str = ""


@dataclass(frozen=True)
class _Photo:
    """A photo of a side, and what is known of it."""

    row: PhotoRow
    told: BoardTold
    check: PhotoCheck | None
    size_px: tuple[int, int]
    alone: bool


def corner_routes(kept: Kept) -> APIRouter:
    """Make the routes of corners."""
    router = APIRouter()

    @router.get("/boards/{board}/photos/{photo}/corners")
    async def show(visitor: Visiting, board: str, photo: str) -> Response:
        """Show a photo with its corners."""
        return kept.show("corners.html", corners_page(await _look(kept, visitor.known, board, photo)))

    @router.post("/boards/{board}/photos/{photo}/corners")
    async def keep(request: Request, visitor: Visiting, board: str, photo: str) -> Response:
        """Keep corners, or have the board found again, and have it read."""
        device, typed = visitor.known, await receive_texts(request)
        seen = await _look(kept, device, board, photo)
        slot = seen.row.slot
        if "again" in typed:
            await run_in_threadpool(forget, kept.store, device, board, f"corners_{slot}", f"{PUT}{slot}")
        else:
            try:
                corners = _typed_corners(seen, typed)
            except BadInput as refused:
                return kept.show("corners.html", corners_page(seen, typed, refused.text), 422)
            text = corners_text(corners)
            if not came_sharp(seen.told, photo, corners):
                kept.stretches.doubt(board, slot)  # so that it comes whole
                await run_in_threadpool(remember, kept.store, device, board, f"{PUT}{slot}", text)
                page = replace(corners_page(seen, typed, _only_roughly()), shot=f"/boards/{board}#shot_{slot}")
                return kept.show("corners.html", page, 422)
            told = {f"corners_{slot}": text}
            await run_in_threadpool(change_told, kept.store, device, board, lambda now: with_texts(now, told))
            await run_in_threadpool(forget, kept.store, device, board, f"{PUT}{slot}")
        if face_and_edge(await run_in_threadpool(kept.store.photos.all, device, board)):
            await kept.desk.start(device, board)
        return go_to(f"/boards/{board}#shot_{slot}")

    return router


def corners_page(seen: _Photo, typed: Mapping[str, str] | None = None, refusal: str = "") -> CornersPage:
    """Show a photo with the corners that were typed in vain, set by hand, or found."""
    board, (cols, rows) = f"/boards/{seen.row.board_id}", seen.size_px
    by_hand = hand_corners(seen.told, seen.row.slot)
    outline = seen.check.outline if seen.check is not None else None
    corners: Sequence[Sequence[float]] = by_hand or _waiting(seen) or outline or rectangle(cols, rows)
    places = [(f"{col:.0f}", f"{row:.0f}") for col, row in corners]
    if typed:
        places = [(typed.get(f"col_{number}", ""), typed.get(f"row_{number}", "")) for number in range(4)]
    if not seen.alone:
        places = []
    return CornersPage(
        board,
        seen.told.name or say("Board"),
        side_title(seen.row.slot),
        f"{board}/photos/{seen.row.id}",
        cols,
        rows,
        [Corner(say(words), *place) for words, place in zip(CORNERS, places, strict=False)],
        outline is not None,
        by_hand is not None,
        refusal,
    )


def _only_roughly() -> str:
    return say(
        "To spare your signal the phone sent only that part of the photo sharp in which the program saw the board, and "
        "your corners lie outside of it. Choose the same photo once more: it then comes whole, and your corners are "
        "waiting for it."
    )


def _waiting(seen: _Photo) -> Corners | None:
    """Return corners that were set in this photo before it came whole, if they fit it."""
    try:
        corners = read_corners(seen.told.asked.get(f"{PUT}{seen.row.slot}", ""), "corners")
        if corners is not None:
            check_corners(corners, *seen.size_px)
    except BadInput:
        return None
    return corners


def _typed_corners(seen: _Photo, typed: Mapping[str, str]) -> Corners:
    """Read corners that were typed as eight numbers.

    Raises
    ------
    BadInput
        They are no numbers, or cannot be the corners of a side.
    """
    if not seen.alone:
        raise BadInput(_several(), "corners")
    try:
        corners = tuple((float(typed.get(f"col_{n}", "")), float(typed.get(f"row_{n}", ""))) for n in range(4))
    except ValueError as error:
        text = say("Each corner needs two numbers: pixels from the left and from the top of the photo.")
        raise BadInput(text, "corners") from error
    check_corners(corners, *seen.size_px)
    return corners


def _several() -> str:
    return say(
        "This side has several photos, which are joined by the wood they both show. Corners can be set only in a "
        "side's single photo: delete the others first."
    )


async def _look(kept: Kept, device: str, board: str, photo: str) -> _Photo:
    """Fetch a photo of a side.

    Raises
    ------
    NotThere
        The photo is not there, or shows no whole side.
    """
    told = (await run_in_threadpool(kept.store.boards.get, device, board)).told
    rows = await run_in_threadpool(kept.store.photos.all, device, board)
    row = next((row for row in rows if row.id == photo and row.slot in SIDES), None)
    if row is None:
        raise NotThere(say("This photo is not there, or shows no whole side. Go back to the board."), "photo")
    check = (await kept.checks.several(device, told, [row], CHECK_SECONDS)).get(photo)
    size_px = check.size_px if check is not None else None
    if size_px is None:
        size_px = await run_in_threadpool(_size_of, kept.store.photos.content(device, photo)[1])
    return _Photo(row, told, check, size_px, sum(other.slot == row.slot for other in rows) == 1)


def _size_of(data: bytes) -> tuple[int, int]:
    """Return the columns and rows of a photo once it is upright."""
    with Image.open(io.BytesIO(data)) as image:
        turned = image.getexif().get(_ORIENTATION, 1) in _SIDEWAYS
        return (image.height, image.width) if turned else image.size
