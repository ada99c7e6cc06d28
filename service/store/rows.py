"""What the store hands out, and the bounds of what it takes in."""

import math
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from pydantic import ValidationError

from service.errors import BadInput
from service.judge.record import Answer
from service.language import mark, say
from service.sides import SIDES

#: Where a photo belongs, by the names of the form's files: whole sides, close-ups, the marked end.
SLOTS: Final = (*SIDES, *(f"close_{side}" for side in SIDES), "end")

#: Most characters of each text: enough for people, and a bound for the database.
LONGEST: Final[Mapping[str, int]] = {
    "name": 120,
    "note": 4000,
    "price": 60,
    "nominal": 20,
    "wood": 60,
    "units": 2,
    "slot": 20,
    "upload_key": 100,
    "kind": 8,
    "version": 40,
    "setting": 60,
    "asked": 4000,
}

#: How those are called that people type; the others are names for programs.
_TEXTS: Final[Mapping[str, str]] = {
    "name": mark("name"),
    "note": mark("note"),
    "price": mark("price"),
    "wood": mark("wood"),
}

#: Most texts of one board's wish.
MOST_ASKED: Final = 200


def new_id() -> str:
    """Make a random id of 128 bits, in letters that addresses and every file system keep apart.

    >>> len(new_id()), new_id() == new_id()
    (32, False)
    """
    return secrets.token_hex(16)


def tidy(text: str) -> str:
    r"""Take out what no person types and some databases refuse: control characters but line breaks and tabs.

    >>> tidy("red\x00 oak\n")
    'red oak\n'
    """
    return "".join(letter for letter in text if letter.isprintable() or letter in "\n\t")


def bounded(text: str, what: str) -> str:
    """Tidy a text, and refuse one that is longer than its column.

    Raises
    ------
    BadInput
        It is too long.
    """
    kept = tidy(text)
    if len(kept) > LONGEST[what]:
        text = say(
            "The {what} has {count} letters: at most {most} can be kept. Shorten it.",
            what=say(_TEXTS.get(what, what)),
            count=len(kept),
            most=LONGEST[what],
        )
        raise BadInput(text, what)
    return kept


@dataclass(frozen=True)
class BoardTold:
    """What the user tells about a board; all of it may be left out.

    Attributes
    ----------
    name, note, price
        As typed.
    length_mm, width_mm, thickness_mm, nominal
        Its size, and the store size it was picked by.
    wood
        As the user names it.
    asked
        The bow and its limits: typed texts by the names of `service.asked.TEXT_FIELDS`.
    units
        in, mm or nothing.
    chosen
        Whether this is the one.
    """

    name: str = ""
    note: str = ""
    price: str = ""
    length_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    nominal: str = ""
    wood: str = ""
    asked: Mapping[str, str] = field(default_factory=dict)
    units: str = ""
    chosen: bool = False

    def checked(self) -> "dict[str, Any]":
        """Return its columns, tidied.

        Raises
        ------
        BadInput
            A text that is too long, or a size that is no length.
        """
        texts = {name: bounded(getattr(self, name), name) for name in ("name", "note", "price", "nominal", "wood")}
        sizes = {name: getattr(self, name) for name in ("length_mm", "width_mm", "thickness_mm")}
        for name, size in sizes.items():
            if size is not None and not (math.isfinite(size) and size > 0):
                text = say("A size of a board is more than nothing: measure it again.")
                raise BadInput(text, name.removesuffix("_mm"))
        if self.units not in ("", "in", "mm"):
            raise BadInput(say("Choose in or mm as units."), "units")
        if len(self.asked) > MOST_ASKED:
            raise BadInput(say("At most {count} texts can be kept with a board.", count=MOST_ASKED), "asked")
        asked = {bounded(name, "setting"): bounded(text, "asked") for name, text in self.asked.items()}
        return {**texts, **sizes, "asked": asked, "units": self.units, "chosen": self.chosen}


@dataclass(frozen=True)
class NewDevice:
    """A device and its secret, which is told this once: only a hash of it is kept."""

    id: str
    secret: str = field(repr=False)


@dataclass(frozen=True)
class OutingRow:
    """A day's looking at boards; its name is empty where the day alone serves."""

    id: str
    name: str
    day: date
    created: datetime


@dataclass(frozen=True)
class BoardRow:
    """A kept board: what was told about it, and when it was made and last changed (UTC)."""

    id: str
    outing_id: str
    told: BoardTold
    created: datetime
    changed: datetime


@dataclass(frozen=True)
class PhotoRow:
    """A kept photo.

    Attributes
    ----------
    slot, place
        Where it belongs, one of `SLOTS`, and its order there, from the marked end on, counted from 0.
    name
        What the user calls it, for messages alone.
    kind
        jpeg, png or webp.
    bytes, sha256
        Of the file as it is kept.
    """

    id: str
    board_id: str
    slot: str
    place: int
    upload_key: str
    name: str
    kind: str
    bytes: int
    sha256: str
    created: datetime


@dataclass(frozen=True)
class ReadingRow:
    """An answer as it was given.

    Attributes
    ----------
    answer
        The record as JSON.
    photos
        Ids of the photos it was made from, some of which may be deleted since.
    pictures
        Names of its pictures.
    version
        Of the program that made it.
    """

    id: str
    board_id: str
    answer: Mapping[str, Any]
    photos: tuple[str, ...]
    pictures: tuple[str, ...]
    version: str
    created: datetime

    def record(self) -> Answer | None:
        """Return the answer as today's record; None when another version wrote it with other fields: read again."""
        try:
            return Answer.model_validate(self.answer)
        except ValidationError:
            return None


@dataclass(frozen=True)
class ShareRow:
    """An address handed out for a board; it shows nothing once withdrawn."""

    id: str
    board_id: str
    created: datetime
    withdrawn: datetime | None


@dataclass(frozen=True)
class Shared:
    """What an address shows to others: the board's name and wood, and its newest answer."""

    name: str
    wood: str
    units: str
    reading: ReadingRow


@dataclass(frozen=True)
class Swept:
    """How much a sweep removed."""

    boards: int
    files: int
    rows: int
