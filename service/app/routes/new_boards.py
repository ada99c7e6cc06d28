"""New boards: by their size, or at once like the one before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import Final

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from service.app.requests.devices import Visiting, Visitor
from service.app.requests.receiving import receive_texts
from service.app.routes.bow import kept_bow
from service.app.routes.keeping import Kept, go_to
from service.app.routes.rack import new_touch
from service.app.routes.refusing import for_program
from service.app.views.kept_board import SIZE_NAMES, with_texts
from service.app.views.rack import bow_words
from service.app.views.shots import Shot, side_shots
from service.app.views.start import StartPage, start_page
from service.errors import BadInput
from service.language import say
from service.lengths import Units, length_in
from service.settings import Settings
from service.sizes import BOARD_LENGTH, STORE_SIZES, StoreSize, parse_length
from service.store.opening import Store
from service.store.rows import BoardTold

SIZE: Final = "size"
"""Name of the setting that holds the size of the board before."""

TOUCH: Final = "made_by"
"""Name under which a board keeps the touch that made it, so that whatever is sent again makes no second one."""

COMMON: Final = ("1x2", "1x3", "1x4", "1-1/4x2", "2x2", "2x3")
"""Sizes that a bow is commonly made from. Common practice, no source."""

LENGTHS: Final = ("6 ft", "7 ft", "8 ft")
"""Lengths that stores commonly keep. Common practice, no source."""


@dataclass(frozen=True)
class NewPage:
    """The form for a new board, with the size of the board before or what was typed."""

    form: StartPage
    name: str
    sizes: Sequence[tuple[str, str]]
    lengths: Sequence[tuple[str, str]]
    bow: str
    once: str

    @property
    def size(self) -> str:
        """The store size that is marked."""
        return self.form.typed.get("size", "")

    @property
    def length(self) -> str:
        """The length that is marked."""
        return self.form.typed.get("length", "")

    @property
    def lengthless(self) -> StartPage:
        """The form without the length when one of the choices is marked with it, so that a change of mind counts."""
        kept = {name: text for name, text in self.form.typed.items() if name != "length" or text not in LENGTHS}
        return replace(self.form, typed=kept)

    @property
    def size_folded_open(self) -> bool:
        """Whether the store size is one of the rarer ones."""
        return bool(self.size) and self.size not in COMMON

    def is_common(self, size: str) -> bool:
        """Tell whether a store size stands among the choices."""
        return size in COMMON


@dataclass(frozen=True)
class WaitingPage:
    """The page for the photos of a board that is not made yet."""

    shots: Sequence[Shot]
    photo_bytes: int


def new_page(settings: Settings, typed: Mapping[str, str], bow: str, refused: BadInput | None = None) -> NewPage:
    """Show the form for a new board."""
    form = start_page(settings, typed, refused)
    return NewPage(
        form=form,
        name=typed.get("name", ""),
        sizes=[(name, size_label(STORE_SIZES[name], form.units)) for name in COMMON],
        lengths=[(text, length_label(text, form.units)) for text in LENGTHS],
        bow=bow,
        once=new_touch(),
    )


def length_label(text: str, units: Units) -> str:
    """Write a common length.

    >>> length_label("8 ft", "in"), length_label("8 ft", "mm")
    ('8 ft', '8 ft (2438 mm)')
    """
    told = say("{feet} ft", feet=text.removesuffix(" ft"))
    if units == "in":
        return told
    length = length_in(parse_length(text, BOARD_LENGTH, "length"), units)
    return say("{length} ({other})", length=told, other=length)


def size_label(size: StoreSize, units: Units) -> str:
    """Write a common size.

    >>> size_label(STORE_SIZES["1x2"], "in"), size_label(STORE_SIZES["1x2"], "mm")
    ('1x2: 3/4 in x 1-1/2 in', '1x2: 19 mm x 38 mm')
    """
    if units == "in" or size.width_mm is None:
        return size.label
    thickness, width = length_in(size.thickness_mm, units), length_in(size.width_mm, units)
    return say("{size}: {thickness} x {width}", size=size.name, thickness=thickness, width=width)


def size_texts(typed: Mapping[str, str]) -> dict[str, str]:
    """Return the texts of a board's size: what was typed or picked from the list goes before a marked choice.

    >>> size_texts({"length_choice": "8 ft", "size": "1x2", "size_other": "4/4 S2S", "width": "2 in"})
    {'length': '8 ft', 'size': '4/4 S2S', 'width': '2 in', 'thickness': '', 'wood': ''}
    """
    texts = {name: typed.get(name, "").strip() for name in SIZE_NAMES}
    texts["length"] = texts["length"] or typed.get("length_choice", "")
    texts["size"] = typed.get("size_other", "") or texts["size"]
    return texts


def add_board(store: Store, device: str, told: BoardTold) -> str:
    """Keep a new board of today, named by its number unless it has a name, and remember its size."""
    row = store.boards.add(device, told)
    if not told.name:
        others = {board.told.name for board in store.boards.all(device, row.outing_id)}
        numbered = (say("Board {number}", number=number) for number in count(len(others)))
        name = next(name for name in numbered if name not in others)
        store.boards.change(device, row.id, replace(row.told, name=name))
    size = {name: told.asked[name] for name in SIZE_NAMES if name in told.asked}
    store.devices.keep_setting(device, SIZE, size)
    return row.id


def made_by(store: Store, device: str, touch: str) -> str | None:
    """Return the board that a touch of a button made already."""
    made = (board.id for board in store.boards.all(device) if touch and board.told.asked.get(TOUCH) == touch)
    return next(made, None)


async def make_once(kept: Kept, visitor: Visitor, told: BoardTold, touch: str) -> str:
    """Keep a new board, unless the same touch of a button made one already; return its id."""
    async with kept.making:
        device = await visitor.keep()
        board = await run_in_threadpool(made_by, kept.store, device, touch)
        if board is not None:
            return board
        told = replace(told, asked={**told.asked, **({TOUCH: touch} if touch else {})})
        return await run_in_threadpool(add_board, kept.store, device, told)


def made(request: Request, board: str) -> Response:
    """Lead on to a new board, or tell a script where it is."""
    page = f"/boards/{board}"
    return JSONResponse({"board": board, "page": page}) if for_program(request) else go_to(page)


async def _remembered(visitor: Visitor) -> dict[str, str]:
    """Return the texts of the size of the board before; nothing when there was none."""
    if visitor.device is None:
        return {}
    return dict((await run_in_threadpool(visitor.store.devices.settings, visitor.device)).get(SIZE) or {})


def new_board_routes(kept: Kept) -> APIRouter:
    """Make the routes of new boards."""
    router = APIRouter()

    @router.get("/boards/new")
    async def show(visitor: Visiting, ahead: bool = False) -> Response:
        """Show the form; a bow has to be set before, unless a phone fetches the form ahead, for want of signal."""
        bow = await kept_bow(visitor)
        if not bow and not ahead:
            return go_to("/bow")
        typed = {**await _remembered(visitor), "units": bow.get("units", "")}
        return kept.show("new.html", new_page(kept.settings, typed, bow_words(bow)))

    @router.get("/boards/waiting")
    async def waiting() -> Response:
        """Show the page of any board that waits on the phone; which one it is, only the phone knows."""
        return kept.show("waiting.html", WaitingPage(side_shots(), kept.settings.photo_bytes))

    @router.post("/boards/new")
    async def make(request: Request, visitor: Visiting) -> Response:
        """Keep a new board and go on to its photos."""
        return await _make(kept, request, visitor)

    @router.post("/boards/next")
    async def make_alike(request: Request, visitor: Visiting) -> Response:
        """Keep a board of the same size as the one before, and go on to its photos."""
        return await _make_alike(kept, request, visitor)

    return router


async def _make(kept: Kept, request: Request, visitor: Visitor) -> Response:
    bow = await kept_bow(visitor)
    if not bow and for_program(request):
        raise BadInput(say("The board waits for its bow. Set your bow, then send the board again."), "bow_length")
    if not bow:
        return go_to("/bow")
    typed = await receive_texts(request)
    texts = size_texts(typed)
    try:
        told = with_texts(BoardTold(name=" ".join(typed.get("name", "").split())), {**bow, **texts})
        board = await make_once(kept, visitor, told, typed.get("once", ""))
    except BadInput as refused:
        if for_program(request):
            raise
        again = {**texts, "name": typed.get("name", ""), "units": bow.get("units", "")}
        return kept.show("new.html", new_page(kept.settings, again, bow_words(bow), refused), refused.status)
    return made(request, board)


async def _make_alike(kept: Kept, request: Request, visitor: Visitor) -> Response:
    bow, size = await kept_bow(visitor), await _remembered(visitor)
    typed = await receive_texts(request)
    try:
        if not bow or not size:
            raise BadInput(say("Tell the size of this board."), "length")
        told = with_texts(BoardTold(), {**bow, **size})
    except BadInput:  # or the bow was changed, and no longer fits that size
        if for_program(request):
            raise
        return go_to("/boards/new")
    return made(request, await make_once(kept, visitor, told, typed.get("once", "")))
