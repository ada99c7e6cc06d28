"""Answers as they were given, and their pictures."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from service.errors import NotThere
from service.judge.record import Answer
from service.language import say
from service.store.boards import change_board
from service.store.database import Database
from service.store.devices import Clock, hold_device, own_board
from service.store.files import Files
from service.store.photos import check_room
from service.store.rows import ReadingRow, bounded, new_id
from service.store.tables import board, picture, reading


def reading_rows(connection: Connection, *conditions: Any) -> list[ReadingRow]:
    """Return the readings for which conditions on readings and boards hold, newest first."""
    found = select(reading).join(board, board.c.id == reading.c.board_id).where(*conditions)
    rows = list(connection.execute(found.order_by(reading.c.created.desc(), reading.c.id)))
    named = select(picture.c.reading_id, picture.c.name).where(picture.c.reading_id.in_([row.id for row in rows]))
    names: dict[str, list[str]] = {row.id: [] for row in rows}
    for told in connection.execute(named.order_by(picture.c.name)):
        names[told.reading_id].append(told.name)
    return [
        ReadingRow(r.id, r.board_id, r.answer, tuple(r.photos), tuple(names[r.id]), r.version, r.created) for r in rows
    ]


@dataclass(frozen=True)
class Made:
    """An answer to keep.

    Attributes
    ----------
    answer, pictures
        The record, and SVG texts by name.
    photos
        Ids of the photos it was made from.
    version
        Of the program that made it.
    """

    answer: Answer
    pictures: Mapping[str, str]
    photos: Sequence[str]
    version: str


@dataclass(frozen=True)
class Readings:
    """Readings of one device's boards; another's are not there."""

    database: Database
    files: Files
    now: Clock
    device_bytes: int

    def add(self, device_id: str, board_id: str, made: Made) -> ReadingRow:
        """Keep an answer beside the earlier ones.

        Raises
        ------
        NotThere
            The board is not there for this device.
        BadInput
            A picture's name or the version is too long.
        TooLarge, CannotStore, Busy
            No room, or the folder or database cannot be used now; nothing is kept.
        """
        coded = {bounded(name, "slot"): text.encode() for name, text in made.pictures.items()}
        kept = {name: new_id() for name in coded}
        row = ReadingRow(
            new_id(),
            board_id,
            json.loads(made.answer.model_dump_json(by_alias=True)),  # what is no number becomes null, as JSON has it
            tuple(made.photos),
            tuple(sorted(coded)),
            bounded(made.version, "version"),
            self.now(),
        )
        more_bytes = sum(map(len, coded.values()))
        with self.database.reading() as connection:
            own_board(connection, device_id, board_id)
            check_room(connection, device_id, more_bytes, self.device_bytes)
        inserted = False
        try:
            for name, picture_id in kept.items():
                self.files.write(picture_id, coded[name])
            with self.database.writing() as connection:
                hold_device(connection, device_id)
                own_board(connection, device_id, board_id)
                check_room(connection, device_id, more_bytes, self.device_bytes)
                _insert(connection, row, [(kept[name], name, len(data)) for name, data in coded.items()])
                change_board(connection, board_id, self.now)
                inserted = True
        finally:
            # A commit that failed may still have been carried out: then the files wait for the sweep to tell.
            if not inserted:
                self.files.discard(kept.values())
        return row

    def all(self, device_id: str, board_id: str) -> list[ReadingRow]:
        """Return the readings of a board, newest first.

        Raises
        ------
        NotThere
            The board is not there for this device.
        """
        with self.database.reading() as connection:
            own_board(connection, device_id, board_id)
            return reading_rows(connection, board.c.id == board_id)

    def newest(self, device_id: str, outing_id: str | None = None) -> dict[str, ReadingRow]:
        """Return the newest reading of each board of a device, or of one of its outings, by the board's id."""
        conditions = [board.c.device_id == device_id]
        if outing_id is not None:
            conditions.append(board.c.outing_id == outing_id)
        with self.database.reading() as connection:
            rows = reading_rows(connection, *conditions)
        return {row.board_id: row for row in reversed(rows)}

    def picture(self, device_id: str, reading_id: str, name: str) -> str:
        """Return a picture of a reading as SVG.

        Raises
        ------
        NotThere
            It is not there for this device, or its file got lost.
        """
        with self.database.reading() as connection:
            picture_id = picture_of(connection, reading_id, name, board.c.device_id == device_id)
        return picture_text(self.files, picture_id)

    def delete(self, device_id: str, reading_id: str) -> None:
        """Delete a reading and its pictures.

        Raises
        ------
        NotThere
            It is not there for this device.
        CannotStore
            A file could not be removed; the rows are deleted.
        """
        with self.database.writing() as connection:
            hold_device(connection, device_id)
            if not reading_rows(connection, reading.c.id == reading_id, board.c.device_id == device_id):
                raise NotThere(say("This answer is not there, or no longer. Go back to the board."), "reading")
            files = list(connection.scalars(select(picture.c.id).where(picture.c.reading_id == reading_id)))
            connection.execute(delete(reading).where(reading.c.id == reading_id))
        self.files.remove(files)


def _insert(connection: Connection, row: ReadingRow, pictures: Iterable[tuple[str, str, int]]) -> None:
    columns = {"id": row.id, "board_id": row.board_id, "answer": row.answer, "photos": list(row.photos)}
    connection.execute(insert(reading).values(**columns, version=row.version, created=row.created))
    for picture_id, name, size in pictures:
        values = {"id": picture_id, "reading_id": row.id, "name": name, "bytes": size}
        connection.execute(insert(picture).values(values))


def picture_of(connection: Connection, reading_id: str, name: str, condition: Any) -> str | None:
    """Return the id of a reading's picture, if a condition on its board holds."""
    found = select(picture.c.id).join(reading, reading.c.id == picture.c.reading_id)
    found = found.join(board, board.c.id == reading.c.board_id)
    return connection.scalar(found.where(reading.c.id == reading_id, picture.c.name == name, condition))


def picture_text(files: Files, picture_id: str | None) -> str:
    """Return a picture's SVG.

    Raises
    ------
    NotThere
        There is no such picture, or its file got lost.
    """
    data = files.read(picture_id) if picture_id is not None else None
    if data is None:
        raise NotThere(say("This picture is not there, or no longer. Read the board again."), "picture")
    return data.decode()
