"""Verdicts, reasons and questions on readings made by hand."""

from dataclasses import replace

import numpy as np
import pytest

from service.board.types import RingReading
from service.errors import BadInput, Problem
from service.judge.judge import CAUTIONS, judge
from service.judge.limits import Limits
from service.judge.record import Answer
from service.judge.strength import strength_left
from service.sides import BoardSize
from tests.judge.made import bump, change_side, make_reading, make_side, with_knot, without

BOW_MM = 1727.2
QUARTER_SAWN = RingReading(None, (1.0, 0.0), 90.0, 3.0, ("end",), "quarter")
SOUND = {"face_1": 0.02, "edge_1": 0.015}


def codes(answer: Answer) -> list[str]:
    """List the codes of an answer's reasons."""
    return [reason.code for reason in answer.reasons]


def test_a_straight_board_passes() -> None:
    """Grain of 1 in 40 all over passes, with one reason and nothing left open."""
    answer = judge(make_reading(SOUND), BOW_MM)

    assert answer.verdict == "pass"
    assert codes(answer) == ["within_limits"]
    assert answer.open_questions == []
    assert answer.section is not None
    assert answer.section.end_mm - answer.section.start_mm == pytest.approx(BOW_MM)
    assert answer.section.worst_slope == pytest.approx(0.025, abs=1e-4)


def test_a_straight_board_is_called_straight() -> None:
    """Grain that slopes nowhere is straight in every sentence, not "no steeper than straight"."""
    answer = judge(make_reading(), BOW_MM)

    assert answer.section is not None
    assert answer.section.why.endswith("back straight; belly straight.")
    assert answer.reasons[0].text.startswith("Over the whole section the grain is straight")


def test_the_only_place_is_called_so() -> None:
    """A board trimmed to the bow's length is not as long as the bow, but leaves it one place."""
    section = judge(make_reading(SOUND), 2438.4 - 50.0, Limits(end_trim_mm=25.0)).section

    assert section is not None
    assert section.why.startswith("The only place at which the bow fits")


def test_among_equal_sections_the_middle_one_is_taken() -> None:
    """On a board that is the same all along the section lies in the middle."""
    section = judge(make_reading(SOUND), BOW_MM).section

    assert section is not None
    assert 0.5 * (section.start_mm + section.end_mm) == pytest.approx(0.5 * 2438.4, abs=2.0)


def test_among_equal_sections_the_one_farthest_from_steep_wood_is_taken() -> None:
    """On a board whose last 12 in are steep the section lies in the middle of the rest, as far from both ends of it."""
    reading = make_reading()
    sound_mm = 2438.4 - 304.8
    section = judge(make_reading({"face_1": np.where(reading.positions_mm > sound_mm, 0.12, 0.02)}), 1524.0).section

    assert section is not None
    assert 0.5 * (section.start_mm + section.end_mm) == pytest.approx(0.5 * sound_mm, abs=20.0)


def test_on_a_board_with_no_better_wood_the_middle_is_taken() -> None:
    """Where all of a board is just past the limit as measured no place is clear of bad wood, and the middle serves."""
    answer = judge(make_reading({"face_1": 0.0515}, error_deg=0.15), BOW_MM)

    assert answer.verdict == "borderline"
    assert answer.section is not None
    assert 0.5 * (answer.section.start_mm + answer.section.end_mm) == pytest.approx(0.5 * 2438.4, abs=2.0)


def test_the_steep_end_is_cut_off() -> None:
    """A board whose last 20 in are steep passes with a section clear of them."""
    positions_mm = make_reading().positions_mm
    steep = np.where(positions_mm > 2438.4 - 508.0, 0.12, 0.02)
    answer = judge(make_reading({"face_1": steep}), BOW_MM)

    assert answer.verdict == "pass"
    assert answer.section is not None
    assert answer.section.end_mm < 2438.4 - 508.0 + 1.0


def test_a_steep_board_fails_and_says_where() -> None:
    """A steep place in the middle of every section fails the board, named with side, place and length."""
    reading = make_reading()
    steep = bump(reading.positions_mm, 1200.0, 60.0, 0.1)
    answer = judge(make_reading({"face_1": steep}), BOW_MM)

    assert answer.verdict == "fail"
    assert codes(answer)[0] == "slope"
    assert answer.reasons[0].position_mm == pytest.approx(1200.0, abs=10.0)
    assert answer.reasons[0].length_mm is not None
    assert 100.0 < answer.reasons[0].length_mm < 160.0
    assert answer.section is None
    assert answer.section_reason


