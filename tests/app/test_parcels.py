"""All boards of a phone saved as one file and taken in by another, by pages that need no scripts."""

import io
import json
import math
import re
import zipfile
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from service.app import create_app
from service.settings import Settings
from tests.app import standins
from tests.app.phones import Phone, text_of


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Start an app on another computer, where little is kept for a phone."""
    settings = Settings(readers=1, data=str(tmp_path_factory.mktemp("elsewhere")), device_bytes=1024**2)
    with TestClient(create_app(settings, standins.read_by_length, standins.check_at_once)) as client:
        yield client


@pytest.fixture
def saved(phone: Phone) -> bytes:
    """Save the file of a phone with a read board and an empty one."""
    phone.read_board(wood="ash")
    phone.settled(phone.board("7 ft"))
    return phone.get("/keep/boards.zip").content


def take(phone: Phone, data: bytes, name: str = "boards.zip") -> Response:
    """Send a file by the page's form."""
    return phone.send("POST", "/keep", files={"file": (name, data, "application/zip")})


def boards_of(phone: Phone) -> list[str]:
    """Return the addresses of the boards on the rack."""
    return re.findall(r'href="(/boards/[0-9a-f]{32})"', phone.get("/").text)


def test_boards_go_from_phone_to_phone(phone: Phone, elsewhere: TestClient, saved: bytes) -> None:
    """Saved on one, taken in by another: the same answer, still fresh, the same photos; that phone is then known."""
    fresh = Phone(elsewhere)
    came = take(fresh, saved)
    assert (came.status_code, came.headers["location"]) == (303, "/keep?added=2&there=0")
    assert "2 boards were taken in." in text_of(fresh.get(came.headers["location"]))

    assert len(boards_of(fresh)) == 2
    board, first = next((board, fresh.state(board)) for board in boards_of(fresh) if fresh.state(board)["photos"])
    home = next(board for board in boards_of(phone) if phone.state(board)["photos"])
    assert (first["verdict"], first["stale"]) == ("pass", False)
    assert fresh.get(f"{board}/answer.json").json() == phone.get(f"{home}/answer.json").json()
    assert fresh.get(f"{board}/answer").status_code == 200
    assert fresh.get(f"{board}/pictures/face_1").text == phone.get(f"{home}/pictures/face_1").text
    for here, there in zip(first["photos"], phone.state(home)["photos"], strict=True):
        small = fresh.get(f"{board}/photos/{here['id']}").content
        assert small == phone.get(f"{home}/photos/{there['id']}").content
    assert "ash" in text_of(fresh.get(board))


def test_a_file_sent_twice_is_taken_in_once(elsewhere: TestClient, saved: bytes) -> None:
    """The second time the page says that the boards were here already."""
    fresh = Phone(elsewhere)
    take(fresh, saved)

    again = take(fresh, saved)

    assert again.headers["location"] == "/keep?added=0&there=2"
    assert "2 boards of the file were here already and stay as they are." in text_of(fresh.get("/keep?added=0&there=2"))
    assert len(boards_of(fresh)) == 2


def test_the_file_is_handed_over_as_one(phone: Phone, saved: bytes) -> None:
    """It is named for program and day, is not left in caches, and holds this phone's boards."""
    response = phone.get("/keep/boards.zip")

    assert re.fullmatch(
        r'attachment; filename="stavesight-boards-\d{4}-\d\d-\d\d\.zip"', response.headers["content-disposition"]
    )
    assert response.headers["content-type"] == "application/zip"
    assert response.headers["cache-control"] == "no-store"
    with zipfile.ZipFile(io.BytesIO(saved)) as archive:
        assert len(json.loads(archive.read("boards.json"))["boards"]) == 2


