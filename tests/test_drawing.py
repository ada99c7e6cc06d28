"""The drawn boards are what their truth says: fibres, rings, sides, knots, run-offs."""

from dataclasses import replace
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from service.sides import SIDES, side_below, side_opposite
from tests.drawing import Knot, Scene, Solid, over_part, photograph_end, random_solid, side_texture, truth_of
from tests.drawing.checks import ANGLE_TOLERANCE_DEG, level, tensor_angle_deg
from tests.drawing.looks import LOOKS, PALE, TAN, Look
from tests.drawing.solid import fibre_slopes, line_slope_on_side, on_side, place, ring_gradient, slope_on_side

Array = NDArray[Any]

#: A board with everything at once: near pith, changing slopes, interlocked grain, two knots.
CURVED = Solid(
    seed=3,
    length_mm=1500.0,
    width_mm=50.0,
    thickness_mm=20.0,
    pith_mm=(-60.0, -80.0),
    diagonal=((0.0, 0.03), (700.0, -0.02), (1500.0, 0.04)),
    spiral=((0.0, -0.05), (1500.0, 0.06)),
    knots=(Knot(600.0, 20.0, 9.0, (0.6, 0.8), 6.0), Knot(900.0, 30.0, 12.0, (0.0, 1.0), 5.0)),
    spiral_per_mm=0.01,
)


@pytest.fixture
def points() -> tuple[Array, Array, Array]:
    """Points inside the curved board, some of them close to its knots."""
    rng = np.random.default_rng(1)
    along = np.concatenate([rng.uniform(0, 1490, 300), rng.uniform(570, 630, 100), rng.uniform(870, 930, 100)])
    return along, rng.uniform(0, 50, 500), rng.uniform(0, 20, 500)


def test_fibres_lie_in_the_ring_surfaces(points: tuple[Array, Array, Array]) -> None:
    """The fibre's direction has no part across the rings, round knots too."""
    slope_y, slope_z = fibre_slopes(CURVED, *points)
    by_along, by_y, by_z = ring_gradient(CURVED, *points)
    assert np.abs(by_along + slope_y * by_y + slope_z * by_z).max() < 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_boards_by_chance_have_their_fibres_in_their_rings(seed: int) -> None:
    """Whatever board the seed makes, its fibres have no part across its rings."""
    board, rng = random_solid(seed, knots=3), np.random.default_rng(seed)
    at = [rng.uniform(0, length, 400) for length in (board.length_mm, board.width_mm, board.thickness_mm)]
    slope_y, slope_z = fibre_slopes(board, *at)
    by_along, by_y, by_z = ring_gradient(board, *at)
    assert np.abs(by_along + slope_y * by_y + slope_z * by_z).max() < 1e-9


def test_a_fibre_keeps_its_place_in_the_tree(points: tuple[Array, Array, Array]) -> None:
    """Following the stated slopes a short way leads to points that come from the same fibre."""
    along, y_mm, z_mm = points
    step = 0.01
    slope_y, slope_z = fibre_slopes(CURVED, along, y_mm, z_mm)
    before = place(CURVED, along - step, y_mm - step * slope_y, z_mm - step * slope_z)
    after = place(CURVED, along + step, y_mm + step * slope_y, z_mm + step * slope_z)
    moved = np.hypot(after.y_start - before.y_start, after.z_start - before.z_start) / (2 * step)
    # A knot's rim is a kink: the few steps that cross it are left out.
    assert np.quantile(moved, 0.97) < 1e-3


def test_ring_gradient_is_the_slope_of_the_distance_from_the_pith(points: tuple[Array, Array, Array]) -> None:
    """The stated gradient is the difference quotient of the distance from the pith."""

    def distance(*at: Array) -> Array:
        where = place(CURVED, *at)
        return np.hypot(where.y_here, where.z_here)

    for axis, stated in enumerate(ring_gradient(CURVED, *points)):
        ahead, behind = ([part + way * 1e-4 * (index == axis) for index, part in enumerate(points)] for way in (1, -1))
        error = np.abs((distance(*ahead) - distance(*behind)) / 2e-4 - stated)
        assert np.quantile(error, 0.97) < 1e-4


