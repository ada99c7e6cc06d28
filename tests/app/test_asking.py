"""Open questions asked one at a time on the board's page, and what an answer to one changed."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.app.views.asking import BEFORE, range_text, sharpened
from service.app.workers.readers import Progress
from service.judge.record import Answer, CombinedSlope, Question
from service.reading import Outcome, Wish
from service.settings import Settings
from service.store.rows import BoardTold
from tests.app import standins
from tests.app.outline import Outline
from tests.app.phones import Phone, text_of
from tests.store.made_up import answer

CLOSE_CALL: Final = Question(
    code="close_to_limit", text="Whether it keeps to 1 in 20.", photo="A close-up.", shots=["close_face_1"]
)
UNSEEN: Final = Question(code="side_missing", text="How edge 2 runs.", photo="The whole of edge 2.", shots=["edge_2"])
SPIRAL: Final = Question(
    code="spiral_unknown",
    text="Whether the fibres turn.",
    photo="One close-up.",
    shots=["close_face_2", "end"],
    test_side="face_2",
)


def read_with_questions(wish: Wish, progress: Progress) -> Outcome:
    """Leave three questions open, until a close-up has come."""
    outcome = standins.read_at_once(wish, progress)
    asked = [CLOSE_CALL, UNSEEN] if wish.closeups else [CLOSE_CALL, UNSEEN, SPIRAL]
    slopes = (0.03, 0.05) if wish.closeups else (0.01, 0.09)
    return replace(outcome, answer=with_range(*slopes).model_copy(update={"open_questions": asked}))


def with_range(low: float, high: float) -> Answer:
    """Make an answer whose steepest place has a slope between two."""
    combined = CombinedSlope(
        positions_mm=[254.0, 508.0, 900.0],
        slope=[0.01, 0.04, 0.01],
        slope_upper=[0.5, high, 0.5],
        slope_lower=[0.0, low, 0.0],
        diagonal=[0.0, 0.0, 0.0],
        spiral=[0.0, 0.0, 0.0],
        spiral_seen=True,
    )
    return answer().model_copy(update={"combined_slope": combined})


@pytest.fixture(scope="module")
def app(data_home: None) -> Iterator[TestClient]:
    """Start an app whose answers leave questions open."""
    with TestClient(create_app(Settings(readers=1), read_with_questions, standins.check_at_once)) as client:
        yield client


@pytest.fixture
def asked(app: TestClient) -> tuple[Phone, str]:
    """Have a board read by a new phone."""
    phone = Phone(app)
    board = phone.read_board()
    phone.settled(board)
    return phone, board


def card(phone: Phone, board: str, number: str = "") -> str:
    """Return the text of the question that is asked."""
    page = phone.get(f"{board}?ask={number}" if number else board).text
    assert Outline(page).open == []
    return page.partition('data-fresh="ask"')[2].partition("The four sides")[0]


def test_the_question_that_helps_most_comes_first(asked: tuple[Phone, str]) -> None:
    """Spiral grain decides everywhere, so it is asked before a side and a close call, with both its photos at hand."""
    phone, board = asked

    first = card(phone, board)

    assert '<details id="ask">' in first
    assert "Whether the fibres turn." in first
    assert "How edge 2 runs." not in first
    assert 'data-shot="close_face_2"' in first
    assert 'data-shot="end"' in first
    assert 'name="test_side" value="face_2"' in first


def test_questions_are_skipped_one_by_one(asked: tuple[Phone, str]) -> None:
    """Without scripts each leads to the next, and the last one back to the first."""
    phone, board = asked
    seen, way = [], "1"
    for _ in range(4):
        shown = card(phone, board, way)
        assert '<details id="ask" open>' in shown
        seen.append(shown.partition('tabindex="-1">')[2].partition("<")[0])
        way = shown.partition("?ask=")[2].partition("#")[0]

    assert seen == [SPIRAL.text, UNSEEN.text, CLOSE_CALL.text, SPIRAL.text]


@pytest.mark.parametrize("number", ["0", "99", "-1", "two", "1" * 400, "²"])
def test_a_question_that_is_not_there_is_the_first(asked: tuple[Phone, str], number: str) -> None:
    """Whatever stands in the address, a question is asked."""
    assert SPIRAL.text in card(*asked, number)


def test_the_photo_that_was_asked_for_sharpens_the_answer(asked: tuple[Phone, str]) -> None:
    """Once its close-up has come the question is gone, and both ranges are told: 0.03 to 0.05 is 1 in 33 to 1 in 20."""
    phone, board = asked
    assert "Steepest grain: now" not in text_of(phone.get(board))

    phone.shoot(f"{board}/photos/close_face_2")
    phone.settled(board)

    told = text_of(phone.get(board))
    assert "Steepest grain: now 1 in 20 to 1 in 33, before 1 in 11 to 1 in 100." in told
    assert SPIRAL.text not in told


def test_an_ink_test_can_be_entered_at_its_question(asked: tuple[Phone, str]) -> None:
    """Its fields take what the folded form takes, and a rise that is none is refused there."""
    phone, board = asked
    test = {"test_side": "face_2", "test_method": "ink", "test_rise": "1/8", "test_toward": "upper", "test_run": "10"}

    assert phone.post(board, {**test, "test_rise": "some"}).status_code == 422
    assert phone.post(board, {**test, "test_position": ""}).status_code == 303
    fields = {field.get("id"): field.get("value") for field in Outline(phone.get(board).text).of("input")}
    assert (fields["test_rise"], fields["asked_rise"]) == ("1/8", "1/8")


def test_only_a_narrower_range_is_called_sharper() -> None:
    """A range that stays or widens is no news; one of an answer without a section is not known."""
    told = BoardTold(asked={BEFORE: range_text(with_range(0.02, 0.06))})

    assert sharpened(with_range(0.03, 0.05), told).startswith("Steepest grain: now 1 in 20 to 1 in 33")
    assert sharpened(with_range(0.02, 0.06), told) == ""
    assert sharpened(with_range(0.0, 0.08), told) == ""
    assert sharpened(with_range(0.03, 0.05), BoardTold()) == ""
    assert range_text(with_range(0.03, 0.05).model_copy(update={"section": None})) == ""


def test_a_board_that_is_decided_is_asked_nothing(phone: Phone) -> None:
    """Where the answer is yes or no, no question stands in the way."""
    board = phone.read_board("6 ft")
    phone.settled(board)

    assert "<details id=" not in card(phone, board)


def test_no_two_things_of_the_page_have_the_same_id(asked: tuple[Phone, str]) -> None:
    """The card's own forms are told from those below, also for whoever hears their names."""
    phone, board = asked
    outline = Outline(phone.get(f"{board}?ask=1").text)

    ids = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
