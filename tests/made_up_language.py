"""A made-up language: each text of the catalogue in brackets of its own, and in letters that English has not."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from string import ascii_letters
from typing import Final

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from service import language
from tests.catalogue import TEMPLATE

#: The first of the codes that ISO 639-2 leaves to local use.
TAG: Final = "qaa"

#: What a text holds besides words: places of code and pages, a percent sign of a page, tags of a page.
_PLACE: Final = re.compile(r"(\{\w+\}|%\(\w+\)s|%%|</?\w+>)")
_OTHERS: Final = str.maketrans(ascii_letters, 2 * "".join(chr(0x10D0 + place) for place in range(26)))
_LETTERS: Final = re.compile(r"[A-Za-z]+")


def translated(text: str) -> str:
    """Translate a text of the catalogue: brackets around it, Georgian letters in it, its places as they are.

    >>> translated("The {side}."), translated("To <b>%(end)s</b>")
    ('⟦უთე {side}.⟧', '⟦უპ <b>%(end)s</b>⟧')
    """
    parts = _PLACE.split(text)
    return f"⟦{''.join(part if _PLACE.fullmatch(part) else part.translate(_OTHERS) for part in parts)}⟧"


def forms(identifier: object) -> tuple[str, ...]:
    """Return the forms of a text of the catalogue: one, or two of a text that depends on a count."""
    return tuple(map(str, identifier)) if isinstance(identifier, list | tuple) else (str(identifier),)


def texts_of(template: str) -> set[str]:
    """Return every text of a catalogue in gettext's form."""
    messages = read_po(BytesIO(template.encode()))
    return {text for message in messages if message.id for text in forms(message.id)}


@contextmanager
def made_up(folder: Path) -> Iterator[None]:
    """Offer the made-up language until the end of the block, compiled into a folder as a real one is."""
    catalogue = Catalog()
    for message in read_po(BytesIO(TEMPLATE.read_bytes())):
        if message.id:
            said = tuple(map(translated, forms(message.id)))
            catalogue.add(message.id, said if len(said) > 1 else said[0])
    file = folder / TAG / "LC_MESSAGES" / f"{language.NAME}.mo"
    file.parent.mkdir(parents=True)
    with file.open("wb") as written:
        write_mo(written, catalogue)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "FOLDER", folder)
        language._catalogue.cache_clear()
        yield
    language._catalogue.cache_clear()


def english_in(text: str, given: tuple[str, ...] = ()) -> list[str]:
    """Find what of a text was not said in the made-up language.

    Parameters
    ----------
    given
        Names, fixed names and typed texts that belong into it as they are.

    Returns
    -------
    list of str
        Words in plain letters, and whatever but spaces stands outside of all brackets.

    >>> english_in("⟦უთე ⟦ბაგლ⟧ a.jpg.⟧ ⟦ოპ.⟧", ("a.jpg",)), english_in("⟦უთე back.⟧; ⟦ოპ.⟧")
    ([], ['back', ';'])
    """
    for name in sorted(given, key=len, reverse=True):
        text = text.replace(name, "")
    outside, depth = "", 0
    for sign in text:
        depth += (sign == "⟦") - (sign == "⟧")
        outside += sign if depth == 0 and sign != "⟧" else ""
    return [*_LETTERS.findall(text), *_LETTERS.sub("", outside).split()]
