"""A board's page: its answer first, one thing to do next, and everything that can be told about it."""

import re
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import pytest

from tests.app.outline import Outline
from tests.app.phones import Phone, text_of


def next_step(phone: Phone, board: str) -> str:
    """Return what the one large button of a board's page says."""
    page = phone.get(board).text
    (words,) = [part.partition("<")[0].strip() for part in page.partition("button main")[2].split(">")[1:2]]
    assert page.count("button main") == 1
    return words


def test_a_new_board_asks_for_its_first_side(phone: Phone) -> None:
    """There is a form for every place a photo can have, each field has a name, and one thing to do next."""
    board = phone.board()
    page = phone.get(board).text
    outline = Outline(page)

    assert outline.open == []
    shots = [form.get("data-shot") for form in outline.of("form") if "data-shot" in form]
    sides = ["face_1", "edge_1", "face_2", "edge_2"]
    assert shots == [*sides, *(f"close_{side}" for side in sides), "end", *sides]
    ids = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    labelled = {label.get("for") for label in outline.of("label")}
    for field in [*outline.of("input"), *outline.of("select")]:
        assert field.get("type") in ("radio", "hidden") or field["id"] in labelled
        assert set((field.get("aria-describedby") or "").split()) <= set(ids)
    assert {"id": "main", "tabindex": "-1", "data-board": board.rpartition("/")[2]} in outline.of("main")
    assert next_step(phone, board) == "Photograph face 1"


