"""Photos of boards: each kept once, without notes, as a file of its own."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

from sqlalchemy import Connection, delete, func, insert, select, update

from service.errors import BadInput, NotThere, TooLarge
from service.language import say
from service.store.boards import change_board
from service.store.database import Database
from service.store.devices import Clock, hold_device, own_board, used_bytes
from service.store.files import Files
from service.store.rows import LONGEST, SLOTS, PhotoRow, new_id, tidy
from service.store.strip import Stripped, strip_photo
from service.store.tables import photo
from service.upload import Upload

_COLUMNS: Final = tuple(photo.c[told.name] for told in fields(PhotoRow))

CUT: Final = "cut"
"""Stands for the digest of a photo of which a part was sent."""


def check_room(connection: Connection, device_id: str, more_bytes: int, most_bytes: int) -> None:
    """Refuse more than may be kept for a device.

    Raises
    ------
    TooLarge
        It would be too much.
    """
    used = used_bytes(connection, device_id)
    if used + more_bytes > most_bytes:
        raise TooLarge(
            say(
                "{used} MB are kept for this phone, and at most {most} MB can be. Delete boards or photos that are not "
                "needed, then send it again.",
                used=f"{used / 2**20:.0f}",
                most=f"{most_bytes / 2**20:.0f}",
            )
        )


@dataclass(frozen=True)
class Sent:
    """A photo on its way in.

    Attributes
    ----------
    slot
        Where it belongs, one of `rows.SLOTS`.
    key
        A short text that the phone made for this upload, the same when it sends it again.
    name, data
        What the user calls it, and its bytes.
    cut
        Whether it was put together from a part: sent once more, it may come otherwise, so the key alone tells it.
    """

    slot: str
    key: str
    name: str
    data: bytes
    cut: bool = False

    @property
    def sent_sha256(self) -> str:
        """What tells it from another photo under the same key."""
        return CUT if self.cut else hashlib.sha256(self.data).hexdigest()

    def check(self) -> None:
        """Refuse a slot or key that cannot be kept.

        Raises
        ------
        BadInput
            Either cannot be used.
        """
        if self.slot not in SLOTS:
            raise BadInput(say("A photo belongs to one of these: {slots}.", slots=", ".join(SLOTS)), "slot")
        if not 0 < len(self.key) <= LONGEST["upload_key"] or not self.key.isprintable():
            raise BadInput(
                say(
                    "Every upload needs a key of its own: 1 to {most} letters that can be printed.",
                    most=LONGEST["upload_key"],
                ),
                "key",
            )


@dataclass(frozen=True)
class Photos:
    """Photos of one device at a time; another's are not there."""

    database: Database
    files: Files
    now: Clock
    device_bytes: int
    photo_bytes: int

    def add(self, device_id: str, board_id: str, sent: Sent) -> PhotoRow:
        """Keep a photo of a board; one that was kept under this key before is returned instead.

        No transaction is open while the photo is looked at and written.

        Raises
        ------
        BadPhoto, TooLarge
            It is no readable photo, too large, or more than may be kept for this device.
        BadInput
            The slot or key cannot be used, or the key was used for something else.
        NotThere
            The board is not there for this device.
        CannotStore, Busy
            No room, or the folder or database cannot be used now; nothing is kept.
        """
        sent.check()
        with self.database.reading() as connection:
            own_board(connection, device_id, board_id)
            before = _kept_before(connection, device_id, board_id, sent)
            if before is not None and self.files.is_there(before.id):
                return before
        stripped = strip_photo(sent.data, _short(sent.name), self.photo_bytes)
        return self._keep(device_id, board_id, sent, stripped)

    def _keep(self, device_id: str, board_id: str, sent: Sent, stripped: Stripped) -> PhotoRow:
        """Write the file, then its row; whatever fails before the row is sure takes the file away again."""
        photo_id = new_id()
        with self.database.reading() as connection:
            check_room(connection, device_id, len(stripped.data), self.device_bytes)
        self.files.write(photo_id, stripped.data)
        inserted = False
        try:
            with self.database.writing() as connection:
                hold_device(connection, device_id)
                own_board(connection, device_id, board_id)
                before = _kept_before(connection, device_id, board_id, sent)
                if before is not None and not self.files.is_there(before.id):
                    connection.execute(delete(photo).where(photo.c.id == before.id))  # its file got lost: take this one
                    before = None
                if before is None:
                    check_room(connection, device_id, len(stripped.data), self.device_bytes)
                    row = self._row(connection, photo_id, board_id, sent, stripped)
                    more = {"device_id": device_id, "sent_sha256": sent.sent_sha256}
                    values = {told.name: getattr(row, told.name) for told in fields(PhotoRow)}
                    connection.execute(insert(photo).values(**values, **more))
                    change_board(connection, board_id, self.now)
                    inserted = True
        finally:
            # A commit that failed may still have been carried out: then the file waits for the sweep to tell.
            if not inserted:
                self.files.discard([photo_id])
        return before or row

    def _row(self, connection: Connection, photo_id: str, board_id: str, sent: Sent, stripped: Stripped) -> PhotoRow:
        last = select(func.max(photo.c.place)).where(photo.c.board_id == board_id, photo.c.slot == sent.slot)
        place = connection.scalar(last)
        return PhotoRow(
            id=photo_id,
            board_id=board_id,
            slot=sent.slot,
            place=0 if place is None else place + 1,
            upload_key=sent.key,
            name=_short(sent.name),
            kind=stripped.kind,
            bytes=len(stripped.data),
            sha256=hashlib.sha256(stripped.data).hexdigest(),
            created=self.now(),
        )

    def all(self, device_id: str, board_id: str) -> list[PhotoRow]:
        """Return the photos of a board, slot by slot, each in order from the marked end.

        Raises
        ------
        NotThere
            The board is not there for this device.
        """
        with self.database.reading() as connection:
            own_board(connection, device_id, board_id)
            rows = connection.execute(select(*_COLUMNS).where(photo.c.board_id == board_id))
            return sorted((PhotoRow(*row) for row in rows), key=lambda row: (SLOTS.index(row.slot), row.place, row.id))

    def uploads(self, device_id: str, board_id: str) -> Mapping[str, tuple[Upload, ...]]:
        """Return a board's photos with their bytes by slot, as `service.asked.make_wish` takes them.

        Raises
        ------
        NotThere
            The board is not there for this device, or a photo's file got lost.
        """
        found: dict[str, tuple[Upload, ...]] = {}
        for row in self.all(device_id, board_id):
            found[row.slot] = (*found.get(row.slot, ()), Upload(row.name, self._content(row.id)))
        return found

    def content(self, device_id: str, photo_id: str) -> tuple[PhotoRow, bytes]:
        """Return a photo and its bytes.

        Raises
        ------
        NotThere
            It is not there for this device, or its file got lost.
        """
        with self.database.reading() as connection:
            row = PhotoRow(*_own_photo(connection, device_id, photo_id))
        return row, self._content(row.id)

    def move(self, device_id: str, photo_id: str, slot: str, place: int) -> None:
        """Put a photo into a slot, before the one that has this place there, or last.

        Raises
        ------
        BadInput
            There is no such slot.
        NotThere
            The photo is not there for this device.
        """
        if slot not in SLOTS:
            raise BadInput(say("A photo belongs to one of these: {slots}.", slots=", ".join(SLOTS)), "slot")
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            board_id = _own_photo(connection, device_id, photo_id).board_id
            there = select(photo.c.id).where(photo.c.board_id == board_id, photo.c.slot == slot, photo.c.id != photo_id)
            order = list(connection.scalars(there.order_by(photo.c.place, photo.c.id)))
            order.insert(max(place, 0), photo_id)
            for index, other in enumerate(order):
                connection.execute(update(photo).where(photo.c.id == other).values(slot=slot, place=index))
            change_board(connection, board_id, self.now)

    def delete(self, device_id: str, photo_id: str) -> None:
        """Delete a photo, its row and its file.

        Raises
        ------
        NotThere
            It is not there for this device.
        CannotStore
            The file could not be removed; the row is deleted.
        """
        with self.database.writing() as connection:
            board_id = _own_photo(connection, device_id, photo_id).board_id
            connection.execute(delete(photo).where(photo.c.id == photo_id))
            change_board(connection, board_id, self.now)
        self.files.remove([photo_id])

    def _content(self, photo_id: str) -> bytes:
        data = self.files.read(photo_id)
        if data is None:
            raise NotThere(say("The file of this photo got lost. Delete the photo and take it again."))
        return data


