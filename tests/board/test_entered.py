"""Slopes of the fibre found with ink or a scribe, entered by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.board.assemble import SideGiven, assemble, board_grid
from service.board.by_hand import ByHand
from service.board.entered import LEAST_RUN_MM, METHODS, EnteredSlope, enter_slope, entered_turn
from service.board.plane import UPWARD, in_plane
from service.board.types import BoardReading
from service.errors import BadInput
from service.grain.rings import EndRings
from service.grain.types import CloseGrain, SideGrain
from service.judge.judge import judge
from service.photo.types import Strip
from service.sides import SIDES, BoardSize, side_opposite
from tests.drawing.solid import Solid, slope_on_side

SIZE = BoardSize(2000.0, 60.0, 20.0)
GRID_MM = board_grid(SIZE.length_mm)
BOW_MM = 1700.0
FLAT_END = EndRings((0.0, 1.0), 0.0, 2.0)


def solid_at(tilt_deg: float, diagonal: float, spiral: float) -> Solid:
    """Make a board of even fibre whose rings are two metres wide, so that they lie alike on all sides."""
    tilt_rad = math.radians(tilt_deg)
    pith_mm = (30.0 - 2000 * math.sin(tilt_rad), 10.0 - 2000 * math.cos(tilt_rad))
    return Solid(1, 2000.0, 60.0, 20.0, pith_mm, ((0.0, diagonal),), ((0.0, spiral),))


def given_side(spread: float) -> SideGiven:
    """Make a side whose lines run straight, in V shapes when their spread is wide."""
    wide, nothing = np.full(GRID_MM.shape, 0.002), np.zeros(GRID_MM.shape)
    strip = Strip(np.zeros((4, 40), np.float32), 50.0, 0.0, 2000.0, 1.5, 0.01, GRID_MM, nothing, 0.9)
    return SideGiven(SideGrain(nothing, wide, nothing, wide, nothing, wide, nothing + spread), None, (strip,))


def flat_sawn(*tests: EnteredSlope, closeup: float | None = None) -> BoardReading:
    """Read a flat-sawn board with V shapes on its faces and straight edges, by tests and close-up of face 1 alone."""
    given = {side: given_side(0.1 if "face" in side else 0.0) for side in SIDES}
    closeups = {} if closeup is None else {"face_1": [CloseGrain(0.0, 0.002, closeup, 0.0005)]}
    return assemble(SIZE, given, closeups, FLAT_END, (), ByHand(tests))


def codes(reading: BoardReading) -> list[str]:
    """List the codes of a reading's notes."""
    return [note.code for note in reading.notes]


@pytest.mark.parametrize("tilt_deg", [0.0, 25.0, 45.0, 70.0, 90.0])
@pytest.mark.parametrize("side", SIDES)
def test_the_fibres_true_slope_gives_the_true_turn(tilt_deg: float, side: str) -> None:
    """On a drawn solid, whose slopes come from its fibres alone, a line along the fibre gives the solid's own s."""
    solid = solid_at(tilt_deg, 0.02, -0.05)
    slope = float(slope_on_side(solid, side, np.array(500.0), np.array(solid.across_mm(side) / 2)))
    test = EnteredSlope(side, slope, 200.0, 500.0)

    turn = entered_turn(test, solid.normal_yz, np.full(80, 0.02), solid.length_mm)

    if abs(in_plane(solid.normal_yz, side)[1]) < 0.05:
        assert turn is None
    else:
        assert turn is not None
        assert turn.value == pytest.approx(-0.05, abs=0.003)


@given(
    side=st.sampled_from(SIDES),
    slope=st.floats(-0.4, 0.4),
    tilt_rad=st.floats(0.0, math.pi),
    diagonal=st.floats(-0.1, 0.1),
)
def test_the_opposite_side_with_the_opposite_sign_tells_the_same(
    side: str, slope: float, tilt_rad: float, diagonal: float
) -> None:
    """A line seen from behind rises the other way; mirrored in side and sign it is the same reading."""
    normal, along = (math.sin(tilt_rad), math.cos(tilt_rad)), np.full(10, diagonal)
    test = EnteredSlope(side, slope, 200.0, None, "scribe")
    mirrored = replace(test, side=side_opposite(side), slope=-slope)

    first, second = (entered_turn(one, normal, along, 1000.0) for one in (test, mirrored))

    assert (first is None) == (second is None)
    if first is not None and second is not None:
        assert second.value == pytest.approx(first.value, abs=1e-12)
        assert second.error == first.error


