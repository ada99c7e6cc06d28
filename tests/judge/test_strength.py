"""What slope leaves of strength, against the published formula, its stated fits and the remembered table."""

from itertools import pairwise

import pytest

from service.judge.strength import TABLE_BENDING, TABLE_SLOPE, hankinson, strength_left

# Hankinson's formula worked out by hand calculator for the constants that the Wood Handbook
# (FPL-GTR-190, 2010) p. 5-31 states for bending (0.1, 1.5), impact bending (0.05, 1.5) and compression
# (0.1, 2.5), and for the ends of its ranges for tension and stiffness (from memory); percent.
HANKINSON_PERCENT = {
    (0.10, 1.5): {5: 54.4, 8: 70.2, 10: 76.5, 12: 81.0, 15: 85.6, 20: 90.1, 30: 94.3},
    (0.05, 1.5): {5: 36.9, 8: 53.7, 10: 61.7, 12: 67.9, 15: 74.6, 20: 81.9, 30: 89.2},
    (0.10, 2.5): {5: 89.1, 8: 96.6, 10: 98.1, 12: 98.9, 15: 99.4, 20: 99.8, 30: 99.9},
    (0.05, 2.0): {5: 57.8, 8: 77.4, 10: 84.2, 12: 88.4, 15: 92.2, 20: 95.5, 30: 97.9},
    (0.07, 1.5): {5: 45.2, 8: 62.0, 10: 69.4, 12: 74.8, 15: 80.5, 20: 86.4, 30: 92.1},
    (0.04, 1.5): {5: 31.8, 8: 48.1, 10: 56.3, 12: 62.8, 15: 70.1, 20: 78.3, 30: 86.9},
    (0.12, 2.0): {5: 78.0, 8: 89.9, 10: 93.2, 12: 95.2, 15: 96.9, 20: 98.2, 30: 99.2},
}

# Wood Handbook Table 5-12 (from memory), percent of straight-grained modulus of rupture, and how far
# the handbook's own curve may lie from it in points.
TABLE_5_12_BENDING = {25: 96, 20: 93, 15: 89, 10: 81, 5: 55}
CURVE_TO_TABLE_POINTS = 5.0


@pytest.mark.parametrize("constants", HANKINSON_PERCENT)
def test_hankinson_is_the_published_formula(constants: tuple[float, float]) -> None:
    """Every value of Hankinson's formula is met to 0.1 percent of straight-grained strength."""
    for one_in, percent in HANKINSON_PERCENT[constants].items():
        assert 100 * hankinson(1 / one_in, *constants) == pytest.approx(percent, abs=0.1)


def test_the_bending_curve_is_near_the_remembered_table() -> None:
    """The handbook's curve for bending lies within 5 points of its table's cells (from memory)."""
    for one_in, percent in TABLE_5_12_BENDING.items():
        assert 100 * hankinson(1 / one_in, 0.10, 1.5) == pytest.approx(percent, abs=CURVE_TO_TABLE_POINTS)


def test_the_table_in_use_is_the_remembered_one() -> None:
    """The table behind the upper end holds the cells of Table 5-12 (from memory)."""
    cells = zip(TABLE_SLOPE[1:], TABLE_BENDING[1:], strict=True)
    used = {round(1 / slope): round(100 * share) for slope, share in cells}

    assert used == TABLE_5_12_BENDING


def test_range_holds_every_source() -> None:
    """At 1 in 10 the range runs from the weakest tension curve to the bending table."""
    left = strength_left(1 / 10)

    assert left.low == pytest.approx(0.563, abs=0.001)
    assert left.high == pytest.approx(0.81, abs=0.001)


def test_straight_grain_keeps_all_its_strength() -> None:
    """A slope of nothing leaves everything by every source."""
    left = strength_left(0.0)

    assert (left.low, left.high) == (1.0, 1.0)


def test_strength_only_falls_with_slope() -> None:
    """Neither end of the range rises as the slope grows, past the table's end too."""
    lefts = [strength_left(slope / 100) for slope in range(60)]

    assert all(later.low < earlier.low for earlier, later in pairwise(lefts))
    assert all(later.high <= earlier.high + 0.001 for earlier, later in pairwise(lefts))


def test_sign_of_a_slope_does_not_matter() -> None:
    """Grain that falls is as weak as grain that rises."""
    assert strength_left(-0.07) == strength_left(0.07)
