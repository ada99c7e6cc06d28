"""Phones and browsers: each has a secret of its own, small settings and a share of the disk."""

import hashlib
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select, update

from service.errors import NotThere
from service.language import say
from service.store.database import Database
from service.store.files import Files
from service.store.rows import NewDevice, bounded, new_id
from service.store.tables import WITH_FILES, board, device, photo, picture, reading, setting

Clock = Callable[[], datetime]


def hash_of(secret: str) -> str:
    """Return what is kept of a secret; it is random, so no slow hash is needed.

    >>> hash_of("abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def new_secret() -> str:
    """Make a secret of 256 random bits that fits into an address or a cookie."""
    return secrets.token_urlsafe(32)


def hold_device(connection: Connection, device_id: str) -> None:
    """Make sure that a device is there, and that nobody else changes its boards until this transaction ends.

    Raises
    ------
    NotThere
        It was deleted.
    """
    held = select(device.c.id).where(device.c.id == device_id).with_for_update()
    if connection.execute(held).first() is None:
        raise NotThere(say("This phone’s boards were deleted. Open the start page to begin anew."))


def own_board(connection: Connection, device_id: str, board_id: str) -> Any:
    """Return the row of a device's own board.

    Raises
    ------
    NotThere
        There is none, or it is another device's.
    """
    row = connection.execute(select(board).where(board.c.id == board_id, board.c.device_id == device_id)).first()
    if row is None:
        raise NotThere(say("This board is not there, or no longer. Go back to your boards."), "board")
    return row


def used_bytes(connection: Connection, device_id: str) -> int:
    """Add up the files kept for a device."""
    photos = select(func.coalesce(func.sum(photo.c.bytes), 0)).where(photo.c.device_id == device_id)
    pictures = (
        select(func.coalesce(func.sum(picture.c.bytes), 0))
        .join(reading, reading.c.id == picture.c.reading_id)
        .join(board, board.c.id == reading.c.board_id)
        .where(board.c.device_id == device_id)
    )
    return int(connection.scalar(photos) or 0) + int(connection.scalar(pictures) or 0)


def files_of(connection: Connection, column: Any, value: str) -> list[str]:
    """Return the ids of all files that a condition on `board` leads to, such as its id or its device."""
    found: list[str] = []
    for table in WITH_FILES:
        found += connection.scalars(_to_boards(table).where(column == value))
    return found


def _to_boards(table: Table) -> Any:
    ids = select(table.c.id)
    if table is picture:
        ids = ids.join(reading, reading.c.id == picture.c.reading_id)
        return ids.join(board, board.c.id == reading.c.board_id)
    return ids.join(board, board.c.id == table.c.board_id)


@dataclass(frozen=True)
class Devices:
    """Devices and their settings."""

    database: Database
    files: Files
    now: Clock

    def new(self) -> NewDevice:
        """Take in a device that was never here; do so when it first keeps something, not at every visit."""
        fresh = NewDevice(new_id(), new_secret())
        with self.database.writing() as connection:
            row = {"id": fresh.id, "secret_hash": hash_of(fresh.secret), "created": self.now()}
            connection.execute(insert(device).values(row))
        return fresh

    def of(self, secret: str) -> str | None:
        """Return the id of the device that has this secret; None when nobody has it.

        The secret is looked up by its hash, so how long that takes tells nothing about a right one.
        """
        with self.database.reading() as connection:
            return connection.scalar(select(device.c.id).where(device.c.secret_hash == hash_of(secret)))

    def delete(self, device_id: str) -> None:
        """Delete a device and all that is kept for it; one that is gone already is fine.

        Raises
        ------
        CannotStore
            A file could not be removed; the rows are deleted.
        """
        with self.database.writing() as connection:
            connection.execute(select(device.c.id).where(device.c.id == device_id).with_for_update())
            files = files_of(connection, board.c.device_id, device_id)
            connection.execute(delete(device).where(device.c.id == device_id))
        self.files.remove(files)

    def used_bytes(self, device_id: str) -> int:
        """Add up the photos and pictures kept for a device, in bytes."""
        with self.database.reading() as connection:
            return used_bytes(connection, device_id)

    def settings(self, device_id: str) -> Mapping[str, Any]:
        """Return what a device keeps by name: last sizes, units, bow."""
        with self.database.reading() as connection:
            rows = connection.execute(select(setting.c.name, setting.c.value).where(setting.c.device_id == device_id))
            return {row.name: row.value for row in rows}

    def keep_setting(self, device_id: str, name: str, value: Any) -> None:
        """Keep a small value, anything JSON can hold, under a name; it takes the place of the one before.

        Raises
        ------
        BadInput
            The name is too long.
        NotThere
            The device was deleted.
        """
        key = bounded(name, "setting")
        mine = (setting.c.device_id == device_id, setting.c.name == key)
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            if connection.execute(update(setting).where(*mine).values(value=value)).rowcount == 0:
                connection.execute(insert(setting).values(device_id=device_id, name=key, value=value))
