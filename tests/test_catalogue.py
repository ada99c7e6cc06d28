"""The catalogue of all words."""

import string
from io import BytesIO

from babel.messages.pofile import read_po

from service.language import SCRIPT_TEXTS
from tests.catalogue import TEMPLATE, draw


def test_the_catalogue_holds_every_text_that_is_said() -> None:
    """What is said in code, pages and scripts stands in the catalogue; if not: `python -m tests.catalogue`."""
    texts, scripts = draw()

    assert texts == TEMPLATE.read_text(encoding="utf-8")
    assert scripts == SCRIPT_TEXTS.read_text(encoding="utf-8")


def test_places_have_names() -> None:
    """A place in a text tells its translator by its name what it will hold."""
    texts = [message.id for message in read_po(BytesIO(TEMPLATE.read_bytes())) if message.id]
    named = [name for text in texts for _, name, _, _ in string.Formatter().parse("".join(text)) if name is not None]

    assert texts
    assert all(name.isidentifier() for name in named), named
