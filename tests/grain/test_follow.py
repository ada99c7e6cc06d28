"""Grain lines followed along a side, against hand arithmetic."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.grain.follow import LINES, LineEnd, follow_lines, line_rise

GRID_MM = np.arange(0.0, 2000.1, 12.5)
WIDTH_MM = 40.0
SURE = np.full(GRID_MM.shape, 0.002)


def follow(slope: float, start_mm: float = 0.0, end_mm: float = 2000.0) -> tuple[LineEnd, ...]:
    """Follow lines over grain of one slope."""
    return follow_lines(GRID_MM, np.full(GRID_MM.shape, slope), SURE, WIDTH_MM, start_mm, end_mm)


def test_straight_grain_never_leaves() -> None:
    """Lines that run along the side do not leave it."""
    assert follow(0.0) == ()


@pytest.mark.parametrize("slope", [0.02, 0.05, -0.05, -0.125])
def test_a_line_leaves_where_its_distance_is_used_up(slope: float) -> None:
    """At 1 in N a line leaves N times its distance from the corner on, over the corner it climbs to."""
    ends = follow(slope, start_mm=100.0)

    assert ends
    for end in ends:
        height_mm = WIDTH_MM * end.line / 10
        distance_mm = WIDTH_MM - height_mm if slope > 0 else height_mm
        assert end.position_mm == pytest.approx(100.0 + distance_mm / abs(slope))
        assert end.corner == ("upper" if slope > 0 else "lower")
        assert end.slope == pytest.approx(slope)


def test_lines_that_reach_the_end_do_not_leave() -> None:
    """Of nine lines at 1 in 50, only those within 1/50 of the length of the corner leave."""
    assert [end.line for end in follow(0.02, end_mm=1001.0)] == [5, 6, 7, 8, 9]


def test_grain_that_turns_back_may_stay() -> None:
    """Grain that rises 3 mm and falls back takes no line over a corner 4 mm away."""
    slope = np.where(GRID_MM < 600.0, 0.005, -0.005)

    assert follow_lines(GRID_MM, slope, SURE, WIDTH_MM, 0.0, 1200.0) == ()


def test_a_ramp_of_slope_is_followed_as_a_parabola() -> None:
    """On slope growing as p / 20000 the rise is p squared / 40000: line 5 has risen 20 mm after 894.4 mm."""
    ends = follow_lines(GRID_MM, GRID_MM / 20000.0, SURE, WIDTH_MM, 0.0, 2000.0)
    line_5 = next(end for end in ends if end.line == 5)

    assert line_5.position_mm == pytest.approx(np.sqrt(20.0 * 40000.0), abs=0.1)
    assert line_5.slope == pytest.approx(line_5.position_mm / 20000.0)


@given(slope=st.floats(-0.2, 0.2), start_mm=st.floats(0.0, 900.0))
def test_turned_half_around_lines_leave_over_the_other_corner(slope: float, start_mm: float) -> None:
    """Turning the sign of the grain turns lower and upper, and line 1 into line 9."""
    rising, falling = follow(slope, start_mm), follow(-slope, start_mm)
    turned = {LINES + 1 - end.line: end for end in falling}

    assert len(rising) == len(falling)
    for end in rising:
        assert turned[end.line].position_mm == pytest.approx(end.position_mm)
        assert turned[end.line].corner != end.corner


def test_a_short_gap_is_bridged() -> None:
    """One unread position changes nothing on even grain."""
    slope = np.where(GRID_MM == 500.0, np.nan, 0.05)

    ends, whole = follow_lines(GRID_MM, slope, SURE, WIDTH_MM, 0.0, 2000.0), follow(0.05)

    assert [end.position_mm for end in ends] == pytest.approx([end.position_mm for end in whole])


def test_beyond_a_long_gap_nothing_is_claimed() -> None:
    """Lines that have not left before 6 in of unread wood are not said to leave at all."""
    slope = np.where((GRID_MM >= 400.0) & (GRID_MM <= 550.0), np.nan, 0.05)
    ends = follow_lines(GRID_MM, slope, SURE, WIDTH_MM, 0.0, 2000.0)

    assert [end.line for end in ends] == [6, 7, 8, 9]
    assert max(end.position_mm for end in ends) < 400.0


@pytest.mark.parametrize(("last_read_mm", "reach_mm"), [(1900.0, 2000.0), (1850.0, 1850.0)])
def test_lines_go_on_into_an_unread_end_only_when_it_is_short(last_read_mm: float, reach_mm: float) -> None:
    """Four inches unread at the far end are bridged to the end, six are not entered at all."""
    slope = np.where(last_read_mm < GRID_MM, np.nan, 0.001)

    assert line_rise(GRID_MM, slope, 0.0, 2000.0)[0][-1] == pytest.approx(reach_mm)


@pytest.mark.parametrize("start_mm", [430.0, 500.0, 2200.0, 5000.0])
def test_a_start_in_unread_wood_gives_no_line(start_mm: float) -> None:
    """Where the start itself was not read, or lies beyond the board, no line is followed."""
    slope = np.where((GRID_MM >= 400.0) & (GRID_MM <= 550.0), np.nan, 0.05)

    assert line_rise(GRID_MM, slope, start_mm, start_mm + 500.0)[0].size == 0
    assert follow_lines(GRID_MM, slope, SURE, WIDTH_MM, start_mm, start_mm + 500.0) == ()


def test_an_unread_side_gives_no_line() -> None:
    """A side with no reading at all has no line to follow."""
    assert follow_lines(GRID_MM, np.full(GRID_MM.shape, np.nan), SURE, WIDTH_MM, 0.0, 2000.0) == ()


def test_grain_under_tape_is_what_begins_beside_it() -> None:
    """Three inches unread at the marked end change nothing on even grain."""
    slope = np.where(GRID_MM < 75.0, np.nan, 0.05)
    ends = follow_lines(GRID_MM, slope, SURE, WIDTH_MM, 0.0, 2000.0)

    assert [end.position_mm for end in ends] == pytest.approx([end.position_mm for end in follow(0.05)])


def test_the_error_of_a_place_grows_with_the_way_and_with_flatter_grain() -> None:
    """A slope good to 0.002 places a line that climbs 20 mm at 1 in 20 within 16 mm, at 1 in 40 within 64 mm."""
    steep, flat = (next(end for end in follow(slope) if end.line == 5) for slope in (0.05, 0.025))

    assert steep.position_error_mm == pytest.approx(400 * 0.002 / 0.05)
    assert flat.position_error_mm == pytest.approx(800 * 0.002 / 0.025)
