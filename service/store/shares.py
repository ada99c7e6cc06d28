"""Addresses that show one board's newest answer to whoever has them, until they are withdrawn."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select, update

from service.errors import NotThere
from service.language import mark, say
from service.store.database import Database
from service.store.devices import Clock, hash_of, hold_device, new_secret, own_board
from service.store.files import Files
from service.store.readings import picture_of, picture_text, reading_rows
from service.store.rows import Shared, ShareRow, new_id
from service.store.tables import board, share

_GONE = mark("Nothing is shown at this address, or no longer. Ask whoever gave it to you for a new one.")


@dataclass(frozen=True)
class Shares:
    """Shares of one device's boards, and what anyone sees of them."""

    database: Database
    files: Files
    now: Clock

    def add(self, device_id: str, board_id: str) -> tuple[ShareRow, str]:
        """Share a board: return the share and its token, which is told this once.

        Raises
        ------
        NotThere
            The board is not there for this device.
        """
        token, row = new_secret(), ShareRow(new_id(), board_id, self.now(), None)
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            own_board(connection, device_id, board_id)
            values = {"id": row.id, "board_id": board_id, "token_hash": hash_of(token), "created": row.created}
            connection.execute(insert(share).values(values))
        return row, token

    def all(self, device_id: str, board_id: str) -> list[ShareRow]:
        """Return the shares of a board, newest first, the withdrawn ones too.

        Raises
        ------
        NotThere
            The board is not there for this device.
        """
        found = select(share.c.id, share.c.board_id, share.c.created, share.c.withdrawn)
        with self.database.reading() as connection:
            own_board(connection, device_id, board_id)
            mine = found.where(share.c.board_id == board_id).order_by(share.c.created.desc(), share.c.id)
            return [ShareRow(*row) for row in connection.execute(mine)]

    def withdraw(self, device_id: str, board_id: str) -> None:
        """Withdraw every share of a board; those withdrawn before stay so.

        Raises
        ------
        NotThere
            The board is not there for this device.
        """
        open_ones = update(share).where(share.c.board_id == board_id, share.c.withdrawn.is_(None))
        with self.database.writing() as connection:
            own_board(connection, device_id, board_id)
            connection.execute(open_ones.values(withdrawn=self.now()))

    def shared(self, token: str) -> Shared:
        """Return what a token shows: no notes, price or photos.

        Raises
        ------
        NotThere
            There is no such share, it was withdrawn, or the board was never read.
        """
        with self.database.reading() as connection:
            row = _shared_board(connection, token)
            readings = reading_rows(connection, board.c.id == row.id)
        if not readings:
            raise NotThere(say(_GONE))
        return Shared(row.name, row.wood, row.units, readings[0])

    def picture(self, token: str, reading_id: str, name: str) -> str:
        """Return a picture of a shared board's reading as SVG.

        Raises
        ------
        NotThere
            The share is not there or withdrawn, or it has no such picture.
        """
        with self.database.reading() as connection:
            condition = board.c.id == _shared_board(connection, token).id
            picture_id = picture_of(connection, reading_id, name, condition)
        return picture_text(self.files, picture_id)


def _shared_board(connection: Connection, token: str) -> Any:
    shown = (share.c.token_hash == hash_of(token), share.c.withdrawn.is_(None))
    row = connection.execute(select(board).join(share, share.c.board_id == board.c.id).where(*shown)).first()
    if row is None:
        raise NotThere(say(_GONE))
    return row