def test_the_edge_counts_for_both_faces() -> None:
    """A steep edge fails a board with straight faces, whichever becomes the back."""
    answer = judge(make_reading({"edge_1": 0.09}), BOW_MM)

    assert (answer.verdict, codes(answer)[0]) == ("fail", "slope")
    assert "1 in 11 (5.1 deg), face and edge together" in answer.reasons[0].text


def test_the_belly_may_be_steeper() -> None:
    """Grain of 1 in 14 on one face and 1 in 40 on the other passes with the straighter one as the back."""
    reading = make_reading({"face_1": 0.072, "face_2": 0.025})
    answer = judge(reading, BOW_MM)

    assert answer.verdict == "pass"
    assert answer.back is not None
    assert (answer.back.face, answer.back.sure) == ("face_2", True)


def test_a_face_is_not_surely_the_back_within_the_error() -> None:
    """When the faces differ by less than the error the answer says that either may serve."""
    answer = judge(make_reading({"face_1": 0.030, "face_2": 0.031}, error_deg=0.3), BOW_MM)

    assert answer.back is not None
    assert (answer.back.face, answer.back.sure) == ("face_1", False)


def test_a_knot_in_every_section_fails() -> None:
    """A knot in the middle is in every section, and both ends of the board are too short without it."""
    answer = judge(with_knot(make_reading(SOUND), "edge_1", 1210.0, 1225.0), BOW_MM)

    assert (answer.verdict, codes(answer)) == ("fail", ["knot"])
    assert answer.reasons[0].side == "edge_1"
    assert answer.reasons[0].position_mm == pytest.approx(1210.0)


def test_a_knot_near_an_end_is_left_out_of_the_section() -> None:
    """A knot 12 in from the marked end leaves room for a section beyond it."""
    answer = judge(with_knot(make_reading(SOUND), "face_2", 300.0, 320.0), BOW_MM)

    assert answer.verdict == "pass"
    assert answer.section is not None
    assert answer.section.start_mm > 320.0


def test_knots_here_and_slope_there_are_both_told() -> None:
    """When the straight sections hold a knot and the clear ones are steep, both reasons are given."""
    positions_mm = make_reading().positions_mm
    steep = np.where(positions_mm < 500.0, 0.1, 0.0)
    answer = judge(with_knot(make_reading({"face_1": steep}), "face_1", 2300.0, 2320.0), 1828.8)

    assert answer.verdict == "fail"
    assert set(codes(answer)) == {"knot", "slope"}


def test_a_board_shorter_than_the_bow_fails_and_offers_what_fits() -> None:
    """A 72 in bow does not come out of a 68 in board, but the 68 in one it holds is offered."""
    answer = judge(make_reading(SOUND, length_mm=1727.2), 1828.8)

    assert (answer.verdict, codes(answer), answer.score) == ("fail", ["too_short"], 0.0)
    assert answer.alternatives[0].end_mm - answer.alternatives[0].start_mm == pytest.approx(68 * 25.4)
    assert "68 in bow passes" in answer.alternatives[0].why


def test_the_longest_passing_section_is_offered() -> None:
    """When a knot rules out 68 in, the longest whole inches beside it are offered."""
    answer = judge(with_knot(make_reading(SOUND), "face_1", 900.0, 920.0), BOW_MM)
    longest = answer.alternatives[0]

    room_in = (2438.4 - 920.0 - Limits().knot_margin_mm) / 25.4
    assert longest.end_mm - longest.start_mm == pytest.approx(int(room_in) * 25.4)
    assert longest.start_mm > 920.0


def test_a_bow_as_long_as_the_board_has_one_place() -> None:
    """A bow just as long as the board is cut from end to end."""
    section = judge(make_reading(SOUND, length_mm=BOW_MM), BOW_MM).section

    assert section is not None
    assert (section.start_mm, section.end_mm) == (0.0, BOW_MM)


@pytest.mark.parametrize(
    ("slope", "verdict"), [(0.045, "pass"), (0.0485, "borderline"), (0.0515, "borderline"), (0.055, "fail")]
)
def test_the_error_decides_between_pass_borderline_and_fail(slope: float, verdict: str) -> None:
    """With an error of 0.15 deg, 0.0026 in slope, only slopes that far from 1 in 20 are decided."""
    assert judge(make_reading({"face_1": slope}, error_deg=0.15), BOW_MM).verdict == verdict


def test_a_close_call_asks_for_the_place() -> None:
    """A borderline slope asks for a close-up or a test at the bench where it is steepest."""
    reading = make_reading()
    hill = 0.03 + bump(reading.positions_mm, 1219.2, 200.0, 0.0185)
    answer = judge(make_reading({"face_1": hill}, error_deg=0.15), BOW_MM)

    assert (answer.verdict, codes(answer)) == ("borderline", ["close_to_limit"])
    assert answer.reasons[0].position_mm == pytest.approx(1219.2, abs=15.0)
    assert "close-up" in answer.open_questions[0].photo
    assert "ink" in answer.open_questions[0].photo


