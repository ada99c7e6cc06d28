"""The JSON API: whole answers out, and every wrong form refused with a code, a sentence and the field."""

from collections.abc import Mapping

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.app.routes.api import MOST_BOARDS, BoardToRank
from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS, make_wish
from service.judge.judge import judge
from service.judge.ranking import Ranking
from service.judge.record import Answer
from service.settings import Settings
from service.upload import Upload
from tests.app import standins
from tests.app.forms import SIZES, Files, four_photos, photo
from tests.judge.made import make_reading


def test_the_answer_is_the_record(client: TestClient) -> None:
    """The API returns exactly the record that the reader made, under the record's own names."""
    wish = make_wish(SIZES, {"face_1": [Upload("board.jpg", b"bytes of a photo")]})

    response = client.post("/api/readings", data=SIZES, files=[photo("face_1")])

    assert response.status_code == 200
    assert response.json() == standins.answer_for(wish).model_dump(mode="json", by_alias=True)
    assert response.json()["rings"]["from"] == ["end"]


def test_every_field_of_the_form_reaches_the_reader(client: TestClient) -> None:
    """Sizes, wood, sides and store size come out of the answer as they were sent in."""
    data = {**SIZES, "wood": " red  oak ", "corners_face_1": "1,2 9,2 9,4 1,4"}

    answer = client.post("/api/readings", data=data, files=[*four_photos(), photo("close_face_1"), photo("end")]).json()

    assert answer["board"] == {
        "length_mm": 2438.4,
        "width_mm": 38.1,
        "thickness_mm": 19.05,
        "nominal": "1x2",
        "species": "red oak",
    }
    assert answer["bow_length_mm"] == pytest.approx(1727.2)
    assert {side: read["status"] for side, read in answer["sides"].items()} == dict.fromkeys(
        ("face_1", "edge_1", "face_2", "edge_2"), "read"
    )


@pytest.mark.parametrize(
    ("changes", "files", "code", "field", "words"),
    [
        ({"length": ""}, four_photos(), "bad_input", "length", "Give the board's length"),
        ({"bow_length": ""}, four_photos(), "bad_input", "bow_length", "Give the bow's length"),
        ({"size": ""}, four_photos(), "bad_input", "width", "Give the board's width"),
        ({"length": "96 parsecs"}, four_photos(), "bad_input", "length", "no length that can be read"),
        ({"units": "yards"}, four_photos(), "bad_input", "units", "choose in or mm"),
        ({"units": "", "length": "96"}, four_photos(), "bad_input", "length", "needs a unit"),
        ({"wood": "o" * 61}, four_photos(), "bad_input", "wood", "at most 60 letters"),
        ({"corners_face_1": "1,2 3,4"}, four_photos(), "bad_input", "corners_face_1", "four pairs"),
        ({"corners_face_1": "1,2 9,2 nan,4 1,4"}, four_photos(), "bad_input", "corners_face_1", "four pairs"),
        (
            {"corners_face_1": "1,2 9,2 9,4 1,4"},
            [photo("face_1"), photo("face_1")],
            "bad_input",
            "corners_face_1",
            "only when it has one photo",
        ),
        ({}, [], "bad_input", None, "Send the sizes and photos as a form with files"),
        ({}, [photo("close_face_1")], "bad_input", "face_1", "No photo of a whole side"),
        ({}, [photo("face_1", b"")], "bad_photo", "face_1", "board.jpg is empty (0 bytes)"),
        ({}, [photo("face_1"), photo("end"), photo("end")], "bad_input", "end", "one photo of the marked end"),
        ({}, [photo("face_3")], "bad_input", None, "no photo field “face_3”"),
        ({"lenght": "96 in"}, four_photos(), "bad_input", None, "no field “lenght”"),
        ({"face_2": "text"}, [photo("face_1")], "bad_input", "face_2", "face_2 is no file"),
        ({"length": ["96 in", "95 in"]}, four_photos(), "bad_input", "length", "given twice"),
    ],
)
def test_a_wrong_form_is_refused(
    client: TestClient, changes: Mapping[str, str], files: Files, code: str, field: str | None, words: str
) -> None:
    """Each mistake has status 422, a fixed code, its field and a sentence that says what to do."""
    response = client.post("/api/readings", data={**SIZES, **changes}, files=files)

    refusal = response.json()
    assert (response.status_code, refusal["code"], refusal["field"]) == (422, code, field)
    assert words in refusal["text"]


