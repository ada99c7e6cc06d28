"""What depends on how the app was reached: what is missing at a plain address, progress through a server in front."""

import pytest

from service.app.routes.once import LINES
from tests.app.phones import Phone, text_of


@pytest.mark.parametrize(
    ("address", "told"),
    [
        ("http://shed.test", True),
        ("http://192.168.1.20:8000", True),
        ("http://localhost:8000", False),
        ("http://127.0.0.1:8000", False),
        ("https://shed.test", False),
    ],
)
def test_a_plain_address_says_what_is_missing(phone: Phone, address: str, told: bool) -> None:
    """The first page and a board's say it where browsers count the address as not secure (W3C Secure Contexts, 3.1)."""
    assert ("This address is not secure (http)" in text_of(phone.get(f"{address}/"))) == told
    board = phone.board()
    if not address.startswith("https"):  # there the cookie has another name
        assert ("This address is not secure (http)" in text_of(phone.get(f"{address}{board}"))) == told
        assert ("This address is not secure (http)" in text_of(phone.get(f"{address}/"))) == told


def test_progress_is_passed_on_as_it_comes(phone: Phone) -> None:
    """Lines of progress ask the server in front not to hold them back (X-Accel-Buffering, of nginx's documentation)."""
    board = phone.read_board()

    lines = phone.post(f"{board}/reading", headers={"accept": LINES})

    assert lines.headers["x-accel-buffering"] == "no"
