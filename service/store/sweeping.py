"""Clearing away: old boards, files that no row knows, rows whose file got lost."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import Connection, Table, delete, select

from service.errors import CannotStore, NotThere
from service.language import say
from service.store.boards import Boards
from service.store.database import Database
from service.store.devices import Clock
from service.store.files import Files
from service.store.rows import Swept
from service.store.tables import WITH_FILES, board

#: Files younger than this may be on their way in: their row comes seconds after them, never an hour.
GRACE: Final = timedelta(hours=1)

#: Ids asked for in one question; every database takes this many.
AT_ONCE: Final = 500


@dataclass(frozen=True)
class Sweeper:
    """What clears away; it may run at any time, beside uploads and beside another sweep."""

    database: Database
    files: Files
    boards: Boards
    now: Clock
    keep_days: int

    def sweep(self) -> Swept:
        """Clear away, and tell how much.

        Raises
        ------
        CannotStore
            The files of all rows are gone, which is rather a folder that is missing: no row is removed.
        """
        moment = self.now()
        return Swept(self._old_boards(moment), self._unknown_files(moment), self._lost_rows())

    def _old_boards(self, moment: datetime) -> int:
        """Delete the boards that nobody touched for too long, each in a transaction of its own."""
        if not self.keep_days:
            return 0
        old = select(board.c.device_id, board.c.id).where(board.c.touched < moment - timedelta(days=self.keep_days))
        with self.database.reading() as connection:
            found = list(connection.execute(old))
        deleted = 0
        for row in found:
            try:
                self.boards.delete(row.device_id, row.id)
            except NotThere:
                continue  # its owner was quicker
            deleted += 1
        return deleted

    def _unknown_files(self, moment: datetime) -> int:
        """Remove files without a row. They are listed before the rows, so a row that comes in between counts."""
        found = sorted(self.files.older_than((moment - GRACE).timestamp()))
        removed = 0
        for at in range(0, len(found), AT_ONCE):
            some = found[at : at + AT_ONCE]
            with self.database.reading() as connection:
                known = {
                    file_id
                    for table in WITH_FILES
                    for file_id in connection.scalars(select(table.c.id).where(table.c.id.in_([i for i, _ in some])))
                }
            for file_id, path in some:
                # A part that lies beside its finished file is left over as well.
                if (file_id not in known or path.name != file_id) and self.files.sweep(path):
                    removed += 1
        return removed

    def _lost_rows(self) -> int:
        """Remove rows whose file is gone. A row comes after its file and goes before it, so such a file is lost."""
        with self.database.reading() as connection:
            rows = {table: _ids(connection, table) for table in WITH_FILES}
        lost = {table: [i for i in ids if not self.files.is_there(i)] for table, ids in rows.items()}
        count = sum(map(len, lost.values()))
        if count > 1 and count == sum(map(len, rows.values())):
            raise CannotStore(
                say(
                    "None of the {count} files in {folder} is there. Whoever runs the program: look whether the data "
                    "folder is the right one and its disk is in place; nothing was removed.",
                    count=count,
                    folder=self.files.folder,
                )
            )
        for table, ids in lost.items():
            for at in range(0, len(ids), AT_ONCE):
                with self.database.writing() as connection:
                    connection.execute(delete(table).where(table.c.id.in_(ids[at : at + AT_ONCE])))
        return count


def _ids(connection: Connection, table: Table) -> list[str]:
    return list(connection.scalars(select(table.c.id)))
