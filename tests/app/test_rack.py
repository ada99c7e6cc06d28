"""The rack: the bow set once, boards made in a touch, the best first, other days folded away."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from service.app.views.rack import day_words
from service.store.opening import Store
from service.store.rows import BoardTold
from tests.app.outline import Outline
from tests.app.phones import BOW, DATA, SIZE, Phone, text_of


def names_on(phone: Phone) -> list[str]:
    """Return the names of the boards in the rack, from the top."""
    page = phone.get("/").text
    return [part.partition("<")[0] for part in page.split('<span class="name">')[1:]]


def test_the_first_visit_says_what_it_does_and_what_to_mind(phone: Phone) -> None:
    """Three sentences, the cautions, and one button to begin with."""
    page = phone.get("/")

    assert "Photograph the four sides of a board." in text_of(page)
    assert "A bow can break while it is bent and hurt you or others." in text_of(page)
    assert [link["href"] for link in Outline(page.text).of("a") if link.get("class") == "button main"] == ["/bow"]


def test_a_board_needs_a_bow_first(phone: Phone) -> None:
    """Whoever starts without a bow is led to it, and from it to the first board."""
    assert phone.get("/boards/new").headers["location"] == "/bow"
    assert phone.post("/boards/new", SIZE).headers["location"] == "/bow"
    assert phone.post("/bow", BOW).headers["location"] == "/boards/new"
    assert phone.post("/boards/next").headers["location"] == "/boards/new"


@pytest.mark.parametrize(
    ("field", "text"), [("bow_length", "68 parsecs"), ("bow_width", "a hand"), ("back_limit", "20"), ("kerf", "a hair")]
)
def test_a_refused_bow_comes_back_with_what_was_typed(phone: Phone, field: str, text: str) -> None:
    """The reason stands at its field, in the opened fold, and what was typed stays."""
    response = phone.post("/bow", {**BOW, "belly_limit": "1 in 10", field: text})
    outline = Outline(response.text)
    fields = {str(part["id"]): part for part in outline.of("input") if "id" in part}

    assert response.status_code == 422
    assert (fields[field]["value"], fields[field]["aria-invalid"]) == (text, "true")
    assert fields["belly_limit"]["value"] == "1 in 10"
    assert {"href": f"#{field}"} in outline.of("a")
    assert all("open" in part for part in outline.of("details"))


def test_the_bow_is_kept_for_new_boards(phone: Phone) -> None:
    """It is set once, shown again, and every new board is judged for it."""
    phone.post("/bow", {**BOW, "bow_length": "1700", "units": "mm", "purpose": "first_bow"})
    page = Outline(phone.get("/bow").text)
    board = phone.post("/boards/new", {**SIZE, "wood": "ash"}).headers["location"]

    assert [part["value"] for part in page.of("input") if part.get("id") == "bow_length"] == ["1700"]
    assert "The bow for this board: 1700 mm long" in text_of(phone.get(board))


def test_a_new_board_says_in_which_unit_numbers_count(phone: Phone) -> None:
    """The unit was chosen with the bow, so the form for a board names it."""
    phone.post("/bow", {**BOW, "units": "mm", "bow_length": "1700"})

    page = text_of(phone.get("/boards/new"))

    assert "In millimetres unless you write another unit." in page
    assert "1x2: 19 mm x 38 mm" in page
    assert "8 ft (2438 mm)" in page


def test_a_common_size_takes_one_touch(phone: Phone) -> None:
    """Sizes and lengths that stores keep are choices; what is typed goes before them."""
    phone.post("/bow", BOW)

    marked = phone.post("/boards/new", SIZE).headers["location"]
    typed = phone.post("/boards/new", {**SIZE, "length": "91-1/2", "width": "1-3/8", "name": "By the door"})

    assert "Size and wood: 96 in, 1x2" in text_of(phone.get(marked))
    page = text_of(phone.get(typed.headers["location"]))
    assert "By the door" in page
    assert "Size and wood: 91-1/2 in, 3/4 in x 1-3/8 in" in page


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"length": "96 parsecs"}, "length"),
        ({"length_choice": ""}, "length"),
        ({"size": "", "thickness": "3/4"}, "width"),
        ({"size": "9x9"}, "size"),
        ({"wood": "x" * 61}, "wood"),
    ],
)
def test_a_refused_board_comes_back_with_what_was_typed(phone: Phone, changes: dict[str, str], field: str) -> None:
    """The reason stands on top and at its field, the rest stays as it was typed, and no board is made."""
    phone.post("/bow", BOW)

    response = phone.post("/boards/new", {**SIZE, "name": "By the door", **changes})

    assert response.status_code == 422
    assert {"href": f"#{field}"} in Outline(response.text).of("a")
    assert 'value="By the door"' in response.text
    assert names_on(phone) == []


def test_the_size_before_is_remembered(phone: Phone) -> None:
    """The next board is of the same size with one touch, and the form for another begins with that size."""
    phone.board("7 ft", wood="ash")

    following = phone.post("/boards/next").headers["location"]
    marked = [part["value"] for part in Outline(phone.get("/boards/new").text).of("input") if "checked" in part]

    assert "Size and wood: 84 in, 1x2, ash" in text_of(phone.get(following))
    assert marked == ["7 ft", "1x2"]
    assert sorted(names_on(phone)) == ["Board 1", "Board 2"]


def test_a_size_from_the_list_is_remembered_too(phone: Phone) -> None:
    """A rarer size, picked from the list, is picked there again."""
    phone.board(size="", size_other="4/4 S2S", width="2")

    page = Outline(phone.get("/boards/new").text)

    assert [part["value"] for part in page.of("option") if "selected" in part] == ["4/4 S2S"]


def test_a_bow_too_wide_for_the_size_before_leads_to_the_form(phone: Phone) -> None:
    """When the bow was changed so that it no longer fits, the size is asked for again."""
    phone.board()
    phone.post("/bow", {**BOW, "bow_width": "3"})

    assert phone.post("/boards/next").headers["location"] == "/boards/new"


def test_a_button_touched_twice_makes_one_board(phone: Phone) -> None:
    """Gloves touch twice: the same button makes one board, the next page's button another."""
    phone.board()

    first, again = (phone.post("/boards/next", {"once": "a touch"}).headers["location"] for _ in range(2))
    later = phone.post("/boards/next", {"once": "another"}).headers["location"]

    assert first == again != later


