"""Photos of kept boards: taken in once, judged at once, each in its place, shown small, deleted."""

import io
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from service.app import create_app
from service.settings import Settings
from tests.app import standins
from tests.app.outline import Outline
from tests.app.phones import DATA, Phone, text_of
from tests.store.made_up import SECRETS, full_jpeg, photo


def slots_of(phone: Phone, board: str) -> list[str]:
    """Return the slots of a board's photos."""
    return [row["slot"] for row in phone.state(board)["photos"]]


def test_a_photo_is_sent_by_a_plain_form(phone: Phone) -> None:
    """Without scripts the form of a shot leads back to it, and the photo stands there with what its check says."""
    board = phone.board()
    form = next(form for form in Outline(phone.get(board).text).of("form") if form.get("data-shot") == "face_1")

    sent = phone.shoot(str(form["action"]))

    assert (sent.status_code, sent.headers["location"]) == (303, f"{board}#shot_face_1")
    page = phone.get(board)
    assert "Good." in text_of(page)
    assert [image["alt"] for image in Outline(page.text).of("img")] == ["Face 1, photo 1"]


def test_a_script_gets_the_check_as_data(phone: Phone) -> None:
    """Asked for JSON, the same address tells the photo's id, its check and whether the board is being read."""
    board = phone.board()

    good = phone.shoot(f"{board}/photos/face_1", headers=DATA).json()
    bad = phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg", headers=DATA).json()

    assert good["check"] == {"usable": True, "reasons": [], "advice": [], "words": "Good."}
    assert bad["check"]["words"] == "Take it again. The photo is blurred. Hold still."
    assert bad["check"]["reasons"] == [{"code": "blurred", "text": "The photo is blurred. Hold still."}]
    assert (good["reading"], bad["reading"]) == ("waiting", "none")
    assert phone.state(board)["photos"][1] == {"id": bad["photo"], "slot": "edge_1", "place": 0, "check": bad["check"]}


def test_the_same_key_keeps_a_photo_once(phone: Phone) -> None:
    """A phone that did not hear the answer sends again: one photo is kept, and the answer is the same."""
    board = phone.board()

    first, again = (
        phone.shoot(f"{board}/photos/face_1", seed=7, key="the-same", headers=DATA).json() for _ in range(2)
    )

    assert first == again
    assert slots_of(phone, board) == ["face_1"]


def test_the_same_upload_twice_at_once_is_kept_once(phone: Phone) -> None:
    """Sent again while the first is still on its way, a photo is kept once, and both get the same answer."""
    board = phone.board()
    files = [("photo", ("a.jpg", photo(3), "image/jpeg"))]
    headers = {**DATA, "cookie": phone.cookie}
    path = f"{board}/photos/close_face_1"
    with ThreadPoolExecutor() as threads:
        sent = [
            threads.submit(phone.client.post, path, headers=headers, data={"key": "twice"}, files=files)
            for _ in range(4)
        ]
        answers = [one.result().json() for one in sent]

    assert answers == [answers[0]] * 4
    assert [row["id"] for row in phone.state(board)["photos"]] == [answers[0]["photo"]]


def test_a_key_serves_one_photo(phone: Phone) -> None:
    """Another photo under a key that was used is refused, with what to do."""
    board = phone.board()
    phone.shoot(f"{board}/photos/face_1", seed=1, key="used")

    refused = phone.shoot(f"{board}/photos/face_1", seed=2, key="used", headers=DATA)

    assert refused.status_code == 422
    assert refused.json()["field"] == "key"
    assert "Choose the photo again" in refused.json()["text"]


def test_a_side_taken_again_takes_the_place_of_the_first(phone: Phone) -> None:
    """A side has one photo unless another is sent as its next part; close-ups stand beside one another."""
    board = phone.board()
    for place in ("face_1", "face_1", "edge_1", "edge_1?more=1", "close_face_1", "close_face_1", "end", "end"):
        assert phone.shoot(f"{board}/photos/{place}").status_code == 303

    assert slots_of(phone, board) == ["face_1", "edge_1", "edge_1", "close_face_1", "close_face_1", "end"]


def test_a_late_first_photo_does_not_undo_a_second(phone: Phone) -> None:
    """An upload that is sent once more after a newer one has come leaves the newer one in place."""
    board = phone.board()
    phone.shoot(f"{board}/photos/face_1?more=1", seed=1, key="early")
    newer = phone.shoot(f"{board}/photos/face_1?more=1", seed=2, headers=DATA).json()["photo"]

    phone.shoot(f"{board}/photos/face_1", seed=1, key="early")

    assert newer in [row["id"] for row in phone.state(board)["photos"]]


def test_a_cancelled_upload_gives_way(phone: Phone) -> None:
    """A script that cancelled an upload too late names its key, and that photo is dropped for the new one."""
    board = phone.board()
    phone.shoot(f"{board}/photos/close_face_1", key="cancelled")

    kept = phone.shoot(f"{board}/photos/close_face_1", headers=DATA, instead="cancelled").json()["photo"]

    assert [row["id"] for row in phone.state(board)["photos"]] == [kept]


