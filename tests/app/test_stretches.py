"""Stretches of photos: found in a preview, laid back when they come, kept once; in doubt the whole is asked for."""

import io
import json
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from PIL import Image, ImageDraw

from service.app import create_app
from service.app.workers.checks import PhotoAsked, check_asked
from service.app.workers.readers import Progress
from service.checking import PhotoCheck
from service.photo.layout import Layout, Tile, read_layout
from service.settings import Settings
from tests.app import standins
from tests.app.phones import DATA, Phone
from tests.photo.lighten import Light, cut, jpeg, preview_of


@cache
def board_photo() -> Image.Image:
    """Draw a plain board on a plain floor, 5 megapixels."""
    picture = Image.effect_noise((2600, 2000), 12).convert("RGB").point(lambda level: level // 2 + 20)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((120, 960, 2480, 997), fill=(214, 178, 132))
    for row in range(966, 994, 8):
        pen.line((120, row, 2480, row + 3), fill=(190, 150, 104), width=2)
    return picture


def find(phone: Phone, board: str, slot: str = "face_1", **told: Any) -> Response:
    """Ask where the board is."""
    layout = json.dumps({"size": board_photo().size, "focal_35_mm": 26, **told})
    files = [("photo", ("preview.jpg", preview_of(board_photo()), "image/jpeg"))]
    return phone.send("POST", f"{board}/find/{slot}", DATA, data={"layout": layout}, files=files)


def send(phone: Phone, board: str, light: Light, key: str = "k", name: str = "a.jpg", layout: str = "") -> Response:
    """Send a stretch."""
    files = [("photo", (name, light.tiles)), ("around", ("around.jpg", light.preview))]
    data = {"key": key, "layout": layout or light.told}
    return phone.send("POST", f"{board}/photos/face_1", DATA, data=data, files=files)


def light() -> Light:
    """Cut the drawn photo in the middle."""
    layout = Layout(*board_photo().size, (Tile(0, 912, 2600, 160),), focal_35_mm=26.0)
    return Light(preview_of(board_photo()), cut(board_photo(), layout), layout)


def check_anew(asked: PhotoAsked, progress: Progress) -> PhotoCheck:
    """Check as the app does, but find no board in a photo named so."""
    if asked.upload.name != "lost.jpg":
        return check_asked(asked, progress)
    return standins.check_at_once(asked, progress).model_copy(update={"usable": False, "outline": None})


@pytest.fixture(scope="module")
def app(data_home: None) -> Iterator[TestClient]:
    """Start an app that checks photos as they are."""
    with TestClient(create_app(Settings(readers=1), standins.read_by_length, check_anew)) as client:
        yield client


@pytest.fixture
def cutting(app: TestClient) -> Phone:
    """Make a phone that cuts its photos."""
    return Phone(app)


def test_tiles_are_told_and_their_stretch_is_kept(cutting: Phone) -> None:
    """A phone is told tiles that pass their own check; what it cuts becomes a photo of the whole one's size, once."""
    board = cutting.board()
    told = find(cutting, board).json()
    layout = read_layout(json.dumps({"size": board_photo().size, "focal_35_mm": 26, **told}), tiled=True)
    stretch = Light(preview_of(board_photo()), cut(board_photo(), layout), layout)

    first, again = (send(cutting, board, stretch, "same").json() for _ in range(2))

    assert first == again
    assert first["check"]["usable"]
    assert [photo["id"] for photo in cutting.state(board)["photos"]] == [first["photo"]]
    with Image.open(io.BytesIO(cutting.get(f"{board}/photos/{first['photo']}").content)) as shown:
        assert shown.size == (640, 492)


def test_a_photo_sent_cut_and_whole_is_kept_once(cutting: Phone) -> None:
    """Under one key the first to come is kept, whichever way it or the next one came."""
    board = cutting.board()
    whole = [("photo", ("a.jpg", jpeg(board_photo(), 80), "image/jpeg"))]

    kept = send(cutting, board, light(), "both").json()["photo"]
    again = cutting.send("POST", f"{board}/photos/face_1", DATA, data={"key": "both"}, files=whole).json()["photo"]

    assert again == kept


@pytest.mark.parametrize("slot", ["close_face_1", "end"])
def test_close_ups_and_ends_are_wanted_whole(cutting: Phone, slot: str) -> None:
    """Only sides are cut."""
    assert find(cutting, cutting.board(), slot).json() == {"whole": True}


def test_a_side_with_corners_by_hand_is_wanted_whole(cutting: Phone) -> None:
    """Where corners had to be marked by hand the preview was misread, so the next photo comes whole."""
    board = cutting.board()
    assert "tiles" in find(cutting, board).json()
    send(cutting, board, light())
    cutting.post(board, {"corners_face_1": "120,960 2480,960 2480,997 120,997"})

    assert find(cutting, board).json() == {"whole": True}


def test_a_stretch_without_a_board_is_not_kept(cutting: Phone) -> None:
    """When the board is not found in what came, the script is told to send the whole photo, and asked for it again."""
    board = cutting.board()

    refused = send(cutting, board, light(), name="lost.jpg")

    assert (refused.status_code, refused.json()["code"]) == (409, "send_whole")
    assert cutting.state(board)["photos"] == []
    assert find(cutting, board).json() == {"whole": True}


@pytest.mark.parametrize(
    "layout",
    ["no", '{"size": [2600, 2000]}', '{"size": [2600, 2000], "tiles": [[0, 912, 2600, 176]]}'],
    ids=["no_json", "no_tiles", "other_size"],
)
def test_a_stretch_that_does_not_fit_is_refused(cutting: Phone, layout: str) -> None:
    """The refusal says what to do, stands at its field, and nothing is kept."""
    board = cutting.board()

    refused = send(cutting, board, light(), layout=layout)

    assert (refused.status_code, refused.json()["field"]) == (422, "layout")
    assert "Take it again" in refused.json()["text"]
    assert cutting.state(board)["photos"] == []


def test_previews_of_other_boards_and_pictures_are_refused(cutting: Phone) -> None:
    """Another phone's board is not there, and a preview must be a small picture of that photo."""
    board = cutting.board()

    assert find(Phone(cutting.client), board).status_code in (403, 404)
    assert find(cutting, board, size=[2000, 2600]).json()["field"] == "layout"
