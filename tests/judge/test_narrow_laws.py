"""The laws of a judgement hold for bows narrower than their board, as far as the search for slants is fine.

Slants are found to about 1 in 1000, so scores may differ by half a point, and a verdict may turn only where a limit is
met to 4 in 100.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.board.types import BoardReading
from service.grain.types import KnotBox
from service.judge.judge import judge
from service.judge.limits import Limits
from service.judge.record import Answer
from service.sides import BoardSize
from tests.judge.made import (
    angle_of,
    bump,
    change_side,
    faces_swapped,
    make_reading,
    turned_end_for_end,
    unread,
)

LENGTH_MM, BOW_MM, WIDTH_MM = 1219.2, 900.0, 38.1
POINTS = 0.5
NEAR = 0.04
RANK = {"fail": 0, "retake": 0, "borderline": 1, "pass": 2}

some = settings(max_examples=25, deadline=None)


@st.composite
def wide_boards(draw: st.DrawFn) -> BoardReading:
    """Make up a board wider than the bow: slanting grain, a hill of slope, a crook, perhaps a knot on face 1."""
    positions_mm = make_reading(length_mm=LENGTH_MM).positions_mm
    slopes = {}
    for name, most in (("face_1", 0.08), ("edge_1", 0.03)):
        hill = bump(
            positions_mm, draw(st.floats(0.0, LENGTH_MM)), draw(st.floats(60.0, 300.0)), draw(st.floats(-0.03, 0.03))
        )
        slopes[name] = draw(st.floats(-most, most)) + hill
    reading = make_reading(slopes, length_mm=LENGTH_MM, error_deg=draw(st.floats(0.02, 0.6)))
    share = positions_mm / LENGTH_MM
    arc_mm = draw(st.floats(-8.0, 8.0)) * share * (1.0 - share)
    for name, sign in (("face_1", 1.0), ("face_2", -1.0)):
        reading = change_side(reading, name, crook_mm=sign * arc_mm)
    width_mm = draw(st.sampled_from((50.0, 63.5, 88.9, 139.7)))
    if draw(st.booleans()):
        from_mm, across_mm = draw(st.floats(0.0, LENGTH_MM - 20.0)), draw(st.floats(0.0, width_mm - 10.0))
        reading = change_side(reading, "face_1", knots=(KnotBox(from_mm, from_mm + 12.0, across_mm, across_mm + 8.0),))
    return replace(reading, size=BoardSize(LENGTH_MM, width_mm, 19.0))


def narrow(reading: BoardReading, bow_mm: float = BOW_MM, limits: Limits | None = None) -> Answer:
    """Judge a bow narrower than the board."""
    return judge(reading, bow_mm, limits or Limits(), bow_width_mm=WIDTH_MM)


def near_limit(answer: Answer) -> bool:
    """Tell whether an answer's section is so near a limit that the search's own step decides."""
    section = answer.section
    return section is not None and min(abs(section.limit_used - 1), abs(section.limit_used_upper - 1)) < NEAR


def no_better(worse: Answer, than: Answer) -> bool:
    """Tell whether an answer's verdict and score are at most another's, as far as the search is fine."""
    verdicts = RANK[worse.verdict] <= RANK[than.verdict]
    if near_limit(worse) or near_limit(than):
        return True
    return verdicts and worse.score <= than.score + POINTS


@some
@given(reading=wide_boards())
def test_a_board_turned_end_for_end_is_as_good(reading: BoardReading) -> None:
    """Marking the other end changes neither verdict nor, beyond half a point, the score."""
    answer = narrow(reading)
    turned = narrow(turned_end_for_end(reading))

    assert no_better(answer, turned)
    assert no_better(turned, answer)


@pytest.mark.parametrize("seed", range(8))
def test_a_board_turned_end_for_end_has_its_bow_mirrored(seed: int) -> None:
    """Seen from the other end the same stretch is chosen, and the bow lies as much below the mid-line as above it."""
    rng = np.random.default_rng(seed)
    reading = make_reading(length_mm=LENGTH_MM)
    slopes = {
        name: rng.uniform(-0.03, 0.03)
        + sum(bump(reading.positions_mm, rng.uniform(0, LENGTH_MM), 150.0, rng.uniform(-0.03, 0.03)) for _ in range(3))
        for name in ("face_1", "edge_1")
    }
    reading = replace(make_reading(slopes, length_mm=LENGTH_MM, error_deg=0.5), size=BoardSize(LENGTH_MM, 88.9, 19.0))
    # With a limit so wide every board has a section.
    limits = Limits(back_slope=0.2, belly_slope=0.3)
    section = narrow(reading, limits=limits).section
    turned = narrow(turned_end_for_end(reading), limits=limits).section

    assert section is not None
    assert turned is not None
    assert turned.start_mm == pytest.approx(LENGTH_MM - section.end_mm, abs=0.2)
    assert turned.offset_start_mm == pytest.approx(-section.offset_end_mm, abs=0.2)
    assert turned.offset_end_mm == pytest.approx(-section.offset_start_mm, abs=0.2)


@some
@given(reading=wide_boards())
def test_rolling_the_board_over_is_as_good(reading: BoardReading) -> None:
    """Calling face 2 face 1 changes neither verdict nor, beyond half a point, the score."""
    answer, rolled = narrow(reading), narrow(faces_swapped(reading))

    assert no_better(answer, rolled)
    assert no_better(rolled, answer)


@some
@given(reading=wide_boards(), times=st.floats(1.0, 3.0))
def test_a_steeper_edge_never_helps(reading: BoardReading, times: float) -> None:
    """A slant in the face cannot mend the edges: steeper ones are no better."""
    for name in ("edge_1", "edge_2"):
        slope = times * np.tan(np.radians(reading.sides[name].angle_deg))
        steeper = change_side(reading, name, angle_deg=angle_of(slope))
        assert no_better(narrow(steeper), narrow(reading))


@some
@given(reading=wide_boards(), longer_mm=st.floats(0.0, 300.0))
def test_a_longer_bow_is_no_better(reading: BoardReading, longer_mm: float) -> None:
    """A longer bow has less room to slant and more wood to keep straight."""
    assert no_better(narrow(reading, BOW_MM + longer_mm), narrow(reading))


@some
@given(reading=wide_boards(), from_mm=st.floats(0.0, LENGTH_MM), length_mm=st.floats(40.0, 500.0))
def test_unread_wood_never_helps(reading: BoardReading, from_mm: float, length_mm: float) -> None:
    """A stretch of a face that was not read raises no score and makes no pass."""
    worse = narrow(unread(reading, "face_1", from_mm, from_mm + length_mm))
    answer = narrow(reading)

    assert worse.score <= answer.score + POINTS or near_limit(worse) or near_limit(answer)
    assert worse.verdict != "pass" or answer.verdict == "pass" or near_limit(worse)


@some
@given(reading=wide_boards(), from_mm=st.floats(0.0, LENGTH_MM - 12.0), across=st.floats(0.0, 1.0))
def test_a_knot_never_helps(reading: BoardReading, from_mm: float, across: float) -> None:
    """A knot more anywhere on the board raises neither score nor verdict."""
    low_mm = across * (reading.size.width_mm - 8.0)
    more = KnotBox(from_mm, from_mm + 12.0, low_mm, low_mm + 8.0)
    worse = change_side(reading, "face_2", knots=(more,))

    assert no_better(narrow(worse), narrow(reading))


@pytest.mark.parametrize("slope", [0.055, 0.07, 0.09, 0.11])
def test_a_knot_on_a_board_that_fails_anyway_scores_no_better(slope: float) -> None:
    """On a board too steep for any slant the score is of the straightest way to lay the bow, knots or none."""
    reading = make_reading({"face_1": slope, "edge_1": 0.03}, length_mm=LENGTH_MM, error_deg=0.02)
    reading = replace(reading, size=BoardSize(LENGTH_MM, 63.5, 19.0))
    corner = change_side(reading, "face_1", knots=(KnotBox(600.0, 612.0, 0.0, 18.0),))
    across = change_side(reading, "face_1", knots=(KnotBox(600.0, 612.0, 0.0, 63.5),))

    assert narrow(reading).score >= narrow(corner).score - 0.1
    assert narrow(corner).score >= narrow(across).score - 0.1


@some
@given(reading=wide_boards(), tighter=st.floats(0.3, 1.0))
def test_tighter_limits_never_help(reading: BoardReading, tighter: float) -> None:
    """Tightening the limits turns no failure into a pass."""
    default = Limits()
    tight = replace(default, back_slope=tighter * default.back_slope, belly_slope=tighter * default.belly_slope)

    assert no_better(narrow(reading, limits=tight), narrow(reading))


@some
@given(reading=wide_boards())
def test_a_narrower_bow_is_never_worse_than_one_as_wide_as_the_board(reading: BoardReading) -> None:
    """What a bow as wide as the board may do, a narrower one along the same line may too."""
    wide, slim = judge(reading, BOW_MM), narrow(reading)

    assert RANK[wide.verdict] <= RANK[slim.verdict]
    assert wide.score <= slim.score + 0.01


@some
@given(reading=wide_boards())
def test_the_slanted_outline_stays_in_the_board(reading: BoardReading) -> None:
    """The widest part of the bow told, at its two ends' offsets, stays between the long corners of a straight board."""
    straight = reading
    for name in ("face_1", "face_2"):
        straight = change_side(straight, name, crook_mm=np.zeros(reading.positions_mm.shape))
    section = narrow(straight).section
    if section is None:
        return
    room_mm = 0.5 * (reading.size.width_mm - 12.7) + 0.6
    assert abs(section.offset_start_mm) <= room_mm
    assert abs(section.offset_end_mm) <= room_mm
    middle_mm = 0.5 * (section.offset_start_mm + section.offset_end_mm)
    assert abs(middle_mm) <= 0.5 * (reading.size.width_mm - WIDTH_MM) + 0.6