def test_camera_and_photos_stand_side_by_side(phone: Phone) -> None:
    """Every shot has one field that opens the camera and one that offers the photos taken before."""
    outline = Outline(phone.get(phone.board()).text)

    fields = [field for field in outline.of("input") if field.get("type") == "file"]

    assert {field["name"] for field in fields} == {"photo"}
    assert [field.get("capture") for field in fields] == ["environment", None] * (len(fields) // 2)


def test_there_is_always_one_thing_to_do_next(phone: Phone) -> None:
    """Shoot, shoot again what is blurred, see the answer, and what follows from it."""
    board = phone.board("8 ft")
    steps = []
    for slot in ("face_1", "edge_1", "face_2"):
        steps.append(next_step(phone, board))
        phone.shoot(f"{board}/photos/{slot}")
        phone.settled(board)
    phone.shoot(f"{board}/photos/edge_1", name="blurred.jpg")
    steps.append(next_step(phone, board))
    phone.shoot(f"{board}/photos/edge_1")
    phone.shoot(f"{board}/photos/edge_2")
    phone.post(f"{board}/reading")
    steps.append(next_step(phone, board))

    assert steps == [
        "Photograph face 1",
        "Photograph edge 1",
        "See where to cut",  # a face and an edge are enough for an answer
        "Take edge 1 again",
        "See where to cut",
    ]
    assert next_step(phone, phone.read_board("6 ft")) == "Next board"
    assert next_step(phone, phone.read_board("7 ft")) == "Photograph face 2"


def test_a_board_not_sure_yet_with_all_sides_leads_to_what_would_tell(phone: Phone) -> None:
    """When all sides are there and something is open, the answer's own questions come next."""
    board = phone.read_board("7 ft")
    for slot in ("face_2", "edge_2"):
        phone.shoot(f"{board}/photos/{slot}")
    phone.post(f"{board}/reading")

    assert next_step(phone, board) == "See what would tell"
    answer = phone.get(f"{board}/answer").text
    assert '<section id="next">' in answer


def test_the_answer_stands_on_top_with_its_worst_side(phone: Phone) -> None:
    """Word, sentence, section and the side whose grain runs steepest, with the way to the whole answer."""
    board = phone.read_board()
    page = phone.get(board)

    told = text_of(page)
    assert "Take it A 68 in bow can come out of this board. From 10 in to 78 in, back: face 2" in told
    picture = next(image for image in Outline(page.text).of("img") if "steepest" in (image["alt"] or ""))
    assert (picture["alt"] or "").startswith("Face 1, the side whose grain runs steepest")
    shown = phone.get(str(picture["src"]))
    assert shown.headers["content-type"] == "image/svg+xml"
    assert shown.headers["content-security-policy"].startswith("default-src 'none'; style-src 'unsafe-inline'")
    assert phone.get(f"{board}/pictures/edge_2").status_code == 404
    assert phone.get(f"{board}/pictures/face_1", of="nothing").status_code == 404


def test_the_whole_answer_folds_what_is_not_needed_at_once(phone: Phone) -> None:
    """Word, place, section, back, lines, strength, questions and cautions are open; all else is folded below them."""
    board = phone.read_board()
    page = phone.get(f"{board}/answer")
    outline = Outline(page.text)

    assert outline.open == []
    summaries = page.text.split("<summary>")[1:]
    folds = [part.partition("<")[0] for part in summaries if not part.startswith(("Why?", "What would tell?"))]
    assert folds == ["The sides", "Every reason", "Cut, lines and strength in full", "The limits", "All the numbers"]
    for heading in ("Where to cut", "The back", "Lines that run off", "Strength", "What to look at next"):
        assert f"<h2>{heading}</h2>" in page.text
    for image in outline.of("img"):
        assert phone.get(str(image["src"])).status_code == 200
    assert phone.get(f"{board}/answer.json").json()["verdict"] == "pass"


def test_a_board_without_an_answer_says_what_to_do(phone: Phone) -> None:
    """There is nothing to show, and the page says how to get it."""
    response = phone.get(f"{phone.board()}/answer")

    assert response.status_code == 404
    assert "Photograph a face and an edge, then read it." in text_of(response)


def test_what_is_told_about_a_board_is_kept(phone: Phone) -> None:
    """Each form changes its own texts and leaves the rest."""
    board = phone.board()

    phone.post(board, {"name": "By the window", "price": "12", "note": "straight, a bit of wane"})
    phone.post(board, {"knot": "face_1 at 36 in"})
    phone.post(board, {"bow_length": "60", "tolerance": "strict"})
    phone.post(board, {"length": "7 ft", "wood": "ash"})

    values = {
        str(part["id"]): part["value"]
        for part in Outline(phone.get(board).text).of("input")
        if "value" in part and "id" in part
    }
    told = {"name": "By the window", "price": "12", "note": "straight, a bit of wane", "knot": "face_1 at 36 in"}
    told |= {"bow_length": "60", "length": "7 ft", "wood": "ash"}
    assert values.items() >= told.items()


def test_changes_that_come_at_once_are_all_kept(phone: Phone) -> None:
    """Two forms sent again and again at the same time undo nothing of each other."""
    board = phone.board()

    def write(name: str) -> None:
        for number in range(10):
            headers = {"cookie": phone.cookie}
            phone.client.post(board, data={name: f"{name} {number}"}, headers=headers, follow_redirects=False)

    with ThreadPoolExecutor() as threads:
        list(threads.map(write, ("price", "note", "wood")))

    page = phone.get(board).text
    for name in ("price", "note", "wood"):
        assert f'value="{name} 9"' in page


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("length", "96 parsecs"),
        ("bow_length", "a spear"),
        ("back_limit", "20"),
        ("knot", "face_1 at the end"),
        ("end_check", "marked 90 in"),
        ("test_rise", "some"),
        ("price", "x" * 61),
    ],
)
def test_what_is_refused_is_told_at_its_field(phone: Phone, field: str, text: str) -> None:
    """The reason stands on top and at its field, in the opened fold; what was typed stays, what was kept stays kept."""
    board = phone.board(name="By the door")
    typed = {field: text, **({"test_side": "face_1", "test_run": "10"} if field == "test_rise" else {})}

    response = phone.post(board, typed)
    outline = Outline(response.text)

    assert response.status_code == 422
    assert outline.open == []
    (refused,) = (part for part in outline.of("input") if part.get("id") == field)
    assert (refused["value"], refused["aria-invalid"]) == (text, "true")
    assert {"href": f"#{field}"} in outline.of("a")
    assert response.text.count("<details open>") == 2  # how to photograph, and the part at fault
    assert f'value="{text}"' not in phone.get(board).text


def test_what_was_typed_cannot_become_markup(phone: Phone) -> None:
    """Names, notes and prices are shown as the text they are, on every page."""
    nasty = '"><script>alert(1)</script>'
    board = phone.read_board(name=nasty, wood=nasty[:50])
    phone.post(board, {"note": nasty, "price": nasty})

    for path in (board, "/", f"{board}/answer", f"{board}/delete"):
        assert "<script>alert" not in phone.get(path).text
    assert nasty not in phone.post(board, {"length": nasty}).text


