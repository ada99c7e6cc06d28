"""What breaks off leaves nothing half-kept, and what is left over is cleared away."""

import errno
import os
from pathlib import Path
from typing import Any, NoReturn

import pytest
from sqlalchemy import Connection, Engine, event

from service.errors import BadInput, Busy, CannotStore, NotThere
from service.store import database, files
from service.store.opening import Store
from service.store.readings import Made
from service.store.rows import BoardTold, Swept
from tests.store.made_up import HandClock, a_store, answer, files_in, says_what_to_do, sent

NOTHING = Swept(0, 0, 0)


class PowerCut(BaseException):
    """What no program catches."""


@pytest.fixture
def board(store: Store, mine: str) -> str:
    """Keep a board."""
    return store.boards.add(mine, BoardTold()).id


def failing(error: BaseException) -> Any:
    """Make a function that fails."""

    def fail(*_: object, **__: object) -> NoReturn:
        raise error

    return fail


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EACCES, errno.EROFS, errno.EIO])
@pytest.mark.parametrize("step", ["fsync", "replace", "open"])
def test_a_disk_that_refuses_leaves_nothing(
    monkeypatch: pytest.MonkeyPatch, store: Store, mine: str, board: str, tmp_path: Path, code: int, step: str
) -> None:
    """A full or read-only disk at any step of writing is told with a way out; no file and no row is left."""
    error = failing(OSError(code, os.strerror(code)))
    with monkeypatch.context() as patch:
        patch.setattr(Path if step == "replace" else os, step, error)
        with pytest.raises(CannotStore, match="nothing was kept") as told:
            store.photos.add(mine, board, sent(1))
        with pytest.raises(CannotStore):
            store.readings.add(mine, board, Made(answer(), {"face_1": "<svg/>"}, [], "1"))

    assert says_what_to_do(told.value)
    assert (files_in(tmp_path), store.photos.all(mine, board), store.readings.all(mine, board)) == ([], [], [])
    store.photos.add(mine, board, sent(1))


def test_a_second_picture_that_fails_takes_the_first_along(
    monkeypatch: pytest.MonkeyPatch, store: Store, mine: str, board: str, tmp_path: Path
) -> None:
    """An answer is kept with all its pictures or not at all."""
    plain, count = files.Files.write, iter(range(9))

    def second_fails(self: files.Files, file_id: str, data: bytes) -> None:
        if next(count):
            raise CannotStore("No room. Delete something.")
        plain(self, file_id, data)

    monkeypatch.setattr(files.Files, "write", second_fails)
    with pytest.raises(CannotStore):
        store.readings.add(mine, board, Made(answer(), {"face_1": "<svg/>", "end": "<svg/>"}, [], "1"))

    assert (files_in(tmp_path), store.readings.all(mine, board)) == ([], [])


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_power_cut_leaves_what_the_sweep_clears(
    monkeypatch: pytest.MonkeyPatch,
    store: Store,
    mine: str,
    board: str,
    tmp_path: Path,
    clock: HandClock,
    step: str,
) -> None:
    """A file half written is no photo; it is cleared away when it is surely no upload any more, and not before."""
    with monkeypatch.context() as patch:
        patch.setattr(Path if step == "replace" else os, step, failing(PowerCut()))
        with pytest.raises(PowerCut):
            store.photos.add(mine, board, sent(1))
    kept = store.photos.add(mine, board, sent(2))

    assert len(files_in(tmp_path)) == 2
    assert store.sweep() == NOTHING
    clock.pass_by(minutes=61)
    assert store.sweep() == Swept(0, 1, 0)
    assert files_in(tmp_path) == [kept.id]
    assert store.sweep() == NOTHING


def test_a_failed_commit_keeps_no_row(store: Store, mine: str, board: str, tmp_path: Path, clock: HandClock) -> None:
    """When the commit fails there is no row, and the file goes with the sweep."""

    def fail(connection: Connection) -> None:
        if connection.get_execution_options().get("writes"):
            raise PowerCut

    event.listen(store.database.engine, "commit", fail)
    try:
        with pytest.raises(PowerCut):
            store.photos.add(mine, board, sent(1))
    finally:
        event.remove(store.database.engine, "commit", fail)

    assert store.photos.all(mine, board) == []
    assert len(files_in(tmp_path)) == 1
    clock.pass_by(minutes=61)
    assert store.sweep() == Swept(0, 1, 0)
    assert files_in(tmp_path) == []


def test_a_board_deleted_while_its_photo_comes_in(
    monkeypatch: pytest.MonkeyPatch, store: Store, mine: str, board: str, tmp_path: Path
) -> None:
    """The photo is refused and its file is taken away."""
    plain = files.Files.write

    def delete_then_write(self: files.Files, file_id: str, data: bytes) -> None:
        plain(self, file_id, data)
        store.boards.delete(mine, board)

    monkeypatch.setattr(files.Files, "write", delete_then_write)
    with pytest.raises(NotThere):
        store.photos.add(mine, board, sent(1))

    assert files_in(tmp_path) == []


def test_a_row_whose_file_got_lost_goes(store: Store, mine: str, board: str) -> None:
    """A photo or picture without its file is cleared away, the others stay."""
    lost, kept = (store.photos.add(mine, board, sent(seed)) for seed in (1, 2))
    store.photos.files.path(lost.id).unlink()

    assert store.sweep() == Swept(0, 0, 1)
    assert store.photos.all(mine, board) == [kept]


