"""Taking boards in from a file that this program saved; since anybody can make one, nothing in it is believed."""

import hashlib
import json
import struct
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, BinaryIO, Final
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from pydantic import ValidationError
from sqlalchemy import Connection, insert, or_, select

from service.errors import BadInput, BadPhoto, TooLarge
from service.judge.record import Answer
from service.language import say
from service.store.devices import hold_device
from service.store.opening import Store
from service.store.parcel import LIST, VERSION, Parcel, ParcelBoard, ParcelHead, ParcelPhoto, ParcelReading
from service.store.photos import check_room
from service.store.rows import BoardTold, bounded, new_id
from service.store.strip import strip_photo
from service.store.tables import board, outing, photo, picture, reading
from service.store.zip_bounds import directory_of

_MIB: Final = 2**20

MOST_ENTRIES: Final = 60_000
DIRECTORY_BYTES: Final = 16 * _MIB
LIST_BYTES: Final = 32 * _MIB
ANSWER_BYTES: Final = 4 * _MIB  # the longest answer takes an eighth of it
PICTURE_BYTES: Final = 8 * _MIB

_ENCRYPTED: Final = 0x1
"""Flag of an entry (APPNOTE.TXT, section 4.4.4)."""

Check = Callable[[BoardTold, Sequence[Answer]], object]


@dataclass
class TakenIn:
    """What came of a file.

    Attributes
    ----------
    added, there
        Boards taken in, and boards that were here already and stay as they are.
    answers_left
        Answers that another version of the program wrote; their boards can be read again.
    refused
        Names of boards that were left out, each with the reason.
    """

    added: int = 0
    there: int = 0
    answers_left: int = 0
    refused: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True)
class OpenParcel:
    """A file whose directory was looked at."""

    archive: ZipFile
    entries: Mapping[str, ZipInfo]

    def check(self, most_bytes: int) -> None:
        """Refuse what this program would not have saved, or more than is allowed."""
        known = all(one.compress_type in (ZIP_STORED, ZIP_DEFLATED) for one in self.entries.values())
        if not known or any(one.flag_bits & _ENCRYPTED for one in self.entries.values()) or LIST not in self.entries:
            raise _no_parcel()
        if sum(one.file_size for one in self.entries.values()) > most_bytes:
            raise TooLarge(
                say(
                    "This file holds more than {megabytes} MB, which is all that is kept for a phone. Save fewer "
                    "boards in it.",
                    megabytes=most_bytes // _MIB,
                ),
                "file",
            )

    def listed(self) -> Parcel:
        """Read its list.

        Raises
        ------
        BadInput
            It is none, or a newer version of the program wrote it.
        """
        data = self.read(LIST, LIST_BYTES)
        try:
            if ParcelHead.model_validate_json(data).version > VERSION:
                raise BadInput(
                    say("A newer version of the program saved this file. Bring this one up to date, then take it in."),
                    "file",
                )
            return Parcel.model_validate_json(data)
        except ValidationError as error:
            raise _no_parcel() from error

    def size(self, name: str) -> int:
        """Tell how many bytes a content holds; nothing when it is not there."""
        return self.entries[name].file_size if name in self.entries else 0

    def read(self, name: str, most_bytes: int) -> bytes:
        """Return a content.

        Raises
        ------
        BadInput, TooLarge
            It is not there, damaged, or larger than allowed.
        """
        if name not in self.entries:
            raise BadInput(say("A photo or answer of it is missing in the file. Save the file once more."), "file")
        if self.size(name) > most_bytes:
            raise TooLarge(
                say(
                    "A photo or answer of it holds more than {megabytes} MB. Save the file once more.",
                    megabytes=most_bytes // _MIB,
                ),
                "file",
            )
        with _in_words():
            return self.archive.read(self.entries[name])


@contextmanager
def open_parcel(file: BinaryIO, most_bytes: int) -> Iterator[OpenParcel]:
    """Look at a file's bounds; no content is read yet.

    Parameters
    ----------
    file
        As it was sent, on disk or in memory.
    most_bytes
        Most that all of it may hold, unpacked.

    Raises
    ------
    BadInput
        It is no such file, breaks off, or a newer version of the program saved it.
    TooLarge
        It holds more than is taken in.
    """
    entries, directory_bytes = directory_of(file)
    if entries > MOST_ENTRIES or directory_bytes > DIRECTORY_BYTES:
        raise _no_parcel()
    with _in_words():
        archive = ZipFile(file)
    with archive:
        parcel = OpenParcel(archive, {one.filename: one for one in archive.infolist()})
        parcel.check(most_bytes)
        yield parcel


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except (BadZipFile, zlib.error, struct.error, EOFError, OSError, ValueError, RuntimeError) as error:
        raise _no_parcel() from error


def _no_parcel() -> BadInput:
    return BadInput(
        say("This is no file of boards, or it did not arrive whole. Choose one that was saved by this program."), "file"
    )


def take_in(store: Store, device_id: str, parcel: OpenParcel, listed: Parcel, check: Check) -> TakenIn:
    """Take the boards of a file in, each whole or not at all; one that is here already is left as it is.

    Parameters
    ----------
    store, device_id
        Where they are kept, and for whom.
    parcel, listed
        The file and its list.
    check
        Refuses a board of which no page could show what is told or answered, by a `BadInput`.

    Raises
    ------
    NotThere, CannotStore, Busy
        The device was deleted, or nothing can be kept now; the boards before are taken in.
    """
    taken = TakenIn()
    for told in listed.boards:
        try:
            _Taking(store, device_id, parcel, told).take(check, taken)
        except (BadInput, BadPhoto, TooLarge) as refused:
            taken.refused.append((told.told.name[:60], refused.text))
    return taken


