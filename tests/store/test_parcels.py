"""Boards saved as one file and taken in elsewhere: the same, once, and nothing more than that."""

import io
import json
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PIL import Image

from service.errors import BadInput
from service.store.opening import Store
from service.store.parcel import LIST, ParcelPhoto
from service.store.parcel_in import TakenIn
from service.store.photos import Sent
from service.store.rows import BoardTold, PhotoRow
from tests.store.made_up import MIB, SECRETS, HandClock, a_store, files_in, full_jpeg, sent
from tests.store.made_up_parcels import fill, forged, noise, nothing, saved, seen, taken


@pytest.fixture
def elsewhere(tmp_path: Path, clock: HandClock) -> Iterator[Store]:
    """Open another computer's store."""
    with a_store(tmp_path / "elsewhere", clock) as opened:
        yield opened


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
