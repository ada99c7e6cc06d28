"""The tables of the database as they are now; the steps that lead here are in `migrating.py`."""

from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    Date,
    DateTime,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    UniqueConstraint,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from service.store.rows import LONGEST

#: Every constraint has a name, for a later step can change only what it can name.
NAMES: Final = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}

ID_LENGTH: Final = 32
HASH_LENGTH: Final = 64


class Moment(TypeDecorator[datetime]):
    """A moment in UTC that knows it is; some databases keep no time zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Put a moment into UTC."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """Give a moment its zone back."""
        if value is None:
            return None
        moment: datetime = value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


metadata: Final = MetaData(naming_convention=NAMES)


def _id() -> Column[str]:
    return Column("id", String(ID_LENGTH), primary_key=True)


def _of(table: str, primary_key: bool = False) -> Column[str]:
    """Make a column that belongs to a row of another table and is deleted with it."""
    owner = ForeignKey(f"{table}.id", ondelete="CASCADE")
    return Column(f"{table}_id", String(ID_LENGTH), owner, primary_key=primary_key, nullable=False)


def _moment(name: str, nullable: bool = False) -> Column[datetime]:
    return Column(name, Moment, nullable=nullable)


def _text(name: str) -> Column[str]:
    return Column(name, String(LONGEST[name]), nullable=False)


device: Final = Table(
    "device",
    metadata,
    _id(),
    Column("secret_hash", String(HASH_LENGTH), nullable=False),
    _moment("created"),
    UniqueConstraint("secret_hash"),
)

setting: Final = Table(
    "setting",
    metadata,
    _of("device", primary_key=True),
    Column("name", String(LONGEST["setting"]), primary_key=True),
    Column("value", JSON, nullable=False),
)

outing: Final = Table(
    "outing",
    metadata,
    _id(),
    _of("device"),
    _text("name"),
    Column("day", Date, nullable=False),
    _moment("created"),
    Index(None, "device_id", "day"),
)

board: Final = Table(
    "board",
    metadata,
    _id(),
    _of("device"),
    _of("outing"),
    _text("name"),
    _text("note"),
    _text("price"),
    Column("length_mm", Float),
    Column("width_mm", Float),
    Column("thickness_mm", Float),
    _text("nominal"),
    _text("wood"),
    Column("asked", JSON, nullable=False),
    _text("units"),
    Column("chosen", Boolean, nullable=False),
    Column("origin", String(ID_LENGTH)),  # its id where it was taken in from; nothing when it was begun here
    _moment("created"),
    _moment("changed"),
    _moment("touched"),
    Index(None, "device_id", "created"),
    Index(None, "device_id", "origin", unique=True),
    Index(None, "outing_id"),
    Index(None, "touched"),
)

photo: Final = Table(
    "photo",
    metadata,
    _id(),
    _of("device"),
    _of("board"),
    _text("slot"),
    Column("place", Integer, nullable=False),
    _text("upload_key"),
    _text("name"),
    _text("kind"),
    Column("bytes", BigInteger, nullable=False),
    Column("sha256", String(HASH_LENGTH), nullable=False),
    Column("sent_sha256", String(HASH_LENGTH), nullable=False),
    _moment("created"),
    UniqueConstraint("device_id", "upload_key"),
    Index(None, "board_id"),
)

reading: Final = Table(
    "reading",
    metadata,
    _id(),
    _of("board"),
    Column("answer", JSON, nullable=False),
    Column("photos", JSON, nullable=False),
    _text("version"),
    _moment("created"),
    Index(None, "board_id", "created"),
)

picture: Final = Table(
    "picture",
    metadata,
    _id(),
    _of("reading"),
    Column("name", String(LONGEST["slot"]), nullable=False),
    Column("bytes", BigInteger, nullable=False),
    UniqueConstraint("reading_id", "name"),
)

share: Final = Table(
    "share",
    metadata,
    _id(),
    _of("board"),
    Column("token_hash", String(HASH_LENGTH), nullable=False),
    _moment("created"),
    _moment("withdrawn", nullable=True),
    UniqueConstraint("token_hash"),
    Index(None, "board_id"),
)

#: Every table whose rows have a file of content under their own id.
WITH_FILES: Final[tuple[Table, ...]] = (photo, picture)
