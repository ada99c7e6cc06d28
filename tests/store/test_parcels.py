"""Boards saved as one file and taken in elsewhere: the same, once, and nothing more than that."""

import io
import json
import struct
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from service.errors import BadInput, StavesightError, TooLarge
from service.store.opening import Store
from service.store.parcel import LIST, ParcelPhoto
from service.store.parcel_in import TakenIn, open_parcel, take_in
from service.store.parcel_out import save_boards
from service.store.photos import Sent
from service.store.readings import Made
from service.store.rows import BoardTold, PhotoRow
from service.store.zip_bounds import directory_of
from tests.store.made_up import MIB, SECRETS, HandClock, a_store, answer, files_in, full_jpeg, sent
from tests.store.made_up import saved as picture_file

PICTURES = {"face_1": "<svg>face</svg>", "margin": "<svg>margin</svg>"}
MOST_BYTES = 64 * MIB


@pytest.fixture
def elsewhere(tmp_path: Path, clock: HandClock) -> Iterator[Store]:
    """Open another computer's store."""
    with a_store(tmp_path / "elsewhere", clock) as opened:
        yield opened


def fill(store: Store, device: str, clock: HandClock) -> list[str]:
    """Keep three boards on two days: one read, one photographed, one empty."""
    told = BoardTold("Heron", "Knotty\nat the end", "7.50", 2438.4, 38.1, 19.05, "1x2", "red oak", {"a": "b"}, "in")
    boards = [store.boards.add(device, told, date(2031, 5, 6)).id]
    for other in (replace(told, name="Otter", chosen=True), BoardTold()):
        clock.pass_by(minutes=1)
        boards.append(store.boards.add(device, other).id)
    store.boards.name_outing(device, store.boards.get(device, boards[0]).outing_id, "Mill yard", date(2031, 5, 6))
    for seed, (board, slot) in enumerate([(boards[0], "face_1"), (boards[0], "face_1"), (boards[1], "end")]):
        clock.pass_by(minutes=1)
        store.photos.add(device, board, sent(seed, slot=slot))
    store.photos.add(device, boards[0], Sent("edge_1", "full", "full.jpg", full_jpeg(7)))
    for kind in ("PNG", "WEBP"):
        store.photos.add(device, boards[1], Sent("close_face_2", kind, f"Birch {kind}", picture_file(kind, 5)))
    photos = [row.id for row in store.photos.all(device, boards[0])]
    store.readings.add(device, boards[0], Made(answer(), PICTURES, photos, "1.0"))
    clock.pass_by(minutes=1)
    return boards


def saved(store: Store, device: str) -> bytes:
    """Save all boards of a device."""
    return b"".join(save_boards(store, device))


def taken(store: Store, device: str, data: bytes, most_bytes: int = MOST_BYTES) -> TakenIn:
    """Take a file in."""
    with open_parcel(io.BytesIO(data), most_bytes) as parcel:
        return take_in(store, device, parcel, parcel.listed(), lambda *_: None)


def seen(store: Store, device: str) -> list[Any]:
    """Tell all there is of a device's boards but the ids."""
    days = {outing.id: (outing.name, outing.day) for outing in store.boards.outings(device)}
    told = []
    for board in store.boards.all(device):
        photos = store.photos.all(device, board.id)
        places = {row.id: place for place, row in enumerate(photos)}
        contents = [
            (row.slot, row.place, row.name, row.kind, row.created, store.photos.content(device, row.id)[1])
            for row in photos
        ]
        answers = [
            (
                reading.answer,
                reading.version,
                reading.created,
                [places.get(photo) for photo in reading.photos],
                {name: store.readings.picture(device, reading.id, name) for name in reading.pictures},
            )
            for reading in store.readings.all(device, board.id)
        ]
        told.append((days[board.outing_id], board.told, board.created, board.changed, contents, answers))
    return sorted(told, key=lambda one: one[1].name)


