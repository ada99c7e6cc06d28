"""Which way round the bow lies: laws of rolled and turned boards, and steep places where the bow works or rests."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.board.types import BoardReading, RingReading
from service.judge.alternatives import weigh_length
from service.judge.facing import FaceSeen, choose_back, order_of_faces
from service.judge.limits import DEFAULT
from service.judge.margin import Left
from service.judge.record import Back
from service.judge.score import BORDERLINE, FAIL, PASS, choose
from service.judge.shape import BowShape
from tests.judge.made import angle_of, bump, change_side, faces_swapped, make_reading, turned_end_for_end, without

BOW_MM = 1676.4
SHAPE = BowShape(BOW_MM, 38.1)
SWAPPED = {"face_1": "face_2", "face_2": "face_1"}
TURNED = {"marked": "far", "far": "marked", "either": "either"}

few = settings(max_examples=40, deadline=None)


def back_and_row(reading: BoardReading, bow_mm: float = BOW_MM) -> tuple[Back, int]:
    """Choose the back of the best section; the board must have both faces read."""
    weighed = weigh_length(reading, bow_mm, DEFAULT)
    back, reason, row = choose_back(
        reading, weighed, choose(weighed, DEFAULT), BowShape(bow_mm, reading.size.width_mm), DEFAULT
    )
    assert back is not None
    assert reason is None
    return back, row


def back_of(reading: BoardReading) -> Back:
    """Choose the back of the best section."""
    return back_and_row(reading)[0]


def board(length_mm: float = BOW_MM, error_deg: float = 0.1, **hills: tuple[float, float]) -> BoardReading:
    """Make a board as long as the bow, each face 1 in 500 with a hill of slope at a place of a height."""
    positions_mm = make_reading(length_mm=length_mm).positions_mm
    slopes = {
        face: 0.002 + bump(positions_mm, *hills[face][:1], 60.0, hills[face][1]) if face in hills else 0.002
        for face in ("face_1", "face_2")
    }
    return make_reading(slopes, length_mm=length_mm, error_deg=error_deg)


@st.composite
def boards(draw: st.DrawFn) -> BoardReading:
    """Make up a board with two faces of their own, each with an even slope and a hill; its edges mirror each other."""
    positions_mm = make_reading(length_mm=BOW_MM).positions_mm
    slopes = {
        side: draw(st.floats(-0.02, 0.02))
        + bump(positions_mm, draw(st.floats(0.0, BOW_MM)), draw(st.floats(40.0, 200.0)), draw(st.floats(-0.04, 0.04)))
        for side in ("face_1", "face_2", "edge_1")
    }
    return make_reading(slopes, length_mm=BOW_MM, error_deg=draw(st.floats(0.02, 0.6)))


def test_a_face_steep_at_a_tip_goes_before_one_steep_where_the_bow_works() -> None:
    """A slope of 1 in 22 near a tip costs less than one of 1 in 28 where the limb works hardest.

    Steeper grain is let pass only near the tips: common practice, no source.
    """
    back = back_of(board(face_1=(100.0, 0.043), face_2=(650.0, 0.034)))

    assert (back.face, back.sure) == ("face_1", True)
    assert "how hard the bow works, face 1 has more strength left" in back.why


def test_the_straighter_face_is_the_back_where_both_slope_evenly() -> None:
    """1 in 50 goes before 1 in 25 all along: the tension side fails first from run-off (common practice, no source)."""
    back = back_of(make_reading({"face_1": 0.04, "face_2": 0.02}))

    assert (back.face, back.sure) == ("face_2", True)
    assert "1 in 50" in back.why
    assert "1 in 25" in back.why


def test_within_the_error_either_may_serve() -> None:
    """Faces of 1 in 50 and 1 in 48 read to half a degree cannot be told apart."""
    back = back_of(make_reading({"face_1": 1 / 50, "face_2": 1 / 48}, error_deg=0.5))

    assert not back.sure
    assert "less than the error of the reading" in back.why


def test_faces_that_are_the_same_say_either() -> None:
    """Two mirrored faces: nothing decides, and the answer says so."""
    back = back_of(make_reading({"face_1": 0.02}))

    assert not back.sure
    assert "Both faces reach 1 in 50" in back.why
    assert "less than the error of the reading" in back.why


def test_fibre_that_was_not_seen_makes_no_back_sure() -> None:
    """However far the lines of two faces differ, the fibre decides, and it was not seen."""
    reading = replace(make_reading({"face_1": 0.03, "face_2": 0.01}), spiral_seen=False)
    back = back_of(reading)

    assert (back.face, back.sure) == ("face_2", False)
    assert "was not seen" in back.why


def test_the_limits_come_before_the_margin() -> None:
    """A steep place of 1 in 14 near a tip is past the back's limit and inside the belly's: that face is the belly."""
    back = back_of(board(face_1=(120.0, 0.069), face_2=(650.0, 0.030)))

    assert (back.face, back.sure) == ("face_2", True)
    assert "only with face 2 as the back" in back.why


def test_run_offs_on_the_belly_are_counted_and_forgiven() -> None:
    """Grain of 1 in 25 leaves over the belly's corner, and the words say that its own limit holds there."""
    back = back_of(make_reading({"face_1": 0.002, "face_2": 0.04}))

    assert back.face == "face_1"
    assert "on the belly, where up to 1 in 12 is forgiven" in back.why


