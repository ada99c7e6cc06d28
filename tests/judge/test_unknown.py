"""What was not photographed, not read or not seen: asked for, never taken for straight."""

import itertools

import pytest

from service.board.types import RingReading
from service.judge.alternatives import weigh_length
from service.judge.doubts import borderline_reasons
from service.judge.judge import judge
from service.judge.limits import DEFAULT
from service.judge.reasons import fail_reasons
from service.judge.record import Answer
from service.judge.score import PASS, choose
from service.sides import EDGES, FACES, SIDES
from tests.judge.made import SPACING_MM, make_reading, unread, with_knot, without

BOW_MM = 1727.2
QUARTER_SAWN = RingReading(None, (1.0, 0.0), 90.0, 3.0, ("end",), "quarter")
SOUND = {"face_1": 0.02, "edge_1": 0.015}


def codes(answer: Answer) -> list[str]:
    """List the codes of an answer's reasons."""
    return [reason.code for reason in answer.reasons]


@pytest.mark.parametrize(("rings", "side"), [(None, "face_1"), (QUARTER_SAWN, "edge_1")])
def test_unseen_spiral_is_borderline_at_best(rings: RingReading | None, side: str) -> None:
    """Where no photo shows the fibre a sound board is borderline, and one close-up of the right side is asked for."""
    answer = judge(make_reading(SOUND, spiral_seen=False, rings=rings), BOW_MM)

    assert (answer.verdict, codes(answer)) == ("borderline", ["spiral_unknown"])
    assert [question.code for question in answer.open_questions] == ["spiral_unknown"]
    assert side.replace("_", " ") in answer.open_questions[0].photo
    assert answer.back is not None
    assert not answer.back.sure


def test_unseen_spiral_does_not_save_a_steep_board() -> None:
    """Ring slopes past the limit fail a board whether or not the fibre was seen."""
    assert judge(make_reading({"edge_1": 0.1}, spiral_seen=False), BOW_MM).verdict == "fail"


@pytest.mark.parametrize("missing", [c for n in (1, 2) for c in itertools.combinations(SIDES, n)])
def test_one_face_and_one_edge_are_enough_for_a_provisional_answer(missing: tuple[str, ...]) -> None:
    """With a face and an edge read the answer is borderline and asks for what is missing; with less it is a retake."""
    reading = make_reading(SOUND)
    for name in missing:
        reading = without(reading, name)
    answer = judge(reading, BOW_MM)

    if set(missing) in (set(FACES), set(EDGES)):
        assert answer.verdict == "retake"
        assert answer.score == 0.0
        assert {reason.side for reason in answer.reasons} <= set(missing)
    else:
        assert answer.verdict == "borderline"
        asked = {question.photo for question in answer.open_questions if question.code == "side_missing"}
        assert asked == {f"The whole of {name.replace('_', ' ')}." for name in missing}
        assert (answer.back is None) == bool(set(missing) & set(FACES))


@pytest.mark.parametrize("bad", [("edge_2",), ("face_1", "edge_1"), SIDES])
def test_only_the_unreadable_sides_are_asked_for_again(bad: tuple[str, ...]) -> None:
    """Photos that could not be read are asked for again, with their own reason, and no others."""
    reading = make_reading(SOUND)
    for name in bad:
        reading = without(reading, name, "retake")
    answer = judge(reading, BOW_MM)

    assert answer.verdict == "retake"
    assert [reason.side for reason in answer.reasons] == list(bad)
    assert all(reason.code == "blurred" and "hold the phone still" in reason.text for reason in answer.reasons)
    assert (answer.section, answer.back, answer.strength) == (None, None, None)


def test_what_was_read_may_fail_without_the_rest() -> None:
    """A board that fails by the sides that were read needs no photo of the others."""
    steep = without(make_reading({"edge_1": 0.15}), "face_2", "retake")
    knotty = with_knot(without(make_reading(SOUND), "edge_2", "retake"), "face_1", 1200.0, 1215.0)

    assert judge(steep, BOW_MM).verdict == "fail"
    assert judge(knotty, BOW_MM).verdict == "fail"


def test_a_long_unread_stretch_is_never_straight() -> None:
    """Three inches unread on one side in every section keep a sound board from passing, and are asked for."""
    answer = judge(unread(make_reading(SOUND), "face_1", 1180.0, 1256.0), BOW_MM)

    assert answer.verdict == "borderline"
    assert codes(answer)[-1] == "unread"
    stretch = answer.reasons[-1]
    assert stretch.side == "face_1"
    assert stretch.position_mm is not None
    assert stretch.position_mm <= 1180.0 + SPACING_MM
    assert "face 1" in answer.open_questions[-1].photo


