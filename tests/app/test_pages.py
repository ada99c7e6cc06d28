"""The pages, as a phone without scripts gets them, and the lines that a script asks for."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.app.requests.headers import HEADERS
from service.settings import Settings
from tests.app import standins
from tests.app.forms import SIZES, four_photos, photo
from tests.app.outline import Outline


def test_a_page_may_be_zoomed_and_has_no_inline_script(client: TestClient) -> None:
    """Pinch zoom stays on; scripts and styles come as files of this server only."""
    outline = Outline(client.get("/once").text)

    (viewport,) = (meta["content"] or "" for meta in outline.of("meta") if meta.get("name") == "viewport")
    assert viewport.startswith("width=device-width, initial-scale=1")
    assert "scalable" not in viewport
    assert "maximum" not in viewport
    assert outline.of("style") == []
    assert all((script.get("src") or "").startswith("/static/") for script in outline.of("script"))
    assert all((link["href"] or "").startswith(("/static/", "/app.webmanifest")) for link in outline.of("link"))
    assert not [
        name for _, attributes in outline.tags for name in attributes if name == "style" or name.startswith("on")
    ]


def test_what_was_typed_cannot_become_markup(client: TestClient) -> None:
    """Text that looks like markup is shown as the text it is."""
    nasty = '"><script>alert(1)</script>'

    refused = client.post("/reading", data={**SIZES, "length": nasty}, files=four_photos()).text
    answered = client.post("/reading", data={**SIZES, "wood": nasty}, files=[photo("face_1", name=nasty)]).text

    for page in (refused, answered, client.get("/once", params={"length": nasty}).text):
        assert "<script>alert" not in page


def test_a_script_gets_the_steps_and_then_the_page(client: TestClient) -> None:
    """Asked for lines, the server tells each step as it happens and the page as the last line."""
    headers = {"accept": "application/x-ndjson"}

    response = client.post("/reading", data=SIZES, files=four_photos(), headers=headers)
    lines = [json.loads(line) for line in response.text.splitlines()]

    assert response.headers["content-type"].startswith("application/x-ndjson")
    assert [line.get("step") for line in lines] == [
        "Waiting for a free reader",
        "Reading face_1",
        "Reading edge_1",
        "Reading face_2",
        "Reading edge_2",
        None,
    ]
    assert "<h1>Not sure yet</h1>" in lines[-1]["page"]


def test_a_script_gets_a_refusal_as_a_page() -> None:
    """What the reader refuses comes as the form with its reason, also after the steps have begun."""
    with TestClient(create_app(Settings(readers=1), standins.refuse)) as client:
        response = client.post("/reading", data=SIZES, files=four_photos(), headers={"accept": "application/x-ndjson"})

    assert "board.jpg is no photo that can be opened." in json.loads(response.text.splitlines()[-1])["page"]


def test_a_reloaded_answer_leads_to_the_form(client: TestClient) -> None:
    """Nothing is kept, so the address of an answer leads to the start."""
    response = client.get("/reading", follow_redirects=False)

    assert (response.status_code, response.headers["location"]) == (303, "/once")


def test_a_wrong_address_gets_a_page(client: TestClient) -> None:
    """A person who follows a wrong link finds the way to the start."""
    response = client.get("/nowhere")

    assert response.status_code == 404
    assert "Everything is reached from the start page." in response.text


@pytest.mark.parametrize("path", ["/", "/once", "/nowhere", "/health"])
def test_every_response_carries_the_security_headers(client: TestClient, path: str) -> None:
    """No page may load, send or be framed elsewhere."""
    headers = client.get(path).headers

    assert {name: headers[name] for name in HEADERS} == HEADERS
    assert "unsafe" not in headers["content-security-policy"]


def test_a_fault_is_told_in_plain_words(client: TestClient) -> None:
    """A fault of the program gives a page with the headers and no inner detail."""
    app = create_app(Settings(readers=1), standins.read_at_once)

    @app.get("/api/fault")
    async def fault() -> None:
        raise ZeroDivisionError("secret")

    response = TestClient(app, raise_server_exceptions=False).get("/api/fault")

    assert (response.status_code, response.json()["code"]) == (500, "fault")
    assert "secret" not in response.text
    assert response.headers["content-security-policy"] == HEADERS["content-security-policy"]


def test_a_full_queue_says_when_to_come_back() -> None:
    """With no room left the answer is 503 and tells after how many seconds to try again."""
    app = create_app(Settings(readers=1, waiting=0), standins.read_slowly)
    with TestClient(app) as client, ThreadPoolExecutor() as threads:
        posts = [threads.submit(client.post, "/api/readings", data=SIZES, files=four_photos()) for _ in range(3)]
        responses = sorted((post.result() for post in posts), key=lambda response: response.status_code)

    assert [response.status_code for response in responses] == [200, 503, 503]
    assert responses[-1].json()["code"] == "busy"
    assert responses[-1].headers["retry-after"] == "15"
