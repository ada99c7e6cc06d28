"""The margin: what slope leaves where the bow works, against hand-worked places and laws of any board."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.board.types import BoardReading
from service.judge.alternatives import weigh_length
from service.judge.combined import Bounds
from service.judge.limits import DEFAULT
from service.judge.margin import least_left, left_over_strain, margin_of
from service.judge.record import Margin
from service.judge.score import Choice, choose
from service.judge.shape import BowShape
from service.judge.strain import strain_share
from service.judge.strength import Curve, hankinson
from tests.judge.made import bump, make_reading

BOW_MM = 1676.4
SHAPE = BowShape(BOW_MM, 38.1)

few = settings(max_examples=40, deadline=None)


def margin(reading: BoardReading, face: str = "face_1", start: int | None = None) -> Margin:
    """Tell the margin of the best section, or of the one at a start."""
    weighed = weigh_length(reading, BOW_MM, DEFAULT)
    choice = choose(weighed, DEFAULT)
    if start is not None:
        choice = Choice(choice.verdict, start, choice.back_row)
    return margin_of(weighed.search, choice, SHAPE, "face_1" if face == "face_1" else "face_2")


def board_with(hill_mm: float, height: float = 0.04, length_mm: float = BOW_MM) -> BoardReading:
    """Make a board of the bow's length, 1 in 200 with a hill of slope on face 1."""
    positions_mm = make_reading(length_mm=length_mm).positions_mm
    return make_reading({"face_1": 0.005 + bump(positions_mm, hill_mm, 60.0, height)}, length_mm=length_mm)


def test_a_steep_place_where_the_bow_works_hard_counts_in_full() -> None:
    """A steep place in the inner limb, 24 in from the tip, is where least is left, and the words say so."""
    told = margin(board_with(24 * 25.4))

    assert abs(told.least_position_mm - 24 * 25.4) < 60.0
    assert "works hard" in told.text
    assert "counts in full" in told.text


def test_a_steep_place_near_a_tip_takes_less_of_the_margin() -> None:
    """A steep place 4 in from the tip leaves more than one 28 in from it, and the words say why."""
    near_tip, inner = margin(board_with(4 * 25.4)), margin(board_with(28 * 25.4))

    assert near_tip.least > inner.least + 0.1
    assert "toward a tip" in near_tip.text
    assert "less of the margin" in near_tip.text


def test_a_steep_place_in_the_handle_takes_less_of_the_margin() -> None:
    """The handle is deep and hardly bends."""
    told = margin(board_with(0.5 * BOW_MM, 0.045))

    assert "in the handle" in told.text
    assert "less of the margin" in told.text


@pytest.mark.parametrize("hill_mm", [100.0, 600.0, 838.2])
def test_the_words_leave_the_verdict_to_the_plain_limit(hill_mm: float) -> None:
    """Wherever the steep place lies, the text says that the margin decides nothing."""
    assert "the verdict rests on the plain limit" in margin(board_with(hill_mm)).text


def test_even_and_straight_grain_have_no_steepest_place() -> None:
    """Even grain counts where the bow works hardest; straight grain costs nothing."""
    even, straight = margin(make_reading({"face_1": 0.02})), margin(make_reading())

    assert "about evenly, 1 in 50" in even.text
    assert "straight" in straight.text


def test_margin_of_even_grain_by_hand() -> None:
    """On even grain of 1 in 20 read to 0.1 degree the least is what the weakest curve leaves at the upper end.

    Hankinson's formula for tension, 0.04 and 1.5 (Wood Handbook, from memory): 78.3 % at 1 in 20, and at the peak
    strain that is what is left; the upper end is 1 in 19.3, so a little less.
    """
    told = margin(make_reading({"face_1": 0.05}))
    upper = float(hankinson(np.hypot(0.05 + np.radians(0.1) * (1 + 0.05**2), np.radians(0.1)), Curve(0.04, 1.5)))

    assert told.least < 0.783
    assert told.least == pytest.approx(upper, abs=0.01)
    assert max(told.strength_high) == 1.0


def test_it_is_told_every_inch_from_end_to_end() -> None:
    """The places run from one end of the section to the other, about an inch apart, with the bow's own strain."""
    told = margin(board_with(400.0))
    along_mm = np.array(told.positions_mm) - told.positions_mm[0]

    assert along_mm[-1] == pytest.approx(BOW_MM, abs=0.1)
    assert np.diff(along_mm).max() == pytest.approx(25.4, abs=0.3)
    assert told.strain_share == pytest.approx(strain_share(SHAPE, along_mm).tolist(), abs=0.01)
    assert (told.strain_share[0], told.strain_share[-1]) == (0.0, 0.0)
    assert max(told.strain_share) > 0.95


@few
@given(hill_mm=st.floats(50.0, 1600.0), height=st.floats(0.0, 0.1), more=st.floats(0.0, 0.1))
def test_a_steeper_place_never_leaves_more(hill_mm: float, height: float, more: float) -> None:
    """Grain made steeper anywhere on the back lowers the margin or leaves it."""
    flat, steep = margin(board_with(hill_mm, height), start=0), margin(board_with(hill_mm, height + more), start=0)

    assert steep.least <= flat.least + 1e-4
    assert np.all(np.array(steep.strength_low) <= np.array(flat.strength_low) + 1e-4)


@few
@given(hill_mm=st.floats(50.0, 1600.0), height=st.floats(0.0, 0.1))
def test_the_least_is_the_least_of_what_is_told(hill_mm: float, height: float) -> None:
    """No place told has less left for its strain than the least, and the range is the right way round."""
    told = margin(board_with(hill_mm, height), start=0)
    low, strain = np.array(told.strength_low), np.array(told.strain_share)

    assert np.all(low <= np.array(told.strength_high))
    assert told.least == pytest.approx((low / np.maximum(strain, 0.05)).min(), abs=2e-3)


def test_left_over_strain_by_hand() -> None:
    """1 in 20 leaves 0.783 in tension by the weakest curve: 0.783 at the peak, twice that at half of it."""
    left = left_over_strain(np.array([0.05, 0.05]), np.array([1.0, 0.5]))

    assert left == pytest.approx([0.783, 1.566], abs=0.001)


@few
@given(slope=st.floats(0.0, 0.2), error=st.floats(0.0, 0.05))
def test_the_error_of_the_reading_widens_what_is_left(slope: float, error: float) -> None:
    """What is left as measured lies between what it may be at the two ends of the error."""
    bounds = Bounds(*(np.full(3, max(end, 0.0)) for end in (slope, slope + error, slope - error)))
    left = least_left(bounds, np.array([0.3, 1.0, 0.6]))

    assert left.down >= 0.0
    assert left.up >= 0.0
    assert left.worst <= left.measured <= left.best <= 1.0
