"""Rings and lines on four sides to the fibre, by the geometry alone."""

import math

import numpy as np
import pytest

from service.board.fibre import find_fibre
from service.board.plane import UPWARD, in_plane
from service.board.rings import find_rings, local_normal
from service.grain.rings import EndRings
from service.grain.types import CloseGrain, SideGrain
from service.sides import SIDES, BoardSize

SIZE = BoardSize(2000.0, 60.0, 20.0)
COUNT = 60


def grain(slope: float, error: float = 0.002, spread: float = 0.0) -> SideGrain:
    """Make lines of one slope along a side."""
    level = np.full(COUNT, slope)
    wide = np.full(COUNT, error)
    return SideGrain(level, wide, level, wide, level, wide, np.full(COUNT, spread))


def ring_lines(diagonal: float, tilt_deg: float) -> tuple[dict[str, SideGrain], EndRings]:
    """Return what a board with far pith shows: d / n_y on faces, d / n_z on edges, mirrored behind."""
    n_y, n_z = math.sin(math.radians(tilt_deg)), math.cos(math.radians(tilt_deg))
    end = EndRings((n_y, n_z), 0.0, 2.0)
    sides = {side: grain(UPWARD[side] * diagonal / (n_y if "face" in side else n_z)) for side in SIDES}
    return sides, end


def closeup(slope: float) -> CloseGrain:
    """Make a close-up of one slope."""
    return CloseGrain(slope, 0.002, slope, 0.0005)


@pytest.mark.parametrize("tilt_deg", [30.0, 45.0, 60.0])
def test_rift_lines_are_steeper_than_the_fibre(tilt_deg: float) -> None:
    """At 45 degrees each line reads 1.41 d and the hypotenuse of two lines 2 d; the fibre's slope is d."""
    diagonal = 0.04
    sides, end = ring_lines(diagonal, tilt_deg)
    found = find_fibre(SIZE, sides, {}, end)
    a, b = (math.tan(math.radians(found.angle_deg[side][30])) for side in ("face_1", "edge_1"))

    assert math.hypot(a, b) == pytest.approx(diagonal, rel=1e-6)
    if tilt_deg == 45.0:
        lines = math.hypot(sides["face_1"].line[30], sides["edge_1"].line[30])
        assert lines == pytest.approx(2 * diagonal, rel=1e-6)


def test_spiral_from_a_close_up_turns_the_flat_face() -> None:
    """Flat-sawn: the edge lines give d, the close-up of the face gives s, and nothing else does."""
    end = EndRings((0.0, 1.0), 0.0, 2.0)
    sides = {
        side: grain(UPWARD[side] * 0.01 if "edge" in side else 0.0, spread=0.1 * ("face" in side)) for side in SIDES
    }
    found = find_fibre(SIZE, sides, {"face_1": [closeup(-0.06)]}, end)

    assert found.spiral_seen
    assert found.spiral[0] == pytest.approx(0.06, abs=0.012)
    assert found.angle_deg["face_1"][30] == pytest.approx(-math.degrees(math.atan(found.spiral[0])), abs=0.01)
    assert found.angle_deg["face_2"][30] == pytest.approx(-found.angle_deg["face_1"][30], abs=1e-9)
    assert found.angle_deg["edge_1"][30] == pytest.approx(math.degrees(math.atan(0.01)), abs=0.05)


def test_without_close_ups_the_spiral_is_unseen_and_the_interval_wide() -> None:
    """Nothing showed the fibre: the flat face's interval takes in ordinary spiral."""
    end = EndRings((0.0, 1.0), 0.0, 2.0)
    sides = {side: grain(0.0, spread=0.1 * ("face" in side)) for side in SIDES}
    found = find_fibre(SIZE, sides, {}, end)

    assert not found.spiral_seen
    assert found.error_deg["face_1"][30] > 1.4
    assert found.error_deg["edge_1"][30] < 0.8


def test_ring_normal_from_lines_alone() -> None:
    """Face and edge lines stand as n_z to n_y, so without the end photo they give the ring normal."""
    sides, _ = ring_lines(0.05, 55.0)
    found = find_fibre(SIZE, sides, {}, None)

    assert found.rings is not None
    assert found.rings.sources == ("slopes",)
    assert found.rings.tilt_deg == pytest.approx(55.0, abs=0.1)
    assert found.rings.sawing == "rift"


def test_lines_too_straight_to_tell_give_no_rings() -> None:
    """With no slope anywhere the lines cannot say how the rings lie, and lines stand in for fibre widely."""
    sides = {side: grain(0.0) for side in SIDES}
    found = find_fibre(SIZE, sides, {}, None)

    assert found.rings is None
    assert np.isnan(found.spiral).all()
    assert found.error_deg["face_1"][30] > 1.5


def test_unread_stays_unread() -> None:
    """Where a side's lines are unknown so is its angle, though the other sides know more."""
    sides, end = ring_lines(0.03, 45.0)
    sides["face_1"].line[10:20] = np.nan
    found = find_fibre(SIZE, sides, {}, end)

    assert np.isnan(found.angle_deg["face_1"][10:20]).all()
    assert np.isfinite(found.angle_deg["face_1"][20:]).all()


def test_near_pith_turns_the_normal_from_edge_to_edge() -> None:
    """Rings are arcs: with the pith 50 mm under the middle the two edges' normals mirror each other."""
    rings = find_rings(SIZE, {}, EndRings((0.0, 1.0), 1 / 50, 2.0))

    assert rings is not None
    first, second = local_normal(SIZE, rings, "edge_1"), local_normal(SIZE, rings, "edge_2")

    assert first[0] == pytest.approx(-second[0])
    assert first[0] == pytest.approx(-30 / math.hypot(30, 50), abs=1e-9)


def test_geometry_is_its_own_inverse() -> None:
    """The sums d = a n_y + b n_z and s = b n_y - a n_z give back the d and s that made a and b."""
    n, d, s = (0.6, 0.8), 0.03, -0.02
    a = d * in_plane(n, "face_1")[0] + s * in_plane(n, "face_1")[1]
    b = d * in_plane(n, "edge_1")[0] + s * in_plane(n, "edge_1")[1]

    assert a * n[0] + b * n[1] == pytest.approx(d)
    assert b * n[0] - a * n[1] == pytest.approx(s)
    assert math.hypot(a, b) == pytest.approx(math.hypot(d, s))


def test_interlocked_grain_is_told_face_by_face() -> None:
    """Close-ups of the two faces that contradict each other mean that the fibre turns through the board."""
    end = EndRings((0.0, 1.0), 0.0, 2.0)
    sides = {side: grain(0.0, spread=0.1) if "face" in side else grain(UPWARD[side] * 0.01) for side in SIDES}
    found = find_fibre(SIZE, sides, {"face_1": [closeup(-0.01)], "face_2": [closeup(0.08)]}, end)
    slopes = {side: math.tan(math.radians(found.angle_deg[side][30])) for side in ("face_1", "face_2")}

    assert slopes["face_1"] == pytest.approx(-0.01, abs=0.01)
    assert slopes["face_2"] == pytest.approx(0.08, abs=0.01)
    assert found.error_deg["edge_1"][30] < found.error_deg["face_1"][30]
