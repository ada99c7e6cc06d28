"""Limits on what is sent, held while it arrives."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.app import standins
from tests.app.forms import SIZES, four_photos, photo

MIB = 1024 * 1024


@pytest.fixture(scope="module")
def narrow() -> Iterator[TestClient]:
    """Start an app that takes photos up to 1 MiB, 3 MiB together and five of them."""
    settings = Settings(readers=1, photo_bytes=MIB, request_bytes=3 * MIB, files=5)
    with TestClient(create_app(settings, standins.read_at_once)) as client:
        yield client


def test_a_photo_up_to_the_limit_is_taken(narrow: TestClient) -> None:
    """The limit itself still belongs to what is accepted."""
    assert narrow.post("/api/readings", data=SIZES, files=[photo("face_1", bytes(MIB))]).status_code == 200


def test_a_photo_over_the_limit_is_refused(narrow: TestClient) -> None:
    """One byte more is refused with the limit and the field."""
    response = narrow.post("/api/readings", data=SIZES, files=[photo("edge_1", bytes(MIB + 1))])

    assert response.status_code == 413
    assert response.json() == {
        "code": "too_large",
        "text": "A photo holds more than 1 MB. Send it in a smaller size.",
        "field": "edge_1",
    }


@pytest.mark.parametrize("told", [True, False])
def test_photos_too_large_together_are_refused(narrow: TestClient, told: bool) -> None:
    """The sum is checked by the request's header and, when that says nothing, while the bytes come in."""
    request = narrow.build_request(
        "POST", "/api/readings", data=SIZES, files=[photo("face_1", bytes(MIB)) for _ in range(4)]
    )
    body = request.read()
    headers = {"content-type": request.headers["content-type"]}
    pieces = (body[at : at + 65536] for at in range(0, len(body), 65536))

    response = narrow.post("/api/readings", content=body if told else pieces, headers=headers)

    assert response.status_code == 413
    assert response.json()["text"] == "The photos hold more than 3 MB together. Send fewer, or smaller ones."


def test_too_many_photos_are_refused(narrow: TestClient) -> None:
    """The number of photos has a limit too."""
    response = narrow.post("/api/readings", data=SIZES, files=[photo("face_1") for _ in range(6)])

    assert response.status_code == 413
    assert response.json()["text"] == "More than 5 photos were given. Send fewer."


def test_a_flood_of_parts_is_refused(narrow: TestClient) -> None:
    """Hundreds of parts stop the form while it arrives."""
    response = narrow.post("/api/readings", data=SIZES, files=[photo("face_1", b"") for _ in range(200)])

    assert response.status_code == 422
    assert response.json()["code"] == "bad_input"


def test_the_page_keeps_the_sizes_of_a_refused_form(narrow: TestClient) -> None:
    """Whoever sends too large a photo finds the sizes still typed in."""
    response = narrow.post("/reading", data=SIZES, files=[photo("face_1", bytes(MIB + 1))])

    assert response.status_code == 413
    assert 'value="96 in"' in response.text
    assert "A photo holds more than 1 MB." in response.text


def test_nothing_is_logged_of_what_was_sent(narrow: TestClient, caplog: pytest.LogCaptureFixture) -> None:
    """Neither names nor sizes of what was sent reach the log."""
    with caplog.at_level("DEBUG", logger="service"):
        narrow.post("/api/readings", data={**SIZES, "wood": "secret wood"}, files=four_photos())
        narrow.post("/api/readings", data=SIZES, files=[photo("face_1", b"", "secret.jpg")])

    assert "secret" not in caplog.text
