"""The answer in sentences: what is said, in which units, in which order."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.board.phrase import one_in_text, slope_text
from service.judge.judge import judge
from service.judge.record import Answer
from service.lengths import Units
from service.show.words import VERDICT_WORDS, summary_lines
from tests.judge.made import make_reading, unread, with_knot, without

BOW_MM = 1727.2


def answers() -> dict[str, Answer]:
    """Make an answer of each verdict."""
    sound = make_reading({"face_1": 0.02, "edge_1": 0.015})
    return {
        "pass": judge(sound, BOW_MM),
        "borderline": judge(unread(sound, "face_1", 1180.0, 1320.0), BOW_MM),
        "fail": judge(with_knot(sound, "edge_2", 1200.0, 1215.0), BOW_MM),
        "retake": judge(without(sound, "face_2", "retake"), BOW_MM),
    }


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize("verdict", list(VERDICT_WORDS))
def test_every_answer_begins_with_its_verdict_and_ends_with_the_cautions(verdict: str, units: Units) -> None:
    """The first line is the verdict in words, every reason and open question follows, the cautions close."""
    answer = answers()[verdict]
    lines = summary_lines(answer, units)

    assert answer.verdict == verdict
    assert lines[0].startswith(f"{VERDICT_WORDS[verdict]}: ")
    assert lines[1 : 1 + len(answer.reasons)] == [reason.text for reason in answer.reasons]
    assert all(any(question.photo in line for line in lines) for question in answer.open_questions)
    assert lines[-len(answer.cautions) :] == [f"Mind: {caution}" for caution in answer.cautions]


@pytest.mark.parametrize("verdict", list(VERDICT_WORDS))
def test_every_line_is_a_sentence(verdict: str) -> None:
    """Every line begins with a capital or a digit, ends with a full stop and holds no stray value."""
    for line in summary_lines(answers()[verdict], "in"):
        assert line[0].isupper(), line
        assert line.endswith("."), line
        assert not any(word in line for word in ("None", "nan", "_", "  ", "..")), line


def test_a_pass_says_where_to_cut_and_which_face_is_the_back() -> None:
    """A pass names both cuts from the marked end in the user's unit, the back, and what strength is left."""
    told = " ".join(summary_lines(answers()["pass"], "mm"))

    assert "Cut from 354 mm to 2081 mm, measured from the marked end." in told
    assert "the back." in told
    assert "of the strength of straight-grained wood" in told
    assert "Published sources disagree" in told


def test_lines_lost_in_unread_wood_are_not_called_straight() -> None:
    """Where lines cannot be followed past unread wood the sentence about them says from where."""
    lines = summary_lines(answers()["borderline"], "in")
    told = [line for line in lines if line.startswith("Of nine grain lines")]

    assert sum("they could not be followed" in line for line in told) == 1


def test_a_side_that_was_not_read_is_said_to_be_so() -> None:
    """The line of an unread side gives the reason instead of a slope."""
    assert any(line.startswith("Face 2: not read. ") for line in summary_lines(answers()["retake"], "in"))


def test_an_open_back_is_told_as_open() -> None:
    """With only one face read the lines say that the back is open, and why."""
    answer = judge(without(make_reading({"face_1": 0.02}), "face_2"), BOW_MM)
    told = [line for line in summary_lines(answer, "in") if line.startswith("Which face becomes the back is open.")]

    assert len(told) == 1
    assert "Face 2 was not read" in told[0]


def test_a_straight_side_and_a_blank_one_are_told_as_such() -> None:
    """A side without slope is called straight, one on which nothing was read is not."""
    straight = make_reading()
    blank = unread(straight, "edge_1", 0.0, 3000.0)

    assert "Edge 1: the grain runs straight along it." in summary_lines(judge(straight, BOW_MM), "in")
    assert "Edge 1: no grain was read; 96 in of it could not be read." in summary_lines(judge(blank, BOW_MM), "in")


# The arc tangents of 1/20, 1/15, 1/12, 1/10 and 1/5 to a tenth of a degree.
@pytest.mark.parametrize(
    ("one_in", "told"),
    [(20, "1 in 20 (2.9 deg)"), (15, "1 in 15 (3.8 deg)"), (12, "1 in 12 (4.8 deg)"), (10, "1 in 10 (5.7 deg)"),
     (5, "1 in 5.0 (11.3 deg)")],
)  # fmt: skip
def test_slopes_are_written_as_one_in_n_with_degrees(one_in: int, told: str) -> None:
    """A slope stands as 1 in N with its angle beside it, whichever way it rises."""
    assert slope_text(1 / one_in) == slope_text(-1 / one_in) == told


@given(slope=st.floats(0.001, 1.0))
def test_written_slopes_read_back(slope: float) -> None:
    """The N that is written is the slope's own to half a unit of its last digit."""
    number = one_in_text(slope).removeprefix("1 in ")
    step = 0.1 if "." in number else 1.0

    assert math.isclose(float(number), 1.0 / slope, abs_tol=0.5 * step + 1e-9)
