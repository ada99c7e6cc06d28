"""What a running server does when the person goes away in the middle."""

import socket
import threading
import time
from collections.abc import Iterator

import httpx2
import pytest
import uvicorn

from service.app import create_app
from service.settings import Settings
from tests.app import standins
from tests.app.forms import SIZES, four_photos


@pytest.fixture
def address() -> Iterator[tuple[str, int]]:
    """Run a server with one worker, which reads for ever unless the wood is oak."""
    app = create_app(Settings(readers=1, waiting=1), standins.read_for_ever)
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="critical", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    host, port = server.servers[0].sockets[0].getsockname()[:2]
    yield host, port
    server.should_exit = True
    thread.join()


@pytest.mark.parametrize(
    ("path", "accept"),
    [("/reading", "application/x-ndjson"), ("/reading", "text/html"), ("/api/readings", "application/json")],
    ids=["script", "page", "api"],
)
def test_closing_the_connection_frees_the_worker(address: tuple[str, int], path: str, accept: str) -> None:
    """A reading that nobody waits for any more is ended, so that the next person is answered."""
    url = f"http://{address[0]}:{address[1]}"
    request = httpx2.Request("POST", f"{url}{path}", data=SIZES, files=four_photos(), headers={"accept": accept})
    head = "".join(f"{name}: {value}\r\n" for name, value in request.headers.items())
    with socket.create_connection(address) as person:
        person.sendall(f"POST {path} HTTP/1.1\r\n{head}\r\n".encode() + request.read())
        time.sleep(0.5)  # the reading has begun, or waits for its worker to start

    answer = httpx2.post(f"{url}/api/readings", data={**SIZES, "wood": "oak"}, files=four_photos(), timeout=30)

    assert answer.json()["verdict"] == "borderline"


def test_a_form_that_breaks_off_harms_nobody(address: tuple[str, int]) -> None:
    """A connection lost in the middle of a photo leaves the server answering."""
    with socket.create_connection(address) as page:
        page.sendall(
            b"POST /api/readings HTTP/1.1\r\nhost: x\r\ncontent-length: 5000\r\n"
            b"content-type: multipart/form-data; boundary=b\r\n\r\n"
            b'--b\r\nContent-Disposition: form-data; name="face_1"; filename="a.jpg"\r\n\r\nhalf a photo'
        )

    assert httpx2.get(f"http://{address[0]}:{address[1]}/health").json() == {"status": "ok"}