def test_the_place_of_a_line_picks_the_diagonal_under_it() -> None:
    """With d changing along a rift board, a line with its place is freed of d there, one without of the mean d."""
    normal = (math.sqrt(0.5), math.sqrt(0.5))
    diagonal = np.linspace(0.0, 0.04, 100)
    within, beside = in_plane(normal, "face_1")
    slope = 0.04 * within + 0.01 * beside  # the fibre's at the far end, where d is 0.04 and s 0.01

    there = entered_turn(EnteredSlope("face_1", slope, 100.0, 1950.0), normal, diagonal, 2000.0)
    somewhere = entered_turn(EnteredSlope("face_1", slope, 100.0), normal, diagonal, 2000.0)

    assert there is not None
    assert somewhere is not None
    assert there.value == pytest.approx(0.01, abs=0.002)
    assert somewhere.value == pytest.approx(0.01 - 0.02, abs=0.001)
    assert somewhere.error > there.error


def test_unread_diagonal_under_a_line_falls_back_on_the_mean() -> None:
    """Where d was not read under the line, or nowhere, the reading is still finite and its error wider."""
    normal, line = (0.6, 0.8), EnteredSlope("face_1", 0.02, 200.0, 100.0)
    hole = np.where(np.arange(100) < 20, np.nan, 0.01)

    turns = [entered_turn(line, normal, known, 1000.0) for known in (np.full(100, 0.01), hole, np.full(100, np.nan))]

    values = [turn.value for turn in turns if turn is not None]
    errors = [turn.error for turn in turns if turn is not None]
    assert values[1] == pytest.approx(values[0])
    assert values[2] == pytest.approx(0.02 / in_plane(normal, "face_1")[1])
    assert errors[0] < errors[1] == errors[2]


def test_a_longer_line_is_surer_but_never_sure() -> None:
    """The ruler's half millimetre weighs less on a longer line; the wood's own spread stays."""
    errors = [EnteredSlope("face_1", 0.02, run_mm).error for run_mm in (100.0, 200.0, 400.0, 2000.0)]

    assert errors == sorted(errors, reverse=True)
    assert errors[0] > math.sqrt(2) * 0.5 / 100
    assert errors[-1] > 0.007


@pytest.mark.parametrize("method", list(METHODS))
def test_a_test_turns_not_sure_yet_into_a_pass(method: str) -> None:
    """A sound flat-sawn board of which only the spiral is unknown passes once a line on its face was entered."""
    before = judge(flat_sawn(), BOW_MM)
    after = judge(flat_sawn(enter_slope(SIZE, "face_1", method, 1.0, 400.0)), BOW_MM)

    assert (before.verdict, before.reasons[0].code) == ("borderline", "spiral_unknown")
    assert "ink or scribe test" in before.open_questions[0].photo
    assert "away from yourself" in before.open_questions[0].photo
    assert (after.verdict, after.open_questions) == ("pass", [])
    assert after.combined_slope is not None
    assert after.combined_slope.spiral_seen
    assert after.combined_slope.spiral_from == [method]
    assert any(note.code == "test_entered" and "entered by hand" in note.text for note in after.reasons)


def test_a_steep_line_fails_the_board() -> None:
    """Spiral of 1 in 8 on the flat face, found by ink alone, is past both limits, and the board is left."""
    assert judge(flat_sawn(enter_slope(SIZE, "face_2", "ink", 50.0, 400.0)), BOW_MM).verdict == "fail"


def test_the_entered_slope_is_the_faces_angle() -> None:
    """Flat-sawn with nothing else known: the face's fibre slopes as entered, the other face mirrors it."""
    reading = flat_sawn(enter_slope(SIZE, "face_1", "ink", 12.0, 400.0))
    slopes = {side: math.tan(math.radians(reading.sides[side].angle_deg[100])) for side in SIDES}

    assert slopes["face_1"] == pytest.approx(0.03, abs=1e-6)
    assert slopes["face_2"] == pytest.approx(-0.03, abs=1e-6)
    assert slopes["edge_1"] == pytest.approx(0.0, abs=1e-6)
    # twice the line's standard error at the least
    assert reading.sides["face_1"].angle_error_deg[100] >= math.degrees(2 * EnteredSlope("face_1", 0.03, 400.0).error)


def test_a_side_across_the_rings_tells_nothing() -> None:
    """On the edge of a flat-sawn board no spiral shows: the board stays unsure, and the face is named instead."""
    reading = flat_sawn(enter_slope(SIZE, "edge_1", "ink", 2.0, 400.0))

    assert not reading.spiral_seen
    assert codes(reading) == ["test_wrong_side"]
    assert "Repeat the test on face" in reading.notes[0].text