def test_a_board_sent_late_again_makes_no_second_one(phone: Phone) -> None:
    """A phone that heard no answer sends a board again, even when others were made since: it is there once."""
    phone.board(once="first")
    second = phone.post("/boards/new", {**SIZE, "once": "second"}, DATA).json()

    again = phone.post("/boards/new", {**SIZE, "once": "first"}, DATA).json()

    assert again["page"] == f"/boards/{again['board']}" != second["page"]
    assert len(names_on(phone)) == 2


def test_scripts_are_told_where_a_board_is_or_why_there_is_none(phone: Phone) -> None:
    """What the page does by leading on, scripts get as data: where to go, or the reason and its field."""
    no_bow = phone.post("/boards/new", SIZE, DATA)
    assert (no_bow.status_code, no_bow.json()["field"]) == (422, "bow_length")
    assert phone.post("/bow", {**BOW, "bow_length": "long"}, DATA).json()["field"] == "bow_length"
    assert phone.post("/bow", BOW, DATA).json() == {"bow": True, "page": "/boards/new"}
    assert phone.post("/boards/next", headers=DATA).json()["field"] == "length"
    assert phone.post("/boards/new", {**SIZE, "length": "96 parsecs"}, DATA).json()["field"] == "length"
    board = phone.post("/boards/new", {**SIZE, "once": "a"}, DATA).json()["board"]
    assert phone.post("/boards/next", {"once": "b"}, DATA).json()["board"] != board
    assert len(names_on(phone)) == 2


def test_a_phone_may_fetch_the_forms_ahead(phone: Phone) -> None:
    """The form for a board and the page of one that waits are there before a bow is, for a phone without signal."""
    assert phone.get("/boards/new", ahead="1").status_code == 200
    shots = Outline(phone.get("/boards/waiting").text).of("form")
    assert [form["data-shot"] for form in shots if "data-shot" in form] == ["face_1", "edge_1", "face_2", "edge_2"]


def test_two_touches_at_once_make_one_board(phone: Phone) -> None:
    """Even when both arrive at the same time."""
    phone.board()
    send = {"headers": {"cookie": phone.cookie}, "data": {"once": "quick"}, "follow_redirects": False}
    with ThreadPoolExecutor() as threads:
        sent = [threads.submit(phone.client.post, "/boards/next", **send) for _ in range(4)]  # type: ignore[arg-type]
        places = {one.result().headers["location"] for one in sent}

    assert len(places) == 1
    assert len(names_on(phone)) == 2


def test_boards_are_numbered_and_a_free_number_is_taken(phone: Phone) -> None:
    """Boards of a day are called Board 1, Board 2; a deleted one's number does not come twice at once."""
    first = phone.board()
    phone.post("/boards/next")
    phone.post(f"{first}/delete", {"sure": "yes"})

    phone.post("/boards/next")

    assert len(set(names_on(phone))) == 2


def test_the_best_board_comes_first(phone: Phone) -> None:
    """A board that passes stands before one that is not sure, that before one to leave; unread ones come last."""
    for length in ("6 ft", "8 ft", "7 ft"):
        phone.read_board(length, name=f"Of {length}")
    phone.board(name="Not shot")

    page = text_of(phone.get("/"))

    assert names_on(phone) == ["Of 8 ft", "Of 7 ft", "Of 6 ft", "Not shot"]
    assert page.index("Take it") < page.index("Not sure yet") < page.index("Leave it") < page.index("Not read yet")
    assert "Of 8 ft: It passes; the answer of Of 7 ft is still open." in page
    assert "The order is an aid to judgement, not a promise" in page
    assert "From 10 in to 78 in, back: face 2" in page