def test_deleting_is_asked_once_more(phone: Phone) -> None:
    """A first touch leads to a page that asks; then board, photos and answers are gone."""
    board = phone.read_board()
    photo = phone.state(board)["photos"][0]["id"]

    assert phone.post(f"{board}/delete").headers["location"] == f"{board}/delete"
    assert "Its photos, its answers and shared addresses go with it." in text_of(phone.get(f"{board}/delete"))
    assert phone.post(f"{board}/delete", {"sure": "yes"}).headers["location"] == "/"

    for path in ("", "/answer", "/state", f"/photos/{photo}", "/pictures/face_1"):
        assert phone.get(f"{board}{path}").status_code == 404


def test_a_shared_answer_is_seen_until_it_is_withdrawn(phone: Phone, other: Phone) -> None:
    """Whoever has the address sees answer and pictures, without note, price, photos or buttons; then no longer."""
    board = phone.read_board(name="By the door")
    phone.post(board, {"note": "secret note", "price": "secret price"})
    made = phone.post(f"{board}/share")
    page = phone.get(made.headers["location"])
    address = next(str(field["value"]) for field in Outline(page.text).of("input") if field.get("id") == "address")
    shown = address.removeprefix("http://testserver")

    seen = other.get(shown)

    assert "By the door Take it" in text_of(seen)
    assert "secret" not in seen.text
    assert "set-cookie" not in seen.headers
    assert seen.headers["x-robots-tag"] == "noindex"
    assert Outline(seen.text).of("form") == []
    pictures = [str(image["src"]) for image in Outline(seen.text).of("img")]
    assert len(pictures) == 4
    assert [other.get(picture).status_code for picture in pictures] == [200] * len(pictures)
    assert "An address that shows this answer was given out." in text_of(phone.get(board))

    assert phone.post(f"{board}/share/withdraw").headers["location"] == board
    assert other.get(shown).status_code == 404
    assert [other.get(picture).status_code for picture in pictures] == [404] * len(pictures)
    assert phone.get(made.headers["location"]).status_code == 404


def test_only_an_answer_can_be_shared(phone: Phone) -> None:
    """A board that was not read has nothing to show."""
    assert phone.post(f"{phone.board()}/share").status_code == 404


def test_headings_are_in_order_on_every_page(phone: Phone) -> None:
    """A screen reader finds one heading of the first level, and no level is skipped on the way down."""
    board = phone.read_board("7 ft")
    refused = phone.post(board, {"length": "96 parsecs"})
    shared = phone.get(phone.post(f"{board}/share").headers["location"])
    ids = dict.fromkeys("ab", board.rpartition("/")[2])
    pages = [phone.get(path) for path in ("/", "/bow", "/boards/new", board, f"{board}/answer", "/forget", "/once")]

    for page in (*pages, refused, shared, phone.get("/compare", **ids)):
        levels = [int(tag[1]) for tag, _ in Outline(page.text).tags if tag in ("h1", "h2", "h3", "h4")]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in pairwise(levels)), (page.url, levels)


def test_a_first_board_shows_how_to_photograph(phone: Phone) -> None:
    """Three sentences beside their pictures lie open at a phone's first board, and are one tap away ever after."""
    first = phone.get(phone.board()).text
    second = phone.get(phone.board("6 ft")).text

    for page, opened in ((first, True), (second, False)):
        fold = re.search(r"<details( open)?>\s*<summary>How to photograph</summary>(.*?)</details>", page, re.DOTALL)
        assert fold is not None
        assert bool(fold[1]) is opened
        assert fold[2].count("<svg") == fold[2].count("<li>") == 3
        assert "Mark one end with tape" in fold[2]
        assert "roll the board a quarter turn away from you" in fold[2]


def test_the_guide_knows_the_size_of_each_side(phone: Phone) -> None:
    """A 1x2 of eight feet is 1.5 in by 0.75 in (the store size's usual dressed size): thin as 1 in 64 and 1 in 128.

    Its whole length has to span 25 pixels an inch, that is 2400; a close-up shows a hand's length of 180 mm.
    """
    page = phone.get(phone.board()).text

    guides = re.findall(r'data-camera="(\w+)"(?: data-thin="([\d.]+)")?(?: data-least="(\d+)")?', page)
    assert guides[:2] == [("whole", "0.0156", "2400"), ("whole", "0.0078", "2400")]
    assert guides[4] == ("close", "0.2117", "")
    assert guides[8] == ("plain", "", "")
    assert guides[9][0] == "part"