def test_an_empty_file_field_is_no_photo(client: TestClient) -> None:
    """A browser sends a part without a name for each file field left empty; it counts as not given."""
    boundary = "b" * 20
    body = b"".join(
        f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"{rest}'.encode()
        for name, rest in [
            *((name, f"\r\n\r\n{text}\r\n") for name, text in SIZES.items()),
            ("face_1", '; filename="a.jpg"\r\nContent-Type: image/jpeg\r\n\r\nphoto\r\n'),
            ("face_2", '; filename=""\r\nContent-Type: application/octet-stream\r\n\r\n\r\n'),
        ]
    )

    response = client.post(
        "/api/readings",
        content=body + f"--{boundary}--\r\n".encode(),
        headers={"content-type": f"multipart/form-data; boundary={boundary}"},
    )

    assert response.status_code == 200
    assert response.json()["sides"]["face_2"]["status"] == "missing"


@pytest.mark.parametrize("body", [b"", b"--x\r\nrubbish", b"no form at all"])
def test_a_broken_form_is_refused(client: TestClient, body: bytes) -> None:
    """Bytes that are no form are refused with a sentence, not a fault."""
    headers = {"content-type": "multipart/form-data; boundary=x"}

    response = client.post("/api/readings", content=body, headers=headers)

    assert response.status_code == 422
    assert response.json()["code"] == "bad_input"


def test_what_the_reader_refuses_is_passed_on() -> None:
    """A photo that cannot be opened comes back from the worker process with its sentence and field."""
    with TestClient(create_app(Settings(readers=1), standins.refuse)) as client:
        response = client.post("/api/readings", data=SIZES, files=four_photos())

    assert response.status_code == 422
    assert response.json() == {
        "code": "bad_photo",
        "text": "board.jpg is no photo that can be opened.",
        "field": "face_1",
    }


def test_the_schema_describes_the_form_and_the_answer(client: TestClient) -> None:
    """The OpenAPI schema names every field of the form and of the record, each with its help text."""
    schema = client.get("/openapi.json").json()

    post = schema["paths"]["/api/readings"]["post"]
    form = post["requestBody"]["content"]["multipart/form-data"]["schema"]["properties"]
    assert {name: part["description"] for name, part in form.items()} == {
        field.name: field.help for field in (*TEXT_FIELDS, *PAGE_FIELDS, *FILE_FIELDS)
    }
    answer = schema["components"]["schemas"]["Answer"]["properties"]
    assert answer.keys() == Answer.model_fields.keys()
    for parts in schema["components"]["schemas"].values():
        assert all("description" in part for part in parts.get("properties", {}).values())
    assert "from" in schema["components"]["schemas"]["Rings"]["properties"]
    assert {"200", "413", "422", "500", "503"} <= post["responses"].keys()


def test_limits_and_entries_reach_the_reader_and_name_their_field(client: TestClient) -> None:
    """What the bow is held to and what was entered by hand are fields of the form like any other."""
    given = {
        "purpose": "backed",
        "back_limit": "1 in 18",
        "kerf": "2 mm",
        "knot": "face_1 at 36 in",
        "end_check": "far 2 in",
    }

    taken = client.post("/api/readings", data={**SIZES, **given}, files=four_photos())

    assert taken.status_code == 200
    for field, text in {"back_limit": "20", "tolerance": "none", "bow_width": "2 in", "no_knot": "there"}.items():
        refused = client.post("/api/readings", data={**SIZES, field: text}, files=four_photos())
        assert (refused.status_code, refused.json()["code"], refused.json()["field"]) == (422, "bad_input", field)


def board(name: str, slope: float, bow_mm: float = 1727.2) -> dict[str, object]:
    """Return a made board of even slope as it is sent to be ranked."""
    answer = judge(make_reading({"face_1": slope}), bow_mm)
    return {"name": name, "answer": answer.model_dump(mode="json", by_alias=True)}


def test_boards_are_put_in_order(client: TestClient) -> None:
    """The straightest comes first whatever the order they are sent in; the answer is the ranking's own record."""
    boards = [board("Steep", 1 / 8), board("Straight", 1 / 100), board("Sloping", 1 / 40)]

    response = client.post("/api/ranking", json={"boards": boards})

    assert response.status_code == 200
    ranking = Ranking.model_validate(response.json())
    assert [(one.place, one.name) for one in ranking.boards] == [(1, "Straight"), (2, "Sloping"), (3, "Steep")]
    assert client.post("/api/ranking", json={"boards": boards[::-1]}).json() == response.json()


