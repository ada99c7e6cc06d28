"""Places and scales of photos along a board, checked by hand and against another library's least squares."""

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from service.photo.join_match import Match
from service.photo.join_places import COMMON_SCALE, END_MM, SCALE_SPREAD, Join, Piece, Settled, settle

LENGTH_MM = 2000.0


def met(one: int, other: int, shift_mm: float, overlap_mm: float, error_mm: float = 0.5) -> Join:
    """Join two pieces: the other begins `shift_mm` after the first, by both their own scales."""
    one_mm = np.array([shift_mm, shift_mm + overlap_mm])
    return Join(one, other, Match(one_mm, one_mm - shift_mm, error_mm, 20.0, 3.0))


def placed(pieces: list[Piece], joins: list[Join]) -> Settled:
    """Settle all pieces as one group; they can be placed."""
    found = settle(range(len(pieces)), pieces, joins, LENGTH_MM)
    assert found is not None
    return found


def test_a_middle_photo_is_placed_by_its_neighbours() -> None:
    """Two ends and two joins that fit exactly put every photo where it is, at its own scale."""
    pieces = [Piece(800.0, True, False), Piece(800.0, False, False), Piece(800.0, False, True)]
    found = placed(pieces, [met(0, 1, 600.0, 200.0), met(1, 2, 600.0, 200.0)])

    assert [found.places[n].from_mm for n in range(3)] == pytest.approx([0.0, 600.0, 1200.0], abs=1e-6)
    assert [found.places[n].scale for n in range(3)] == pytest.approx([1.0, 1.0, 1.0])
    assert found.places[1].at(800.0) == pytest.approx(1400.0)


def test_what_is_missing_in_length_is_shared_out() -> None:
    """Three equal photos seen 1 % too short together are each stretched by about 1 %, and reach from end to end."""
    pieces = [Piece(792.0, True, False), Piece(792.0, False, False), Piece(792.0, False, True)]
    found = placed(pieces, [met(0, 1, 594.0, 198.0), met(1, 2, 594.0, 198.0)])

    assert [found.places[n].scale for n in range(3)] == pytest.approx([1.0101] * 3, abs=0.002)
    assert found.places[0].from_mm == pytest.approx(0.0, abs=1.0)
    assert found.places[2].at(792.0) == pytest.approx(LENGTH_MM, abs=1.0)


def test_it_is_the_least_squares_solution() -> None:
    """SciPy's solver, given the same statements written out, finds the same places."""
    pieces = [Piece(1100.0, True, False), Piece(1150.0, False, True)]
    found = placed(pieces, [met(0, 1, 870.0, 230.0, error_mm=0.7)])

    join, end, scale, common = 1 / (0.7 * 2**0.5), 1 / END_MM, 1 / SCALE_SPREAD, 1 / COMMON_SCALE
    # Unknowns: place and scale of the first, place and scale of the second, the scale that both would have.
    rows = [
        ([join, join * 870.0, -join, 0.0, 0.0], 0.0),
        ([join, join * 1100.0, -join, -join * 230.0, 0.0], 0.0),
        ([end, 0.0, 0.0, 0.0, 0.0], 0.0),
        ([0.0, 0.0, end, end * 1150.0, 0.0], end * LENGTH_MM),
        ([0.0, scale, 0.0, 0.0, -scale], 0.0),
        ([0.0, 0.0, 0.0, scale, -scale], 0.0),
        ([0.0, 0.0, 0.0, 0.0, common], common),
    ]
    solved = lsq_linear(np.array([row for row, _ in rows]), np.array([value for _, value in rows])).x[:4]
    got = [found.places[0].from_mm, found.places[0].scale, found.places[1].from_mm, found.places[1].scale]
    assert got == pytest.approx(solved.tolist(), rel=1e-5, abs=1e-4)


def test_an_end_that_is_none_is_outvoted() -> None:
    """A shadow taken for the marked end on the second photo does not move the board: the two true ends agree."""
    pieces = [Piece(800.0, True, False), Piece(800.0, True, False), Piece(800.0, False, True)]
    found = placed(pieces, [met(0, 1, 600.0, 200.0), met(1, 2, 600.0, 200.0)])

    assert [found.places[n].from_mm for n in range(3)] == pytest.approx([0.0, 600.0, 1200.0], abs=1e-6)


def test_an_end_beyond_which_the_board_goes_on_is_none() -> None:
    """A photo that reaches 600 mm further left shows that what looks like the second one's marked end is none."""
    pieces = [Piece(800.0, False, False), Piece(800.0, True, False), Piece(800.0, False, True)]
    found = placed(pieces, [met(0, 1, 600.0, 200.0), met(1, 2, 600.0, 200.0)])

    assert found.places[0].from_mm == pytest.approx(0.0, abs=1e-6)


def test_nothing_is_placed_without_an_end() -> None:
    """Joined photos of which none shows an end could lie anywhere."""
    pieces = [Piece(800.0, False, False), Piece(800.0, False, False)]

    assert settle([0, 1], pieces, [met(0, 1, 600.0, 200.0)], LENGTH_MM) is None


def test_ends_that_contradict_each_other_place_nothing() -> None:
    """A middle photo on which both ends were seen, far from the board's length apart, could lie at either."""
    pieces = [Piece(700.0, True, False), Piece(700.0, True, True), Piece(700.0, False, True)]

    assert settle([1], pieces, [], LENGTH_MM) is None


def test_stated_errors_grow_away_from_the_ends() -> None:
    """A chain held at the marked end only is less and less sure of its places; held at both it is surest."""
    joins = [met(0, 1, 450.0, 200.0), met(1, 2, 450.0, 200.0), met(2, 3, 450.0, 200.0)]
    open_end = placed([Piece(650.0, n == 0, False) for n in range(4)], joins)
    held = placed([Piece(650.0, n == 0, n == 3) for n in range(4)], joins)
    errors = [open_end.places[n].error_mm for n in range(4)]

    assert errors == sorted(errors)
    assert held.places[3].error_mm < 0.5 * errors[3]


def test_stated_errors_hold() -> None:
    """With joins, ends and scales as wrong as assumed, 92 % and more of 400 places lie within 1.96 errors."""
    rng = np.random.default_rng(5)
    held = []
    for _ in range(100):
        begins = np.array([0.0, 450.0, 900.0, 1350.0])
        scales = 1 + COMMON_SCALE * rng.standard_normal() + SCALE_SPREAD * rng.standard_normal(4)
        own = 650.0 / scales
        joins = []
        for n in range(3):
            at = begins[n + 1] + np.array([0.0, 200.0])
            one, other = (at - begins[n]) / scales[n], (at - begins[n + 1]) / scales[n + 1]
            joins.append(Join(n, n + 1, Match(one + rng.normal(0, 0.5), other, 0.5, 20.0, 3.0)))
        ends = rng.normal(0, END_MM, 2)
        pieces = [Piece(float(own[n]), n == 0, n == 3) for n in range(4)]
        found = settle(range(4), pieces, joins, LENGTH_MM + float(ends[1]))
        assert found is not None
        held += [abs(found.places[n].from_mm - begins[n]) < 1.96 * found.places[n].error_mm for n in range(4)]
    assert np.mean(held) >= 0.92