def test_a_missing_folder_empties_nothing(store: Store, mine: str, board: str, tmp_path: Path) -> None:
    """When the files of all rows are gone, a disk is rather not in its place: no row is removed."""
    for seed in (1, 2):
        store.photos.add(mine, board, sent(seed))
    (tmp_path / "files").rename(tmp_path / "elsewhere")

    with pytest.raises(CannotStore, match="nothing was removed"):
        store.sweep()

    (tmp_path / "elsewhere").rename(tmp_path / "files")
    assert len(store.photos.all(mine, board)) == 2
    assert store.sweep() == NOTHING


def test_files_of_others_are_left_alone(store: Store, tmp_path: Path, clock: HandClock) -> None:
    """What the store did not name it does not remove."""
    for name in ("notes.txt", "ab/readme", "ab/0123.part"):
        path = tmp_path / "files" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("by hand")
    clock.pass_by(days=2)

    assert store.sweep() == NOTHING
    assert files_in(tmp_path) == ["0123.part", "notes.txt", "readme"]


def test_boards_nobody_touched_go(tmp_path: Path, clock: HandClock) -> None:
    """After the days that were set a board goes with its files; one that was looked at or changed stays."""
    with a_store(tmp_path, clock, keep_days=30) as store:
        mine = store.devices.new().id
        old, seen, changed = (store.boards.add(mine, BoardTold()).id for _ in range(3))
        store.photos.add(mine, old, sent(1))
        clock.pass_by(days=29)
        assert store.sweep() == NOTHING
        store.boards.touch(mine, seen)
        kept = store.photos.add(mine, changed, sent(2))
        clock.pass_by(days=2)

        assert store.sweep().boards == 1
        assert {row.id for row in store.boards.all(mine)} == {seen, changed}
        assert files_in(tmp_path) == [kept.id]


def test_boards_stay_when_no_days_are_set(store: Store, mine: str, board: str, clock: HandClock) -> None:
    """0 days means for ever."""
    clock.pass_by(days=9999)

    assert store.sweep() == NOTHING
    assert store.boards.get(mine, board).id == board


def test_files_that_cannot_be_removed_are_told(
    monkeypatch: pytest.MonkeyPatch, store: Store, mine: str, board: str, tmp_path: Path, clock: HandClock
) -> None:
    """The board is deleted, the person is told of the files, and the sweep removes them later."""
    store.photos.add(mine, board, sent(1))
    with monkeypatch.context() as patch:
        patch.setattr(Path, "unlink", failing(PermissionError(errno.EACCES, "no")))
        with pytest.raises(CannotStore, match="1 of its files could not be removed yet") as told:
            store.boards.delete(mine, board)

    assert says_what_to_do(told.value)
    assert store.boards.all(mine) == []
    clock.pass_by(hours=2)
    assert store.sweep() == Swept(0, 1, 0)


def on_connect(engine: Engine, pragma: str) -> None:
    """Set a pragma on every new connection."""
    engine.dispose()
    event.listen(engine, "connect", lambda connection, _: connection.execute(f"PRAGMA {pragma}"))


@pytest.mark.parametrize(
    ("pragma", "words"), [("max_page_count = 1", "no room left"), ("query_only = ON", "cannot be opened or written")]
)
def test_a_database_that_refuses_is_told(
    store: Store, mine: str, board: str, tmp_path: Path, pragma: str, words: str
) -> None:
    """A full or read-only database is told with a way out, and no file is left."""
    on_connect(store.database.engine, pragma)

    with pytest.raises(CannotStore, match=words) as told:
        for seed in range(2):
            store.readings.add(mine, board, Made(answer(), {"face_1": "<svg/>"}, ["x" * 9000], f"{seed}"))

    assert says_what_to_do(told.value)
    assert len(files_in(tmp_path)) == len(store.readings.all(mine, board))


def test_a_locked_database_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """While another writes for long, the person is asked to try again; looking goes on."""
    monkeypatch.setattr(database, "BUSY_MS", 30)
    with a_store(tmp_path) as store:
        mine = store.devices.new().id
        board = store.boards.add(mine, BoardTold()).id
        with store.database.writing():
            with pytest.raises(Busy, match="Try again"):
                store.photos.add(mine, board, sent(1))
            assert store.boards.get(mine, board).id == board
        assert files_in(tmp_path) == []
        store.photos.add(mine, board, sent(1))


def test_a_file_that_is_no_database_is_told(tmp_path: Path) -> None:
    """The start stops with a sentence, and the file is left as it is."""
    (tmp_path / "stavesight.db").write_bytes(b"no database at all " * 100)

    with pytest.raises(CannotStore, match="cannot be read") as told, a_store(tmp_path):
        pass
    assert says_what_to_do(told.value)
    assert (tmp_path / "stavesight.db").read_bytes().startswith(b"no database at all")


def test_a_fault_of_the_program_is_no_refusal(store: Store) -> None:
    """What no person can mend is not dressed up as advice."""
    with pytest.raises(Exception, match="no such table") as fault, store.database.reading() as connection:
        connection.exec_driver_sql("SELECT 1 FROM nowhere")
    assert not isinstance(fault.value, CannotStore | Busy | BadInput)


def test_an_id_that_is_none_names_no_file(tmp_path: Path) -> None:
    """Only what the store makes itself becomes a path."""
    with pytest.raises(ValueError, match="hexadecimal"):
        files.Files(tmp_path).path("../../x")
