"""Every page speaks the language that its browser asks for, but for what was typed and what a reading told before."""

import re
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Final

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from service.app import create_app
from service.asked import PAGE_FIELDS, TEXT_FIELDS
from service.hand_texts import HAND_FIELDS
from service.settings import Settings
from service.sizes import STORE_SIZES
from tests.app import standins
from tests.app.forms import SIZES, four_photos
from tests.app.phones import Phone
from tests.made_up_language import TAG

STATIC: Final = Path(__file__).resolve().parent.parent / "web" / "static"

SHOWN: Final = ("alt", "aria-label", "placeholder", "title")
SILENT: Final = ("script", "style")

NAME: Final = "Alder by the gate"

#: What stands in plain letters on purpose: the program's name, the sign between sizes, what is typed alike everywhere.
PLAIN: Final = (
    *("Stavesight", "http://testserver/s/", "nowhere"),
    *STORE_SIZES,
    *(field.example for field in (*TEXT_FIELDS, *PAGE_FIELDS)),
    *(example for _, _, example in HAND_FIELDS),
)
SIGNS: Final = re.compile(r"\bx\b")


class Told(HTMLParser):
    """Collects what a page shows or reads out, and the attributes of its root."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.root: dict[str, str | None] = {}
        self._silent = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note the attributes that are read out."""
        told = dict(attrs)
        if tag == "html":
            self.root = told
        self._silent += tag in SILENT
        names = (*SHOWN, "value") if tag == "input" and told.get("type") in ("submit", "button") else SHOWN
        self.texts += [told[name] or "" for name in names if name in told]

    def handle_endtag(self, tag: str) -> None:
        """Leave a script or style."""
        self._silent -= tag in SILENT

    def handle_data(self, data: str) -> None:
        """Note a text."""
        if not self._silent:
            self.texts.append(data)


def plain_words(page: str, given: tuple[str, ...]) -> list[str]:
    """Return what of a page's texts is left in plain letters, once what was given is taken out."""
    left = []
    for text in Told(page).texts:
        rest = " ".join(text.split())
        for name in sorted((*PLAIN, *given), key=len, reverse=True):
            rest = rest.replace(name, "")
        if re.search("[A-Za-z]", SIGNS.sub("", rest)):
            left.append(" ".join(text.split()))
    return left


def texts_in(part: Any) -> Iterator[str]:
    """List the texts of a record; a page shows them in the language in which the board was read."""
    if isinstance(part, Mapping):
        for value in part.values():
            yield from texts_in(value)
    elif isinstance(part, list | tuple):
        for value in part:
            yield from texts_in(value)
    elif isinstance(part, str) and " " in part:
        yield part


class Visitor(Phone):
    """A phone whose browser asks for the made-up language."""

    def send(self, method: str, path: str, headers: dict[str, str] | None = None, **content: Any) -> Response:
        """Send a request in that language."""
        return super().send(method, path, {**(headers or {}), "accept-language": f"{TAG}, en;q=0.1"}, **content)


