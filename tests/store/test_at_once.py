"""Several processes and threads use the same store at once."""

import multiprocessing
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from datetime import date
from pathlib import Path

from service.store.opening import Store
from service.store.rows import BoardTold
from tests.store.made_up import a_store, files_in, sent

PHOTOS = 3


def open_and_keep(folder: str, number: int) -> tuple[str, list[str]]:
    """Open a store that may be new, and keep a device's board with photos in it, sweeping in between."""
    with a_store(Path(folder)) as store:
        device = store.devices.new().id
        board = store.boards.add(device, BoardTold(name=f"board {number}")).id
        for seed in range(PHOTOS):
            store.photos.add(device, board, sent(seed + 1))
            store.sweep()
        return device, [row.id for row in store.photos.all(device, board)]


def keep_same(folder: str, device: str, board: str) -> list[str]:
    """Send the same photos of the same board as another process."""
    with a_store(Path(folder)) as store:
        return [store.photos.add(device, board, sent(seed + 1)).id for seed in range(PHOTOS)]


def test_two_processes_keep_at_once(tmp_path: Path) -> None:
    """Both make the database at the same time and keep all they were given; what both send is kept once."""
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
        kept = list(pool.map(open_and_keep, [str(tmp_path)] * 2, range(2)))

        assert all(len(photos) == PHOTOS for _, photos in kept)
        assert files_in(tmp_path) == sorted(photo for _, photos in kept for photo in photos)

        with a_store(tmp_path) as store:
            device = store.devices.new().id
            board = store.boards.add(device, BoardTold()).id
            one, other = pool.map(keep_same, [str(tmp_path)] * 2, [device] * 2, [board] * 2)
            assert one == other == [row.id for row in store.photos.all(device, board)]
    assert len(files_in(tmp_path)) == 3 * PHOTOS


def test_threads_join_one_outing(tmp_path: Path) -> None:
    """Boards kept at the same moment for one day begin one outing, not several."""
    with a_store(tmp_path) as store, ThreadPoolExecutor(8) as pool:
        device, day = store.devices.new().id, date(2031, 5, 6)
        boards = list(pool.map(lambda _: store.boards.add(device, BoardTold(), day), range(16)))

        assert len({row.outing_id for row in boards}) == len(store.boards.outings(device)) == 1


def test_a_device_deleted_amid_uploads_leaves_nothing(tmp_path: Path) -> None:
    """Whichever is first, no row and no file of a deleted device is left."""
    with a_store(tmp_path) as store, ThreadPoolExecutor(4) as pool:
        device = store.devices.new().id
        board = store.boards.add(device, BoardTold()).id
        uploads = [pool.submit(store.photos.add, device, board, sent(seed)) for seed in range(1, 9)]
        uploads[0].result()
        store.devices.delete(device)
        for upload in uploads:
            upload.exception()

        assert files_in(tmp_path) == []
        assert _photo_rows(store) == 0


def _photo_rows(store: Store) -> int:
    with store.database.reading() as connection:
        return int(connection.exec_driver_sql("SELECT count(*) FROM photo").scalar_one())