def test_a_turned_board_slopes_against_the_section_not_the_mid_line() -> None:
    """Fibre parallel to the straight line through a crooked board's ends counts as straight."""
    reading = make_reading()
    share = reading.positions_mm / 2438.4
    crook_mm = 160.0 * share * (1.0 - share)
    turn = np.gradient(crook_mm, reading.positions_mm)
    for name, sign in (("face_1", 1.0), ("face_2", -1.0)):
        angle_deg = np.degrees(np.arctan(-sign * turn))
        reading = change_side(reading, name, angle_deg=angle_deg, crook_mm=sign * crook_mm)
    reading = replace(reading, size=BoardSize(2438.4, 139.7, 19.05))
    answer = judge(reading, 2438.4)

    assert np.abs(turn).max() > 1 / 20
    assert answer.section is not None
    assert answer.section.worst_slope == pytest.approx(0.0, abs=2e-3)


def test_steep_ring_lines_over_straight_fibre_are_a_caution() -> None:
    """Ring lines of 1 in 12 on the back over fibre of 1 in 50 do not fail the board but are warned of."""
    reading = make_reading({"face_1": 0.02})
    lines = {name: make_side(side.angle_deg) for name, side in reading.sides.items()}
    lines = {name: replace(side, line_deg=np.full(side.angle_deg.shape, 4.76)) for name, side in lines.items()}
    answer = judge(replace(reading, sides=lines), BOW_MM)

    assert answer.verdict == "pass"
    assert "backing" in answer.cautions[0]
    assert "1 in 12" in answer.cautions[0]


def test_the_cautions_are_always_there() -> None:
    """Every verdict comes with the cautions: judgement, breaking, tools, experience and law."""
    answers = [
        judge(make_reading(SOUND), BOW_MM),
        judge(make_reading({"face_1": 0.2}), BOW_MM),
        judge(make_reading(), 9000.0),
        judge(without(make_reading(), "face_1", "retake"), BOW_MM),
    ]

    assert [answer.verdict for answer in answers] == ["pass", "fail", "fail", "retake"]
    assert all(answer.cautions[-len(CAUTIONS) :] == list(CAUTIONS) for answer in answers)
    told = " ".join(CAUTIONS)
    assert all(word in told for word in ("aid to judgement", "break", "dust", "glue", "bowyer", "range", "law"))


def test_what_was_noticed_about_the_photos_is_told() -> None:
    """A note about the photos as a set stands among the reasons, after the verdict's own."""
    note = Problem("rolled", "Edge 1 and edge 2 seem to have been swapped.")
    answer = judge(replace(make_reading(SOUND), notes=(note,)), BOW_MM)

    assert codes(answer) == ["within_limits", "rolled"]


def test_runoffs_are_followed_through_the_section() -> None:
    """On grain of 1 in 50 rising to the upper corner, lines leave at 50 times their distance from it.

    The board is 38.1 mm wide: line 9 starts 3.81 mm below the upper corner and leaves 190.5 mm on, where the limb still
    narrows and the corner is cut away. Lines 4 to 7 leave where the bow is at its widest, 457 mm and more from its
    tips.
    """
    answer = judge(make_reading({"face_1": 0.02, "face_2": -0.019}), BOW_MM)
    assert answer.section is not None
    assert answer.back is not None
    assert answer.runoffs_in_bow is not None
    face_1 = answer.runoffs_in_bow.back if answer.back.face == "face_1" else answer.runoffs_in_bow.belly

    assert [off.line for off in face_1] == [4, 5, 6, 7]
    assert {off.over for off in face_1} == {"edge_2"}
    for off in face_1:
        assert off.position_mm - answer.section.start_mm == pytest.approx((10 - off.line) * 3.81 / 0.02, abs=0.2)


def test_strength_is_that_of_the_steepest_slope() -> None:
    """A board of 1 in 20 just inside the limit keeps what the sources say of 1 in 20."""
    strength = judge(make_reading({"face_1": 0.05}), BOW_MM).strength

    assert strength == strength_left(0.05)


@pytest.mark.parametrize("length_mm", [0.0, -1.0, float("nan"), float("inf")])
def test_a_bow_without_length_is_refused(length_mm: float) -> None:
    """A bow length that is no length is refused, naming the field."""
    with pytest.raises(BadInput, match="bow length") as refusal:
        judge(make_reading(SOUND), length_mm)

    assert refusal.value.field == "bow_length"