def test_a_test_that_contradicts_a_close_up_is_told_and_widens_the_error() -> None:
    """Three standard errors apart: a note asks to repeat the test, and the interval takes in both readings."""
    against = flat_sawn(enter_slope(SIZE, "face_1", "ink", 0.0, 400.0), closeup=0.08)
    with_it = flat_sawn(enter_slope(SIZE, "face_1", "ink", 31.0, 400.0), closeup=0.08)

    assert codes(with_it) == ["test_entered"]
    assert codes(against) == ["test_entered", "test_contradicts"]
    assert "Repeat the test" in against.notes[1].text
    assert against.spiral_from == ("closeup", "ink")
    face = against.sides["face_1"]
    low, high = (face.angle_deg[100] + sign * face.angle_error_deg[100] for sign in (-1, 1))
    assert low < 0.0
    assert high > math.degrees(math.atan(0.08))
    assert with_it.sides["face_1"].angle_error_deg[100] < 2.0


def test_two_tests_that_contradict_each_other_are_told() -> None:
    """The sign turned over by mistake between two lines on one face is noticed without any close-up."""
    up, down = (enter_slope(SIZE, "face_1", "scribe", rise_mm, 400.0) for rise_mm in (20.0, -20.0))

    assert "test_contradicts" in codes(flat_sawn(up, down))
    assert "test_contradicts" not in codes(flat_sawn(up, replace(up, run_mm=300.0)))


def test_without_rings_a_test_is_kept_out_and_told() -> None:
    """Where nothing tells how the rings lie a slope cannot be carried to the other sides: the end is asked for."""
    reading = assemble(SIZE, {"face_1": given_side(0.0)}, {}, None, (), ByHand((EnteredSlope("face_1", 0.0, 200.0),)))

    assert codes(reading) == ["test_unused"]
    assert "Photograph the marked end" in reading.notes[0].text


@pytest.mark.parametrize(
    ("side", "method", "rise_mm", "run_mm", "position_mm", "field", "words"),
    [
        ("face_3", "ink", 1.0, 200.0, None, "side", "no side “face_3”"),
        ("face_1", "smell", 1.0, 200.0, None, "method", "choose ink or scribe"),
        ("face_1", "ink", 1.0, 0.0, None, "run", "too short"),
        ("face_1", "ink", 1.0, LEAST_RUN_MM - 1, None, "run", "over 3-15/16 in (100 mm) at least"),
        ("face_1", "ink", 1.0, 2001.0, None, "run", "longer than the board"),
        ("face_1", "ink", -51.0, 100.0, None, "rise", "steeper than 1 in 2"),
        ("edge_1", "ink", 21.0, 400.0, None, "rise", "only 13/16 in (20 mm) wide"),
        ("face_1", "ink", 1.0, 200.0, 2001.0, "position", "the board is 78-3/4 in (2000 mm)"),
        ("face_1", "ink", 1.0, 200.0, -1.0, "position", "cannot lie at -1/16 in (-1 mm)"),
    ],
)
def test_what_no_line_can_be_is_refused(
    side: str, method: str, rise_mm: float, run_mm: float, position_mm: float | None, field: str, words: str
) -> None:
    """Each impossible line is refused with the part at fault and a sentence that says what to do."""
    with pytest.raises(BadInput) as refusal:
        enter_slope(SIZE, side, method, rise_mm, run_mm, position_mm)

    assert refusal.value.field == field
    assert words in refusal.value.text


def test_the_limits_themselves_are_taken() -> None:
    """A line of the least run, of the greatest steepness, at either end of the board is not refused."""
    for position_mm in (0.0, 2000.0):
        assert enter_slope(SIZE, "face_1", "ink", 50.0, LEAST_RUN_MM, position_mm).slope == 0.5


def test_upward_is_one_rule_for_photos_and_tests() -> None:
    """Rising toward the upper corner on face 1 and edge 1 is +y and +z, on their opposites the other way."""
    straight = np.zeros(5)
    for side in SIDES:
        normal = (0.0, 1.0) if "face" in side else (1.0, 0.0)
        turn = entered_turn(EnteredSlope(side, 0.1, 200.0), normal, straight, 500.0)

        assert turn is not None
        assert turn.value == pytest.approx(UPWARD[side] * 0.1 / in_plane(normal, side)[1])