def test_what_the_api_answers_can_be_ranked(client: TestClient) -> None:
    """A reading's answer is taken as it came."""
    answer = client.post("/api/readings", data=SIZES, files=four_photos()).json()

    response = client.post("/api/ranking", json={"boards": [{"name": "Board", "answer": answer}]})

    assert response.json()["boards"][0]["why"] == "It is the only board."


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "Send JSON with boards, each with a name and the answer"),
        (b"no json", "The boards cannot be read, at the body"),
        (b"[]", "The boards cannot be read, at the body"),
        (b"{}", "at boards: Field required"),
        (b'{"boards": [{"name": "A", "answer": {"verdict": "good"}}]}', "at boards.0.answer.verdict"),
        (b'{"boards": [{"nmae": "A"}]}', "at boards.0.name: Field required"),
        (b'{"boards": []}', "at least one board"),
        (b"[" * 100_000, "The boards cannot be read"),
        (b"\xff\xfe", "The boards cannot be read"),
    ],
)
def test_boards_that_cannot_be_read_are_refused(client: TestClient, body: bytes, words: str) -> None:
    """A broken request is refused with the place at fault and what to send."""
    response = client.post("/api/ranking", content=body)

    refusal = response.json()
    assert (response.status_code, refusal["code"], refusal["field"]) == (422, "bad_input", "boards")
    assert words in refusal["text"]


def test_boards_for_different_bows_are_not_ranked(client: TestClient) -> None:
    """The refusal names the boards and what differs."""
    boards = [board("Long", 1 / 40), board("Short", 1 / 40, bow_mm=1524.0)]

    response = client.post("/api/ranking", json={"boards": boards})

    assert response.status_code == 422
    assert "Long and Short were read for bows of different lengths" in response.json()["text"]


def test_too_many_boards_are_refused(client: TestClient) -> None:
    """A hundred boards are ranked, one more is not."""
    one = board("", 1 / 40)["answer"]
    boards = [{"name": f"Board {number}", "answer": one} for number in range(MOST_BOARDS + 1)]

    assert len(client.post("/api/ranking", json={"boards": boards[1:]}).json()["boards"]) == MOST_BOARDS
    refused = client.post("/api/ranking", json={"boards": boards})
    assert (refused.status_code, refused.json()["code"]) == (413, "too_large")
    assert refused.json()["text"] == "More than 100 boards were given. Send fewer."


@pytest.mark.parametrize("times", [1, 3])
def test_a_ranking_that_is_too_large_is_refused(times: int) -> None:
    """Bytes are counted while they arrive, whatever the header says."""
    most_bytes = 64 * 1024
    pieces = (b" " * 8192 for _ in range(times * most_bytes // 8192 + 1))
    with TestClient(create_app(Settings(readers=1, request_bytes=most_bytes), standins.read_at_once)) as narrow:
        response = narrow.post("/api/ranking", content=pieces)

    assert response.status_code == 413
    assert response.json()["text"] == "The answers hold more than 0.0625 MB together. Send fewer boards."


def test_the_schema_describes_the_ranking(client: TestClient) -> None:
    """What is sent to be ranked is described beside what comes back, the answer by the record's own schema."""
    schema = client.get("/openapi.json").json()

    post = schema["paths"]["/api/ranking"]["post"]
    boards = post["requestBody"]["content"]["application/json"]["schema"]["properties"]["boards"]
    assert boards["items"]["properties"].keys() == BoardToRank.model_fields.keys()
    assert boards["items"]["properties"]["answer"]["$ref"].rsplit("/", 1)[1] in schema["components"]["schemas"]
    assert {"200", "413", "422"} <= post["responses"].keys()


def test_health_is_told(client: TestClient) -> None:
    """A watcher learns that requests are answered."""
    assert client.get("/health").json() == {"status": "ok"}


def test_an_unknown_place_is_refused_in_json(client: TestClient) -> None:
    """Programs get JSON also for a wrong address or method."""
    assert client.get("/api/nothing").json() == {"code": "not_found", "text": "Not Found.", "field": None}
    assert client.get("/api/readings").status_code == 405


@pytest.mark.parametrize("path", ["/docs", "/redoc"])
def test_no_page_loads_scripts_from_elsewhere(client: TestClient, path: str) -> None:
    """The framework's documentation pages, which fetch scripts from other machines, are off."""
    assert client.get(path).status_code == 404
