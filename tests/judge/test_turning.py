"""Opposite sides that disagree, sides that are missing, and the bounds of the combined slope."""

import numpy as np
import pytest

from service.judge.judge import judge
from service.judge.limits import DEFAULT
from service.judge.turning import turning_notes
from tests.judge.made import angle_of, bump, change_side, make_reading, without

LENGTH_MM = 1930.4


def test_sides_that_mirror_each_other_agree() -> None:
    """A board whose fibre runs alike all through gives no note."""
    assert turning_notes(make_reading({"face_1": 0.04, "edge_1": -0.02}), DEFAULT) == []


def test_the_place_where_sides_disagree_most_is_told() -> None:
    """Where face 1 alone has a hill of slope the note names that place, the difference and the steeper side's rule."""
    positions_mm = make_reading(length_mm=LENGTH_MM).positions_mm
    reading = make_reading({"face_1": bump(positions_mm, 900.0, 150.0, 0.05), "face_2": 0.0}, length_mm=LENGTH_MM)
    (note,) = turning_notes(reading, DEFAULT)

    assert note.code == "turns_through"
    assert note.position_mm == pytest.approx(900.0, abs=15.0)
    assert "1 in 20" in note.text or "1 in 21" in note.text
    assert "thickness" in note.text


def test_a_difference_within_the_error_is_no_turn() -> None:
    """Sides that differ by 1 in 40 and are read to 1.5 degrees do not contradict each other."""
    sure = make_reading({"face_1": 0.025, "face_2": 0.0}, error_deg=0.2)
    unsure = make_reading({"face_1": 0.025, "face_2": 0.0}, error_deg=1.5)

    assert [note.code for note in turning_notes(sure, DEFAULT)] == ["turns_through"]
    assert turning_notes(unsure, DEFAULT) == []


def test_the_steeper_of_two_edges_counts_not_their_mean() -> None:
    """Edges at 1 in 17 and straight fail the board as edges at 1 in 17 both do."""
    one = make_reading({"edge_1": 1 / 17, "edge_2": 0.0}, length_mm=LENGTH_MM)
    both = make_reading({"edge_1": 1 / 17}, length_mm=LENGTH_MM)
    answers = [judge(reading, 1727.2) for reading in (one, both)]

    assert [answer.verdict for answer in answers] == ["fail", "fail"]
    assert any(reason.code == "turns_through" for reason in answers[0].reasons)
    assert all(reason.code != "turns_through" for reason in answers[1].reasons)


@pytest.mark.parametrize("side", ["face_2", "edge_2"])
def test_a_missing_side_widens_the_bounds(side: str) -> None:
    """Without one side the combined slope stays, its upper end rises, and its lower end rises never."""
    whole = make_reading({"face_1": 0.04, "edge_1": 0.03}, length_mm=LENGTH_MM)
    full, less = (judge(reading, 1727.2).combined_slope for reading in (whole, without(whole, side)))

    assert full is not None
    assert less is not None
    slope, upper, lower = (np.array(part, float) for part in (less.slope, less.slope_upper, less.slope_lower))
    np.testing.assert_allclose(slope, np.array(full.slope, float))
    assert np.all(upper > np.array(full.slope_upper, float) + 0.01)
    assert np.all(lower <= np.array(full.slope_lower, float))


def test_bounds_hold_the_published_example_and_its_errors() -> None:
    """1 in 15 and 1 in 20 combine to 1 in 12 (ANC-19, 1943, Table 2-11); half a degree on each moves that by as much.

    An error of the same size on both sides moves the slope in space by no more than that.
    """
    reading = make_reading({"face_1": 1 / 15, "edge_1": 1 / 20}, length_mm=LENGTH_MM, error_deg=0.5)
    combined = judge(reading, 1727.2).combined_slope

    assert combined is not None
    half = float(np.radians(0.5))
    for told, right in ((combined.slope, 0.0), (combined.slope_upper, half), (combined.slope_lower, -half)):
        np.testing.assert_allclose(np.array(told, float), 1 / 12 + right, atol=2e-4)


def test_a_side_that_turns_only_where_it_was_read_is_told() -> None:
    """Unread stretches are neither agreement nor disagreement."""
    reading = make_reading({"face_1": 0.04, "face_2": 0.0}, length_mm=LENGTH_MM)
    hidden = np.where(reading.positions_mm < 1500, np.nan, angle_of(0.0))
    (note,) = turning_notes(change_side(reading, "face_2", angle_deg=hidden), DEFAULT)

    assert note.position_mm is not None
    assert note.position_mm >= 1500
