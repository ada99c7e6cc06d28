"""Every text a person sees is said through the catalogue, so that a translation of it translates everything."""

import ast
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from service.app.workers.checks import PhotoAsked, check_asked
from service.board.assemble import board_grid, contradictions
from service.board.by_hand import ByHand, DismissedKnot, EnteredKnot, with_hand_entries
from service.board.entered import EnteredSlope, entered_notes, unused_note
from service.board.types import Turn
from service.checking import check, check_sentences
from service.errors import Problem, StavesightError
from service.grain.rings import read_end_rings
from service.grain.types import KnotBox
from service.judge.judge import judge
from service.judge.limits import thresholds
from service.judge.ranking import make_ranking
from service.judge.record import Answer
from service.language import say, use_language
from service.photo.join import join
from service.reading import Outcome, Wish, read_board
from service.sides import SIDES, BoardSize
from service.sight import see_side
from service.upload import Upload
from tests.board.test_assemble import grain, swing
from tests.catalogue import draw
from tests.judge.all_sorts import boards, by_chance
from tests.judge.made import change_side, make_reading
from tests.made_up_language import TAG, english_in, texts_of, translated
from tests.photo.cut import LENGTH_MM, half_turn, part, side
from tests.photo.faults import FAULTS, Picture, opened, saved

pytestmark = pytest.mark.usefixtures("made_up_language")

SERVICE: Final = Path(__file__).resolve().parent.parent / "service"

#: Where all texts are said.
SAID: Final = sorted(SERVICE.rglob("*.py"))

#: What in the record is a name for programs, a name that the user gave, or a number with its unit's name.
FIXED: Final = {
    *(
        "code",
        "side",
        "face",
        "back_face",
        "lower_limb",
        "verdict",
        "status",
        "sawing",
        "kind",
        "over",
        "unit",
        "end",
        "shots",
    ),
    *("purpose", "tolerance", "file", "nominal", "species", "spiral_from", "rings.sources", "test_side"),
    *("items.name", "boards.name"),
}


def texts_in(part: Any, name: str = "") -> Iterator[tuple[str, str]]:
    """List the texts of a record that are for people, each with the name of its field."""
    if isinstance(part, Mapping):
        for key, value in part.items():
            yield from texts_in(value, key if not name or key not in ("name", "sources") else f"{name}.{key}")
    elif isinstance(part, list | tuple):
        for value in part:
            yield from texts_in(value, name)
    elif isinstance(part, str) and name not in FIXED:
        yield name, part


def unsaid(record: Any, given: tuple[str, ...] = ()) -> dict[str, list[str]]:
    """Return what of a record's texts is English still, by the text."""
    return {text: left for _, text in texts_in(record.model_dump()) if (left := english_in(text, given))}


def test_a_text_is_said_in_the_language_in_use() -> None:
    """Within the block a text comes in the other language, outside of it and in one nobody offers in English."""
    with use_language(TAG):
        assert say("face 1") == translated("face 1")
        with use_language("qab"):
            assert say("face 1") == "face 1"
    assert say("face 1") == "face 1"


@pytest.fixture(scope="module")
def judged(made_up_language: None) -> list[Answer]:
    """Judge the boards in the made-up language."""
    with use_language(TAG):
        return [
            judge(board, bow_mm, limits, bow_width_mm=width_mm)
            for board, bow_mm, width_mm, limits in (*boards(), *by_chance())
        ]


def test_every_text_of_an_answer_is_said(judged: list[Answer]) -> None:
    """Whatever comes out of a board, nothing that is told of it stays English."""
    assert {answer.verdict for answer in judged} == {"pass", "borderline", "fail", "retake"}
    assert [left for answer in judged if (left := unsaid(answer))] == []


def test_every_text_of_an_order_is_said(judged: list[Answer]) -> None:
    """Boards put in order, each two of them, and those that cannot be: nothing stays English."""
    told, refused = [], []
    with use_language(TAG):
        for place, one in enumerate(judged):
            for other in (*judged[place + 1 :: 5], _longer(one)):
                try:
                    told.append(unsaid(make_ranking([("A1", one), ("B2", other)]), ("A1", "B2")))
                except StavesightError as refusal:
                    fixed = tuple(item.name for item in thresholds())
                    refused.append(english_in(refusal.text, ("A1", "B2", *fixed)))

    assert len(told) > 50
    assert len(refused) > 50
    assert [left for left in (*told, *refused) if left] == []