@pytest.fixture(scope="module")
def app(made_up_language: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Start an app that keeps boards and offers the made-up language."""
    settings = Settings(readers=1, data=str(tmp_path_factory.mktemp("kept")))
    with TestClient(create_app(settings, standins.read_by_length, standins.check_at_once)) as client:
        yield client


@pytest.fixture(scope="module")
def visitor(app: TestClient) -> Visitor:
    """Keep three boards of which two were read, one of them with every side, in a day's rack."""
    visitor = Visitor(app)
    long = visitor.read_board(name=NAME)
    assert long.startswith("/boards/")
    for slot in ("face_2", "edge_2", "close_face_1", "end"):
        assert visitor.shoot(f"{long}/photos/{slot}").status_code == 303
    visitor.settled(long)
    visitor.read_board("7 ft")
    blurred = visitor.board("6 ft")
    assert visitor.shoot(f"{blurred}/photos/face_1", name="blurred.jpg").status_code == 303
    return visitor


@pytest.fixture(scope="module")
def boards(visitor: Visitor) -> dict[str, str]:
    """Return the addresses of the boards: the one read whole, the one that is unsure, the one not read."""
    cards = re.findall(r'href="(/boards/[0-9a-f]{32})"', visitor.get("/").text)
    unread = [board for board in dict.fromkeys(cards) if visitor.state(board)["verdict"] is None]
    read = [board for board in dict.fromkeys(cards) if board not in unread]
    by_verdict = {visitor.state(board)["verdict"]: board for board in read}
    return {"whole": by_verdict["pass"], "unsure": by_verdict["borderline"], "unread": unread[0]}


@pytest.fixture(scope="module")
def given(visitor: Visitor, boards: dict[str, str]) -> tuple[str, ...]:
    """List what was typed, and what the readings told."""
    records = [visitor.get(f"{boards[name]}/answer.json").json() for name in ("whole", "unsure")]
    told = {text for record in records for text in texts_in(record)}
    return (NAME, "The photo is blurred. Hold still.", "slope", "side.jpg", "board.jpg", "blurred.jpg", *told)


PAGES: Final = (
    *("/", "/bow", "/boards/new", "/once", "/keep", "/forget", "/no-signal", "/boards/waiting"),
    *("{whole}", "{unsure}", "{unread}", "{whole}/answer", "{unsure}/answer", "{whole}/delete"),
    *(f"{{whole}}/answer/{side}" for side in ("face_1", "edge_1")),
    *("{whole}/answer/face_1?at=nowhere", "{whole}/photos/{photo}/corners"),
    "/compare?a={a}&b={b}",
    *("/nowhere", "/boards/0123", "{unread}/answer", "/outings/0123/delete", "/s/0123"),
)


@pytest.mark.parametrize("address", PAGES)
def test_every_page_speaks_the_language(
    address: str, visitor: Visitor, boards: dict[str, str], given: tuple[str, ...]
) -> None:
    """Nothing that is seen or read out on a page is English, and the page says which language it is in."""
    ids = {"a": boards["whole"].rpartition("/")[2], "b": boards["unsure"].rpartition("/")[2]}
    photo = next(photo["id"] for photo in visitor.state(boards["whole"])["photos"] if photo["slot"] == "face_1")
    seen = visitor.get(address.format(**boards, **ids, photo=photo))

    assert plain_words(seen.text, given) == []
    root = Told(seen.text).root
    assert (root["lang"], root["dir"]) == (TAG, "ltr")
    assert "accept-language" in seen.headers["vary"].lower()


def test_the_first_visit_speaks_the_language(app: TestClient) -> None:
    """Whoever comes for the first time, before a bow is set, is told in the language what to do."""
    assert plain_words(Visitor(app).get("/").text, ()) == []


@pytest.mark.parametrize(
    ("address", "typed"),
    [
        ("/bow", {"bow_length": "68", "units": "in", "back_limit": "9", "purpose": "unbacked", "tolerance": "usual"}),
        ("/boards/new", {"length": "?", "size": "1x2"}),
        ("{whole}", {"price": "?" * 99}),
        ("{whole}", {"knot": "?"}),
        ("{unread}/reading", {}),
        ("{unread}/share", {}),
        ("{whole}/photos/face_1", {}),
    ],
)
def test_every_refusal_speaks_the_language(
    address: str, typed: dict[str, str], visitor: Visitor, boards: dict[str, str], given: tuple[str, ...]
) -> None:
    """What cannot be taken is told in the language, at its field or on a page of its own."""
    seen = visitor.post(address.format(**boards), typed)

    assert seen.status_code >= 400
    assert plain_words(seen.text, given) == []


def test_a_shared_answer_speaks_the_language(
    visitor: Visitor, boards: dict[str, str], app: TestClient, given: tuple[str, ...]
) -> None:
    """The page that tells the address does, and so does the answer to whoever opens it."""
    told = visitor.get(visitor.post(f"{boards['whole']}/share").headers["location"])
    address = re.search(r'value="http://testserver(/s/[^"]+)"', told.text)
    assert address is not None
    shared = Visitor(app).get(address[1])

    assert plain_words(told.text, (*given, address[1].removeprefix("/s/"))) == []
    assert plain_words(shared.text, given) == []
    assert plain_words(Visitor(app).get(f"{address[1]}/answer/face_1").text, given) == []


def test_a_file_that_cannot_be_taken_in_is_refused_in_the_language(visitor: Visitor) -> None:
    """Boards are taken in on a page of its own, which says what is wrong with a file."""
    seen = visitor.send("POST", "/keep", files=[("file", ("boards.zip", b"no boards", "application/zip"))])

    assert seen.status_code >= 400
    assert plain_words(seen.text, ()) == []


def test_what_is_read_at_once_speaks_the_language(visitor: Visitor, given: tuple[str, ...]) -> None:
    """The answer of which nothing is kept, and the form that was refused, are in the language."""
    read = visitor.send("POST", "/reading", data=SIZES, files=four_photos())
    refused = visitor.send("POST", "/reading", data={**SIZES, "length": "?"}, files=four_photos())

    assert (read.status_code, refused.status_code) == (200, 422)
    assert plain_words(read.text, given) == []
    assert plain_words(refused.text, given) == []


def test_a_fault_speaks_the_language(made_up_language: None, tmp_path: Path) -> None:
    """Even when the program stumbles, whoever sees it is told in the language."""
    app = create_app(Settings(readers=1, data=str(tmp_path)), standins.read_at_once, standins.check_at_once)

    @app.get("/stumble")
    def stumble() -> None:
        raise ZeroDivisionError

    with TestClient(app, raise_server_exceptions=False) as client:
        seen = client.get("/stumble", headers={"accept-language": TAG})

    assert seen.status_code == 500
    assert plain_words(seen.text, ()) == []


#: Literals of scripts that no person sees: class names, names of faults, hints and places, pieces of the app's page.
FOR_PROGRAMS: Final = {
    *("button quiet", "turn back", "not noted", "no notes", "no picture yet", "${shot} more", "static ${VERSION}"),
    *('name="once" value="${crypto.randomUUID()}', "<html ${mark}"),
    *("${words} · Stavesight", " x ", " ${note.refused ?? time}${photos ? "),
}
SELECTOR: Final = re.compile(r"""[a-z0-9]+(,\ [a-z0-9]+)+ | \(\w+:\ \w+\) | [.\w ,]*\[.*""", re.VERBOSE)
DRAWN: Final = re.compile(r"M[ CLMZ]*")

_TOKENS: Final = re.compile(r"""//[^\n]*|"(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*'|`(?:[^`\\]|\\.)*`""")
_FILLED: Final = re.compile(r"\$\{(?:[^{}]|\{[^{}]*\})*\}")


def unsaid(script: str) -> list[str]:
    """List the literals of a script that hold a space and a letter and stand in no `say(...)`.

    >>> unsaid('put("Send it", say("Keep it")) // "No text"'), unsaid('`${mm} mm`'), unsaid('"p, h1" `M${x} ${y}L${z}`')
    (['Send it'], ['${mm} mm'], [])
    """
    found = []
    for token in _TOKENS.finditer(script):
        text = token[0][1:-1]
        words = _FILLED.sub("", text)
        if token[0].startswith("//") or re.search(r"\bsay\(\s*$", script[: token.start()]):
            continue
        plain = " " in words and re.search("[A-Za-z]", words)
        if plain and not (text in FOR_PROGRAMS or SELECTOR.fullmatch(text) or DRAWN.fullmatch(words)):
            found.append(text)
    return found


@pytest.mark.parametrize("script", sorted(STATIC.glob("*.js")), ids=lambda script: script.name)
def test_every_text_of_a_script_is_said(script: Path) -> None:
    """No script shows people a text that it does not say."""
    assert unsaid(script.read_text(encoding="utf-8")) == []
