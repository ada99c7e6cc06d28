"""Grain lines that leave inside the bow: worked by hand on even slopes, with and without a taper."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.board.types import BoardReading
from service.judge.alternatives import weigh_length
from service.judge.judge import judge
from service.judge.leaving import lines_leaving, runoffs_in_bow
from service.judge.limits import DEFAULT
from service.judge.record_side import RunOff
from service.judge.score import choose
from service.judge.shape import BowShape
from service.sides import BoardSize
from tests.judge.made import make_reading, without

BOW_MM = 1727.2
WIDTH_MM = 38.1
NO_TAPER = BowShape(BOW_MM, WIDTH_MM, tip_mm=WIDTH_MM)

few = settings(max_examples=40, deadline=None)


def followed(reading: BoardReading, shape: BowShape) -> tuple[float, dict[str, list[RunOff]]]:
    """Follow the lines of the best section; return its start and them."""
    weighed = weigh_length(reading, shape.length_mm, DEFAULT)
    start = choose(weighed, DEFAULT).start
    start_mm = float(weighed.search.slopes.lattice.starts_mm[start])
    return start_mm, lines_leaving(reading, weighed.search, start, shape)


def test_without_a_taper_all_lines_of_1_in_50_leave_by_hand() -> None:
    """At 1 in 50 lines leave at 50 times their distance from the corner: line 9, 3.81 mm below it, after 190.5 mm."""
    start_mm, told = followed(make_reading({"face_1": 0.02, "face_2": 0.0}), NO_TAPER)

    assert [off.line for off in told["face_1"]] == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    assert {off.over for off in told["face_1"]} == {"edge_2"}
    for off in told["face_1"]:
        assert off.position_mm - start_mm == pytest.approx((10 - off.line) * 3.81 * 50, abs=0.2)
    assert told["face_2"] == []


def test_lines_that_leave_where_the_limb_narrows_do_not_count() -> None:
    """Over an 18 in (457.2 mm) taper lines 8 and 9 of 1 in 50 leave wood that is cut away, and line 1 at the far tip.

    They leave after 190.5 and 381 mm, line 1 after 1714.5 mm; line 7 leaves after 571.5 mm, in the bow's own corner,
    line 3 after 1333.5 mm, past the 1270 mm at which the far limb begins to narrow.
    """
    _, told = followed(make_reading({"face_1": 0.02, "face_2": 0.0}), BowShape(BOW_MM, WIDTH_MM, taper_mm=457.2))

    assert [off.line for off in told["face_1"]] == [4, 5, 6, 7]


def test_a_narrow_bow_is_left_sooner() -> None:
    """A bow half as wide starts its lines half as far from its corner: they leave after half the length."""
    narrow = BowShape(BOW_MM, 0.5 * WIDTH_MM, tip_mm=0.5 * WIDTH_MM)
    reading = make_reading({"face_1": 0.02})
    start_mm, told = followed(reading, narrow)

    for off in told["face_1"]:
        assert off.position_mm - start_mm == pytest.approx((10 - off.line) * 0.5 * 3.81 * 50, abs=0.2)
    assert len(told["face_1"]) == 9


def test_straight_grain_leaves_nowhere() -> None:
    """Grain that runs along the bow from end to end leaves over no corner, however the bow tapers."""
    _, told = followed(make_reading(), BowShape(BOW_MM, WIDTH_MM))

    assert told == {"face_1": [], "face_2": []}


@few
@given(slope=st.floats(-0.05, 0.05), tip_mm=st.floats(5.0, WIDTH_MM))
def test_a_taper_only_takes_lines_away(slope: float, tip_mm: float) -> None:
    """A tapered bow has no run-off that the straight strip it is cut from has not."""
    reading = make_reading({"face_1": slope}, length_mm=BOW_MM)
    _, strip = followed(reading, NO_TAPER)
    _, bow = followed(reading, BowShape(BOW_MM, WIDTH_MM, tip_mm=tip_mm))

    for face, lines in bow.items():
        assert {off.line for off in lines} <= {off.line for off in strip[face]}


def test_back_and_belly_are_told_by_name() -> None:
    """The back's lines are those of its face, the belly's those of the other."""
    reading = make_reading({"face_1": 0.02, "face_2": 0.0})
    weighed = weigh_length(reading, BOW_MM, DEFAULT)
    start = choose(weighed, DEFAULT).start
    told = runoffs_in_bow(reading, weighed.search, start, NO_TAPER, "face_2")

    assert (len(told.back), len(told.belly)) == (0, 9)


def test_unread_wood_shows_no_run_offs() -> None:
    """A face nobody read is followed nowhere: nothing is claimed of it."""
    reading = without(make_reading({"face_1": 0.02}), "face_2")
    _, told = followed(reading, NO_TAPER)

    assert told["face_2"] == []
    assert len(told["face_1"]) == 9


def test_no_line_leaves_a_bow_laid_along_the_grain() -> None:
    """Grain of 1 in 25 in a 6 in board runs along a bow slanted like it, and across one as wide as the board."""
    reading = replace(make_reading({"face_1": 0.04}, length_mm=2438.4), size=BoardSize(2438.4, 152.4, 19.0))
    slanted, straight = judge(reading, 1727.2, bow_width_mm=38.1), judge(reading, 1727.2)

    assert slanted.runoffs_in_bow is not None
    assert straight.runoffs_in_bow is not None
    assert slanted.runoffs_in_bow.back == slanted.runoffs_in_bow.belly == []
    assert straight.runoffs_in_bow.back
