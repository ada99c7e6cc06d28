"""Bringing a database up to date, step by step, when the program starts.

Each step is a module with `revision`, `down_revision`, `upgrade` and `downgrade`, as Alembic has them, and stands in
`STEPS`. A step that was handed out is never changed: the next change of `tables.py` gets a step of its own, and
`tests/store/test_migrating.py` says what it has to hold.
"""

from pathlib import Path
from types import ModuleType
from typing import Any, Final

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext
from alembic.script import Script, ScriptDirectory
from alembic.script.revision import RevisionMap
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from service.errors import BadInput
from service.language import mark, say
from service.store import step_1, step_2
from service.store.database import Database
from service.store.tables import metadata

#: Every step there is, oldest first.
STEPS: Final[tuple[ModuleType, ...]] = (step_1, step_2)

_NEWER: Final = mark(
    "The kept boards were written by a newer version of this program. Start that version, or choose another place with "
    "STAVESIGHT_DATA or STAVESIGHT_DATABASE; the boards are left as they are."
)


def revision_of(connection: Connection) -> str | None:
    """Tell which step a database is at; None when it is empty."""
    return MigrationContext.configure(connection).get_current_revision()


def migrate(database: Database, steps: tuple[ModuleType, ...] = STEPS) -> None:
    """Bring a database to the last of the steps, all the way or not at all.

    Raises
    ------
    BadInput
        It is at a step that this program does not know: a newer one wrote it.
    Busy, CannotStore
        It is locked, or cannot be used.
    """
    head = steps[-1].revision
    with database.reading() as connection:
        if revision_of(connection) == head:
            return
    try:
        _upgrade(database, steps)
    except DBAPIError:
        # Where tables can be made by two at once, the later one fails on the names. By now the other one is done.
        _upgrade(database, steps)


def _upgrade(database: Database, steps: tuple[ModuleType, ...]) -> None:
    script = ScriptDirectory(str(Path(__file__).parent))
    script.revision_map = RevisionMap(
        lambda: [Script(step, step.revision, str(step.__file__)) for step in steps],
    )

    def path(revision: Any, _: MigrationContext) -> Any:
        return script._upgrade_revs(steps[-1].revision, revision)

    with database.writing() as connection:
        at = revision_of(connection)
        if at is not None and at not in {step.revision for step in steps}:
            raise BadInput(say(_NEWER))
        with EnvironmentContext(Config(), script, fn=path) as environment:
            environment.configure(connection=connection, target_metadata=metadata, transactional_ddl=True)
            environment.run_migrations()
