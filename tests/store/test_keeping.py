"""Devices, boards, photos, answers, shares: kept, found again by their owner alone, deleted for good."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import func, select

from service.asked import FILE_FIELDS, TEXT_FIELDS
from service.errors import BadInput, BadPhoto, NotThere, StavesightError, TooLarge
from service.settings import Settings
from service.store.opening import Store, open_store
from service.store.photos import Sent
from service.store.readings import Made
from service.store.rows import SLOTS, BoardTold
from service.store.tables import metadata
from tests.store.made_up import HandClock, a_store, answer, files_in, photo, sent

PICTURES = {"face_1": "<svg>face</svg>", "margin": "<svg>margin</svg>"}


@pytest.fixture
def board(store: Store, mine: str) -> str:
    """Keep a board."""
    return store.boards.add(mine, BoardTold(name="Left one", wood="red oak")).id


def made(store: Store, device: str, board: str) -> Made:
    """Make an answer from a board's photos."""
    return Made(answer(), PICTURES, [row.id for row in store.photos.all(device, board)], "1.0")


def rows_left(store: Store) -> int:
    """Count the rows of all tables."""
    with store.database.reading() as connection:
        return sum(
            connection.scalar(select(func.count()).select_from(table)) or 0 for table in metadata.tables.values()
        )


def test_the_slots_are_the_forms_files() -> None:
    """A photo's slot is the name of the form's field it came in."""
    assert tuple(told.name for told in FILE_FIELDS) == SLOTS


def test_the_data_folder_is_the_owners_alone(tmp_path: Path) -> None:
    """It is made when missing, with the rights of its owner only; so is the database."""
    with a_store(tmp_path / "deep" / "kept"):
        assert (tmp_path / "deep" / "kept").stat().st_mode & 0o777 == 0o700
        assert (tmp_path / "deep" / "kept" / "stavesight.db").stat().st_mode & 0o777 == 0o600


def test_a_folder_that_is_none_stops_the_start(tmp_path: Path) -> None:
    """A file in its place, or an address that is none, is refused with the variable's name."""
    (tmp_path / "file").write_text("here")
    with pytest.raises(BadInput, match="STAVESIGHT_DATA"):
        open_store(Settings(data=str(tmp_path / "file")))
    for address in ("nonsense", "no+such://database"):
        with pytest.raises(BadInput, match="STAVESIGHT_DATABASE"):
            open_store(Settings(data=str(tmp_path), database=address))


