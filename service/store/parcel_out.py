"""Saving all boards of a device as one file."""

import json
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from sqlalchemy import select

from service.errors import NotThere
from service.store.opening import Store
from service.store.parcel import LIST, Parcel, ParcelBoard, ParcelPhoto, ParcelReading
from service.store.rows import BoardRow, OutingRow
from service.store.tables import board, picture

PIECE_BYTES: Final = 256 * 1024

_OLDEST: Final = (1980, 1, 1, 0, 0, 0)
"""What the archive's form can tell of times begins here (APPNOTE.TXT, section 4.4.6)."""

_OWNER_ONLY: Final = 0o600 << 16


def save_boards(store: Store, device_id: str) -> Iterator[bytes]:
    """Write the boards of a device with photos and answers as a zip archive, piece by piece.

    Never more than a piece of a photo is in memory. What is deleted meanwhile is left out: the list comes last and
    names what was written.

    Yields
    ------
    bytes
        The archive, laid out as in `service.store.parcel`.
    """
    pieces = _Pieces()
    with ZipFile(pieces, "w") as archive:
        saving = _Saving(store, device_id, archive, pieces)
        days = {outing.id: outing for outing in store.boards.outings(device_id)}
        origins = _origins(store, device_id)
        saved = []
        for row in store.boards.all(device_id):
            try:
                saved.append((yield from saving.board(row, origins.get(row.id, row.id), days[row.outing_id])))
            except (NotThere, KeyError):
                continue  # deleted, or moved to a new day, just now
        parcel = Parcel(saved=store.boards.now(), boards=tuple(saved))
        archive.writestr(_entry(LIST, parcel.saved, ZIP_DEFLATED), parcel.model_dump_json(indent=1))
        yield pieces.take()
    yield pieces.take()


@dataclass
class _Pieces:
    """Takes what is written until it is handed on; it cannot be gone back in, so the archive is written in one go."""

    taken: bytearray = field(default_factory=bytearray)

    def write(self, data: bytes) -> int:
        """Take in what is written."""
        self.taken += data
        return len(data)

    def flush(self) -> None:
        """Do nothing: it is all there."""

    def close(self) -> None:
        """Do nothing: it is handed on."""

    def take(self) -> bytes:
        """Hand on what was written."""
        taken = bytes(self.taken)
        self.taken.clear()
        return taken


@dataclass(frozen=True)
class _Saving:
    """Writes the boards of a device into an archive."""

    store: Store
    device_id: str
    archive: ZipFile
    pieces: _Pieces

    def board(self, row: BoardRow, origin: str, outing: OutingRow) -> Generator[bytes, None, ParcelBoard]:
        """Write a board's contents, and return what the list says of it."""
        photos = yield from self._photos(row.id)
        readings = yield from self._readings(row.id)
        return ParcelBoard(
            id=origin,
            day=outing.day,
            outing=outing.name,
            told=row.told,
            created=row.created,
            changed=row.changed,
            photos=tuple(photos),
            readings=tuple(readings),
        )

    def _photos(self, board_id: str) -> Generator[bytes, None, list[ParcelPhoto]]:
        saved = []
        for row in self.store.photos.all(self.device_id, board_id):
            told = ParcelPhoto(**{name: getattr(row, name) for name in ParcelPhoto.model_fields})
            if (yield from self._content(row.id, _entry(told.path, row.created, ZIP_STORED))):
                saved.append(told)
        return saved

    def _readings(self, board_id: str) -> Generator[bytes, None, list[ParcelReading]]:
        saved = []
        for row in self.store.readings.all(self.device_id, board_id):
            told = ParcelReading(**{name: getattr(row, name) for name in ParcelReading.model_fields})
            self.archive.writestr(_entry(told.path, row.created, ZIP_DEFLATED), json.dumps(row.answer))
            with self.store.database.reading() as connection:
                pictures = connection.execute(
                    select(picture.c.id, picture.c.name).where(picture.c.reading_id == row.id).order_by(picture.c.name)
                ).all()
            there = []
            for picture_id, name in pictures:
                entry = _entry(told.picture_path(name), row.created, ZIP_DEFLATED)
                if (yield from self._content(picture_id, entry)):
                    there.append(name)
            saved.append(told.model_copy(update={"pictures": tuple(there)}))
        return saved

    def _content(self, file_id: str, entry: ZipInfo) -> Generator[bytes, None, bool]:
        """Copy a content, and tell whether it is there."""
        content = self.store.photos.files.open(file_id)
        if content is None:
            return False
        with content, self.archive.open(entry, "w") as target:
            while piece := content.read(PIECE_BYTES):
                target.write(piece)
                yield self.pieces.take()
        return True


def _origins(store: Store, device_id: str) -> dict[str, str]:
    """Return the first ids of boards that were taken in, by which they are known again wherever they go."""
    told = select(board.c.id, board.c.origin).where(board.c.device_id == device_id, board.c.origin.is_not(None))
    with store.database.reading() as connection:
        return {row.id: row.origin for row in connection.execute(told)}


def _entry(name: str, moment: datetime, how: int) -> ZipInfo:
    entry = ZipInfo(name, max(moment.timetuple()[:6], _OLDEST))
    entry.compress_type = how
    entry.external_attr = _OWNER_ONLY
    return entry