def test_a_stretch_unread_on_both_faces_is_a_retake() -> None:
    """Where neither of two opposite sides shows the grain nothing is assumed, and that stretch is asked for."""
    reading = unread(unread(make_reading(SOUND), "face_1", 1180.0, 1256.0), "face_2", 1200.0, 1270.0)
    answer = judge(reading, BOW_MM)

    assert (answer.verdict, set(codes(answer))) == ("retake", {"unread"})
    assert {reason.side for reason in answer.reasons} == {"face_1", "face_2"}


def test_unread_wood_outside_the_section_does_not_matter() -> None:
    """A board unread over its last foot passes with a section before it."""
    reading = make_reading(SOUND)
    for name in SIDES:
        reading = unread(reading, name, 2140.0, 2500.0)
    answer = judge(reading, BOW_MM)

    assert answer.verdict == "pass"
    assert answer.section is not None
    assert answer.section.end_mm < 2140.0


def test_unread_stretches_of_a_side_are_asked_for_at_once() -> None:
    """Several unread stretches of one side make one reason, with their length in all, and one question."""
    reading = unread(unread(make_reading(SOUND), "face_1", 1000.0, 1060.0), "face_1", 1300.0, 1360.0)
    answer = judge(reading, BOW_MM)

    assert codes(answer) == ["unread"]
    assert answer.reasons[0].length_mm == pytest.approx(2 * 72.0, abs=10.0)
    assert "1 more place" in answer.reasons[0].text
    assert len(answer.open_questions) == 1


def test_what_is_unread_is_not_also_called_close() -> None:
    """Where only the wider error of the opposite side reaches past a limit, the unread wood is the one reason."""
    reading = make_reading({"face_1": 0.03, "edge_1": 0.01})

    assert codes(judge(without(reading, "edge_2"), BOW_MM)) == ["side_missing"]
    assert codes(judge(unread(reading, "face_1", 1180.0, 1256.0), BOW_MM)) == ["unread"]


def test_an_inch_unread_is_bridged() -> None:
    """A single unread position does not stand in the way of a pass."""
    assert judge(unread(make_reading(SOUND), "face_1", 1215.0, 1222.0), BOW_MM).verdict == "pass"


def test_a_short_unread_stretch_may_pass_with_its_error_counted_and_told() -> None:
    """Two inches under a sticker, mirrored from the opposite side with room for its error, leave a board a pass.

    The answer names the stretch; four inches, or the same two on a board nearer its limit, leave it open.
    """
    straight, steeper = make_reading({"face_1": 0.01}), make_reading({"face_1": 0.045})
    middle_mm = 1219.2
    short, long, near = (
        judge(unread(reading, "edge_2", middle_mm - half_mm, middle_mm + half_mm), 2200.0)
        for reading, half_mm in ((straight, 25.0), (straight, 55.0), (steeper, 25.0))
    )

    assert short.verdict == "pass"
    assert [reason.code for reason in short.reasons] == ["within_limits", "unread"]
    assert "edge 2" in short.reasons[1].text
    assert long.verdict == near.verdict == "borderline"


def test_only_the_side_to_retake_is_asked_for() -> None:
    """A hole in an edge opposite one that is to be photographed again may be filled by that photo: one is asked for."""
    reading = unread(without(make_reading(SOUND), "edge_1", "retake"), "edge_2", 800.0, 1400.0)
    answer = judge(reading, BOW_MM)

    assert answer.verdict == "retake"
    assert [question.photo for question in answer.open_questions] == ["The whole of edge 1 again."]


def test_a_limit_met_to_a_hair_is_still_told() -> None:
    """Where rounding alone puts a section past a limit the answer names the place, and no answer lacks a reason."""
    reading = make_reading({"face_1": 0.04999}, error_deg=0.0)
    weighed = weigh_length(reading, BOW_MM, DEFAULT)
    choice = choose(weighed, DEFAULT)

    assert weighed.verdicts.max() == PASS
    reasons, questions = borderline_reasons(reading, weighed.search, choice, DEFAULT)
    assert [reason.code for reason in reasons] == [question.code for question in questions] == ["close_to_limit"]
    assert [reason.code for reason in fail_reasons(reading, weighed, choice, DEFAULT)] == ["slope"]
