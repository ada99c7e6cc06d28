"""Files of boards that are damaged, too large or built to harm: refused, with little memory and no harm done."""

import io
import struct
import tracemalloc
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import BadInput, StavesightError, TooLarge
from service.store.opening import Store
from service.store.parcel import LIST
from service.store.parcel_in import open_parcel
from service.store.parcel_out import save_boards
from service.store.photos import Sent
from service.store.rows import BoardTold
from service.store.zip_bounds import directory_of
from tests.store.made_up import MIB, HandClock
from tests.store.made_up_parcels import MOST_BYTES, fill, noise, saved, taken


@pytest.fixture
def whole(store: Store, mine: str, clock: HandClock) -> bytes:
    """Make a file of three boards."""
    fill(store, mine, clock)
    return saved(store, mine)


def test_a_bomb_does_not_go_off(store: Store, mine: str) -> None:
    """A small file that says it unpacks to more than is kept for a phone is refused before it is unpacked."""
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(LIST, b" " * (65 * MIB))
    assert len(bomb.getvalue()) < MIB

    tracemalloc.start()
    with pytest.raises(TooLarge, match="holds more than 64 MB"):
        taken(store, mine, bomb.getvalue())
    with pytest.raises(TooLarge, match="holds more than 32 MB"):
        taken(store, mine, bomb.getvalue(), 100 * MIB)
    assert tracemalloc.get_traced_memory()[1] < 8 * MIB
    tracemalloc.stop()


def test_more_than_it_says_is_not_unpacked(store: Store, mine: str) -> None:
    """An entry that unpacks to more than its directory says counts as damaged."""
    liar = io.BytesIO()
    with zipfile.ZipFile(liar, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(LIST, b" " * (65 * MIB))
    data = liar.getvalue().replace(struct.pack("<L", 65 * MIB), struct.pack("<L", 1000))

    with pytest.raises(BadInput, match="This is no file of boards"):
        taken(store, mine, data)


def test_a_directory_that_would_fill_the_memory_is_not_read() -> None:
    """Whatever the end of the archive says of its directory, more than the bounds is refused."""
    for large in (False, True):
        file = io.BytesIO()
        with zipfile.ZipFile(file, "w") as archive:
            archive.writestr("a", b"")
        data = bytearray(file.getvalue())
        if large:  # the record for large archives, APPNOTE.TXT 4.3.14 and 4.3.15
            end, data = data[-22:], data[:-22]
            at = len(data)
            data += struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, 10**7, 10**7, 10**9, 0)
            data += struct.pack("<4sLQL", b"PK\x06\x07", 0, at, 1) + end
        else:
            data[-12:-8] = struct.pack("<HH", 65535, 65535)[:4]
            data[-10:-6] = struct.pack("<L", 2**31)
        assert directory_of(io.BytesIO(bytes(data)))[1] >= 10**9
        with pytest.raises(BadInput), open_parcel(io.BytesIO(bytes(data)), MOST_BYTES):
            pass


@pytest.mark.parametrize(
    "data", [b"", b"PK", b"oak" * 50, b"PK\x05\x06" + bytes(18), b"PK\x05\x06" + bytes(17) + b"\1"]
)
def test_what_is_no_archive_is_refused(data: bytes) -> None:
    """Empty, another kind of file, or an archive with nothing in it: one sentence says what to choose."""
    with pytest.raises(BadInput, match="Choose one that was saved by this program"), open_parcel(io.BytesIO(data), MIB):
        pass


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_damaged_file_is_refused_or_taken_in(store: Store, whole: bytes, data: st.DataObject) -> None:
    """Whatever is broken in it, the answer is a sentence or boards, never a fault."""
    damaged = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.one_of(st.integers(0, len(whole) - 1), st.integers(len(whole) - 400, len(whole) - 1)))
        damaged[at] = data.draw(st.integers(0, 255))
    cut = data.draw(st.one_of(st.just(len(whole)), st.integers(0, len(whole))))
    fresh = store.devices.new().id

    try:
        came = taken(store, fresh, bytes(damaged[:cut]))
    except StavesightError as refusal:
        assert refusal.text.endswith(".")
    else:
        assert came.added + len(came.refused) == 3
    store.devices.delete(fresh)


def test_little_is_in_memory_at_once(store: Store, mine: str) -> None:
    """A phone's boards of 40 MB are saved with less than 3 MB in memory, piece by piece."""
    board, photo = store.boards.add(mine, BoardTold()).id, noise()
    count = 40 * MIB // len(photo) + 1
    for number in range(count):
        store.photos.add(mine, board, Sent("close_face_1", f"{number}", "a.png", photo))

    tracemalloc.start()
    written = sum(len(piece) for piece in save_boards(store, mine))
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert written > 40 * MIB
    assert most < 3 * MIB
