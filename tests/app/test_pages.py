"""The pages, as a phone without scripts gets them, and the lines that a script asks for."""

import inspect
import json
import re
from concurrent.futures import ThreadPoolExecutor
from html import unescape
from html.parser import HTMLParser
from typing import Any, Final

import pytest
from fastapi.testclient import TestClient

from service.app import create_app, views
from service.app.headers import HEADERS
from service.app.pages import Pages
from service.asked import FILE_FIELDS, make_wish
from service.judge.record import Answer, CombinedSlope
from service.reading import Outcome
from service.settings import Settings, find_folder
from service.show import cut_words, limit_words, margin_picture, words
from service.upload import Upload
from tests.app import standins
from tests.app.forms import SIZES, four_photos, photo

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


def test_every_field_has_a_label_and_a_hint(client: TestClient) -> None:
    """A screen reader can name each field and read its hint."""
    outline = Outline(client.get("/").text)

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
    for field in Outline(client.get("/").text).of("input"):
        if field.get("type") == "file":
            assert "capture" not in field
            assert "image/*" in (field["accept"] or "")


def test_a_page_may_be_zoomed_and_has_no_inline_script(client: TestClient) -> None:
    """Pinch zoom stays on; scripts and styles come as files of this server only."""
    outline = Outline(client.get("/").text)

    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in outline.of("meta")
    assert outline.of("style") == []
    assert all((script.get("src") or "").startswith("/static/") for script in outline.of("script"))
    assert all((link["href"] or "").startswith("/static/") for link in outline.of("link"))
    assert not [
        name for _, attributes in outline.tags for name in attributes if name == "style" or name.startswith("on")
    ]


def test_the_answer_is_told_whole(client: TestClient) -> None:
    """The page says verdict, reasons, section, back, what is next, pictures, cautions and every side's numbers."""
    page = answer_text(client)
    text = unescape(re.sub(" ([,.])", r"\1", " ".join(re.sub(r"<[^>]+>", " ", page).split())))

    assert Outline(page).open == []
    for told in (
        "Not sure yet",
        "The slope on the back is close to its limit.",
        "From 10 in to 78 in",
        "A 68 in bow may come out of this board, but the photos leave it open.",
        "Steepest in the section 1 in 25 (2.3 deg), at 20 in",
        "Face 2 is straighter.",
        "Of nine grain lines started across the section, none leaves the back.",
        "1 leaves the belly: line 1 over edge 1 at 19-11/16 in.",
        "The spiral is not known. A close-up of face 1.",
        "A bow can break.",
        "Fibre itself seen Not part of this stand-in.",
        "flat-sawn, 12° ± 4° to face 1",
        "Any start from 9 in to 12 in is as good.",
        "It was judged for a bow 1-1/4 in wide at its widest; the board is 1-1/2 in wide.",
        "As the back faces you, marked end left, its centre line lies 1/8 in above the board's middle at the start and "
        "1/16 in below it at the end.",
        "Two such bows fit, one after the other: from 3-15/16 in to 43-5/16 in and from 47-1/4 in to 86-5/8 in. The "
        "first of the two: as the back faces you, marked end left, its centre line lies 1/8 in above",
        "Ring lines are cut through on the back.",
        "Make the end toward the far end the lower limb. The half toward the far end is straighter.",
        "The steepest grain lies where the bow works hardest. The verdict rests on the plain limits.",
        "leaves of the strength of straight-grained wood 89 to 96 % in bending, 71 to 90 % in tension and 70 to 85 % "
        "under a blow. Published sources disagree, so these are ranges.",
        "Judged by limits that are not the usual ones: slope on the back 1 in 16 (3.6 deg) instead of 1 in 20 (2.9 "
        "deg).",
        "Crack in the marked end (entered by hand) 2 in",
        "Slope on the back: 1 in 16 (3.6 deg), changed from 1 in 20 (2.9 deg) Steepest slope on the back. Source: A "
        "book.",
        "Sawn off at either end: 1 in Wood sawn off at either end. Source: common practice, no source.",
        "Ladder rails: 1 in 12 (4.8 deg) Source: A standard.",
        "slope 62 of 100",
        "Bow 68 in long, 1-1/4 in wide",
        "Share of a limit used there 80% as measured, 110% at the far end of the error",
        "0.75 of strength for each part of the peak strain, at 27 in",
        "80 in to 80-3/8 in (pointed at by hand)",
        "1 in 25 (2.3 deg), at 11-13/16 in",
        "line 1 over edge 1 at 19-11/16 in",
    ):
        assert told in text
    margin, *sides = [image["alt"] or "" for image in Outline(page).of("img")]
    assert "Least is to spare at 27 in, where 75 to 85 % of strength is left and the bow works at 100% of" in margin
    assert sides == [
        f"{side} with its grain lines, and where they leave it; the numbers stand in the table below."
        for side in ("Face 1", "Edge 1", "Face 2", "Edge 2")
    ]