def test_the_data_home_is_the_users(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG Base Directory Specification: XDG_DATA_HOME, or ~/.local/share where it is unset or relative."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert Settings().data_folder == tmp_path / "stavesight"
    monkeypatch.setenv("HOME", str(tmp_path))
    for home in ("", "relative"):
        monkeypatch.setenv("XDG_DATA_HOME", home)
        assert Settings().data_folder == tmp_path / ".local" / "share" / "stavesight"


def test_a_device_is_known_by_its_secret(store: Store, tmp_path: Path) -> None:
    """A secret leads to its device and no other text does; it is nowhere on the disk."""
    first, second = store.devices.new(), store.devices.new()

    assert (store.devices.of(first.secret), store.devices.of(second.secret)) == (first.id, second.id)
    assert store.devices.of(first.secret[:-1]) is store.devices.of("") is store.devices.of(first.id) is None
    assert first.secret not in repr(first)
    store.close()
    kept = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    assert first.id.encode() in kept
    assert first.secret.encode() not in kept


def test_settings_of_a_device(store: Store, mine: str) -> None:
    """A setting takes the place of the one before, and another device does not see it."""
    store.devices.keep_setting(mine, "sizes", {"length": "96 in", "width": "1-1/2 in"})
    store.devices.keep_setting(mine, "units", "mm")
    store.devices.keep_setting(mine, "units", "in")

    assert store.devices.settings(mine) == {"sizes": {"length": "96 in", "width": "1-1/2 in"}, "units": "in"}
    assert store.devices.settings(store.devices.new().id) == {}


def test_a_board_is_kept_as_told(tmp_path: Path, store: Store, mine: str, clock: HandClock) -> None:
    """All that is told comes back, also after the program was started anew, and moments know they are UTC."""
    asked = {told.name: told.example for told in TEXT_FIELDS}
    told = BoardTold("Nº 7", "tight rings\nby the door", "12.40", 2438.4, 38.1, 19.05, "1x2", "red oak", asked, "in")
    row = store.boards.add(mine, told)
    clock.pass_by(minutes=5)
    changed = store.boards.change(mine, row.id, replace(told, chosen=True))

    with a_store(tmp_path) as again:
        found = again.boards.get(mine, row.id)
    assert found == changed
    assert found.told == replace(told, chosen=True)
    assert (found.changed - found.created).total_seconds() == 300
    assert found.created.utcoffset() is not None
    assert found.created == row.created


@pytest.mark.parametrize(
    "told",
    [
        BoardTold(name="x" * 121),
        BoardTold(note="x" * 4001),
        BoardTold(length_mm=float("nan")),
        BoardTold(width_mm=0.0),
        BoardTold(units="ft"),
        BoardTold(asked={"ink": "x" * 4001}),
        BoardTold(asked={str(number): "" for number in range(201)}),
    ],
)
def test_what_is_too_much_is_refused(store: Store, mine: str, told: BoardTold) -> None:
    """Texts are bounded and sizes are lengths."""
    with pytest.raises(BadInput):
        store.boards.add(mine, told)

    assert store.boards.all(mine) == []


def test_control_characters_are_left_out(store: Store, mine: str) -> None:
    """Zeros and halves of characters, which some databases refuse, are not kept."""
    row = store.boards.add(mine, BoardTold(name="red\x00 oak\ud800", asked={"wood": "a\x00b"}))

    assert (row.told.name, row.told.asked) == ("red oak", {"wood": "ab"})


def test_boards_of_one_day_join_one_outing(store: Store, mine: str, clock: HandClock) -> None:
    """The first board of a day begins an outing, the next ones join it; an emptied outing goes."""
    day = date(2031, 5, 6)
    first, second = (store.boards.add(mine, BoardTold(), day) for _ in range(2))
    other = store.boards.add(mine, BoardTold(), date(2031, 5, 7))

    assert first.outing_id == second.outing_id != other.outing_id
    store.boards.name_outing(mine, first.outing_id, "Mill sale", day)
    assert [(row.name, row.day) for row in store.boards.outings(mine)] == [("", date(2031, 5, 7)), ("Mill sale", day)]
    assert {row.id for row in store.boards.all(mine, first.outing_id)} == {first.id, second.id}

    store.boards.move(mine, other.id, first.outing_id)
    assert [row.id for row in store.boards.outings(mine)] == [first.outing_id]
    clock.pass_by(seconds=1)
    alone = store.boards.move(mine, other.id, None)
    assert store.boards.get(mine, other.id).outing_id == alone != first.outing_id
    store.boards.delete(mine, other.id)
    assert [row.id for row in store.boards.outings(mine)] == [first.outing_id]


def test_photos_come_back_for_reading(store: Store, mine: str, board: str) -> None:
    """Photos stand slot by slot in their order, with their bytes, and can be put elsewhere."""
    first, second, close = (
        store.photos.add(mine, board, sent(seed, slot=slot))
        for seed, slot in ((1, "face_1"), (2, "face_1"), (3, "close_face_1"))
    )

    uploads = store.photos.uploads(mine, board)
    assert {slot: len(found) for slot, found in uploads.items()} == {"face_1": 2, "close_face_1": 1}
    row, data = store.photos.content(mine, second.id)
    assert (row, data) == (second, uploads["face_1"][1].data)
    assert (row.bytes, row.kind, row.place) == (len(data), "jpeg", 1)

    store.photos.move(mine, second.id, "face_1", 0)
    assert [row.id for row in store.photos.all(mine, board)] == [second.id, first.id, close.id]
    store.photos.move(mine, second.id, "end", 5)
    assert [(row.id, row.place) for row in store.photos.all(mine, board)][-1] == (second.id, 0)
    with pytest.raises(BadInput):
        store.photos.move(mine, second.id, "top", 0)


def test_a_photo_sent_twice_is_kept_once(store: Store, mine: str, board: str, tmp_path: Path) -> None:
    """The same key and content returns the first photo; another content or board under it is refused."""
    first = store.photos.add(mine, board, sent(1, "k"))

    assert store.photos.add(mine, board, sent(1, "k")) == first
    with pytest.raises(BadInput, match="Another photo was kept under this key"):
        store.photos.add(mine, board, sent(2, "k"))
    with pytest.raises(BadInput, match="Another photo was kept under this key"):
        store.photos.add(mine, store.boards.add(mine, BoardTold()).id, sent(1, "k"))
    assert files_in(tmp_path) == [first.id]
    theirs = store.devices.new().id
    assert store.photos.add(theirs, store.boards.add(theirs, BoardTold()).id, sent(2, "k")).id != first.id


def test_a_lost_file_can_be_sent_again(store: Store, mine: str, board: str, tmp_path: Path) -> None:
    """Sending a photo again whose file got lost keeps it anew."""
    first = store.photos.add(mine, board, sent(1))
    store.photos.files.path(first.id).unlink()

    with pytest.raises(NotThere, match="got lost"):
        store.photos.content(mine, first.id)
    again = store.photos.add(mine, board, sent(1))

    assert [row.id for row in store.photos.all(mine, board)] == [again.id] == files_in(tmp_path)


@pytest.mark.parametrize(
    ("given", "kind"),
    [
        (Sent("face_1", "k", "a.jpg", b""), BadPhoto),
        (Sent("face_1", "k", "a.jpg", photo(1)[:600]), BadPhoto),
        (Sent("top", "k", "a.jpg", photo(1)), BadInput),
        (Sent("face_1", "", "a.jpg", photo(1)), BadInput),
        (Sent("face_1", "k" * 101, "a.jpg", photo(1)), BadInput),
        (Sent("face_1", "k\x00", "a.jpg", photo(1)), BadInput),
    ],
)
def test_what_cannot_be_kept_leaves_nothing(
    store: Store, mine: str, board: str, tmp_path: Path, given: Sent, kind: type[StavesightError]
) -> None:
    """A broken photo, an unknown slot or a key that is none is refused before anything is written."""
    with pytest.raises(kind):
        store.photos.add(mine, board, given)

    assert (files_in(tmp_path), store.photos.all(mine, board)) == ([], [])


def test_names_lead_nowhere(store: Store, mine: str, board: str, tmp_path: Path) -> None:
    """A file's place comes from its own id; of a name with a path, its last part is kept for messages."""
    row = store.photos.add(mine, board, sent(1, name="../../etc/\x00passwd" + "x" * 200))

    assert row.name == ("passwd" + "x" * 200)[:120]
    assert [path.relative_to(tmp_path).as_posix() for path in (tmp_path / "files").rglob("*") if path.is_file()] == [
        f"files/{row.id[:2]}/{row.id}"
    ]


def test_a_device_has_its_share_of_the_disk(tmp_path: Path) -> None:
    """What would exceed it is refused with both numbers and nothing of it stays; another device has its own."""
    with a_store(tmp_path, device_bytes=2**20) as store:
        mine, theirs = store.devices.new().id, store.devices.new().id
        board = store.boards.add(mine, BoardTold()).id
        kept = store.photos.add(mine, board, sent(1))
        big = Made(answer(), {"face_1": "x" * (2**20 - kept.bytes + 1)}, [kept.id], "1.0")

        with pytest.raises(TooLarge, match=r"at most 1 MB can be\. Delete"):
            store.readings.add(mine, board, big)
        assert (files_in(tmp_path), store.devices.used_bytes(mine)) == ([kept.id], kept.bytes)
        fits = replace(big, pictures={"face_1": "x" * (2**20 - kept.bytes)})
        store.readings.add(mine, board, fits)
        with pytest.raises(TooLarge):
            store.photos.add(mine, board, sent(2))
        assert store.devices.used_bytes(mine) == 2**20
        store.photos.add(theirs, store.boards.add(theirs, BoardTold()).id, sent(2))


def test_an_answer_is_kept_with_its_pictures(store: Store, mine: str, board: str, clock: HandClock) -> None:
    """The record comes back equal, pictures by name, the newest reading first; an older record is none."""
    store.photos.add(mine, board, sent(1))
    first = store.readings.add(mine, board, made(store, mine, board))
    clock.pass_by(seconds=1)
    second = store.readings.add(mine, board, made(store, mine, board))

    assert store.readings.all(mine, board) == [second, first]
    assert store.readings.newest(mine) == {board: second}
    assert store.readings.newest(mine, "no such outing") == {}
    assert second.record() == answer()
    assert replace(second, answer={"verdict": "pass"}).record() is None
    assert store.readings.picture(mine, first.id, "margin") == PICTURES["margin"]
    store.readings.delete(mine, second.id)
    assert store.readings.all(mine, board) == [first]


def test_a_share_shows_the_answer_until_withdrawn(store: Store, mine: str, board: str, tmp_path: Path) -> None:
    """Its token leads to the newest answer and its pictures alone, and is nowhere on the disk."""
    _, token = store.shares.add(mine, board)
    with pytest.raises(NotThere):
        store.shares.shared(token)
    read = store.readings.add(mine, board, made(store, mine, board))
    other = store.boards.add(mine, BoardTold()).id
    hidden = store.readings.add(mine, other, made(store, mine, other))

    shared = store.shares.shared(token)
    assert (shared.name, shared.wood, shared.reading) == ("Left one", "red oak", read)
    assert store.shares.picture(token, read.id, "face_1") == PICTURES["face_1"]
    for token_given, reading, name in ((token, hidden.id, "face_1"), (token, read.id, "end"), ("x", read.id, "face_1")):
        with pytest.raises(NotThere):
            store.shares.picture(token_given, reading, name)

    store.shares.withdraw(mine, board)
    assert [row.withdrawn is None for row in store.shares.all(mine, board)] == [False]
    for look in (lambda: store.shares.shared(token), lambda: store.shares.picture(token, read.id, "face_1")):
        with pytest.raises(NotThere, match="Ask whoever gave it to you"):
            look()
    store.close()
    assert all(token.encode() not in path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())


def test_another_device_sees_nothing(store: Store, mine: str, board: str) -> None:
    """Whatever it asks for of a board that is not its own is not there, and nothing changes."""
    kept = store.photos.add(mine, board, sent(1))
    read = store.readings.add(mine, board, made(store, mine, board))
    outing = store.boards.get(mine, board).outing_id
    before, them = rows_left(store), store.devices.new().id
    own = store.boards.add(them, BoardTold(), date(1999, 1, 1)).id
    tries: list[Callable[[], object]] = [
        lambda: store.boards.get(them, board),
        lambda: store.boards.change(them, board, BoardTold()),
        lambda: store.boards.touch(them, board),
        lambda: store.boards.delete(them, board),
        lambda: store.boards.move(them, board, None),
        lambda: store.boards.move(them, own, outing),
        lambda: store.boards.add(them, BoardTold(), outing_id=outing),
        lambda: store.boards.name_outing(them, outing, "Ours", date(2031, 1, 1)),
        lambda: store.photos.add(them, board, sent(2)),
        lambda: store.photos.all(them, board),
        lambda: store.photos.uploads(them, board),
        lambda: store.photos.content(them, kept.id),
        lambda: store.photos.move(them, kept.id, "end", 0),
        lambda: store.photos.delete(them, kept.id),
        lambda: store.readings.add(them, board, Made(answer(), PICTURES, [], "1")),
        lambda: store.readings.all(them, board),
        lambda: store.readings.picture(them, read.id, "face_1"),
        lambda: store.readings.delete(them, read.id),
        lambda: store.shares.add(them, board),
        lambda: store.shares.all(them, board),
        lambda: store.shares.withdraw(them, board),
    ]

    for attempt in tries:
        with pytest.raises(NotThere):
            attempt()
    assert store.boards.all(them, outing) == []
    assert store.readings.newest(them) == {}
    assert store.devices.used_bytes(them) == 0
    assert rows_left(store) == before + 3  # the other device, its board and its outing


def test_deleting_deletes(store: Store, mine: str, board: str, tmp_path: Path) -> None:
    """A photo, a board, a device: rows and files of all that belongs to them are gone at once."""
    first, second = (store.photos.add(mine, board, sent(seed)) for seed in (1, 2))
    store.readings.add(mine, board, made(store, mine, board))
    store.shares.add(mine, board)
    store.devices.keep_setting(mine, "units", "mm")

    store.photos.delete(mine, first.id)
    assert first.id not in files_in(tmp_path)
    assert second.id in files_in(tmp_path)
    store.boards.delete(mine, board)
    assert (files_in(tmp_path), rows_left(store)) == ([], 2)  # the device and its setting

    board = store.boards.add(mine, BoardTold()).id
    store.photos.add(mine, board, sent(1))
    store.readings.add(mine, board, made(store, mine, board))
    store.devices.delete(mine)
    store.devices.delete(mine)
    assert (files_in(tmp_path), rows_left(store)) == ([], 0)
    for attempt in (
        lambda: store.boards.add(mine, BoardTold()),
        lambda: store.devices.keep_setting(mine, "units", "mm"),
    ):
        with pytest.raises(NotThere, match="Open the start page"):
            attempt()


def test_what_was_deleted_is_overwritten(store: Store, mine: str, tmp_path: Path) -> None:
    """A deleted note is not left in the free pages of the database's file."""
    board = store.boards.add(mine, BoardTold(note="the plank behind the kiln " * 40)).id
    store.boards.delete(mine, board)
    store.close()

    assert b"behind the kiln" not in (tmp_path / "stavesight.db").read_bytes()
