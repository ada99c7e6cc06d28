"""The combined slope against the published table and its printed examples."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge.combined import bound_faces, combine

# ANC-19, Wood Aircraft Inspection and Fabrication, 20 December 1943, Table 2-11: 1 in a on one
# face and 1 in b on the next give 1 in N in space, N printed to a tenth.
ANC_19_TABLE_2_11 = [
    (10, 10, 7.1),
    (14, 14, 9.9),
    (15, 15, 10.6),
    (15, 20, 12.0),
    (20, 20, 14.1),
    (11, 29, 10.3),
    (12, 29, 11.1),
    (20, 29, 16.5),
    (29, 29, 20.5),
    (10, 29, 9.5),
]

# The same, section 2.302: the worked examples in the text, as printed.
ANC_19_EXAMPLES = [(20, 30, 16 + 2 / 3), (20, 25, 15.6), (18, 22, 13.9)]

slopes = st.floats(0.0, 0.3)


def combined_one_in(first: float, second: float) -> float:
    """Combine two slopes given as 1 in N."""
    return 1.0 / float(combine(np.array(1.0 / first), np.array(1.0 / second)))


@pytest.mark.parametrize(("first", "second", "printed"), ANC_19_TABLE_2_11)
def test_combined_slope_is_that_of_the_published_table(first: int, second: int, printed: float) -> None:
    """Every cell of ANC-19 Table 2-11 that was read is met to its last printed digit."""
    assert combined_one_in(first, second) == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(("first", "second", "printed"), ANC_19_EXAMPLES)
def test_combined_slope_is_that_of_the_worked_examples(first: int, second: int, printed: float) -> None:
    """The worked examples of ANC-19 section 2.302 are met to their printed digits."""
    assert combined_one_in(first, second) == pytest.approx(printed, abs=0.05)


def test_combined_slope_is_that_of_the_handbook_example() -> None:
    """Spiral 1 in 12 and diagonal 1 in 18 make about 1 in 10 (Wood Handbook example, from memory)."""
    assert combined_one_in(12, 18) == pytest.approx(10.0, abs=0.05)


@pytest.mark.parametrize(("one_in", "angle_deg"), [(20, 2.862), (15, 3.814), (12, 4.764), (10, 5.711), (5, 11.310)])
def test_one_in_n_in_degrees(one_in: int, angle_deg: float) -> None:
    """A slope of 1 in N along one face alone is the arc tangent of 1/N in space."""
    alone = float(combine(np.array(1.0 / one_in), np.array(0.0)))

    assert math.degrees(math.atan(alone)) == pytest.approx(angle_deg, abs=0.0005)


@given(first=slopes, second=slopes, first_error=slopes, second_error=slopes)
def test_interval_holds_the_slope_and_lies_in_the_box(
    first: float, second: float, first_error: float, second_error: float
) -> None:
    """The interval of a combined slope holds it and never goes beyond the corners of the two errors' box."""
    slope = {"face_1": first, "face_2": 0.0, "edge_1": second, "edge_2": 0.0}
    error = {"face_1": first_error, "face_2": 0.0, "edge_1": second_error, "edge_2": 0.0}
    bounds = bound_faces(
        {name: np.array([value]) for name, value in slope.items()},
        {name: np.array([value]) for name, value in error.items()},
    )["face_1"]

    lower, measured, upper = (float(part[0]) for part in (bounds.lower, bounds.measured, bounds.upper))
    assert lower <= measured + 1e-12
    assert measured <= upper + 1e-12
    assert upper <= math.hypot(first + first_error, second + second_error) + 1e-12


@given(first=slopes, second=slopes, error=slopes, more=slopes)
def test_interval_moves_up_with_the_slope(first: float, second: float, error: float, more: float) -> None:
    """A steeper face never lowers either end of the interval, whatever the errors."""
    ends = []
    for face in (first, first + more):
        slope = {"face_1": face, "face_2": 0.0, "edge_1": second, "edge_2": -second}
        bounds = bound_faces(
            {name: np.array([value]) for name, value in slope.items()},
            {name: np.array([error]) for name in slope},
        )["face_1"]
        ends.append((float(bounds.lower[0]), float(bounds.upper[0])))

    assert ends[1][0] >= ends[0][0] - 1e-12
    assert ends[1][1] >= ends[0][1] - 1e-12


def test_the_steeper_edge_counts() -> None:
    """Of two edges that differ the steeper one is combined with the face, whatever its sign."""
    slope = {"face_1": 0.03, "face_2": 0.0, "edge_1": 0.01, "edge_2": -0.04}
    bounds = bound_faces(
        {name: np.array([value]) for name, value in slope.items()}, {name: np.zeros(1) for name in slope}
    )

    assert float(bounds["face_1"].measured[0]) == pytest.approx(0.05)
    assert float(bounds["face_2"].measured[0]) == pytest.approx(0.04)