@pytest.mark.parametrize("tilt_deg", [0.0, 30.0, 45.0, 90.0])
def test_slopes_at_the_middle_are_diagonal_and_spiral(tilt_deg: float) -> None:
    """At the middle a = d n_y - s n_z and b = d n_z + s n_y, the relation of diagonal and spiral grain.

    Source: the fibre lies in the ring surface (ANC-19, 1943, 2.302-2.3023: spiral grain in the tangential, diagonal
    grain in the radial plane); the combined slope is the root of the sum of squares (ANC-19, Table 2-11).
    """
    board = level(0.05, 0.04, tilt_deg)
    a, b = fibre_slopes(board, np.array(0.0), np.array(19.05), np.array(9.5))
    n_y, n_z = np.sin(np.radians(tilt_deg)), np.cos(np.radians(tilt_deg))
    assert (float(a), float(b)) == pytest.approx((0.05 * n_y - 0.04 * n_z, 0.05 * n_z + 0.04 * n_y), abs=1e-9)
    assert float(np.hypot(a, b)) == pytest.approx(np.hypot(0.05, 0.04))


def test_combined_slope_of_a_published_example() -> None:
    """1 in 15 and 1 in 20 combine to 1 in 12.0 (ANC-19, 1943, Table 2-11)."""
    a, b = fibre_slopes(level(1 / 15, 1 / 20, 33.0), np.array(0.0), np.array(19.05), np.array(9.5))
    assert 1 / float(np.hypot(a, b)) == pytest.approx(12.0, abs=0.05)


def test_ring_lines_slope_by_diagonal_over_normal() -> None:
    """Lines have slope d / n_y on face 1 and d / n_z on edge 1, whatever the spiral."""
    board = level(0.03, 0.07, 40.0)
    at = np.array([0.0])
    for side in ("face_1", "edge_1"):
        y_mm, z_mm = on_side(board, side, at + board.across_mm(side) / 2)
        n = np.array([y_mm[0] - board.pith_mm[0], z_mm[0] - board.pith_mm[1]])
        n /= np.linalg.norm(n)
        diagonal = 0.03 * float(n @ board.normal_yz)
        line = float(line_slope_on_side(board, side, at, at + board.across_mm(side) / 2)[0])
        assert line == pytest.approx(diagonal / n[0 if side == "face_1" else 1])


@pytest.mark.parametrize("side", SIDES)
def test_neighbouring_sides_share_their_corner(side: str) -> None:
    """A side's lower corner is the upper corner of the next one: the same points and the same wood."""
    below = side_below(side)
    here = on_side(CURVED, side, np.zeros(1))
    there = on_side(CURVED, below, np.full(1, CURVED.across_mm(below)))
    assert [float(part[0]) for part in here] == [float(part[0]) for part in there]
    rows = [side_texture(CURVED, name, 20.0, 300.0, 380.0)[row] for name, row in ((side, -1), (below, 0))]
    assert np.corrcoef(*rows)[0, 1] > 0.8


@pytest.mark.parametrize("side", ["face_1", "edge_1"])
def test_opposite_sides_mirror(side: str) -> None:
    """With a far pith, what rises on a side falls equally on the opposite one; crook does so exactly."""
    board = level(0.03, 0.04, 40.0, crook_mm=4.0, bow_mm=-3.0)
    along, middle = np.linspace(0, 1000, 11), board.across_mm(side) / 2
    here, there = (slope_on_side(board, name, along, np.array(middle)) for name in (side, side_opposite(side)))
    assert np.abs(here).min() > 0.005
    assert here == pytest.approx(-there, abs=0.004)
    assert board.crook_at(side, along) == pytest.approx(-board.crook_at(side_opposite(side), along))


@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS)
@pytest.mark.parametrize(("side", "tilt_deg"), [("face_1", 0.0), ("face_2", 0.0), ("edge_1", 90.0), ("edge_2", 90.0)])
def test_fine_texture_follows_the_fibre(side: str, tilt_deg: float, look: Look) -> None:
    """Where rings make no lines, the drawn texture runs at the fibre's slope (1 in 14), with its sign.

    Measured with scikit-image's structure tensor, which knows nothing of how it was drawn.
    """
    board = level(0.001, 1 / 14, tilt_deg, look=replace(look, ring_depth=0.0))
    slope = float(slope_on_side(board, side, np.array(350.0), np.array(board.across_mm(side) / 2)))
    assert (slope > 0) is (side in ("face_2", "edge_1"))
    measured = tensor_angle_deg(side_texture(board, side, 12.0, 310.0, 390.0))
    assert measured == pytest.approx(np.degrees(np.arctan(slope)), abs=ANGLE_TOLERANCE_DEG)