def _longer(answer: Answer) -> Answer:
    """Make the board of an answer longer, all else alike."""
    size = answer.board.model_copy(update={"length_mm": answer.board.length_mm + 100.0})
    return answer.model_copy(update={"board": size})


def test_every_note_about_a_board_is_said() -> None:
    """What is noticed about sides, tests, knots and cracks is told in the language in use."""
    reading = change_side(make_reading(length_mm=2000.0), "face_1", knots=(KnotBox(500, 510, 0, 5),))
    reading = change_side(reading, "edge_1", knots=(KnotBox(505, 515, 0, 5),))
    gone = tuple(DismissedKnot("face_1", place_mm) for place_mm in (1505.0, 505.0))
    by_hand = ByHand((), (EnteredKnot("face_2", KnotBox(1, 20, 0, 5)),), (*gone, DismissedKnot("face_2", 9.0)), (5, 9))
    tests = [EnteredSlope("face_1", 0.05, 200.0), EnteredSlope("face_2", 0.0, 200.0, None, "scribe")]
    normals = dict.fromkeys(SIDES, (0.0, 1.0))
    wrong_way = {"face_1": grain(swing()), "face_2": grain(-swing()[::-1])}
    with use_language(TAG):
        notes = [
            *with_hand_entries(reading.sides, by_hand)[1],
            *contradictions(wrong_way),
            *contradictions({"edge_1": grain(swing()), "edge_2": grain(swing())}),
            *(unused_note(test) for test in tests),
            *entered_notes(
                {tests[0]: Turn("face_1", 0.5, 0.01, "ink"), tests[1]: None},
                [Turn("face_2", 0.0, 0.005, "closeup")],
                normals,
                0.02,
            ),
            read_end_rings(np.zeros((9, 9), np.float32), 1.0),
            read_end_rings(np.random.default_rng(4).random((200, 400), np.float32), 0.1),
        ]

    problems = [note for note in notes if isinstance(note, Problem)]
    assert len(problems) == len(notes)
    assert [left for note in problems if (left := english_in(note.text))] == []


def test_every_note_about_joined_photos_is_said() -> None:
    """Photos given twice, turned round, of other wood or of another board: all is told in the language in use."""
    whole, other = side(730, "pale"), side(731, "pale")
    begin, end = part(whole, 0.0, 500.0, 0), part(whole, 350.0, LENGTH_MM, 1)
    stray = part(other, 100.0, 600.0, 7, name="stranger.jpg")
    with use_language(TAG):
        found = [
            join([begin, replace(begin, name="again.jpg"), end, stray], LENGTH_MM),
            join([begin, part(half_turn(whole), 0.0, 850.0, 1, name=end.name)], LENGTH_MM),
            join([begin, end], LENGTH_MM + 400.0),
            join([begin, replace(stray, marked_end=True)], LENGTH_MM),
            join([begin, replace(begin, name="again.jpg", digest="another")], LENGTH_MM),
            join([begin, stray], LENGTH_MM),
        ]

    told = [problem for joined in found for problems in joined.problems for problem in problems]
    names = (*(one.name for one in (begin, end, stray)), "again.jpg")
    assert len({problem.code for problem in told}) > 3
    assert [left for problem in told if (left := english_in(problem.text, names))] == []


DEMO: Final = BoardSize(2438.4, 63.5, 19.05)
"""Size of the board in `demo_face`."""


@pytest.fixture(scope="module")
def face(demo_face: Upload) -> Picture:
    """Decode the photo of a face."""
    return opened(demo_face.data)


@pytest.fixture(scope="module")
def demo_face() -> Upload:
    """Return a photo of a face."""
    file = SERVICE.parent / "demo_photos" / "hailstone" / "face_1.jpg"
    return Upload("face.jpg", file.read_bytes())


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_of_a_photo_is_said(fault: str, face: Picture) -> None:
    """A check made in a language tells in it what keeps a photo from being read."""
    one = check(Upload("face.jpg", saved(FAULTS[fault][0](face))), DEMO.length_mm, (DEMO.width_mm,), language=TAG)

    assert not one.usable
    assert unsaid(one) == {}