def test_straight_faces_are_called_straight() -> None:
    """Two straight faces are straight, not steep by nothing, and no line leaves them."""
    assert back_of(make_reading()).why.startswith("Both faces are straight in the section; ")
    assert "none leaves" in back_of(make_reading()).why


def seen(face: str, measured: float, error: float, hard: int, used: float, verdict: int = PASS) -> FaceSeen:
    """Make up what a face would be as the back."""
    left = Left(measured, measured - error, measured + error)
    return FaceSeen("face_1" if face == "face_1" else "face_2", verdict, 0.02, left, [], hard, used)


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [
        (seen("face_1", 0.9, 0.02, 5, 0.6), seen("face_2", 0.8, 0.02, 0, 0.5), (0, "margin", True)),
        (seen("face_1", 0.8, 0.02, 0, 0.6), seen("face_2", 0.9, 0.02, 5, 0.7), (1, "margin", True)),
        (seen("face_1", 0.9, 0.02, 2, 0.6), seen("face_2", 0.88, 0.02, 1, 0.5), (0, "rather", False)),
        (seen("face_1", 0.9, 0.02, 2, 0.6), seen("face_2", 0.89, 0.02, 1, 0.7), (1, "runoffs", False)),
        (seen("face_1", 0.9, 0.02, 1, 0.6), seen("face_2", 0.89, 0.02, 1, 0.5), (1, "shares", False)),
        (seen("face_1", 0.9, 0.02, 1, 0.6), seen("face_2", 0.9, 0.02, 1, 0.6), (0, "nothing", False)),
        (seen("face_1", 0.9, 0.02, 0, 0.5, BORDERLINE), seen("face_2", 0.89, 0.02, 9, 0.9), (1, "limits", True)),
        (seen("face_1", 0.9, 0.02, 0, 0.5, FAIL), seen("face_2", 0.8, 0.02, 9, 0.9), (1, "limits", True)),
    ],
)
def test_what_decides_between_two_faces(first: FaceSeen, second: FaceSeen, told: tuple[int, str, bool]) -> None:
    """Limits come first, then the margin beyond its error, then the margin as measured, then run-offs, then shares.

    Errors of 0.02 each make 0.028 together.
    """
    assert order_of_faces(first, second) == told


@few
@given(reading=boards())
def test_rolling_the_board_over_swaps_back_and_belly(reading: BoardReading) -> None:
    """Calling face 2 face 1 changes nothing but the name of the back, unless nothing tells the faces apart."""
    (back, row), (rolled, rolled_row) = back_and_row(reading), back_and_row(faces_swapped(reading))

    assert rolled.sure == back.sure
    if back.sure:
        assert rolled.face == SWAPPED[back.face]
        assert rolled_row == 1 - row
        assert rolled.lower_limb == back.lower_limb


@few
@given(reading=boards())
def test_turning_the_board_end_for_end_keeps_the_back_and_turns_the_lower_limb(reading: BoardReading) -> None:
    """Marking the other end keeps the back and swaps the words for the lower limb."""
    back, turned = back_of(reading), back_of(turned_end_for_end(reading))

    assert turned.sure == back.sure
    if back.sure:
        assert turned.face == back.face
        assert turned.lower_limb == TURNED[back.lower_limb]


@few
@given(reading=boards(), times=st.floats(1.0, 3.0))
def test_a_steeper_belly_never_becomes_the_back(reading: BoardReading, times: float) -> None:
    """Grain made steeper on the belly leaves a back that its strength made sure where it is.

    Not so one that the limits alone made sure: when the steeper belly brings both ways round to the same verdict,
    the strength decides between them.
    """
    back = back_of(reading)
    belly = SWAPPED[back.face]
    steeper = angle_of(times * np.tan(np.radians(reading.sides[belly].angle_deg)))

    if back.sure and "set against how hard the bow works" in back.why:
        assert back_of(change_side(reading, belly, angle_deg=steeper)).face == back.face


def test_the_half_that_is_straighter_where_it_works_is_the_lower_limb() -> None:
    """The lower limb is the shorter and works harder: common practice, no source."""
    far_steep = back_of(board(face_1=(BOW_MM - 650.0, 0.04), face_2=(BOW_MM - 650.0, 0.045)))

    assert far_steep.lower_limb == "marked"
    assert "toward the marked end down" in far_steep.lower_limb_why
    assert "With the back away from you" in far_steep.lower_limb_why


