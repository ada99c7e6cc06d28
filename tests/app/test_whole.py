"""The real reader behind the real app: bytes of photos in, the whole answer out."""

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from service.app import create_app
from service.cli import main
from service.judge.record import Answer
from service.settings import Settings, find_folder
from service.sides import SIDES
from tests.app.forms import SIZES, Files, photo

FOLDER: Final = find_folder("demo_photos") / "clear_till_evening"
FILES: Final = [*SIDES, "face_1_close", "edge_1_close", "end"]


@pytest.fixture(scope="module")
def real() -> Iterator[TestClient]:
    """Start the app with the real reader."""
    with TestClient(create_app(Settings(readers=1))) as client:
        yield client


def field_of(name: str) -> str:
    """Return the form field that a demo photo belongs to."""
    return f"close_{name.removesuffix('_close')}" if name.endswith("_close") else name


def demo_files() -> Files:
    """Return a demo board's photos as the parts of a form."""
    return [photo(field_of(name), (FOLDER / f"{name}.jpg").read_bytes(), f"{name}.jpg") for name in FILES]


def test_api_and_command_line_give_the_same_answer(real: TestClient, capsys: pytest.CaptureFixture[str]) -> None:
    """The same photos give the same record, whichever way they come in."""
    response = real.post("/api/readings", data=SIZES, files=demo_files())

    options = [f"--{name.replace('_', '-')}={text}" for name, text in SIZES.items()]
    for name in FILES:
        options += [f"--{field_of(name).replace('_', '-')}", str(FOLDER / f"{name}.jpg")]
    main(["read", *options, "--json"])

    assert response.status_code == 200
    assert Answer.model_validate(response.json()) == Answer.model_validate_json(capsys.readouterr().out)


def blank() -> bytes:
    """Return a photo of nothing."""
    out = io.BytesIO()
    Image.new("RGB", (1600, 1200), "grey").save(out, "JPEG")
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"This is a letter, not a photo.", "bad_photo"),
        (b"", "bad_photo"),
        (Path(FOLDER / "face_1.jpg").read_bytes()[:20_000], "bad_photo"),
        (b"\xff\xd8\xff\xe0", "bad_photo"),
        (b"%PDF-1.7 and so on", "bad_photo"),
    ],
    ids=["text", "empty", "truncated", "only_a_head", "another_kind"],
)
def test_what_is_no_photo_is_refused(real: TestClient, data: bytes, code: str) -> None:
    """Bytes that cannot be opened are refused with the file's name and what to do."""
    response = real.post("/api/readings", data=SIZES, files=[photo("face_1", data, "side.jpg")])

    assert (response.status_code, response.json()["code"]) == (422, code)
    assert "side.jpg" in response.json()["text"]


def test_photos_without_a_board_are_asked_for_again(real: TestClient) -> None:
    """A photo that opens but shows no board is no error: the answer asks for that side again."""
    response = real.post("/api/readings", data=SIZES, files=[photo("face_1", blank()), photo("edge_1", blank())])

    answer = response.json()
    assert response.status_code == 200
    assert answer["verdict"] == "retake"
    assert answer["sides"]["face_1"]["status"] == "retake"
    assert answer["sides"]["face_1"]["status_reason"]["text"]
    assert answer["sides"]["face_2"]["status"] == "missing"


def test_a_bow_longer_than_the_board_is_an_answer(real: TestClient) -> None:
    """Asking for too long a bow is no mistake in the form: the answer says that it does not fit."""
    sizes = {**SIZES, "length": "60 in"}

    response = real.post("/api/readings", data=sizes, files=[photo("face_1", blank()), photo("edge_1", blank())])

    assert response.status_code == 200
    assert response.json()["verdict"] in ("fail", "retake")


def test_the_page_shows_a_real_answer(real: TestClient) -> None:
    """The page of a board that was read shows each side's picture and the margin's, and the same verdict as the API."""
    page = real.post("/reading", data=SIZES, files=demo_files()).text

    assert re.findall(r'data-save="(\w+)\.svg"', page) == [*SIDES, "margin"]
    assert "<h1>Take it</h1>" in page
