"""The answer's page: all of the answer, in words, in the chosen units."""

import inspect
import re
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app.routes.pages import Pages
from service.app.views import answer, answer_tables
from service.asked import make_wish
from service.judge.record import Answer, CombinedSlope
from service.reading import Outcome
from service.settings import Settings, find_folder
from service.show import cut_words, limit_words, margin_picture, words
from service.upload import Upload
from tests.app import standins
from tests.app.forms import SIZES
from tests.app.outline import Outline, answer_text


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
        "The spiral is not known. What would tell? The spiral is not known. A close-up of face 1.",
        "Lines that run off Why? Lines that run off",
        "0 of 9 over the back, 1 of 9 over the belly",
        "Least to spare at 27 in",
        "A bow can break.",
        "Fibre itself seen Not part of this stand-in.",
        "flat-sawn, 12° ± 4° to face 1",
        "Any start from 9 in to 12 in is as good.",
        "It was judged for a bow 1-1/4 in wide at its widest; the board is 1-1/2 in wide.",
        "As face 1 faces you, marked end left, its centre line lies 1/8 in above the board's middle at the start and "
        "1/16 in below it at the end.",
        "Two such bows fit, one after the other: from 3-15/16 in to 43-5/16 in and from 47-1/4 in to 86-5/8 in. The "
        "first of the two: as face 1 faces you, marked end left, its centre line lies 1/8 in above",
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
        "62 of 100 points.",
        "Bow 68 in long, 1-1/4 in wide",
        "Share of a limit used there 80% as measured, 110% at the far end of the error",
        "0.75 of strength for each part of the peak strain, at 27 in",
        "80 in to 80-3/8 in (pointed at by hand)",
        "1 in 25 (2.3 deg), at 11-13/16 in",
        "line 1 over edge 1 at 19-11/16 in",
    ):
        assert told in text
    place, *sides, margin = [image["alt"] or "" for image in Outline(page).of("img")]
    assert place == ""  # the words stand below it
    assert "Least is to spare at 27 in, where 75 to 85 % of strength is left and the bow works at 100% of" in margin
    assert sides == [
        f"{side} with its grain lines, and where they leave it; the numbers stand in the table below."
        for side in ("Face 1", "Edge 1", "Face 2", "Edge 2")
    ]


def test_no_part_of_the_answer_is_left_out() -> None:
    """Every field of the record is used by the answer's page, so a new one cannot be forgotten."""
    sources = (answer, answer_tables, words, cut_words, limit_words, margin_picture)
    template = (find_folder("web") / "templates" / "answer.html").read_text(encoding="utf-8")
    used = set(re.findall(r"answer\.(\w+)", template + "".join(map(inspect.getsource, sources))))

    assert Answer.model_fields.keys() - used == set()


def test_the_answer_keeps_to_the_chosen_units(client: TestClient) -> None:
    """Whoever measures in millimetres gets millimetres."""
    page = answer_text(client, units="mm", length="2400", bow_length="1700")

    assert "From <b>254 mm</b> to <b>1954 mm</b>" in page


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

    assert "0 in to 60 in, 60 in long. The longest good one. As face 1 faces you" in page


@pytest.mark.parametrize(("sure", "words"), [(True, "<b>Face 2</b>"), (False, "Either; rather <b>Face 2</b>")])
def test_a_back_that_is_not_sure_is_not_told_as_if_it_were(sure: bool, words: str) -> None:
    """Where either face may serve the page says so in its large print."""
    wish = make_wish(SIZES, {"face_1": [Upload("a.jpg", b"photo")]})
    answer = standins.answer_for(wish)
    assert answer.back is not None
    back = answer.back.model_copy(update={"sure": sure})

    page = create_pages().answer(Outcome(answer.model_copy(update={"back": back}), {}), {})

    assert f'<p class="big">{words}</p>' in page
