"""Readings of kept boards: started by themselves or by a button, kept whoever waits, never mistaken for newer ones."""

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.app.requests.devices import PLAIN_NAME
from service.settings import Settings, find_folder
from service.sides import SIDES
from service.store.opening import Store
from tests.app import standins
from tests.app.outline import Outline
from tests.app.phones import DATA, Phone, text_of

LINES = {"accept": "application/x-ndjson"}


@contextmanager
def visiting(folder: Path, read: Callable[..., Any], **given: Any) -> Iterator[Phone]:
    """Visit an app with another reader."""
    settings = Settings(readers=1, data=str(folder), **given)
    with TestClient(create_app(settings, read, standins.check_at_once)) as client:
        yield Phone(client)


def test_face_and_edge_start_a_reading_by_themselves(phone: Phone) -> None:
    """As soon as there is a face and an edge the board is read, and the answer is there when it is looked for."""
    board = phone.board()

    told = [phone.shoot(f"{board}/photos/{slot}", headers=DATA).json()["reading"] for slot in ("face_1", "edge_2")]
    state = phone.settled(board)

    assert told == ["waiting", "started"]
    assert (state["verdict"], state["word"], state["stale"], state["reading"]) == ("pass", "Take it", False, "none")


def test_a_script_may_wait_for_a_reading(tmp_path: Path) -> None:
    """Asked to wait, the server tells at once when a reading has ended, instead of being asked over and over."""
    with visiting(tmp_path, standins.read_slowly) as phone:
        board = phone.read_board()  # the worker is there from then on
        phone.shoot(f"{board}/photos/face_2", headers=DATA)
        at_once, waited = phone.state(board), phone.get(f"{board}/state", wait="1").json()

    assert (at_once["reading"], at_once["stale"]) == ("started", True)
    assert (waited["reading"], waited["stale"]) == ("none", False)


def test_an_unusable_photo_starts_nothing(phone: Phone) -> None:
    """A blurred photo is taken again first: reading it would only take time."""
    board = phone.board()
    phone.shoot(f"{board}/photos/face_1")

    told = phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg", headers=DATA).json()

    assert told["reading"] == "none"
    assert phone.state(board)["verdict"] is None


def test_the_button_reads_the_board_and_shows_it(phone: Phone) -> None:
    """Without scripts the page waits and then leads to the board with its answer; pressed again nothing is redone."""
    board = phone.board()
    phone.shoot(f"{board}/photos/face_1")
    phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg")

    read = phone.post(f"{board}/reading")
    again = phone.post(f"{board}/reading")

    assert (read.status_code, read.headers["location"]) == (303, board)
    assert again.headers["location"] == board
    assert phone.state(board)["verdict"] == "pass"


def test_a_script_gets_the_steps(phone: Phone) -> None:
    """Asked for lines, the steps come one by one and at last that it is done."""
    board = phone.board()
    phone.shoot(f"{board}/photos/face_1")
    phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg")

    response = phone.post(f"{board}/reading", headers=LINES)

    assert response.headers["content-type"].startswith("application/x-ndjson")
    assert [json.loads(line) for line in response.text.splitlines()] == [
        {"step": "Waiting for a free reader"},
        {"step": "Reading face_1"},
        {"step": "Reading edge_1"},
        {"done": True},
    ]


def test_nothing_to_read_is_told(phone: Phone) -> None:
    """Without a face and an edge the board's page says what is missing, a script gets it as data."""
    board = phone.board()
    phone.shoot(f"{board}/photos/face_1")

    page, told = phone.post(f"{board}/reading"), phone.post(f"{board}/reading", headers=LINES)

    assert (page.status_code, told.status_code) == (422, 422)
    assert "Photograph at least one face and one edge" in text_of(page)
    assert told.json()["code"] == "bad_input"


@pytest.mark.parametrize(
    "change",
    [
        lambda phone, board: phone.shoot(f"{board}/photos/face_2", name="blurred.jpg"),
        lambda phone, board: phone.post(f"{board}/photos/{phone.state(board)['photos'][0]['id']}/delete"),
    ],
    ids=["another_photo", "one_less"],
)
def test_an_answer_from_before_a_change_says_so(phone: Phone, change: Callable[[Phone, str], object]) -> None:
    """With other photos than it was made from, the answer is told to be from before, on every page."""
    board = phone.read_board()
    assert "From before" not in text_of(phone.get(board))

    change(phone, board)

    assert phone.state(board)["stale"]
    for path in (board, f"{board}/answer", "/"):
        assert "From before the last" in text_of(phone.get(path))


def test_a_change_that_matters_is_read_anew(phone: Phone) -> None:
    """Another bow or knot is judged by itself; a note or price is not."""
    board = phone.read_board()

    phone.post(board, {"note": "dry", "price": "12", "chosen": "yes"})
    unchanged = phone.state(board)
    phone.post(board, {"length": "7 ft"})
    changed = phone.settled(board)

    assert (unchanged["reading"], unchanged["stale"]) == ("none", False)
    assert (changed["verdict"], changed["stale"]) == ("borderline", False)