def test_halves_within_the_error_leave_the_lower_limb_open() -> None:
    """Even grain is as good one way up as the other."""
    even = back_of(make_reading({"face_1": 0.02, "face_2": 0.01}))

    assert even.lower_limb == "either"
    assert "less than the error" in even.lower_limb_why


def test_halves_that_differ_by_next_to_nothing_are_alike() -> None:
    """A reading that claims no error at all still cannot tell 1 in 50.00 from 1 in 50.01."""
    positions_mm = make_reading(length_mm=BOW_MM).positions_mm
    slope = np.where(positions_mm < 0.5 * BOW_MM, 0.02, 0.020004)
    even = back_of(make_reading({"face_1": slope, "face_2": -0.019996}, length_mm=BOW_MM, error_deg=0.0))

    assert even.lower_limb == "either"
    assert not even.sure


def test_a_steep_tip_does_not_decide_the_lower_limb() -> None:
    """What lies near a tip, where the bow hardly works, tells nothing of which half bears more."""
    assert back_of(board(face_1=(60.0, 0.03), face_2=(650.0, 0.04))).lower_limb == "either"


def test_unread_faces_cannot_be_compared() -> None:
    """Without both faces there is no back, and the reason names the one that is missing."""
    reading = without(make_reading({"face_1": 0.01}), "face_2")
    weighed = weigh_length(reading, BOW_MM, DEFAULT)
    choice = choose(weighed, DEFAULT)
    back, reason, row = choose_back(reading, weighed, choice, SHAPE, DEFAULT)

    assert back is None
    assert reason is not None
    assert "Face 2" in reason
    assert row == choice.back_row


def test_a_flat_sawn_back_toward_the_pith_is_warned_of() -> None:
    """With the pith behind face 2 only face 2 as the back is the pith side: common practice, no source."""
    rings = RingReading(None, (0.0, 1.0), 0.0, 5.0, ("slopes",), "flat")
    bark = back_of(make_reading({"face_1": 0.005, "face_2": 0.03}, rings=rings))
    pith = back_of(make_reading({"face_1": 0.03, "face_2": 0.005}, rings=rings))
    quarter = back_of(
        make_reading({"face_1": 0.03, "face_2": 0.005}, rings=replace(rings, tilt_deg=85.0, sawing="quarter"))
    )

    assert bark.warnings == []
    assert [(warning.code, warning.side) for warning in pith.warnings] == [("pith_side_out", "face_2")]
    assert quarter.warnings == []


def test_a_cathedral_figured_back_is_warned_of() -> None:
    """V shapes over half of the back's section are told with the other face's share; a tenth is not worth a word."""
    reading = make_reading({"face_1": 0.005, "face_2": 0.03}, length_mm=BOW_MM)
    half, tenth = (reading.positions_mm < share * BOW_MM for share in (0.5, 0.095))
    warned = back_of(change_side(change_side(reading, "face_1", cathedral=half), "face_2", cathedral=tenth))

    assert [warning.code for warning in warned.warnings] == ["cathedral_back"]
    assert "50 % of face 1" in warned.warnings[0].text
    assert "10 % of face 2" in warned.warnings[0].text
    assert back_of(change_side(reading, "face_1", cathedral=tenth)).warnings == []
    assert back_of(change_side(reading, "face_2", cathedral=half)).warnings == []


def test_figure_outside_the_section_is_no_matter() -> None:
    """V shapes on wood that is sawn off do not touch the bow."""
    reading = make_reading({"face_1": 0.005, "face_2": 0.03}, length_mm=2 * BOW_MM)
    steep = reading.sides["edge_1"].angle_deg + 5.0 * (reading.positions_mm > BOW_MM + 60.0)
    reading = change_side(change_side(reading, "edge_1", angle_deg=steep), "edge_2", angle_deg=-steep)

    assert back_of(change_side(reading, "face_1", cathedral=reading.positions_mm > BOW_MM + 60.0)).warnings == []


def test_cut_rings_on_the_back_are_warned_of() -> None:
    """Ring lines of 1 in 12 on the back over fibre of 1 in 100 cut through rings, and backing is thought of."""
    reading = make_reading({"face_1": 0.01, "face_2": 0.03})
    lines_deg = np.full(reading.positions_mm.shape, 4.764)
    warned = back_of(change_side(reading, "face_1", line_deg=lines_deg))

    assert [warning.code for warning in warned.warnings] == ["rings_cut"]
    assert "1 in 12" in warned.warnings[0].text
    assert "backing" in warned.warnings[0].text
    assert back_of(change_side(reading, "face_2", line_deg=lines_deg)).warnings == []