def test_no_part_of_the_answer_is_left_out() -> None:
    """Every field of the record is used by the answer's page, so a new one cannot be forgotten."""
    sources = (views, words, cut_words, limit_words, margin_picture)
    template = (find_folder("web") / "templates" / "answer.html").read_text(encoding="utf-8")
    used = set(re.findall(r"answer\.(\w+)", template + "".join(map(inspect.getsource, sources))))

    assert Answer.model_fields.keys() - used == set()


def test_the_answer_keeps_to_the_chosen_units(client: TestClient) -> None:
    """Whoever measures in millimetres gets millimetres."""
    page = answer_text(client, units="mm", length="2400", bow_length="1700")

    assert "From <b>254 mm</b> to <b>1954 mm</b>" in page


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

    before, again = (Outline(client.get(address).text) for address in ("/?test_method=ink", str(link)))

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

    again, usual = (Outline(client.get(to).text) for to in (str(link), "/?purpose=unbacked&tolerance=usual"))

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


@pytest.mark.parametrize(
    ("sources", "words"),
    [
        ([], "no, only the lines that rings make"),
        (["closeup"], "yes, in close-ups"),
        (["closeup", "ink"], "yes, in close-ups and by an ink test entered by hand"),
    ],
)
def test_the_page_tells_what_showed_the_fibre(sources: list[str], words: str) -> None:
    """Among the numbers stands whether photos showed the fibre or a test that somebody entered."""
    wish = make_wish(SIZES, {"face_1": [Upload("a.jpg", b"photo")]})
    parts: dict[str, Any] = {
        key: [] for key in ("positions_mm", "slope", "slope_upper", "slope_lower", "diagonal", "spiral")
    }
    combined = CombinedSlope(**parts, spiral_seen=bool(sources), spiral_from=sources)
    answer = standins.answer_for(wish).model_copy(update={"combined_slope": combined, "combined_slope_reason": None})

    page = create_pages().answer(Outcome(answer, {}), {})

    assert f"<td>{words}</td>" in page


@pytest.mark.parametrize("verdict", ["pass", "fail", "retake"])
def test_each_verdict_has_words_of_its_own(verdict: str) -> None:
    """Verdicts differ by their words, not by colour alone, and an answer without a section says why."""
    wish = make_wish(SIZES, {"face_1": [Upload("a.jpg", b"photo")]})
    gone: dict[str, object] = {
        "section": None,
        "section_reason": "Too short.",
        "back": None,
        "back_reason": "One face only.",
    }
    gone |= {"runoffs_in_bow": None, "rings": None, "rings_reason": "No end.", "strength": None, "open_questions": []}
    gone |= {"margin": None, "margin_reason": "No slope known.", "two_bows": []}
    answer = standins.answer_for(wish).model_copy(update={"verdict": verdict, **gone})
    pages = create_pages()

    page = pages.answer(Outcome(answer, {}), {})

    words = {"pass": "Take it", "fail": "Leave it", "retake": "Photograph again"}
    assert f"<h1>{words[verdict]}</h1>" in page
    assert "Too short." in page
    assert "One face only." in page
    assert "No end." in page
    assert "No slope known." in page
    assert page.count('<svg class="plan"') == 0
    assert "What to look at next" not in page


def create_pages() -> Pages:
    """Make the pages alone."""
    return Pages(Settings())


def test_other_stretches_are_listed() -> None:
    """When there are other stretches worth considering the page names them."""
    wish = make_wish(SIZES, {"face_1": [Upload("a.jpg", b"photo")]})
    other = standins.section_from(0.0, 1524.0, "The longest good one.")
    answer = standins.answer_for(wish).model_copy(update={"alternatives": [other]})

    page = create_pages().answer(Outcome(answer, {}), {"units": "in"})

    assert "0 in to 60 in, 60 in long. The longest good one. As the back faces you" in page


