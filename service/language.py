"""The program's words in the language that was chosen.

English stands in the code, whole sentences with named places. `python -m tests.catalogue` draws every text that is
said or marked into one catalogue, `service/languages/stavesight.pot`; a translation of it, compiled to
`service/languages/<tag>/LC_MESSAGES/stavesight.mo`, is offered to whoever asks for that language.
"""

import gettext
import json
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).resolve().parent / "languages"
NAME: Final = "stavesight"
SCRIPT_TEXTS: Final = FOLDER / "scripts.json"
"""Those texts of the catalogue that scripts say."""

ENGLISH: Final = "en"
_RIGHT_TO_LEFT: Final = frozenset({"ar", "fa", "he", "ur"})

_tag: ContextVar[str] = ContextVar("language", default=ENGLISH)


def say(text: str, **values: object) -> str:
    """Say a text of the catalogue in the language that is in use.

    Parameters
    ----------
    text
        English, with places named in braces. A literal, so that it can be found for the catalogue.
    values
        What the places hold; without any, braces stay as they are.

    Returns
    -------
    str
        The text with its places filled in.

    >>> say("The board is {length} long.", length="96 in")
    'The board is 96 in long.'
    """
    said = _catalogue(_tag.get()).gettext(text)
    return said.format(**values) if values else said


def say_many(one: str, many: str, count: int, **values: object) -> str:
    """Say a text whose form depends on a count; the count fills the place named `count`.

    >>> say_many("{count} board", "{count} boards", 1), say_many("{count} board", "{count} boards", 3)
    ('1 board', '3 boards')
    """
    return _catalogue(_tag.get()).ngettext(one, many, count).format(count=count, **values)


def mark(text: str) -> str:
    """Mark a text of a constant for the catalogue; it is said when it is shown.

    >>> mark("Face 1")
    'Face 1'
    """
    return text


def plain(text: str) -> str:
    """Say a text without places, as templates do.

    >>> plain("Face 1")
    'Face 1'
    """
    return _catalogue(_tag.get()).gettext(text)


def plain_many(one: str, many: str, count: int) -> str:
    """Choose a text by a count and leave its places to the template."""
    return _catalogue(_tag.get()).ngettext(one, many, count)


@contextmanager
def use_language(tag: str) -> Iterator[None]:
    """Say everything in a language until the end of the block; English where it is not offered."""
    before = _tag.set(tag)
    try:
        yield
    finally:
        _tag.reset(before)


def language() -> str:
    """Return the tag of the language in use.

    >>> with use_language("he"):
    ...     language(), direction()
    ('he', 'rtl')
    """
    return _tag.get()


def direction() -> str:
    """Return which way the language in use is written: `ltr` or `rtl`."""
    return "rtl" if _tag.get().split("-")[0] in _RIGHT_TO_LEFT else "ltr"


def offered() -> frozenset[str]:
    """Return the tags of the languages that can be chosen."""
    return frozenset({ENGLISH, *(file.parent.parent.name for file in FOLDER.glob(f"*/LC_MESSAGES/{NAME}.mo"))})


def choose_language(wanted: str, there: frozenset[str]) -> str:
    """Choose a language by what a browser says it wants.

    Parameters
    ----------
    wanted
        The header Accept-Language (RFC 9110, section 12.5.4).
    there
        Tags that can be chosen, in lower case.

    Returns
    -------
    str
        The tag wanted most, or the one of its main language (RFC 4647, lookup); English when none is there.

    >>> choose_language("de-AT, fr;q=0.8, en;q=0.5", frozenset({"en", "fr"}))
    'fr'
    >>> choose_language("de-AT, fr;q=0.8", frozenset({"en", "de"}))
    'de'
    >>> choose_language("*;q=x", frozenset({"en"}))
    'en'
    """
    ranked = []
    for place, part in enumerate(wanted.split(",")):
        tag, _, weight = part.partition(";q=")
        try:
            ranked.append((-float(weight or 1), place, tag.strip().lower()))
        except ValueError:
            continue
    for less, _, best in sorted(ranked):
        for shorter in (best, best.split("-")[0]):
            if less < 0 and shorter in there:
                return shorter
    return ENGLISH


def script_words() -> dict[str, str]:
    """Return what scripts say in the language in use, by its English text; nothing in English."""
    if _tag.get() == ENGLISH:
        return {}
    return {text: plain(text) for text in json.loads(SCRIPT_TEXTS.read_text(encoding="utf-8"))}


@cache
def _catalogue(tag: str) -> gettext.NullTranslations:
    return gettext.translation(NAME, FOLDER, [tag], fallback=True)
