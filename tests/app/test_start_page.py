"""The form: every field named, what was typed kept, refusals told where they belong."""

import pytest
from fastapi.testclient import TestClient

from service.asked import FILE_FIELDS
from tests.app.forms import SIZES, four_photos
from tests.app.outline import Outline, answer_text


def test_every_field_has_a_label_and_a_hint(client: TestClient) -> None:
    """A screen reader can name each field and read its hint."""
    outline = Outline(client.get("/once").text)

    labelled = {label.get("for") for label in outline.of("label")}
    ids = {attributes["id"] for _, attributes in outline.tags if "id" in attributes}
    fields = [*outline.of("input"), *outline.of("select")]
    assert outline.open == []
    assert {str(field["name"]) for field in fields if field.get("type") == "file"} == {f.name for f in FILE_FIELDS}
    for field in fields:
        assert field.get("type") in ("radio", "hidden") or field["id"] in labelled
        assert set((field.get("aria-describedby") or "").split()) <= ids


def test_the_phone_may_choose_camera_or_photos(client: TestClient) -> None:
    """No field forces the camera, so photos taken before can be chosen."""
    for field in Outline(client.get("/once").text).of("input"):
        if field.get("type") == "file":
            assert "capture" not in field
            assert "image/*" in (field["accept"] or "")


def test_the_way_back_keeps_the_sizes(client: TestClient) -> None:
    """The link to another try brings the sizes along, without scripts and without anything kept here."""
    page = answer_text(client, wood="red oak")
    link = next(link["href"] for link in Outline(page).of("a") if "data-back" in link)

    form = client.get(str(link)).text

    assert 'value="96 in"' in form
    assert 'value="red oak"' in form
    assert '<option value="1x2" selected>' in form


def test_an_ink_test_is_folded_away_until_it_is_entered(client: TestClient) -> None:
    """The fields of a test take no room before one is entered; the way back from an answer brings them along, open."""
    typed = {
        "test_method": "scribe",
        "test_side": "face_2",
        "test_rise": "1/8",
        "test_toward": "lower",
        "test_run": "10",
    }
    page = answer_text(client, **typed)
    link = next(link["href"] for link in Outline(page).of("a") if "data-back" in link)

    before, again = (Outline(client.get(address).text) for address in ("/once?test_method=ink", str(link)))

    assert [("open" in part) for part in before.of("details")] == [False, False, False]
    assert [("open" in part) for part in again.of("details")] == [False, False, True]
    chosen = [option["value"] for option in again.of("option") if "selected" in option]
    assert chosen == ["1x2", "face_2", "scribe", "lower"]


def test_a_refused_ink_test_comes_back_open(client: TestClient) -> None:
    """A mistake in a test is told at its own field, inside the opened fold, and a link leads there."""
    typed = {"test_side": "face_1", "test_rise": "1/8", "test_run": "10"}
    response = client.post("/reading", data={**SIZES, **typed}, files=four_photos())
    outline = Outline(response.text)

    (toward,) = (field for field in outline.of("select") if field.get("id") == "test_toward")
    assert response.status_code == 422
    assert toward["aria-invalid"] == "true"
    assert [("open" in part) for part in outline.of("details")] == [False, False, True]
    assert {"href": "#test_toward"} in outline.of("a")


def test_purpose_and_limits_come_back_as_they_were_chosen(client: TestClient) -> None:
    """What was chosen and typed about the bow comes along on the way back, its fold open; the usual keeps it folded."""
    own = {"purpose": "first_bow", "tolerance": "strict", "back_limit": "1 in 30", "bow_width": "1-1/4"}
    page = answer_text(client, **own)
    link = next(link["href"] for link in Outline(page).of("a") if "data-back" in link)

    again, usual = (Outline(client.get(to).text) for to in (str(link), "/once?purpose=unbacked&tolerance=usual"))

    assert [("open" in part) for part in again.of("details")] == [True, False, False]
    assert [("open" in part) for part in usual.of("details")] == [False, False, False]
    marked = {field["name"]: field["value"] for field in again.of("input") if "checked" in field}
    typed = {field["name"]: field["value"] for field in again.of("input") if field.get("type") == "text"}
    assert (marked["purpose"], marked["tolerance"]) == ("first_bow", "strict")
    assert (typed["back_limit"], typed["bow_width"]) == ("1 in 30", "1-1/4")


@pytest.mark.parametrize(
    ("field", "text", "fold"),
    [
        ("back_limit", "20", 0),
        ("kerf", "a hair", 0),
        ("bow_width", "2 in", 0),
        ("purpose", "a roof", 0),
        ("tolerance", "none", 0),
        ("knot", "face_1 at the end", 2),
        ("no_knot", "face_9 at 3 in", 2),
        ("end_check", "marked 90 in", 2),
    ],
)
def test_what_is_refused_in_a_fold_is_told_there(client: TestClient, field: str, text: str, fold: int) -> None:
    """A limit or find that cannot be is told at its own field, in its opened fold, and a link leads there."""
    response = client.post("/reading", data={**SIZES, field: text}, files=four_photos())
    outline = Outline(response.text)

    assert response.status_code == 422
    assert [part.get("id") for part in outline.of("p")].count(f"{field}-why") == 1
    assert [("open" in part) for part in outline.of("details")] == [number == fold for number in range(3)]
    assert {"href": f"#{field}"} in outline.of("a")
    if field not in ("purpose", "tolerance"):
        (refused,) = (part for part in outline.of("input") if part.get("id") == field)
        assert (refused["value"], refused["aria-invalid"]) == (text, "true")


def test_a_refused_form_comes_back_with_what_was_typed(client: TestClient) -> None:
    """The form is shown again: the reason on top and at its field, the sizes still there."""
    response = client.post("/reading", data={**SIZES, "length": "96 parsecs"}, files=four_photos())
    outline = Outline(response.text)
    length = next(field for field in outline.of("input") if field.get("id") == "length")

    assert response.status_code == 422
    assert (length["value"], length["aria-invalid"]) == ("96 parsecs", "true")
    assert "length-why" in (length["aria-describedby"] or "")
    assert response.text.count("“96 parsecs” is no length that can be read") == 2
    assert any(part.get("role") == "alert" for part in outline.of("div"))
