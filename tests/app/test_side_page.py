"""The page of one side: its place read off, its layers, its way back; for its owner and for whoever has the address."""

import re

import pytest

from service.show.close_look import LAYERS
from tests.app.outline import Outline
from tests.app.phones import Phone, text_of


def test_a_place_is_told_without_scripts(phone: Phone) -> None:
    """Typed as people write lengths, a place is told with its distances and its grain; an unread one never straight.

    The stand-in answer has 1 degree at 0 mm, and nothing read at 10 mm; 1 / tan(1 deg) = 57.3.
    """
    board = phone.read_board()
    near, far = (text_of(phone.get(f"{board}/answer/face_1", at=at)) for at in ("1/16 in", "24-3/8 in"))

    assert "1/16 in from the marked end 3/4 in from the upper long corner Grain: 1 in 57, rising" in near
    assert "24-3/8 in from the marked end" in far
    assert "Marked end left. Above lies edge 2, below edge 1." in far


@pytest.mark.parametrize(
    ("at", "reason"), [("9000 mm", "must lie between"), ("the knot", "no length"), ("-1 in", "zero")]
)
def test_a_place_that_is_none_is_refused_at_its_field(phone: Phone, at: str, reason: str) -> None:
    """The reason stands at the field, and what was typed stays."""
    board = phone.read_board()
    response = phone.get(f"{board}/answer/face_1", at=at)
    (field,) = (part for part in Outline(response.text).of("input") if part.get("id") == "at")

    assert response.status_code == 422
    assert (field["value"], field["aria-invalid"]) == (at, "true")
    assert reason in text_of(response)


def test_layers_are_chosen_by_the_address(phone: Phone) -> None:
    """At first everything is shown; a sent form shows what it names. Each layer has its part of the drawing."""
    board = phone.read_board()
    first = Outline(phone.get(f"{board}/answer/face_1").text)
    chosen = Outline(phone.get(f"{board}/answer/face_1", chosen="1", lines="1", photo="1", at="3 in").text)

    def shown(page: Outline) -> list[str | None]:
        return [box["name"] for box in page.of("input") if box.get("type") == "checkbox" and "checked" in box]

    assert shown(first) == list(LAYERS)
    assert shown(chosen) == ["photo", "lines"]
    assert {part["data-layer"] for part in first.of("g") if "data-layer" in part} >= set(LAYERS)


def test_the_answer_leads_to_each_side_and_back(phone: Phone) -> None:
    """A side's picture is touched to see it from close; the photo there is its own, and one button leads back."""
    board = phone.read_board()
    links = [str(link.get("href")) for link in Outline(phone.get(f"{board}/answer").text).of("a")]
    page = Outline(phone.get(f"{board}/answer/edge_1").text)

    assert {f"{board}/answer/face_1", f"{board}/answer/edge_1"} <= set(links)
    assert f"{board}/answer/face_1?at=508.0+mm" in links
    assert page.open == []
    (photo,) = page.of("image")
    assert phone.get(str(photo["href"])).status_code == 200
    assert [link["href"] for link in page.of("a") if link.get("class") == "button main"] == [f"{board}/answer"]
    assert {str(link["href"]) for link in page.of("a")} >= {f"{board}/answer/face_1"}


@pytest.mark.parametrize("side", ["edge_2", "face_3", "margin", "place"])
def test_a_side_without_a_picture_is_not_there(phone: Phone, side: str) -> None:
    """The page says what to do instead."""
    response = phone.get(f"{phone.read_board()}/answer/{side}")

    assert response.status_code == 404
    assert "Photograph it, then read the board again." in text_of(response)


def test_others_see_sides_only_by_a_shared_address(phone: Phone, other: Phone) -> None:
    """The twin under the shared address works for anyone, shows nothing else, and ends when it is withdrawn."""
    board = phone.read_board(note="secret note")
    token = re.sub(r".*token=", "", phone.post(f"{board}/share").headers["location"])
    shared = other.get(f"/s/{token}/answer/face_1")
    (photo,) = Outline(shared.text).of("image")

    assert other.get(f"{board}/answer/face_1").status_code == 404
    assert shared.status_code == 200
    assert shared.headers["x-robots-tag"] == "noindex"
    assert "secret note" not in shared.text
    assert board not in shared.text
    assert other.get(str(photo["href"])).status_code == 200
    assert {f"/s/{token}", f"/s/{token}/answer/edge_1"} <= {str(a["href"]) for a in Outline(shared.text).of("a")}

    phone.post(f"{board}/share/withdraw")
    assert other.get(f"/s/{token}/answer/face_1").status_code == 404


def test_an_old_answer_without_that_photo_still_opens(phone: Phone) -> None:
    """Whoever has an answer from before these photos were kept sees the drawing and how to get the photo."""
    store = phone.client.app.state.store  # type: ignore[attr-defined]
    board = phone.read_board()
    with store.database.writing() as connection:
        connection.exec_driver_sql("DELETE FROM picture WHERE name LIKE 'close_%' OR name = 'place'")
    page, answer, rack = (phone.get(path) for path in (f"{board}/answer/face_1", f"{board}/answer", "/"))

    assert page.status_code == answer.status_code == rack.status_code == 200
    assert "Read the board again to see one here." in text_of(page)
    assert Outline(page.text).of("image") == []
    assert Outline(rack.text).of("img") == []