def forged(data: bytes, change: Callable[[dict[str, Any]], None], **contents: bytes) -> bytes:
    """Change the list of a file, and contents by their name's first letters."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == LIST:
                listed = json.loads(content)
                change(listed)
                content = json.dumps(listed).encode()
            new.writestr(name, next((own for start, own in contents.items() if name.startswith(start)), content))
    return changed.getvalue()


def nothing(_: dict[str, Any]) -> None:
    """Change nothing."""


@pytest.fixture
def whole(store: Store, mine: str, clock: HandClock) -> bytes:
    """Make a file of three boards."""
    fill(store, mine, clock)
    return saved(store, mine)


def test_boards_are_the_same_elsewhere(store: Store, mine: str, elsewhere: Store, clock: HandClock) -> None:
    """Words, sizes, day, outing, moments, photos byte for byte, answers and pictures go to another computer."""
    fill(store, mine, clock)
    there = elsewhere.devices.new().id

    came = taken(elsewhere, there, saved(store, mine))

    assert came == TakenIn(added=3)
    assert seen(elsewhere, there) == seen(store, mine)
    assert len(seen(store, mine)) == 3


def test_the_same_file_is_taken_in_once(store: Store, mine: str, elsewhere: Store, clock: HandClock) -> None:
    """Sent twice, sent back home, or sent on by the other computer: each board stays the one it is."""
    fill(store, mine, clock)
    there, data = elsewhere.devices.new().id, saved(store, mine)
    taken(elsewhere, there, data)

    assert taken(elsewhere, there, data) == TakenIn(there=3)
    assert taken(store, mine, data) == TakenIn(there=3)
    assert taken(store, mine, saved(elsewhere, there)) == TakenIn(there=3)
    assert seen(elsewhere, there) == seen(store, mine)


def test_another_phone_of_the_same_computer_takes_them_in(store: Store, mine: str, clock: HandClock) -> None:
    """A new phone gets boards of its own: deleting them leaves those of the old one."""
    boards = fill(store, mine, clock)
    fresh, before = store.devices.new().id, seen(store, mine)

    assert taken(store, fresh, saved(store, mine)) == TakenIn(added=3)
    assert seen(store, fresh) == before
    store.devices.delete(fresh)
    assert [board.id for board in store.boards.all(mine)] == list(reversed(boards))
    assert seen(store, mine) == before


def test_what_is_here_is_never_overwritten(store: Store, mine: str, clock: HandClock) -> None:
    """A board that was changed since it was saved stays as it is now; one that was deleted comes back."""
    boards = fill(store, mine, clock)
    data = saved(store, mine)
    store.boards.change(mine, boards[0], BoardTold(name="Renamed"))
    store.boards.delete(mine, boards[1])

    assert taken(store, mine, data) == TakenIn(added=1, there=2)
    assert sorted(board.told.name for board in store.boards.all(mine)) == ["", "Otter", "Renamed"]


def test_a_file_holds_nothing_of_others(store: Store, mine: str, clock: HandClock) -> None:
    """What other phones keep is not in it."""
    fill(store, mine, clock)
    other = store.devices.new().id
    board = store.boards.add(other, BoardTold(name="Badger")).id
    store.photos.add(other, board, sent(9))

    with zipfile.ZipFile(io.BytesIO(saved(store, other))) as archive:
        assert len(archive.namelist()) == 2
        listed = json.loads(archive.read(LIST))
    assert [one["told"]["name"] for one in listed["boards"]] == ["Badger"]
    assert b"Badger" not in saved(store, mine)


def test_the_file_is_laid_out_as_told(store: Store, mine: str, clock: HandClock) -> None:
    """Any program that opens zip archives finds list, photos, answers and pictures, and may read them (mode 600)."""
    fill(store, mine, clock)

    with zipfile.ZipFile(io.BytesIO(saved(store, mine))) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        assert {info.external_attr >> 16 for info in archive.infolist()} == {0o600}
        kinds = {
            (name.rpartition(".")[2], Image.open(io.BytesIO(archive.read(name))).format)
            for name in names
            if name.startswith("photos/")
        }
    assert kinds == {("jpg", "JPEG"), ("png", "PNG"), ("webp", "WEBP")}
    assert sorted({name.split("/")[0] for name in names}) == ["answers", LIST, "photos", "pictures"]


def test_every_photos_column_is_thought_of() -> None:
    """What is kept of a photo goes along, but what the new place makes anew."""
    anew = {"board_id", "upload_key", "bytes", "sha256"}

    assert {*ParcelPhoto.model_fields} == {*PhotoRow.__dataclass_fields__} - anew


def test_notes_are_taken_out_once_more(store: Store, mine: str, clock: HandClock) -> None:
    """A photo that somebody put into the file with place and serial number loses them before it is kept."""
    fill(store, mine, clock)
    fresh = store.devices.new().id

    assert taken(store, fresh, forged(saved(store, mine), nothing, photos=full_jpeg(3))).added == 3
    for _, _, _, _, contents, _ in seen(store, fresh):
        for *_, content in contents:
            assert [name for name, secret in SECRETS.items() if secret in content] == []


@pytest.mark.parametrize(
    ("change", "contents"),
    [
        (nothing, {"photos": b"no photo"}),
        (nothing, {"pictures": b"<html>"}),
        (nothing, {"pictures": b"\xff\xfe"}),
        (lambda listed: listed["boards"][-1]["told"].update(length_mm=-1), {}),
        (lambda listed: listed["boards"][-1]["told"].update(length_mm=float("inf")), {}),
        (lambda listed: listed["boards"][-1]["told"].update(note="x" * 5000), {}),
        (lambda listed: listed["boards"][-1]["photos"][0].update(id="0" * 32), {}),
    ],
)
def test_a_board_that_cannot_be_kept_is_left_out_whole(
    store: Store, mine: str, tmp_path: Path, clock: HandClock, change: Callable[..., None], contents: dict[str, bytes]
) -> None:
    """It is named with the reason, leaves no file behind, and the others are taken in."""
    boards = fill(store, mine, clock)
    store.boards.delete(mine, boards[1])
    data = forged(saved(store, mine), change, **contents)
    store.devices.delete(mine)
    assert files_in(tmp_path) == []
    fresh = store.devices.new().id

    came = taken(store, fresh, data)

    assert (came.added, [name for name, _ in came.refused]) == (1, ["Heron"])
    assert came.refused[0][1].endswith(".")
    assert files_in(tmp_path) == []


@pytest.mark.parametrize(
    "change",
    [
        lambda listed: listed.update(format="something else"),
        lambda listed: listed.update(version=0),
        lambda listed: listed.update(more=1),
        lambda listed: listed["boards"].append(listed["boards"][0]),
        lambda listed: listed["boards"][-1].update(id="../../etc"),
        lambda listed: listed["boards"][-1]["photos"][0].update(id="../secret"),
        lambda listed: listed["boards"][-1]["photos"][0].update(slot="face_9"),
        lambda listed: listed["boards"][-1]["photos"][0].update(created="2031-05-06T00:00:00"),
        lambda listed: listed["boards"][-1]["readings"][0].update(pictures=["../x"]),
        lambda listed: listed["boards"][-1]["readings"][0].update(pictures=["margin", "margin"]),
    ],
)
def test_a_list_that_makes_no_sense_is_refused(
    store: Store, mine: str, clock: HandClock, change: Callable[..., None]
) -> None:
    """Nothing of such a file is taken in, least of all a name that looks like a path."""
    fill(store, mine, clock)
    data = forged(saved(store, mine), change)
    fresh = store.devices.new().id

    with pytest.raises(BadInput, match="This is no file of boards"):
        taken(store, fresh, data)
    assert store.boards.all(fresh) == []


def test_a_newer_layout_is_refused(store: Store, mine: str) -> None:
    """The person is told to bring this program up to date."""
    data = forged(saved(store, mine), lambda listed: listed.update(version=2, other="things"))

    with pytest.raises(BadInput, match="newer version of the program saved this file"):
        taken(store, mine, data)


def test_an_answer_of_another_version_is_left_out(store: Store, mine: str, clock: HandClock) -> None:
    """Its board is taken in and can be read again."""
    fill(store, mine, clock)
    fresh = store.devices.new().id

    assert taken(store, fresh, forged(saved(store, mine), nothing, answers=b'{"verdict": "perhaps"}')) == TakenIn(
        added=3, answers_left=1
    )
    assert store.readings.newest(fresh) == {}


def test_a_full_phone_is_told(store: Store, mine: str, tmp_path: Path, clock: HandClock) -> None:
    """A board for which there is no room is left out; what fits is taken in, and no file is left over."""
    store.photos.add(mine, store.boards.add(mine, BoardTold(name="Heron")).id, Sent("end", "big", "a.png", noise()))
    store.boards.add(mine, BoardTold(name="Empty"))
    data = saved(store, mine)

    with a_store(tmp_path / "small", clock, device_bytes=MIB) as small:
        came = taken(small, small.devices.new().id, data)

        assert (came.added, [name for name, _ in came.refused]) == (1, ["Heron"])
        assert "at most 1 MB can be" in came.refused[0][1]
        assert files_in(tmp_path / "small") == []


def noise() -> bytes:
    """Make a photo of some megabytes."""
    photo = io.BytesIO()
    Image.effect_noise((2000, 1500), 80).save(photo, "PNG")
    return photo.getvalue()


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