def test_interlocked_grain_is_drawn_at_its_own_slope_on_each_face() -> None:
    """Where spiral changes with the distance from the pith, far along the board too, each face shows its own."""
    look = replace(PALE, ring_depth=0.0)
    board = Solid(
        4, 1800.0, 38.1, 19.05, (19.05, -110.0), ((0.0, 0.002),), ((0.0, 0.05),), look=look, spiral_per_mm=-0.05
    )
    truth = truth_of(board)["sides"]
    means = []
    for side in ("face_1", "face_2"):
        means.append(float(np.interp(1600.0, truth[side]["positions_mm"], truth[side]["angle_deg"])))
        measured = tensor_angle_deg(side_texture(board, side, 12.0, 1560.0, 1640.0))
        assert measured == pytest.approx(means[-1], abs=ANGLE_TOLERANCE_DEG)
    assert -means[0] < 0.6 * means[1]


@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS)
@pytest.mark.parametrize("side", SIDES)
def test_lines_seen_from_afar_are_the_rings(side: str, look: Look) -> None:
    """At a whole-length photo's scale the lines of a rift board run nearer to the rings than to the fibre."""
    board = level(0.04, 0.0, 45.0, look=look)
    at, middle = np.array(500.0), np.array(board.across_mm(side) / 2)
    rings, fibre = (
        float(np.degrees(np.arctan(find(board, side, at, middle)))) for find in (line_slope_on_side, slope_on_side)
    )
    measured = tensor_angle_deg(side_texture(board, side, 3.0))
    assert abs(measured - rings) < 0.4 * abs(rings - fibre)


def test_end_shows_rings_with_y_to_the_left() -> None:
    """Head on with face 1 up, rings whose normal points up and to y's end lean as y running left demands."""
    jpeg, truth = photograph_end(level(0.0, 0.0, 45.0, look=TAN), over_part(19.0, 80.0, cols=1200, rows=900), Scene(1))
    picture = np.asarray(Image.open(BytesIO(jpeg)).convert("L"), np.float64) / 255
    cols, rows = np.array(truth["corners_px"]).T
    cut = picture[int(rows.min()) + 12 : int(rows.max()) - 12, int(cols.min()) + 12 : int(cols.max()) - 12]
    # Normal (0.7, 0.7) in (y, z) points up and left in the picture: its lines rise to the right at 45 degrees.
    assert tensor_angle_deg(cut) == pytest.approx(45.0, abs=8.0)


def test_knot_truth_is_where_the_dark_ellipse_is_drawn() -> None:
    """A knot through the faces shows dark inside its stated rectangle on both faces, mirrored, on no edge."""
    board = level(0.0, 0.0, 0.0, knots=(Knot(500.0, 12.0, 9.5, (0.0, 1.0), 5.0),))
    sides = truth_of(board)["sides"]
    assert not sides["edge_1"]["knots"]
    for side, middle in (("face_1", 12.0), ("face_2", 38.1 - 12.0)):
        (box,) = sides[side]["knots"]
        assert (box["across_from_mm"] + box["across_to_mm"]) / 2 == pytest.approx(middle, abs=0.2)
        strip = side_texture(board, side, 4.0)
        rows = slice(round((38.1 - box["across_to_mm"]) * 4), round((38.1 - box["across_from_mm"]) * 4))
        inside = strip[rows, round(box["from_mm"] * 4) : round(box["to_mm"] * 4)]
        assert inside.mean() < strip.mean() - 0.25


@pytest.mark.parametrize("side", SIDES)
def test_runoffs_of_an_even_slope_follow_from_hand_arithmetic(side: str) -> None:
    """Line k of nine leaves after (10 - k) / 10 of the width over the slope, or k / 10 where it falls."""
    board = level(0.06, 0.0, 45.0)
    truth = truth_of(board)["sides"][side]
    slope = float(np.mean(np.tan(np.radians(truth["angle_deg"]))))
    for run in truth["runoffs"]:
        share = 1 - run["line"] / 10 if slope > 0 else run["line"] / 10
        assert run["position_mm"] == pytest.approx(board.across_mm(side) * share / abs(slope), rel=0.04)
        assert run["over"] == (SIDES[SIDES.index(side) - 1] if slope > 0 else side_below(side))
    assert len(truth["runoffs"]) == (9 if side.startswith("edge") else len(truth["runoffs"]))
