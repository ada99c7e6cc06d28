"""The first step: devices, outings, boards, photos, readings, pictures, shares."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision: Final = "1"
down_revision: Final = None
branch_labels: Final = None
depends_on: Final = None

_MOMENT: Final = sa.DateTime(timezone=True)
_ID: Final = 32
_HASH: Final = 64


def upgrade() -> None:
    """Make every table."""
    _make_devices()
    _make_boards()
    _make_readings()


def downgrade() -> None:
    """Drop every table, what uses another before what is used."""
    for table in ("share", "picture", "reading", "photo", "board", "outing", "setting", "device"):
        op.drop_table(table)


def _id() -> sa.Column[str]:
    return sa.Column("id", sa.String(_ID), nullable=False)


def _of(table: str) -> sa.Column[str]:
    return sa.Column(f"{table}_id", sa.String(_ID), nullable=False)


def _moment(name: str, nullable: bool = False) -> sa.Column[object]:
    return sa.Column(name, _MOMENT, nullable=nullable)


def _text(name: str, length: int) -> sa.Column[str]:
    return sa.Column(name, sa.String(length), nullable=False)


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*(columns or ("id",)), name=f"pk_{table}")


def _belongs(table: str, owner: str) -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_{owner}_id"
    return sa.ForeignKeyConstraint([f"{owner}_id"], [f"{owner}.id"], name=name, ondelete="CASCADE")


def _once(table: str, *columns: str) -> sa.UniqueConstraint:
    return sa.UniqueConstraint(*columns, name=f"uq_{table}_{'_'.join(columns)}")


def _index(table: str, *columns: str) -> None:
    op.create_index(f"ix_{table}_{'_'.join(columns)}", table, list(columns))


def _make_devices() -> None:
    op.create_table(
        "device",
        _id(),
        _text("secret_hash", _HASH),
        _moment("created"),
        _key("device"),
        _once("device", "secret_hash"),
    )
    op.create_table(
        "setting",
        _of("device"),
        _text("name", 60),
        sa.Column("value", sa.JSON, nullable=False),
        _key("setting", "device_id", "name"),
        _belongs("setting", "device"),
    )


def _make_boards() -> None:
    op.create_table(
        "outing",
        _id(),
        _of("device"),
        _text("name", 120),
        sa.Column("day", sa.Date, nullable=False),
        _moment("created"),
        _key("outing"),
        _belongs("outing", "device"),
    )
    _index("outing", "device_id", "day")
    op.create_table(
        "board",
        _id(),
        _of("device"),
        _of("outing"),
        _text("name", 120),
        _text("note", 4000),
        _text("price", 60),
        *(sa.Column(name, sa.Float) for name in ("length_mm", "width_mm", "thickness_mm")),
        _text("nominal", 20),
        _text("wood", 60),
        sa.Column("asked", sa.JSON, nullable=False),
        _text("units", 2),
        sa.Column("chosen", sa.Boolean, nullable=False),
        _moment("created"),
        _moment("changed"),
        _moment("touched"),
        _key("board"),
        _belongs("board", "device"),
        _belongs("board", "outing"),
    )
    _index("board", "device_id", "created")
    _index("board", "outing_id")
    _index("board", "touched")
    op.create_table(
        "photo",
        _id(),
        _of("device"),
        _of("board"),
        _text("slot", 20),
        sa.Column("place", sa.Integer, nullable=False),
        _text("upload_key", 100),
        _text("name", 120),
        _text("kind", 8),
        sa.Column("bytes", sa.BigInteger, nullable=False),
        _text("sha256", _HASH),
        _text("sent_sha256", _HASH),
        _moment("created"),
        _key("photo"),
        _belongs("photo", "device"),
        _belongs("photo", "board"),
        _once("photo", "device_id", "upload_key"),
    )
    _index("photo", "board_id")


def _make_readings() -> None:
    op.create_table(
        "reading",
        _id(),
        _of("board"),
        sa.Column("answer", sa.JSON, nullable=False),
        sa.Column("photos", sa.JSON, nullable=False),
        _text("version", 40),
        _moment("created"),
        _key("reading"),
        _belongs("reading", "board"),
    )
    _index("reading", "board_id", "created")
    op.create_table(
        "picture",
        _id(),
        _of("reading"),
        _text("name", 20),
        sa.Column("bytes", sa.BigInteger, nullable=False),
        _key("picture"),
        _belongs("picture", "reading"),
        _once("picture", "reading_id", "name"),
    )
    op.create_table(
        "share",
        _id(),
        _of("board"),
        _text("token_hash", _HASH),
        _moment("created"),
        _moment("withdrawn", nullable=True),
        _key("share"),
        _belongs("share", "board"),
        _once("share", "token_hash"),
    )
    _index("share", "board_id")
