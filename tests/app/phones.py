"""Phones that keep boards: each with a cookie of its own, without scripts unless told."""

import re
import time
from typing import Any, Final

from fastapi.testclient import TestClient
from httpx2 import Response

from tests.app.outline import Outline
from tests.store.made_up import photo

BOW: Final = {"units": "in", "bow_length": "68", "bow_width": "", "purpose": "unbacked", "tolerance": "usual"}

SIZE: Final = {"length_choice": "8 ft", "length": "", "size": "1x2", "size_other": "", "width": "", "thickness": ""}

DATA: Final = {"accept": "application/json"}
"""What a script asks for."""


class Phone:
    """A phone that visits the app."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.cookie = ""
        self._sent = 0

    def send(self, method: str, path: str, headers: dict[str, str] | None = None, **content: Any) -> Response:
        """Send a request; the cookie is kept, redirects are not followed."""
        self.client.cookies.clear()
        all_headers = {**({"cookie": self.cookie} if self.cookie else {}), **(headers or {})}
        response = self.client.request(method, path, headers=all_headers, follow_redirects=False, **content)
        if "set-cookie" in response.headers:
            self.cookie = response.headers["set-cookie"].partition(";")[0]
        return response

    def get(self, path: str, **params: str) -> Response:
        """Look at a page."""
        return self.send("GET", path, params=params or None)

    def post(self, path: str, typed: dict[str, str] | None = None, headers: dict[str, str] | None = None) -> Response:
        """Send a form."""
        return self.send("POST", path, headers, data=typed or {})

    def board(self, length: str = "8 ft", **typed: str) -> str:
        """Set the bow, make a board and return its address."""
        assert self.post("/bow", BOW).status_code == 303
        response = self.post("/boards/new", {**SIZE, "length_choice": length, **typed})
        assert response.status_code == 303, response.text
        return str(response.headers["location"])

    def shoot(
        self,
        place: str,
        seed: int | None = None,
        key: str | None = None,
        name: str = "side.jpg",
        headers: dict[str, str] | None = None,
        **typed: str,
    ) -> Response:
        """Send a photo to a board's slot: `place` is the address of the form."""
        self._sent += 1
        seed = self._sent if seed is None else seed
        files = [("photo", (name, photo(seed), "image/jpeg")), ("photo", ("", b"", "application/octet-stream"))]
        data = {"key": key or f"key-{id(self)}-{self._sent}", **typed}
        return self.send("POST", place, headers, data=data, files=files)

    def state(self, board: str) -> dict[str, Any]:
        """Ask how a board stands."""
        told: dict[str, Any] = self.get(f"{board}/state").json()
        return told

    def settled(self, board: str) -> dict[str, Any]:
        """Wait until a board is not being read."""
        deadline = time.monotonic() + 30
        while (state := self.state(board))["reading"] == "started":
            assert time.monotonic() < deadline
            time.sleep(0.05)
        return state

    def checked(self, board: str) -> dict[str, Any]:
        """Wait until every photo of a board but the end was checked; a checker just started takes a while."""
        deadline = time.monotonic() + 60
        while any(photo["check"] is None for photo in self.state(board)["photos"] if photo["slot"] != "end"):
            assert time.monotonic() < deadline
            time.sleep(0.05)
        return self.state(board)

    def read_board(self, length: str = "8 ft", **typed: str) -> str:
        """Make a board, photograph a face and an edge, and have it read."""
        board = self.board(length, **typed)
        for slot in ("face_1", "edge_1"):
            assert self.shoot(f"{board}/photos/{slot}").status_code == 303
        assert self.post(f"{board}/reading").headers["location"] == board
        return board


def text_of(response: Response) -> str:
    """Return what can be read on a page, which must be whole."""
    assert Outline(response.text).open == []
    body = response.text.partition("<body>")[2]
    return re.sub(r"\s+([,.:])", r"\1", " ".join(re.sub(r"<[^>]+>", " ", body).split()))