@pytest.mark.parametrize(("sure", "words"), [(True, "<b>Face 2</b>"), (False, "Either; rather <b>Face 2</b>")])
def test_a_back_that_is_not_sure_is_not_told_as_if_it_were(sure: bool, words: str) -> None:
    """Where either face may serve the page says so in its large print."""
    wish = make_wish(SIZES, {"face_1": [Upload("a.jpg", b"photo")]})
    answer = standins.answer_for(wish)
    assert answer.back is not None
    back = answer.back.model_copy(update={"sure": sure})

    page = create_pages().answer(Outcome(answer.model_copy(update={"back": back}), {}), {})

    assert f'<p class="big">{words}</p>' in page


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


def test_what_was_typed_cannot_become_markup(client: TestClient) -> None:
    """Text that looks like markup is shown as the text it is."""
    nasty = '"><script>alert(1)</script>'

    refused = client.post("/reading", data={**SIZES, "length": nasty}, files=four_photos()).text
    answered = client.post("/reading", data={**SIZES, "wood": nasty}, files=[photo("face_1", name=nasty)]).text

    for page in (refused, answered, client.get("/", params={"length": nasty}).text):
        assert "<script>alert" not in page


def test_a_script_gets_the_steps_and_then_the_page(client: TestClient) -> None:
    """Asked for lines, the server tells each step as it happens and the page as the last line."""
    headers = {"accept": "application/x-ndjson"}

    response = client.post("/reading", data=SIZES, files=four_photos(), headers=headers)
    lines = [json.loads(line) for line in response.text.splitlines()]

    assert response.headers["content-type"].startswith("application/x-ndjson")
    assert [line.get("step") for line in lines] == [
        "Waiting for a free reader",
        "Reading face_1",
        "Reading edge_1",
        "Reading face_2",
        "Reading edge_2",
        None,
    ]
    assert "<h1>Not sure yet</h1>" in lines[-1]["page"]


def test_a_script_gets_a_refusal_as_a_page() -> None:
    """What the reader refuses comes as the form with its reason, also after the steps have begun."""
    with TestClient(create_app(Settings(readers=1), standins.refuse)) as client:
        response = client.post("/reading", data=SIZES, files=four_photos(), headers={"accept": "application/x-ndjson"})

    assert "board.jpg is no photo that can be opened." in json.loads(response.text.splitlines()[-1])["page"]


def test_a_reloaded_answer_leads_to_the_form(client: TestClient) -> None:
    """Nothing is kept, so the address of an answer leads to the start."""
    response = client.get("/reading", follow_redirects=False)

    assert (response.status_code, response.headers["location"]) == (303, "/")


def test_a_wrong_address_gets_a_page(client: TestClient) -> None:
    """A person who follows a wrong link finds the way to the start."""
    response = client.get("/nowhere")

    assert response.status_code == 404
    assert "Everything is reached from the start page." in response.text


@pytest.mark.parametrize("path", ["/", "/nowhere", "/static/page.css", "/health"])
def test_every_response_carries_the_security_headers(client: TestClient, path: str) -> None:
    """No page may load, send or be framed elsewhere."""
    headers = client.get(path).headers

    assert {name: headers[name] for name in HEADERS} == HEADERS
    assert "unsafe" not in headers["content-security-policy"]


def test_a_fault_is_told_in_plain_words(client: TestClient) -> None:
    """A fault of the program gives a page with the headers and no inner detail."""
    app = create_app(Settings(readers=1), standins.read_at_once)

    @app.get("/api/fault")
    async def fault() -> None:
        raise ZeroDivisionError("secret")

    response = TestClient(app, raise_server_exceptions=False).get("/api/fault")

    assert (response.status_code, response.json()["code"]) == (500, "fault")
    assert "secret" not in response.text
    assert response.headers["content-security-policy"] == HEADERS["content-security-policy"]


def test_a_full_queue_says_when_to_come_back() -> None:
    """With no room left the answer is 503 and tells after how many seconds to try again."""
    app = create_app(Settings(readers=1, waiting=0), standins.read_slowly)
    with TestClient(app) as client, ThreadPoolExecutor() as threads:
        posts = [threads.submit(client.post, "/api/readings", data=SIZES, files=four_photos()) for _ in range(3)]
        responses = sorted((post.result() for post in posts), key=lambda response: response.status_code)

    assert [response.status_code for response in responses] == [200, 503, 503]
    assert responses[-1].json()["code"] == "busy"
    assert responses[-1].headers["retry-after"] == "15"