def _own_photo(connection: Connection, device_id: str, photo_id: str) -> Any:
    row = connection.execute(select(*_COLUMNS).where(photo.c.id == photo_id, photo.c.device_id == device_id)).first()
    if row is None:
        raise NotThere(say("This photo is not there, or no longer. Go back to the board."), "photo")
    return row


def _kept_before(connection: Connection, device_id: str, board_id: str, sent: Sent) -> PhotoRow | None:
    """Return the photo kept under this key; None when there is none.

    Raises
    ------
    BadInput
        The key was used for another content or board.
    """
    mine = select(*_COLUMNS, photo.c.sent_sha256).where(photo.c.device_id == device_id, photo.c.upload_key == sent.key)
    found = connection.execute(mine).first()
    if found is None:
        return None
    same = CUT in (found.sent_sha256, sent.sent_sha256) or found.sent_sha256 == sent.sent_sha256
    if found.board_id != board_id or not same:
        raise BadInput(
            say("Another photo was kept under this key. Choose the photo again: it is then sent anew."), "key"
        )
    return PhotoRow(*found[:-1])


def _short(name: str) -> str:
    """Keep the last part of a name, for messages."""
    last = tidy(name).replace("\\", "/").rsplit("/", 1)[-1].strip()
    return last[: LONGEST["name"]] or "photo"