def test_every_advice_about_a_photo_is_said(demo_face: Upload) -> None:
    """What would make a photo better, and what of it can be told apart, is said in the language of the check."""
    dim = Upload("face.jpg", saved(np.asarray(0.25 * opened(demo_face.data), np.uint8)))
    one = check_asked(PhotoAsked(dim, DEMO.length_mm, (DEMO.width_mm,), TAG), print)
    with use_language(TAG):
        told = check_sentences(one, "in")

    assert one.usable
    assert one.advice
    assert unsaid(one) == {}
    assert [left for text in told if (left := english_in(text, ("face.jpg",)))] == []


def test_a_reading_is_made_in_the_language_of_its_wish(demo_face: Upload) -> None:
    """Steps, answer and notes of a reading come in the language of the wish, from whatever thread they are told."""
    dark = Upload("dark.jpg", saved(np.zeros((600, 800, 3), np.uint8)))
    photos = {"face_1": (demo_face,), "edge_1": (demo_face,), "face_2": (dark,), "edge_2": (dark, dark)}
    steps: list[str] = []

    outcome: Outcome = read_board(Wish(DEMO, 1700.0, photos, {"face_1": (dark,)}, dark, language=TAG), steps.append)

    assert len(steps) == 7
    assert [left for step in steps if (left := english_in(step))] == []
    assert unsaid(outcome.answer, ("face.jpg", "dark.jpg")) == {}


def test_what_photos_of_a_side_tell_together_is_said(face: Picture) -> None:
    """Photos in the wrong order, a gap between them, one without an end: all is told in the language in use."""
    grid_mm = board_grid(DEMO.length_mm)
    cols = face.shape[1]
    parts = {
        "far.jpg": face[:, int(0.45 * cols) :],
        "near.jpg": face[:, : int(0.6 * cols)],
        "middle.jpg": face[:, int(0.3 * cols) : int(0.7 * cols)],
        "start.jpg": face[:, : int(0.35 * cols)],
    }
    uploads = {name: Upload(name, saved(part)) for name, part in parts.items()}
    with use_language(TAG):
        sights = [
            see_side([uploads[name] for name in names], DEMO.length_mm, DEMO.width_mm, grid_mm)
            for names in (("far.jpg", "near.jpg"), ("far.jpg", "start.jpg"), ("middle.jpg",))
        ]

    problems = [problem for sight in sights for problem in (*sight.told, sight.problem) if problem is not None]
    assert {"order", "gap"} <= {problem.code for problem in problems}
    assert [left for problem in problems if (left := english_in(problem.text, tuple(parts)))] == []


def calls(file: Path, names: set[str]) -> Iterator[ast.Call]:
    """List the calls of some functions in a file."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names:
            yield node


def literals(nodes: list[ast.expr]) -> list[str]:
    """Return the texts that are written out among expressions."""
    return [node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)]


def test_every_text_that_is_said_is_found_for_the_catalogue() -> None:
    """Texts inside other texts' braces, for one, are not found by the tool that draws the catalogue."""
    said = {
        text
        for file in SERVICE.rglob("*.py")
        for call in calls(file, {"say", "mark", "say_many"})
        for text in literals(call.args)
    }

    assert len(said) > 200
    assert said - texts_of(draw()[0]) == set()


#: What shows people a text.
TELLING: Final = {
    *("Problem", "Reason", "Question", "Comparator"),
    *("BadInput", "BadPhoto", "TooLarge", "Busy", "NotThere", "CannotStore", "Unfinished", "SendWhole", "Elsewhere"),
    *("Row", "CompareRow", "ConfirmPage", "ProblemPage", "Picture", "Step", "OwnField", "Around", "Card"),
}


@pytest.mark.parametrize("file", SAID, ids=lambda file: str(file.relative_to(SERVICE)))
def test_nothing_is_told_that_is_not_said(file: Path) -> None:
    """No problem, reason, question or refusal is made of sentences that are written out on the spot."""
    found = [
        text
        for call in calls(file, TELLING)
        for value in (*call.args, *(keyword.value for keyword in call.keywords))
        for text in literals(value.values if isinstance(value, ast.JoinedStr) else [value])
        if " " in text and any(map(str.isalpha, text))
    ]

    assert found == []
