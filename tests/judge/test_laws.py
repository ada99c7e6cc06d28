"""Laws that hold on any board: mirrored boards, worse boards, longer bows, tighter limits, unread wood."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from service.board.types import BoardReading
from service.judge.judge import judge
from service.judge.limits import Limits
from service.judge.record import Answer
from service.sides import SIDES
from tests.judge.made import (
    angle_of,
    bump,
    change_side,
    faces_swapped,
    make_reading,
    turned_end_for_end,
    unread,
    with_knot,
)

LENGTH_MM = 1219.2
BOW_MM = 900.0
SPREAD = 1e-6
"""Room for rounding when scores are compared; they are told to a hundredth."""

RANK = {"fail": 0, "retake": 0, "borderline": 1, "pass": 2}

few = settings(max_examples=40, deadline=None)
many = settings(max_examples=80, deadline=None)


@st.composite
def boards(draw: st.DrawFn) -> BoardReading:
    """Make up a board whose opposite sides mirror each other: even slopes, two hills, perhaps a knot."""
    positions_mm = make_reading(length_mm=LENGTH_MM).positions_mm
    slopes = {}
    for name in ("face_1", "edge_1"):
        even = draw(st.floats(-0.06, 0.06))
        hills = sum(
            bump(
                positions_mm,
                draw(st.floats(0.0, LENGTH_MM)),
                draw(st.floats(30.0, 200.0)),
                draw(st.floats(-0.06, 0.06)),
            )
            for _ in range(2)
        )
        slopes[name] = even + hills
    reading = make_reading(
        slopes, length_mm=LENGTH_MM, error_deg=draw(st.floats(0.02, 1.0)), spiral_seen=draw(st.booleans())
    )
    if draw(st.integers(0, 4)) == 0:
        from_mm = draw(st.floats(0.0, LENGTH_MM - 20.0))
        reading = with_knot(reading, draw(st.sampled_from(SIDES)), from_mm, from_mm + draw(st.floats(3.0, 20.0)))
    return reading


def no_better(worse: Answer, than: Answer) -> bool:
    """Tell whether an answer's score and verdict are at most another's."""
    return worse.score <= than.score + 0.01 + SPREAD and RANK[worse.verdict] <= RANK[than.verdict]


@many
@given(reading=boards())
def test_a_board_turned_end_for_end_gives_the_mirrored_section(reading: BoardReading) -> None:
    """Marking the other end changes neither verdict nor score, and mirrors the section."""
    answer, turned = judge(reading, BOW_MM), judge(turned_end_for_end(reading), BOW_MM)

    assert turned.verdict == answer.verdict
    assert abs(turned.score - answer.score) < 0.011
    assert (answer.section is None) == (turned.section is None)
    if answer.section is not None and turned.section is not None:
        mirrored_mm = LENGTH_MM - turned.section.end_mm
        assert abs(answer.section.start_mm - mirrored_mm) < 0.2


def test_a_steep_end_stays_at_its_end_of_the_board() -> None:
    """A board with one steep end has its section at the other, from whichever end it is measured."""
    positions_mm = make_reading(length_mm=LENGTH_MM).positions_mm
    reading = make_reading({"face_1": bump(positions_mm, LENGTH_MM, 60.0, 0.1)}, length_mm=LENGTH_MM)
    section, mirrored = judge(reading, BOW_MM).section, judge(turned_end_for_end(reading), BOW_MM).section

    assert section is not None
    assert mirrored is not None
    assert abs(section.start_mm - (LENGTH_MM - mirrored.end_mm)) < 0.2
    assert section.start_mm + section.end_mm < LENGTH_MM < mirrored.start_mm + mirrored.end_mm


def test_of_two_middle_sections_the_straighter_one_is_taken_from_either_end() -> None:
    """A board that steepens ever so slowly has two starts next to its middle: the straighter, whichever end is marked.

    Of four boards, each 3 mm longer than the one before, two have an even number of starts 3 mm apart.
    """
    for length_mm in (1215.0, 1218.0, 1221.0, 1224.0):
        positions_mm = make_reading(length_mm=length_mm).positions_mm
        reading = make_reading({"face_1": 0.02 + 1e-6 * positions_mm}, length_mm=length_mm)
        section, mirrored = judge(reading, BOW_MM).section, judge(turned_end_for_end(reading), BOW_MM).section

        assert section is not None
        assert mirrored is not None
        assert abs(section.start_mm - (length_mm - mirrored.end_mm)) < 0.2


@few
@given(reading=boards(), other=st.floats(-0.06, 0.06))
def test_rolling_the_board_over_swaps_back_and_belly(reading: BoardReading, other: float) -> None:
    """Calling face 2 face 1 changes nothing but the name of the back."""
    slope = np.broadcast_to(angle_of(other), reading.positions_mm.shape).copy()
    reading = change_side(reading, "face_2", angle_deg=slope)
    answer, rolled = judge(reading, BOW_MM), judge(faces_swapped(reading), BOW_MM)

    assert rolled.verdict == answer.verdict
    assert rolled.score == answer.score
    if (
        answer.back is not None
        and rolled.back is not None
        and answer.section is not None
        and rolled.section is not None
    ):
        assert rolled.section.start_mm == answer.section.start_mm
        if answer.back.sure:
            assert {answer.back.face, rolled.back.face} == {"face_1", "face_2"}


@many
@given(reading=boards(), side=st.sampled_from(SIDES), times=st.floats(1.0, 4.0))
def test_a_steeper_side_never_helps(reading: BoardReading, side: str, times: float) -> None:
    """Grain made steeper all along one side raises neither score nor verdict."""
    steeper = angle_of(times * np.tan(np.radians(reading.sides[side].angle_deg)))

    assert no_better(judge(change_side(reading, side, angle_deg=steeper), BOW_MM), judge(reading, BOW_MM))


@many
@given(
    even=st.floats(0.0, 0.06),
    place_mm=st.floats(0.0, LENGTH_MM),
    more=st.floats(0.0, 0.1),
    width_mm=st.floats(10.0, 300.0),
)
def test_a_steep_place_never_helps(even: float, place_mm: float, more: float, width_mm: float) -> None:
    """A hill of slope added anywhere to a side that slopes the same way raises neither score nor verdict."""
    reading = make_reading({"face_1": even, "edge_1": 0.01}, length_mm=LENGTH_MM)
    hill = make_reading(
        {"face_1": even + bump(reading.positions_mm, place_mm, width_mm, more), "edge_1": 0.01}, length_mm=LENGTH_MM
    )

    assert no_better(judge(hill, BOW_MM), judge(reading, BOW_MM))


@many
@given(reading=boards(), side=st.sampled_from(SIDES), more_deg=st.floats(0.0, 2.0))
def test_a_larger_error_never_raises_the_score(reading: BoardReading, side: str, more_deg: float) -> None:
    """A less certain reading scores no higher, and never turns into a pass.

    A failure may become borderline: not to know is not to fail.
    """
    wider = change_side(reading, side, angle_error_deg=reading.sides[side].angle_error_deg + more_deg)
    answer, worse = judge(reading, BOW_MM), judge(wider, BOW_MM)

    assert worse.score <= answer.score + 0.01 + SPREAD
    assert worse.verdict != "pass" or answer.verdict == "pass"


@many
@given(reading=boards(), bow_mm=st.floats(400.0, LENGTH_MM), longer_mm=st.floats(0.0, 600.0))
def test_a_longer_bow_never_scores_better(reading: BoardReading, bow_mm: float, longer_mm: float) -> None:
    """A longer bow out of the same board raises neither score nor verdict."""
    assert no_better(judge(reading, bow_mm + longer_mm), judge(reading, bow_mm))


@many
@given(
    reading=boards(), side=st.sampled_from(SIDES), from_mm=st.floats(0.0, LENGTH_MM), length_mm=st.floats(40.0, 600.0)
)
def test_unread_wood_never_helps(reading: BoardReading, side: str, from_mm: float, length_mm: float) -> None:
    """A stretch that could not be read raises no score, and makes no pass."""
    answer = judge(reading, BOW_MM)
    worse = judge(unread(reading, side, from_mm, from_mm + length_mm), BOW_MM)

    assert worse.score <= answer.score + 0.01 + SPREAD
    assert worse.verdict != "pass" or answer.verdict == "pass"


@few
@given(reading=boards(), side=st.sampled_from(SIDES), from_mm=st.floats(0.0, LENGTH_MM - 15.0))
def test_a_knot_never_helps(reading: BoardReading, side: str, from_mm: float) -> None:
    """A knot anywhere raises neither score nor verdict."""
    assert no_better(judge(with_knot(reading, side, from_mm, from_mm + 15.0), BOW_MM), judge(reading, BOW_MM))


@many
@given(reading=boards(), back=st.floats(0.2, 1.0), belly=st.floats(0.2, 1.0))
def test_tighter_limits_never_help(reading: BoardReading, back: float, belly: float) -> None:
    """Tightening either limit raises neither score nor verdict."""
    default = Limits()
    tighter = replace(default, back_slope=back * default.back_slope, belly_slope=belly * default.belly_slope)

    assert no_better(judge(reading, BOW_MM, tighter), judge(reading, BOW_MM))


@many
@given(reading=boards())
def test_score_and_verdict_agree(reading: BoardReading) -> None:
    """A pass has 68 points or more and nothing else has; a failure has 32 at most; the parts make up the score."""
    answer = judge(reading, BOW_MM)

    assert (answer.score >= 68.0) == (answer.verdict == "pass")
    assert answer.verdict not in ("fail", "retake") or answer.score <= 32.0
    assert abs(sum(part.points for part in answer.score_parts) - answer.score) < 0.011
    assert sum(part.out_of for part in answer.score_parts) == 100.0
    assert answer.reasons


@few
@given(reading=boards())
def test_a_section_cut_out_of_the_board_reads_the_same(reading: BoardReading) -> None:
    """Sawn to its section, a board still gives the same verdict for that bow: what was cut away did not matter."""
    answer = judge(reading, BOW_MM)
    if answer.section is None:
        return
    start_mm = answer.section.start_mm
    inside_mm = np.arange(0.0, BOW_MM + 6.0, 12.0)
    sides = {
        name: replace(
            side,
            angle_deg=np.interp(start_mm + inside_mm, reading.positions_mm, side.angle_deg),
            angle_error_deg=np.interp(start_mm + inside_mm, reading.positions_mm, side.angle_error_deg),
            line_deg=np.interp(start_mm + inside_mm, reading.positions_mm, side.line_deg),
            crook_mm=np.zeros(inside_mm.shape),
            cathedral=np.zeros(inside_mm.shape, dtype=bool),
            knots=(),
        )
        for name, side in reading.sides.items()
    }
    unknown = np.full(inside_mm.shape, np.nan)
    sawn = replace(
        reading,
        size=replace(reading.size, length_mm=BOW_MM),
        positions_mm=inside_mm,
        sides=sides,
        diagonal=unknown,
        spiral=unknown,
    )
    cut = judge(sawn, BOW_MM)

    assert cut.section is not None
    assert answer.section.worst_slope is not None
    assert cut.section.worst_slope is not None
    assert abs(cut.section.worst_slope - answer.section.worst_slope) < 2e-3
