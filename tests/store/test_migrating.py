"""The database is brought up to date by itself, all the way or not at all."""

from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
import sqlalchemy as sa
from alembic import op
from alembic.autogenerate import compare_metadata
from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from service.errors import BadInput
from service.store.database import Database, connect
from service.store.migrating import STEPS, migrate, revision_of
from service.store.rows import BoardTold
from service.store.tables import metadata
from tests.store.made_up import a_store, sent


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Database]:
    """Make an empty database."""
    database = connect("", tmp_path)
    yield database
    database.close()


def tables_in(database: Database) -> set[str]:
    """Name the tables of a database."""
    return set(sa.inspect(database.engine).get_table_names())


def parts_of(table: sa.Table) -> list[sa.Constraint | sa.Index]:
    """Return what of a table has to have a name."""
    return [*table.constraints, *table.indexes]


def later_step(fails: bool = False) -> ModuleType:
    """Make a step that a later version may have: a new column, filled."""
    step = ModuleType("step_later")
    step.__file__ = "step_later.py"
    step.__doc__ = "A made-up step."

    def upgrade() -> None:
        op.add_column("board", sa.Column("stain", sa.String(20), nullable=False, server_default="none"))
        if fails:
            raise RuntimeError("the power went")

    for name, value in {"revision": "later", "down_revision": STEPS[-1].revision, "upgrade": upgrade}.items():
        setattr(step, name, value)
    return step


def test_an_empty_database_becomes_the_tables(empty: Database) -> None:
    """After all steps nothing differs from the tables that the program uses; once more changes nothing."""
    migrate(empty)
    migrate(empty)

    with empty.reading() as connection:
        assert revision_of(connection) == STEPS[-1].revision
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []


def test_the_comparison_sees_a_difference(empty: Database) -> None:
    """A database with one step more is told from the tables, so the comparison can fail."""
    migrate(empty, (*STEPS, later_step()))

    with empty.reading() as connection:
        (found,) = compare_metadata(MigrationContext.configure(connection), metadata)
    assert (found[0], found[3].name) == ("remove_column", "stain")


def test_every_constraint_and_index_has_a_name() -> None:
    """A later step can change only what it can name; what the first step names is the same."""
    names = [str(part.name) for table in metadata.tables.values() for part in parts_of(table)]

    assert "None" not in names
    assert len(set(names)) == len(names)
    assert max(map(len, names)) <= 63  # PostgreSQL cuts longer ones, NAMEDATALEN - 1


def test_the_tables_can_be_made_by_postgresql() -> None:
    """Every table and index can be written in PostgreSQL's words, moments with their zone."""
    dialect = postgresql.dialect()  # type: ignore[no-untyped-call]
    words = [str(CreateTable(table).compile(dialect=dialect)) for table in metadata.sorted_tables]
    words += [str(CreateIndex(i).compile(dialect=dialect)) for t in metadata.sorted_tables for i in t.indexes]

    assert len(words) > 8
    assert "TIMESTAMP WITH TIME ZONE" in words[0]
    assert not any("TIMESTAMP WITHOUT" in text for text in words)


def test_a_later_step_keeps_what_is_kept(tmp_path: Path) -> None:
    """Boards and photos of the first version are there after a made-up later step."""
    with a_store(tmp_path) as store:
        mine = store.devices.new().id
        board = store.boards.add(mine, BoardTold(name="Left one", asked={"wood": "ash"}))
        photo = store.photos.add(mine, board.id, sent(1))

        migrate(store.database, (*STEPS, later_step()))

        assert store.photos.all(mine, board.id) == [photo]
        with store.database.reading() as connection:
            row = connection.exec_driver_sql("SELECT name, stain FROM board").one()
            assert tuple(row) == ("Left one", "none")
            assert revision_of(connection) == "later"


def test_boards_of_the_first_step_are_there_after_the_second(empty: Database) -> None:
    """What was kept before boards could be taken in from files stays, and counts as begun here."""
    migrate(empty, STEPS[:1])
    with empty.writing() as connection:
        connection.exec_driver_sql("INSERT INTO device VALUES ('d', 'hash', '2031-05-06')")
        connection.exec_driver_sql("INSERT INTO outing VALUES ('o', 'd', '', '2031-05-06', '2031-05-06')")
        for name in ("a", "b"):
            told = (name, "d", "o", name, "", "", None, None, None, "", "", "{}", "", 0, *("2031-05-06",) * 3)
            connection.exec_driver_sql(f"INSERT INTO board VALUES ({', '.join('?' * len(told))})", told)  # noqa: S608

    migrate(empty)

    with empty.reading() as connection:
        rows = connection.exec_driver_sql("SELECT name, origin FROM board ORDER BY name").all()
    assert [tuple(row) for row in rows] == [("a", None), ("b", None)]


def test_a_step_that_fails_changes_nothing(empty: Database) -> None:
    """Half a step is undone with all before it: the database is as it was."""
    with pytest.raises(RuntimeError, match="the power went"):
        migrate(empty, (*STEPS, later_step(fails=True)))
    assert tables_in(empty) == set()

    migrate(empty)
    with pytest.raises(RuntimeError, match="the power went"):
        migrate(empty, (*STEPS, later_step(fails=True)))
    with empty.reading() as connection:
        assert revision_of(connection) == STEPS[-1].revision
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_a_newer_database_is_refused(tmp_path: Path, empty: Database) -> None:
    """What a later version wrote is left as it is, and the person is told to start that version."""
    migrate(empty, (*STEPS, later_step()))

    with pytest.raises(BadInput, match="Start that version"), a_store(tmp_path):
        pass
    with empty.reading() as connection:
        assert revision_of(connection) == "later"


def test_the_way_back_empties_the_database(empty: Database) -> None:
    """Each step's way back takes away what it made, the first one's every table."""
    migrate(empty)
    with empty.writing() as connection, Operations.context(MigrationContext.configure(connection)):
        for step in reversed(STEPS):
            step.downgrade()

    assert tables_in(empty) == {"alembic_version"}