def test_a_refusal_of_the_reader_is_told_on_the_board(tmp_path: Path) -> None:
    """What the reader refuses stands on the board's page, at once and later, and its photos stay."""
    with visiting(tmp_path, standins.refuse) as phone:
        board = phone.board()
        phone.shoot(f"{board}/photos/face_1")
        phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg")

        told = json.loads(phone.post(f"{board}/reading", headers=LINES).text.splitlines()[-1])
        page = phone.post(f"{board}/reading")
        state = phone.state(board)

        assert (told["code"], told["field"]) == ("bad_photo", "face_1")
        assert page.status_code == 422
        assert told["text"] in text_of(page)
        assert told["text"] in text_of(phone.get(board))
        assert (state["refusal"], len(state["photos"]), state["verdict"]) == (told["text"], 2, None)


def test_a_reader_that_dies_leaves_the_board(tmp_path: Path) -> None:
    """A crash of the reader is told, and the next try reads the board."""
    with visiting(tmp_path, standins.die) as phone:
        board = phone.board()
        phone.shoot(f"{board}/photos/face_1")
        phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg")

        died = phone.post(f"{board}/reading")
        phone.post(board, {"wood": "oak"})

        assert died.status_code == 500
        assert phone.settled(board)["verdict"] == "borderline"


def test_photos_that_come_meanwhile_are_read_too(tmp_path: Path) -> None:
    """While a board is being read more photos arrive: it is read once more, and the last answer holds for all."""
    with visiting(tmp_path, standins.read_slowly) as phone:
        board = phone.board()
        for slot in SIDES:
            phone.shoot(f"{board}/photos/{slot}")
            time.sleep(0.3)
        state = phone.settled(board)

        assert (state["stale"], len(state["photos"])) == (False, 4)
        store: Store = phone.client.app.state.store  # type: ignore[attr-defined]  # the app made by create_app
        device = store.devices.of(phone.cookie.removeprefix(f"{PLAIN_NAME}="))
        assert device is not None
        readings = store.readings.all(device, board.rpartition("/")[2])
        assert [len(reading.photos) for reading in readings] == [4]  # earlier ones only took room


def test_a_full_queue_is_told_with_when_to_come_back(tmp_path: Path) -> None:
    """When all readers are taken a script is told so; the photos are kept, and later the board is read."""
    with visiting(tmp_path, standins.read_slowly, waiting=0) as phone:
        boards = [phone.board(name=name) for name in ("One", "Two")]
        for board in boards:
            phone.shoot(f"{board}/photos/face_1")
            phone.shoot(f"{board}/photos/edge_1")
        states = [phone.settled(board) for board in boards]

        assert [state["verdict"] for state in states] == ["borderline", None]
        assert "the queue is full" in states[1]["refusal"]
        assert phone.post(f"{boards[1]}/reading").status_code == 303


def test_a_board_deleted_while_it_is_read_harms_nobody(tmp_path: Path) -> None:
    """Its reading ends nowhere, and the next board is read."""
    with visiting(tmp_path, standins.read_slowly) as phone:
        gone, board = phone.board(), phone.board()
        for one in (gone, board):
            phone.shoot(f"{one}/photos/face_1")
            phone.shoot(f"{one}/photos/edge_1")
        assert phone.post(f"{gone}/delete", {"sure": "yes"}).status_code == 303

        assert phone.settled(board)["verdict"] == "borderline"
        assert phone.get(f"{gone}/state").status_code == 404


def test_what_is_kept_outlives_the_app(tmp_path: Path) -> None:
    """Started again, the app still has boards, photos, answers and the phone; checks are made anew."""
    with visiting(tmp_path, standins.read_at_once) as phone:
        board = phone.read_board()
        before = phone.state(board)
        cookie = phone.cookie
    with visiting(tmp_path, standins.read_at_once) as phone:
        phone.cookie = cookie

        assert phone.checked(board) == before


def test_nothing_of_a_board_is_logged(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Neither names nor notes nor file names reach the log, not even of a fault."""
    with caplog.at_level("DEBUG", logger="service"), visiting(tmp_path, standins.stumble) as phone:
        board = phone.board(name="secret name")
        phone.shoot(f"{board}/photos/face_1", name="secret.jpg")
        phone.shoot(f"{board}/photos/edge_1", name="secret.jpg")
        assert "fault in the program" in phone.settled(board)["refusal"]

    assert "secret" not in caplog.text
    assert "ZeroDivisionError" in caplog.text


def test_a_demo_board_is_read_from_its_kept_photos(tmp_path: Path) -> None:
    """The real checker finds all four photos good, and the real reader gives the verdict known of the board."""
    folder = find_folder("demo_photos") / "clear_till_evening"
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    with TestClient(create_app(Settings(readers=1, data=str(tmp_path)))) as client:
        phone = Phone(client)
        board = phone.board()
        names = {side: side for side in SIDES} | {
            "close_face_1": "face_1_close",
            "close_edge_1": "edge_1_close",
            "end": "end",
        }
        for slot, name in names.items():
            files = [("photo", (f"{name}.jpg", (folder / f"{name}.jpg").read_bytes(), "image/jpeg"))]
            assert phone.send("POST", f"{board}/photos/{slot}", DATA, data={"key": slot}, files=files).is_success
        checks = [photo["check"] for photo in phone.checked(board)["photos"] if photo["slot"] != "end"]
        assert [check["usable"] for check in checks] == [True] * 6
        assert phone.post(f"{board}/reading").status_code == 303

        assert phone.state(board)["verdict"] == truth["expected"]["verdict"]
        pictures = [str(image["src"]) for image in Outline(phone.get(f"{board}/answer").text).of("img")]
        assert len(pictures) == 6  # the place that decides, the sides and the margin
        assert all(phone.get(picture).text.lstrip().startswith("<svg") for picture in pictures)