@pytest.mark.parametrize(
    ("slot", "files", "words"),
    [
        ("face_1", [], "No photo was chosen."),
        ("face_1", [("photo", ("", b"", "application/octet-stream"))], "No photo was chosen."),
        ("face_1", [("photo", ("a.jpg", b"x", "image/jpeg"))] * 2, "Send one photo at a time."),
        ("face_1", [("photo", ("a.jpg", b"no photo at all", "image/jpeg"))], "a.jpg is no photo this program can open"),
        ("face_9", [("photo", ("a.jpg", b"x", "image/jpeg"))], "A photo belongs to one of these"),
    ],
    ids=["none", "left_empty", "two", "no_photo", "no_such_slot"],
)
def test_what_is_no_photo_is_refused(
    phone: Phone, slot: str, files: list[tuple[str, tuple[str, bytes, str]]], words: str
) -> None:
    """Scripts get the reason as data, people on the board's page, at the shot it belongs to."""
    board = phone.board()
    parts = files or [("other", ("", b"", "text/plain"))]

    told = phone.send("POST", f"{board}/photos/{slot}", DATA, data={"key": "k"}, files=parts)
    page = phone.send("POST", f"{board}/photos/{slot}", data={"key": "k"}, files=parts)

    assert (told.status_code, page.status_code) == (422, 422)
    assert words in told.json()["text"]
    if slot == "face_1":
        assert text_of(page).count(words) == 2
        assert {"href": "#shot_face_1"} in Outline(page.text).of("a")
    assert slots_of(phone, board) == []


def test_a_form_without_files_is_refused(phone: Phone) -> None:
    """A photo comes as a form with files; anything else is told so."""
    board = phone.board()

    assert phone.post(f"{board}/photos/face_1", {"key": "k"}, headers=DATA).json()["code"] == "bad_input"


def test_a_photo_is_shown_small_and_upright(phone: Phone) -> None:
    """What is shown is a JPEG of 640 pixels at most, kept in this browser's own cache alone, and turned upright."""
    board = phone.board()
    large = io.BytesIO()
    turned = Image.Exif()
    turned[0x0112] = 6  # TIFF 6.0, tag 274: the first row of pixels is the right-hand side of the picture
    Image.new("RGB", (2000, 1000), "tan").save(large, "JPEG", exif=turned)
    sent = phone.send(
        "POST", f"{board}/photos/face_1", DATA, data={"key": "k"}, files=[("photo", ("a.jpg", large.getvalue()))]
    )

    shown = phone.get(f"{board}/photos/{sent.json()['photo']}")

    with Image.open(io.BytesIO(shown.content)) as image:
        assert (image.format, image.size) == ("JPEG", (320, 640))
    assert shown.headers["cache-control"].startswith("private, ")


def test_what_is_shown_tells_nothing_of_place_or_camera(phone: Phone) -> None:
    """Neither place nor owner nor serial number of a photo comes out again."""
    board = phone.board()
    files = [("photo", ("a.jpg", full_jpeg(), "image/jpeg"))]
    sent = phone.send("POST", f"{board}/photos/face_1", DATA, data={"key": "k"}, files=files)

    shown = phone.get(f"{board}/photos/{sent.json()['photo']}").content

    assert not [name for name, secret in SECRETS.items() if secret in shown]


def test_a_deleted_photo_is_gone(phone: Phone) -> None:
    """The button under a photo deletes it, and the place is empty again."""
    board = phone.board()
    kept = phone.shoot(f"{board}/photos/face_1", headers=DATA).json()["photo"]

    deleted = phone.post(f"{board}/photos/{kept}/delete")

    assert deleted.headers["location"] == f"{board}#shot_face_1"
    assert phone.get(f"{board}/photos/{kept}").status_code == 404
    assert phone.post(f"{board}/photos/{kept}/delete").status_code == 404
    assert slots_of(phone, board) == []


def test_parts_of_a_side_are_put_in_order(phone: Phone) -> None:
    """The button under a part moves it nearer to the marked end."""
    board = phone.board()
    first, second = (phone.shoot(f"{board}/photos/face_1?more=1", headers=DATA).json()["photo"] for _ in range(2))

    moved = phone.post(f"{board}/photos/{second}/move", {"slot": "face_1", "place": "0"})

    assert moved.status_code == 303
    assert [row["id"] for row in phone.state(board)["photos"]] == [second, first]


def test_corners_go_with_their_photo(phone: Phone) -> None:
    """Corners belong to the photo they were marked in: a new one is searched anew."""
    board = phone.board()
    corners = "1,2 9,2 9,4 1,4"
    phone.shoot(f"{board}/photos/face_1")
    phone.post(board, {"corners_face_1": corners})
    assert corners in phone.get(board).text

    phone.shoot(f"{board}/photos/face_1")

    assert corners not in phone.get(board).text


@pytest.fixture
def narrow(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    """Visit an app that takes photos up to a kilobyte."""
    settings = Settings(readers=1, data=str(tmp_path_factory.mktemp("small")), photo_bytes=1024)
    with TestClient(create_app(settings, standins.read_at_once, standins.check_at_once)) as client:
        yield Phone(client)


def test_a_photo_over_the_limit_is_told_to_scripts_and_people(narrow: Phone) -> None:
    """Both get the same refusal, the script as JSON with its code."""
    board = narrow.board()

    page = narrow.shoot(f"{board}/photos/face_1")
    told = narrow.shoot(f"{board}/photos/face_1", headers=DATA)

    assert (page.status_code, told.status_code) == (413, 413)
    assert (told.json()["code"], told.json()["field"]) == ("too_large", "photo")
    assert told.json()["text"] in text_of(page)