def test_whoever_keeps_nothing_saves_nothing(phone: Phone) -> None:
    """The page says so, and there is no file; looking makes no cookie."""
    page = phone.get("/keep")

    assert "No board is kept for this phone yet." in text_of(page)
    assert "boards.zip" not in page.text
    assert phone.get("/keep/boards.zip").status_code == 404
    assert phone.cookie == ""


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (b"", "", "No file was chosen. Choose the one that you saved"),
        (b"", "empty.zip", "No file was chosen. Choose the one that you saved"),
        (b"oak", "boards.zip", "This is no file of boards, or it did not arrive whole. Choose one that was saved"),
    ],
)
def test_what_is_no_such_file_is_refused_at_the_field(phone: Phone, data: bytes, name: str, words: str) -> None:
    """The page says why and what to choose, at the field and above; nobody is made known for it."""
    response = take(phone, data, name)

    assert response.status_code == 422
    assert text_of(response).count(words) == 2
    assert 'aria-describedby="file-hint file-why"' in response.text
    assert phone.cookie == ""


def test_a_board_that_cannot_be_kept_is_named(elsewhere: TestClient, saved: bytes) -> None:
    """The others are taken in, and the page names the one left out with the reason."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(saved)) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            new.writestr(name, b"no photo" if name.startswith("photos/") else old.read(name))
    fresh = Phone(elsewhere)

    response = take(fresh, changed.getvalue())

    assert response.status_code == 422
    assert "1 board was taken in." in text_of(response)
    assert "face_1" not in text_of(response)
    assert re.search(r"<li><b>[^<]+</b>: [^<]+\.</li>", response.text)
    assert len(boards_of(fresh)) == 1


def test_texts_no_page_could_show_are_refused(elsewhere: TestClient, saved: bytes) -> None:
    """A board whose size was made up cannot break the pages: it is left out."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(saved)) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b'"length": "8 ft"', b'"length": "8 parsecs"'))
    fresh = Phone(elsewhere)

    assert "8 parsecs" in text_of(take(fresh, changed.getvalue()))
    assert len(boards_of(fresh)) == 1


@pytest.mark.parametrize(
    "change",
    [{"score": math.nan, "bow_length_mm": math.inf}, {"sides": {}}, {"board": {"length_mm": math.nan}}],
)
def test_an_answer_no_page_could_show_is_refused(
    elsewhere: TestClient, saved: bytes, change: dict[str, object]
) -> None:
    """A made-up answer cannot break rack and board: its board is left out, or all pages can be opened."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(saved)) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name.startswith("answers/"):
                answer = json.loads(content)
                for part, own in change.items():
                    answer[part] = {**answer[part], **own} if isinstance(own, dict) and own else own
                content = json.dumps(answer).encode()
            new.writestr(name, content)
    fresh = Phone(elsewhere)

    take(fresh, changed.getvalue())

    for board in boards_of(fresh):
        assert fresh.get(board).status_code == 200
        assert fresh.get(f"{board}/answer").status_code in (200, 404)


def test_too_large_a_file_is_refused(elsewhere: TestClient) -> None:
    """More than may be kept for a phone is told before it is looked at."""
    fresh = Phone(elsewhere)

    response = take(fresh, bytes(66 * 1024**2))

    assert response.status_code == 413
    assert "The file holds more than 65 MB, which is all that is kept for a phone." in text_of(response)


@pytest.mark.parametrize("told", ["added=x", "added=1&there=-3", "added=99999999999999999999", "added=<b>"])
def test_an_invented_address_says_nothing_wrong(phone: Phone, told: str) -> None:
    """Only counts are shown of what the address tells."""
    assert phone.get(f"/keep?{told}").status_code == 200
    assert "&lt;b" not in phone.get(f"/keep?{told}").text


def test_another_site_cannot_send_a_file(phone: Phone, saved: bytes) -> None:
    """Boards are taken in by our own form alone."""
    response = phone.send(
        "POST", "/keep", {"sec-fetch-site": "cross-site"}, files={"file": ("a.zip", saved, "application/zip")}
    )

    assert response.status_code == 403
