"""Connections to the database: short transactions, and refusals in words."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from service.errors import BadInput, Busy, CannotStore, StavesightError
from service.language import mark, say

#: Longest wait for another process's transaction. Ours take milliseconds; a disk that wakes up takes seconds.
BUSY_MS: Final = 10_000

#: Name of the database file in the data folder.
FILE_NAME: Final = "stavesight.db"

_BUSY: Final = mark("The boards are being written by somebody else. Try again in a moment: nothing was changed.")
_FULL: Final = mark(
    "There is no room left on the disk of the kept boards. Delete what is not needed there, then try again."
)
_CLOSED: Final = mark(
    "The database of the kept boards cannot be opened or written to. Whoever runs the program: look at the rights of "
    "its folder, or choose another with STAVESIGHT_DATA or STAVESIGHT_DATABASE."
)
_BROKEN: Final = mark(
    "The database of the kept boards cannot be read. Whoever runs the program: put back a copy of it, or choose "
    "another with STAVESIGHT_DATABASE."
)

#: What a database may say, as SQLite's primary result codes and as the SQLSTATE of the standard, to what is told.
_TOLD: Final[dict[int | str, tuple[type[StavesightError], str]]] = {
    sqlite3.SQLITE_BUSY: (Busy, _BUSY),
    sqlite3.SQLITE_LOCKED: (Busy, _BUSY),
    sqlite3.SQLITE_FULL: (CannotStore, _FULL),
    sqlite3.SQLITE_READONLY: (CannotStore, _CLOSED),
    sqlite3.SQLITE_CANTOPEN: (CannotStore, _CLOSED),
    sqlite3.SQLITE_PERM: (CannotStore, _CLOSED),
    sqlite3.SQLITE_IOERR: (CannotStore, _CLOSED),
    sqlite3.SQLITE_CORRUPT: (CannotStore, _BROKEN),
    sqlite3.SQLITE_NOTADB: (CannotStore, _BROKEN),
    "40001": (Busy, _BUSY),  # serialization failure
    "40P01": (Busy, _BUSY),  # deadlock detected
    "55P03": (Busy, _BUSY),  # lock not available
    "53100": (CannotStore, _FULL),  # disk full
    "53300": (Busy, _BUSY),  # too many connections
}


@dataclass(frozen=True)
class Database:
    """Where rows are kept."""

    engine: Engine

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Look at what is kept; this waits for no writer.

        Raises
        ------
        Busy, CannotStore
            The database is locked, or cannot be used.
        """
        with _in_words(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Change something, all of it or nothing.

        Raises
        ------
        Busy, CannotStore
            The database is locked, full, or cannot be used.
        """
        with _in_words(), self.engine.connect() as plain:
            connection = plain.execution_options(writes=True)
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Close every connection that nobody uses."""
        self.engine.dispose()


def connect(address: str, folder: Path) -> Database:
    """Make a database ready to be connected to; nothing is opened yet.

    Parameters
    ----------
    address
        The URL of the database; empty for an SQLite file in `folder`.
    folder
        The data folder, which exists.

    Raises
    ------
    BadInput
        The address is none, or its driver is not installed.
    """
    try:
        url = make_url(address) if address else URL.create("sqlite", database=str(folder / FILE_NAME))
        engine = create_engine(url, pool_pre_ping=True)
    except (ArgumentError, NoSuchModuleError, ImportError, ValueError) as error:
        text = say(
            "STAVESIGHT_DATABASE is no address of a database that can be used here. Write it like "
            "sqlite:////folder/file.db or postgresql+psycopg://name@host/database, and install its driver."
        )
        raise BadInput(text) from error
    if engine.dialect.name == "sqlite":
        _prepare_sqlite(engine)
    return Database(engine)


def _prepare_sqlite(engine: Engine) -> None:
    """Do what SQLite alone needs; the only place that knows of it."""

    @event.listens_for(engine, "connect")
    def connected(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None  # transactions begin where `begun` says, not where the driver guesses
        for pragma in (
            f"busy_timeout = {BUSY_MS}",
            "journal_mode = WAL",  # readers and one writer at once, from several processes
            "foreign_keys = ON",
            "secure_delete = ON",  # what is deleted is overwritten
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begun(connection: Connection) -> None:
        # A transaction that starts by reading and writes later fails at once when another wrote in between,
        # however long it might wait: who will write says so from the start.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _in_words() -> Iterator[None]:
    """Tell in words what the database complains of; what is a fault of the program stays one."""
    try:
        yield
    except DBAPIError as error:
        code = getattr(error.orig, "sqlite_errorcode", None)
        told = _TOLD.get(code & 0xFF if isinstance(code, int) else getattr(error.orig, "sqlstate", None) or "")
        if told is not None:
            kind, text = told
            raise kind(say(text)) from error
        if error.connection_invalidated or (code is None and type(error.orig).__name__ == "OperationalError"):
            raise CannotStore(say(_CLOSED)) from error
        raise
