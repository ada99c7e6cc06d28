"""Corners put right by hand on a kept photo: shown, kept, refused at their fields, dropped again."""

import io
import json
import re
from collections.abc import Iterator
from typing import Final

import pytest
from fastapi.testclient import TestClient
from PIL import Image, ImageDraw

from service.app import create_app
from service.app.workers.checks import check_asked
from service.photo.layout import Layout, Tile
from service.settings import Settings
from tests.app import standins
from tests.app.outline import Outline
from tests.app.phones import DATA, Phone, text_of
from tests.photo.lighten import Light, cut, jpeg, preview_of

BOARD: Final = ((120, 960), (2480, 960), (2480, 997), (120, 997))
"""Where the drawn board lies: marked end upper, far end upper, far end lower, marked end lower."""


def typed(corners: tuple[tuple[int, int], ...] = BOARD) -> dict[str, str]:
    """Type corners into their eight fields."""
    fields: dict[str, str] = {}
    for number, (col, row) in enumerate(corners):
        fields |= {f"col_{number}": str(col), f"row_{number}": str(row)}
    return fields


def drawn() -> Image.Image:
    """Draw a plain board on a plain floor, 5 megapixels."""
    picture = Image.effect_noise((2600, 2000), 12).convert("RGB").point(lambda level: level // 2 + 20)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((*BOARD[0], *BOARD[2]), fill=(214, 178, 132))
    for row in range(966, 994, 8):
        pen.line((120, row, 2480, row + 3), fill=(190, 150, 104), width=2)
    return picture


@pytest.fixture(scope="module")
def app(data_home: None) -> Iterator[TestClient]:
    """Start an app that checks photos as they are."""
    with TestClient(create_app(Settings(readers=1), standins.read_by_length, check_asked)) as client:
        yield client


@pytest.fixture
def looking(app: TestClient) -> Phone:
    """Make a phone whose photos are really looked at."""
    return Phone(app)


def keep_photo(phone: Phone, board: str, picture: Image.Image, key: str = "whole", more: str = "") -> str:
    """Send a photo of face 1 and return the address of its corners."""
    files = [("photo", ("a.jpg", jpeg(picture, 85), "image/jpeg"))]
    sent = phone.send("POST", f"{board}/photos/face_1{more}", DATA, data={"key": key}, files=files).json()
    phone.checked(board)
    return f"{board}/photos/{sent['photo']}/corners"


def values(page: str) -> dict[str, str]:
    """Return what stands in the eight fields."""
    fields = (field for field in Outline(page).of("input") if re.fullmatch(r"(col|row)_\d", field.get("name") or ""))
    return {str(field["name"]): str(field["value"]) for field in fields}


def test_the_corners_begin_where_the_board_was_found(looking: Phone) -> None:
    """The board drawn from column 120 to 2480 and row 960 to 997 is found within four pixels, and outlined."""
    board = looking.board()
    page = looking.get(keep_photo(looking, board, drawn()))

    found = {name: float(text) for name, text in values(page.text).items()}
    assert found == pytest.approx({name: float(text) for name, text in typed().items()}, abs=4)
    assert "The line shows where the program saw the board." in text_of(page)
    line = re.search(r'<svg class="seen" viewBox="0 0 2600 2000".*?points="([\d, ]+)"', looking.get(board).text)
    assert line is not None
    assert [float(number) for number in re.split("[, ]", line[1])] == pytest.approx(sum(BOARD, ()), abs=4)


def test_a_photo_without_a_board_can_be_read_by_hand(looking: Phone) -> None:
    """Bare floor is refused with a way to show the board; corners by hand are kept, checked anew, and dropped again."""
    board = looking.board()
    corners = keep_photo(looking, board, Image.new("RGB", (2600, 2000), "grey"))
    before = looking.get(board)
    assert "Show where the board is" in text_of(before)
    assert "The program saw no board here." in text_of(looking.get(corners))

    assert looking.post(corners, typed()).headers["location"] == f"{board}#shot_face_1"
    after = looking.get(board).text
    assert 'value="120,960 2480,960 2480,997 120,997"' in after
    assert 'points="120,960 2480,960 2480,997 120,997"' in after
    assert values(looking.get(corners).text) == typed()

    looking.post(corners, {"again": "yes"})
    assert 'value="120,960' not in looking.get(board).text
    assert "The program saw no board here." in text_of(looking.get(corners))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"col_0": ""}, "two numbers"),
        ({"row_2": "far down"}, "two numbers"),
        ({"col_1": "nan"}, "a column and a row"),
        ({"col_1": "2700"}, "outside the photo, which is 2600 x 2000 pixels"),
        ({"row_0": "1100"}, "cross or are in the wrong order"),
        ({"row_2": "963", "row_3": "963"}, "too close together"),
    ],
)
def test_corners_that_cannot_be_are_refused_where_they_stand(
    looking: Phone, changes: dict[str, str], words: str
) -> None:
    """What is wrong is said, its fields point to it, what was typed stays, and nothing is kept."""
    board = looking.board()
    corners = keep_photo(looking, board, drawn())

    refused = looking.post(corners, {**typed(), **changes})

    assert refused.status_code == 422
    assert words in text_of(refused)
    assert values(refused.text) == {**typed(), **changes}
    fields = [field for field in Outline(refused.text).of("input") if (field.get("name") or "").startswith("col_")]
    assert all(field["aria-describedby"] == "corners" for field in fields)
    assert 'value="120,960' not in looking.get(board).text