@dataclass
class _Taking:
    """Takes in one board."""

    store: Store
    device_id: str
    parcel: OpenParcel
    told: ParcelBoard
    photo_ids: dict[str, str] = field(default_factory=dict)
    rows: list[tuple[Any, dict[str, Any]]] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)
    file_ids: list[str] = field(default_factory=list)
    kept_bytes: int = 0

    def take(self, check: Check, taken: TakenIn) -> None:
        """Keep its contents as files, then all its rows at once; whatever fails before that takes the files away."""
        columns = self.told.told.checked()
        with self.store.database.reading() as connection:
            if self._is_there(connection):
                taken.there += 1
                return
            check_room(connection, self.device_id, self._told_bytes(), self.store.photos.device_bytes)
        board_id, inserted = new_id(), False
        try:
            for one in self.told.photos:
                self._take_photo(board_id, one)
            left = sum(not self._take_reading(board_id, one) for one in self.told.readings)
            check(self.told.told, self.answers)
            with self.store.database.writing() as connection:
                hold_device(connection, self.device_id)
                if self._is_there(connection):  # sent twice at once
                    taken.there += 1
                    return
                check_room(connection, self.device_id, self.kept_bytes, self.store.photos.device_bytes)
                self._insert(connection, board_id, columns)
                inserted = True
        finally:
            # A commit that failed may still have been carried out: then the files wait for the sweep to tell.
            if not inserted:
                self.store.photos.files.discard(self.file_ids)
        taken.added += 1
        taken.answers_left += left

    def _is_there(self, connection: Connection) -> bool:
        same = or_(board.c.id == self.told.id, board.c.origin == self.told.id)
        return (
            connection.execute(select(board.c.id).where(board.c.device_id == self.device_id, same)).first() is not None
        )

    def _told_bytes(self) -> int:
        photos = sum(self.parcel.size(one.path) for one in self.told.photos)
        return photos + sum(
            self.parcel.size(one.picture_path(name)) for one in self.told.readings for name in one.pictures
        )

    def _keep(self, data: bytes) -> str:
        file_id = new_id()
        self.file_ids.append(file_id)
        self.store.photos.files.write(file_id, data)
        self.kept_bytes += len(data)
        return file_id

    def _take_photo(self, board_id: str, one: ParcelPhoto) -> None:
        most_bytes = self.store.photos.photo_bytes
        stripped = strip_photo(self.parcel.read(one.path, most_bytes), one.name, most_bytes)
        digest = hashlib.sha256(stripped.data).hexdigest()
        file_id = self._keep(stripped.data)
        self.photo_ids[one.id] = file_id
        row = {
            "id": file_id,
            "device_id": self.device_id,
            "board_id": board_id,
            "slot": one.slot,
            "place": one.place,
            "upload_key": f"file {file_id}",
            "name": bounded(one.name, "name"),
            "kind": stripped.kind,
            "bytes": len(stripped.data),
            "sha256": digest,
            "sent_sha256": digest,
            "created": min(one.created, self.store.boards.now()),
        }
        self.rows.append((photo, row))

    def _take_reading(self, board_id: str, one: ParcelReading) -> bool:
        """Take in an answer; False when today's program cannot show it."""
        try:
            answer = Answer.model_validate_json(self.parcel.read(one.path, ANSWER_BYTES))
        except ValidationError:
            return False
        self.answers.append(answer)
        reading_id = new_id()
        row = {
            "id": reading_id,
            "board_id": board_id,
            "answer": json.loads(answer.model_dump_json(by_alias=True)),
            "photos": [self.photo_ids.get(photo_id, photo_id) for photo_id in one.photos],
            "version": bounded(one.version, "version"),
            "created": min(one.created, self.store.boards.now()),
        }
        self.rows.append((reading, row))
        for name in one.pictures:
            data = self.parcel.read(one.picture_path(name), PICTURE_BYTES)
            if not _is_picture(data):
                raise BadInput(say("A picture of its answer is damaged. Save the file once more."), "file")
            values = {"id": self._keep(data), "reading_id": reading_id, "name": name, "bytes": len(data)}
            self.rows.append((picture, values))
        return True

    def _insert(self, connection: Connection, board_id: str, columns: dict[str, Any]) -> None:
        moment = self.store.boards.now()
        row = {
            "id": board_id,
            "device_id": self.device_id,
            "outing_id": self._outing(connection),
            "origin": self.told.id,
            "created": min(self.told.created, moment),
            "changed": min(self.told.changed, moment),
            "touched": moment,
        }
        connection.execute(insert(board).values(**columns, **row))
        for table, values in self.rows:
            connection.execute(insert(table).values(**values))

    def _outing(self, connection: Connection) -> str:
        """Find the outing of that day and name, or begin it."""
        name = bounded(self.told.outing, "name")
        same = (outing.c.device_id == self.device_id, outing.c.day == self.told.day, outing.c.name == name)
        found = connection.scalar(select(outing.c.id).where(*same).order_by(outing.c.created.desc()).limit(1))
        if found is not None:
            return str(found)
        row = {"id": new_id(), "device_id": self.device_id, "name": name, "day": self.told.day}
        connection.execute(insert(outing).values(**row, created=self.store.boards.now()))
        return str(row["id"])


def _is_picture(data: bytes) -> bool:
    """Tell whether something is the text of a drawing."""
    try:
        return data.decode().lstrip().startswith("<svg")
    except UnicodeDecodeError:
        return False
