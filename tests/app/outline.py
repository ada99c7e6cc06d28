"""What stands on a page, and answer pages to look at."""

from html.parser import HTMLParser
from typing import Final

from fastapi.testclient import TestClient

from tests.app.forms import SIZES, four_photos

VOID: Final = {"meta", "link", "input", "img", "br", "hr", "path", "rect", "polygon"}


class Outline(HTMLParser):
    """Collects the tags of a page and checks that they nest."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close the innermost tag, which must be this one."""
        if tag not in VOID:
            assert self.open.pop() == tag

    def of(self, tag: str) -> list[dict[str, str | None]]:
        """Return the attributes of every such tag."""
        return [attributes for name, attributes in self.tags if name == tag]


def answer_text(client: TestClient, **changes: str) -> str:
    """Send four photos and return the answer page."""
    response = client.post("/reading", data={**SIZES, **changes}, files=four_photos())
    assert response.status_code == 200
    return response.text
