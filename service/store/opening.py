"""The store: everything that is kept, under one roof."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from service.settings import Settings
from service.store.boards import Boards
from service.store.database import FILE_NAME, Database, connect
from service.store.devices import Clock, Devices
from service.store.files import Files, make_folder
from service.store.migrating import migrate
from service.store.photos import Photos
from service.store.readings import Readings
from service.store.rows import Swept
from service.store.shares import Shares
from service.store.sweeping import Sweeper

#: Folder of contents in the data folder.
FILES: Final = "files"


def utc_now() -> datetime:
    """Tell the time."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Store:
    """What is kept. It may be used from several threads, and opened by several processes at once."""

    database: Database
    devices: Devices
    boards: Boards
    photos: Photos
    readings: Readings
    shares: Shares
    sweeper: Sweeper

    def sweep(self) -> Swept:
        """Clear away old boards, files without a row and rows without a file; call it at the start and once a day.

        Raises
        ------
        CannotStore, Busy
            The folder or database cannot be used now.
        """
        return self.sweeper.sweep()

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()


def open_store(settings: Settings, now: Clock = utc_now) -> Store:
    """Open what is kept, make what is missing, and bring the database up to date.

    Parameters
    ----------
    settings
        `data`, `database`, `device_bytes`, `photo_bytes` and `keep_days` are used.
    now
        The clock; moments carry their time zone.

    Raises
    ------
    BadInput
        The folder or address cannot be used, or a newer version of the program wrote the database.
    Busy, CannotStore
        The database is locked, full, or cannot be used.
    """
    folder = settings.data_folder
    make_folder(folder)
    if not settings.database:
        (folder / FILE_NAME).touch(mode=0o600)
    database, files = connect(settings.database, folder), Files(folder / FILES)
    migrate(database)
    boards = Boards(database, files, now)
    return Store(
        database=database,
        devices=Devices(database, files, now),
        boards=boards,
        photos=Photos(database, files, now, settings.device_bytes, settings.photo_bytes),
        readings=Readings(database, files, now, settings.device_bytes),
        shares=Shares(database, files, now),
        sweeper=Sweeper(database, files, boards, now, settings.keep_days),
    )