def test_corners_hold_for_a_single_photo(looking: Phone) -> None:
    """With a second part of the side they are dropped, and the page says why none can be set."""
    board = looking.board()
    corners = keep_photo(looking, board, drawn())
    looking.post(corners, typed())
    keep_photo(looking, board, Image.new("RGB", (2600, 2000), "grey"), "part", "?more=1")

    assert 'value="120,960' not in looking.get(board).text
    assert "This side has several photos" in text_of(looking.get(corners))
    assert looking.post(corners, typed()).status_code == 422


def test_corners_off_the_part_that_came_sharp_wait_for_the_whole_photo(looking: Phone) -> None:
    """A photo that came as a stretch is asked for once more, whole; then the corners stand there already."""
    board = looking.board()
    layout = Layout(*drawn().size, (Tile(0, 912, 2600, 160),), focal_35_mm=26.0)
    light = Light(preview_of(drawn()), cut(drawn(), layout), layout)
    files = [("photo", ("a.jpg", light.tiles)), ("around", ("around.jpg", light.preview))]
    sent = looking.send("POST", f"{board}/photos/face_1", DATA, data={"key": "k", "layout": light.told}, files=files)
    corners = f"{board}/photos/{sent.json()['photo']}/corners"
    elsewhere = tuple((col, row + 400) for col, row in BOARD)

    assert looking.post(corners, typed()).status_code == 303
    refused = looking.post(corners, typed(elsewhere))

    assert refused.status_code == 422
    assert "Choose the same photo once more" in text_of(refused)
    assert {"href": f"{board}#shot_face_1"} in Outline(refused.text).of("a")
    told = {"layout": json.dumps({"size": drawn().size})}
    small = [("photo", ("preview.jpg", preview_of(drawn()), "image/jpeg"))]
    assert looking.send("POST", f"{board}/find/face_1", DATA, data=told, files=small).json() == {"whole": True}
    assert values(looking.get(keep_photo(looking, board, drawn())).text) == typed(elsewhere)


def test_a_close_up_has_no_corners(phone: Phone) -> None:
    """Corners belong to whole sides; a photo of anything else, or of another phone's board, is not there."""
    board = phone.board()
    sent = phone.shoot(f"{board}/photos/close_face_1", headers=DATA).json()["photo"]

    assert phone.get(f"{board}/photos/{sent}/corners").status_code == 404
    assert phone.get(f"{board}/photos/none/corners").status_code == 404


def test_the_photo_is_larger_where_corners_are_set(looking: Phone) -> None:
    """On the board's page a photo is 640 pixels long, where corners are set in it 1600."""
    photo = keep_photo(looking, looking.board(), drawn()).removesuffix("/corners")

    sizes = [Image.open(io.BytesIO(looking.get(photo, **how).content)).size for how in ({}, {"large": "1"})]

    assert sizes == [(640, 492), (1600, 1231)]