def test_boards_of_one_name_are_put_in_order_too(phone: Phone) -> None:
    """Names need not differ; both boards stand in the rack."""
    phone.read_board("7 ft", name="Ash")
    phone.read_board("8 ft", name="Ash")

    page = text_of(phone.get("/"))

    assert names_on(phone) == ["Ash", "Ash"]
    assert page.index("Take it") < page.index("Not sure yet")


def test_boards_for_another_bow_are_not_compared(phone: Phone) -> None:
    """A board that was read for another bow stands below, with its answer."""
    phone.read_board("8 ft", name="For the long bow")
    phone.post("/bow", {**BOW, "bow_length": "60"})
    board = phone.post("/boards/new", {**SIZE, "length_choice": "7 ft", "name": "For the short bow"}).headers[
        "location"
    ]
    for slot in ("face_1", "edge_1"):
        phone.shoot(f"{board}/photos/{slot}")
    phone.post(f"{board}/reading")

    page = text_of(phone.get("/"))

    assert names_on(phone) == ["For the short bow", "For the long bow"]
    assert "Not compared: not read yet, or for another bow" in page


def test_price_and_choice_are_seen_in_the_rack(phone: Phone) -> None:
    """What was paid, and which one it is, stand with the board, in words."""
    board = phone.board()
    phone.post(board, {"price": "14.90"})
    phone.post(board, {"chosen": "yes"})
    page = phone.get("/").text
    chosen = text_of(phone.get("/"))
    phone.post(board, {"chosen": "no"})

    assert "14.90 Board 1" in chosen
    assert '<span class="chosen-mark">This is the one</span>' in page
    assert "chosen-mark" not in phone.get("/").text


def test_name_note_and_choice_are_given_in_the_rack(phone: Phone) -> None:
    """What is told in the rack is kept and leads back to it; what cannot be kept is told."""
    board = phone.read_board()
    kept = phone.post(board, {"then": "rack", "name": "By the door", "note": "Light, rings like pages"})
    chosen = phone.post(board, {"then": "rack", "chosen": "yes"})
    told = text_of(phone.get("/"))
    refused = phone.post(board, {"then": "rack", "note": "x" * 4001})

    assert kept.headers["location"] == chosen.headers["location"] == "/"
    assert names_on(phone) == ["By the door"]
    assert "Light, rings like pages This is the one" in told
    assert refused.status_code == 422
    assert "at most 4000 can be kept" in text_of(refused)


def test_each_board_shows_the_place_that_decides(phone: Phone) -> None:
    """Its picture stands on the card, with words of what and where; a board not read yet has none."""
    board = phone.read_board()
    phone.board(name="Not read")
    (picture,) = Outline(phone.get("/").text).of("img")

    assert picture["alt"] == "Not read on face 1 at 20 in"
    assert str(picture["src"]).startswith(f"{board}/pictures/place?of=")
    assert phone.get(str(picture["src"])).headers["content-type"] == "image/svg+xml"


def test_other_days_are_folded_and_can_be_deleted(phone: Phone, keeping: TestClient) -> None:
    """Boards of another day stand under its date; deleting them is asked once more and leaves today's."""
    phone.board(name="Of today")
    store: Store = keeping.app.state.store  # type: ignore[attr-defined]  # the app made by create_app
    device = store.devices.of(phone.cookie.partition("=")[2])
    assert device is not None
    day = (datetime.now(UTC) - timedelta(days=9)).date()
    old = store.boards.add(device, BoardTold(name="Of that day"), day)
    page = phone.get("/")
    assert f"{day_words(day)}: 1 board" in text_of(page)
    delete = f"/outings/{old.outing_id}/delete"
    assert delete in [link["href"] for link in Outline(page.text).of("a")]

    assert phone.post(delete).headers["location"] == delete
    assert f"1 board of {day_words(day)}" in text_of(phone.get(delete))
    assert phone.post(delete, {"sure": "yes"}).headers["location"] == "/"

    assert names_on(phone) == ["Of today"]
    assert phone.get(delete).status_code == 404


def test_two_boards_are_compared_in_words(phone: Phone) -> None:
    """Side by side: which goes first and why, and each thing that was found."""
    one, two = phone.read_board("8 ft", name="One"), phone.read_board("7 ft", name="Two")
    ids = {"a": one.rpartition("/")[2], "b": two.rpartition("/")[2]}

    page = phone.get("/compare", **ids)

    told = text_of(page)
    assert "The place that decides Not read on face 1 at 20 in Not read on face 1 at 20 in Answer" in told
    assert "One: It passes; the answer of Two is still open." in told
    for row in ("Answer Take it Not sure yet", "Back Face 2 Face 2", "Rings flat-sawn flat-sawn", "Points 62 of 100"):
        assert row in told
    assert phone.get("/compare", a=ids["a"]).status_code == 404


def test_boards_for_different_bows_are_compared_without_an_order(phone: Phone) -> None:
    """The table stands, and says why none goes before the other."""
    one = phone.read_board("8 ft")
    two = phone.read_board("7 ft")
    phone.post(two, {"bow_length": "60"})
    phone.settled(two)

    told = text_of(phone.get("/compare", a=one.rpartition("/")[2], b=two.rpartition("/")[2]))

    assert "were read for bows of different lengths" in told
