"""Boards as a device keeps them, and the outings they belong to."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from sqlalchemy import Connection, Select, delete, exists, insert, select, update

from service.errors import NotThere
from service.language import say
from service.store.database import Database
from service.store.devices import Clock, files_of, hold_device, own_board
from service.store.files import Files
from service.store.rows import BoardRow, BoardTold, OutingRow, bounded, new_id
from service.store.tables import board, outing

#: A board counts as touched once in this time, so that looking at it seldom writes.
TOUCH_EVERY: Final = timedelta(days=1)

_TOLD: Final = tuple(BoardTold.__dataclass_fields__)


def board_row(row: Any) -> BoardRow:
    """Make a board of its row."""
    told = BoardTold(**{name: getattr(row, name) for name in _TOLD})
    return BoardRow(row.id, row.outing_id, told, row.created, row.changed)


def change_board(connection: Connection, board_id: str, clock: Clock, **columns: Any) -> None:
    """Note that a board was changed now, and change it."""
    moment = clock()
    connection.execute(update(board).where(board.c.id == board_id).values(changed=moment, touched=moment, **columns))


def drop_empty_outings(connection: Connection, device_id: str) -> None:
    """Delete the outings of a device that no board belongs to any more."""
    empty = ~exists().where(board.c.outing_id == outing.c.id)
    connection.execute(delete(outing).where(outing.c.device_id == device_id, empty))


@dataclass(frozen=True)
class Boards:
    """Boards and outings of one device at a time; another's are not there."""

    database: Database
    files: Files
    now: Clock

    def add(self, device_id: str, told: BoardTold, day: date | None = None, outing_id: str | None = None) -> BoardRow:
        """Keep a new board.

        Parameters
        ----------
        device_id, told
            Whose it is, and what is known of it.
        day
            The day it was looked at; None for today where the program runs.
        outing_id
            The outing it belongs to; None for the newest one of that day, which is begun when there is none.

        Raises
        ------
        BadInput
            A text that is too long, or a size that is none.
        NotThere
            The device or outing is not there.
        """
        columns, moment = told.checked(), self.now()
        row = {"id": new_id(), "device_id": device_id, "created": moment, "changed": moment, "touched": moment}
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            if outing_id is None:
                outing_id = self._outing_of(connection, device_id, day or moment.astimezone().date())
            else:
                _own_outing(connection, device_id, outing_id)
            connection.execute(insert(board).values(**row, **columns, outing_id=outing_id))
            return board_row(own_board(connection, device_id, str(row["id"])))

    def get(self, device_id: str, board_id: str) -> BoardRow:
        """Return a board.

        Raises
        ------
        NotThere
            It is not there for this device.
        """
        with self.database.reading() as connection:
            return board_row(own_board(connection, device_id, board_id))

    def all(self, device_id: str, outing_id: str | None = None) -> list[BoardRow]:
        """Return the boards of a device, or of one of its outings, newest first."""
        found = select(board).where(board.c.device_id == device_id)
        if outing_id is not None:
            found = found.where(board.c.outing_id == outing_id)
        with self.database.reading() as connection:
            rows = connection.execute(found.order_by(board.c.created.desc(), board.c.id))
            return [board_row(row) for row in rows]

    def change(self, device_id: str, board_id: str, told: BoardTold) -> BoardRow:
        """Take in anew all that is told about a board: `replace(row.told, chosen=True)` changes one thing.

        Raises
        ------
        BadInput
            A text that is too long, or a size that is none.
        NotThere
            It is not there for this device.
        """
        columns = told.checked()
        with self.database.writing() as connection:
            own_board(connection, device_id, board_id)
            change_board(connection, board_id, self.now, **columns)
            return board_row(own_board(connection, device_id, board_id))

    def touch(self, device_id: str, board_id: str) -> None:
        """Note that a board is still looked at, which keeps it from being deleted for its age.

        Raises
        ------
        NotThere
            It is not there for this device.
        """
        moment = self.now()
        with self.database.reading() as connection:
            if own_board(connection, device_id, board_id).touched > moment - TOUCH_EVERY:
                return
        with self.database.writing() as connection:
            connection.execute(update(board).where(board.c.id == board_id).values(touched=moment))

    def move(self, device_id: str, board_id: str, outing_id: str | None) -> str:
        """Move a board to another outing, or a new one of today for None; return that outing's id.

        Raises
        ------
        NotThere
            Board or outing is not there for this device.
        """
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            own_board(connection, device_id, board_id)
            if outing_id is None:
                outing_id = self._begin_outing(connection, device_id, self.now().astimezone().date())
            else:
                _own_outing(connection, device_id, outing_id)
            change_board(connection, board_id, self.now, outing_id=outing_id)
            drop_empty_outings(connection, device_id)
        return outing_id

    def delete(self, device_id: str, board_id: str) -> None:
        """Delete a board with its photos, readings, pictures and shares, and its outing when it was the last there.

        Raises
        ------
        NotThere
            It is not there for this device.
        CannotStore
            A file could not be removed; the rows are deleted.
        """
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            own_board(connection, device_id, board_id)
            files = files_of(connection, board.c.id, board_id)
            connection.execute(delete(board).where(board.c.id == board_id))
            drop_empty_outings(connection, device_id)
        self.files.remove(files)

    def outings(self, device_id: str) -> list[OutingRow]:
        """Return the outings of a device, newest first."""
        found = _outings(device_id).order_by(outing.c.day.desc(), outing.c.created.desc(), outing.c.id)
        with self.database.reading() as connection:
            return [OutingRow(*row) for row in connection.execute(found)]

    def name_outing(self, device_id: str, outing_id: str, name: str, day: date) -> None:
        """Name an outing, and say on which day it was.

        Raises
        ------
        BadInput
            The name is too long.
        NotThere
            It is not there for this device.
        """
        kept = bounded(name, "name")
        with self.database.writing() as connection:
            _own_outing(connection, device_id, outing_id)
            connection.execute(update(outing).where(outing.c.id == outing_id).values(name=kept, day=day))

    def _outing_of(self, connection: Connection, device_id: str, day: date) -> str:
        """Find the newest outing of a day, or begin one."""
        there = _outings(device_id).where(outing.c.day == day).order_by(outing.c.created.desc(), outing.c.id).limit(1)
        found = connection.execute(there).first()
        return str(found.id) if found is not None else self._begin_outing(connection, device_id, day)

    def _begin_outing(self, connection: Connection, device_id: str, day: date) -> str:
        outing_id = new_id()
        row = {"id": outing_id, "device_id": device_id, "name": "", "day": day, "created": self.now()}
        connection.execute(insert(outing).values(row))
        return outing_id


def _outings(device_id: str) -> Select[Any]:
    return select(outing.c.id, outing.c.name, outing.c.day, outing.c.created).where(outing.c.device_id == device_id)


def _own_outing(connection: Connection, device_id: str, outing_id: str) -> None:
    if connection.execute(_outings(device_id).where(outing.c.id == outing_id)).first() is None:
        raise NotThere(say("This outing is not there, or no longer. Go back to your boards."), "outing")
