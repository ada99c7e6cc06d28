"""A kept board between store and reading: its texts, and whether its answer still holds."""

import hashlib
import json
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from service.asked import PAGE_FIELDS, TEXT_FIELDS, Corners, read_corners, read_texts
from service.errors import BadInput
from service.lengths import Units
from service.sides import EDGES, FACES, SIDES
from service.store.opening import Store
from service.store.rows import BoardRow, BoardTold, PhotoRow, ReadingRow

TEXT_NAMES: Final = frozenset(field.name for field in (*TEXT_FIELDS, *PAGE_FIELDS))

SIZE_NAMES: Final = ("length", "size", "width", "thickness", "wood")
"""Texts that belong to the board itself."""

HAND_NAMES: Final = (
    *(field.name for field in PAGE_FIELDS),
    *("ink", "scribe", "knot", "no_knot", "end_check"),
    *(f"corners_{side}" for side in SIDES),
)
"""Texts that tell what was found by hand."""

BOW_NAMES: Final = tuple(
    field.name for field in TEXT_FIELDS if field.name not in SIZE_NAMES and field.name not in HAND_NAMES
)
"""Texts that belong to the bow: its size, its limits, and the units they are typed in."""

READ_AS: Final = "read_as"
"""Name under which a board keeps the fingerprint of the texts its newest answer was made from."""


_CHANGING: Final = threading.Lock()
"""Held from looking at a board until it is written back: a reading that ends, and a form, may come together."""


def texts_of(told: BoardTold) -> dict[str, str]:
    """Return the typed texts of a board, as `service.asked` takes them."""
    return {name: text for name, text in told.asked.items() if name in TEXT_NAMES}


def with_texts(told: BoardTold, texts: Mapping[str, str]) -> BoardTold:
    """Change texts of a board, and its size with them; an empty text takes one away.

    Raises
    ------
    BadInput
        A text that cannot be used; its field says which.

    Examples
    --------
    >>> with_texts(BoardTold(), {"bow_length": "68 in", "length": "8 ft", "size": "1x2"}).width_mm
    38.1
    """
    typed = {name: text for name, text in {**texts_of(told), **texts}.items() if text.strip()}
    read = read_texts(typed)
    rest = {name: text for name, text in told.asked.items() if name not in TEXT_NAMES}
    return replace(
        told,
        length_mm=read.size.length_mm,
        width_mm=read.size.width_mm,
        thickness_mm=read.size.thickness_mm,
        nominal=read.nominal or "",
        wood=read.species or "",
        units=typed.get("units", ""),
        asked={**rest, **typed},
    )


def change_told(store: Store, device: str, board: str, change: Callable[[BoardTold], BoardTold]) -> BoardTold:
    """Change what is told about a board, and return it; what other threads change meanwhile is not lost.

    Raises
    ------
    BadInput
        What `change` refuses, or a text that is too long.
    NotThere
        The board is not there for this device.
    """
    with _CHANGING:
        told = change(store.boards.get(device, board).told)
        return store.boards.change(device, board, told).told


def hand_corners(told: BoardTold, slot: str) -> Corners | None:
    """Return the corners that were set by hand in the only photo of a side; None when there are none that can be read.

    >>> hand_corners(BoardTold(asked={"corners_face_1": "1,2 9,2 9,4 1,4"}), "face_1")
    ((1.0, 2.0), (9.0, 2.0), (9.0, 4.0), (1.0, 4.0))
    """
    name = f"corners_{slot}"
    try:
        return read_corners(told.asked.get(name, ""), name)
    except BadInput:
        return None


def units_of(told: BoardTold) -> Units:
    """Return the units that a board is told in."""
    return "mm" if told.units == "mm" else "in"


def fingerprint(told: BoardTold) -> str:
    """Return a short text that changes when anything changes that a reading uses besides the photos.

    >>> one = BoardTold(asked={"length": "8 ft"}, note="dry")
    >>> fingerprint(one) == fingerprint(replace(one, note="wet"))
    True
    """
    return hashlib.sha256(json.dumps(sorted(texts_of(told).items())).encode()).hexdigest()[:16]


def face_and_edge(photos: Sequence[PhotoRow]) -> bool:
    """Tell whether there is a photo of a face and one of an edge, so that there is something to read."""
    slots = {photo.slot for photo in photos}
    return not slots.isdisjoint(FACES) and not slots.isdisjoint(EDGES)


def is_stale(board: BoardRow, photos: Sequence[PhotoRow], reading: ReadingRow) -> bool:
    """Tell whether photos, bow or board were changed after an answer was made."""
    same_photos = {photo.id for photo in photos} == set(reading.photos)
    return not same_photos or board.told.asked.get(READ_AS) != fingerprint(board.told)


def picture_address(board: str, reading: ReadingRow, name: str) -> str:
    """Return the address of a picture; another reading has another one, so that no old picture is shown."""
    return f"/boards/{board}/pictures/{name}?of={reading.id}"
