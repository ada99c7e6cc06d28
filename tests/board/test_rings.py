"""How the rings lie: three readings, one checked by another."""

import math

import numpy as np
import pytest

from service.board.plane import UPWARD
from service.board.rings import find_rings
from service.grain.rings import EndRings
from service.grain.types import SideGrain
from service.sides import FACES, SIDES, BoardSize

SIZE = BoardSize(2000.0, 60.0, 20.0)
COUNT = 60


def side(slope: float, spread: float = 0.0, per_mm: float = 0.0) -> SideGrain:
    """Make a side of one slope, spread of its thirds, and frequency of ring lines."""
    level, error = np.full(COUNT, slope), np.full(COUNT, 0.002)
    return SideGrain(level, error, level, error, level, error, np.full(COUNT, spread), (), per_mm)


def board(tilt_deg: float, diagonal: float, *, slopes: bool = True, spacing: bool = True) -> dict[str, SideGrain]:
    """Return what a board with far pith shows: lines d / n_y on faces, d / n_z on edges, n_y and n_z as often."""
    n_y, n_z = math.sin(math.radians(tilt_deg)), math.cos(math.radians(tilt_deg))
    sides = {}
    for name in SIDES:
        cut = n_y if name in FACES else n_z
        sides[name] = side(UPWARD[name] * diagonal / cut if slopes else 0.0, per_mm=0.3 * cut if spacing else 0.0)
    return sides


def found_deg(sides: dict[str, SideGrain], end: EndRings | None = None) -> tuple[float, tuple[str, ...]]:
    """Return the tilt and where it came from."""
    rings = find_rings(SIZE, sides, end)
    assert rings is not None
    return rings.tilt_deg, rings.sources


@pytest.mark.parametrize("tilt_deg", [20.0, 45.0, 70.0])
def test_line_slopes_give_the_tilt_and_spacings_agree(tilt_deg: float) -> None:
    """Faces to edges stand as n_z to n_y in slope; the frequencies, as n_y to n_z, do not contradict."""
    tilt, sources = found_deg(board(tilt_deg, 0.05))

    assert tilt == pytest.approx(tilt_deg, abs=4)
    assert sources == ("slopes", "spacing")


def test_steep_even_lines_on_faces_are_no_v_shapes() -> None:
    """Ring lines at 1 in 10 on both faces, their thirds a little apart, still stand to the edges' as n_z to n_y."""
    sides = board(25.0, 0.045)
    for face in FACES:
        sides[face] = side(float(sides[face].ring[0]), spread=0.03)

    assert found_deg(sides)[0] == pytest.approx(25.0, abs=3)


def test_v_shapes_on_both_faces_say_flat_sawn() -> None:
    """Faces whose thirds run apart and that agree in no slope lie along the rings."""
    sides = {name: side(0.0, spread=0.1) if name in FACES else side(UPWARD[name] * 0.02) for name in SIDES}
    rings = find_rings(SIZE, sides, None)

    assert rings is not None
    assert rings.sawing == "flat"
    assert rings.tilt_deg == pytest.approx(0.0, abs=1e-9)


def test_an_end_that_contradicts_the_lines_is_believed_less() -> None:
    """Lines that want 70 degrees leave an end of 10 degrees as it is, with a wider error."""
    angle_rad = math.radians(80.0)
    end = EndRings((math.cos(angle_rad), math.sin(angle_rad)), 0.0, 3.0)
    alone, against = (find_rings(SIZE, sides, end) for sides in ({}, board(70.0, 0.05)))

    assert alone is not None
    assert against is not None
    assert against.sources == ("end",)
    assert against.tilt_deg == pytest.approx(alone.tilt_deg)
    assert against.error_deg > alone.error_deg


def test_a_near_pith_leaves_the_middle_less_sure_than_the_end() -> None:
    """The pith runs off against the board, so an end's normal is worth less a yard away when the pith is near."""
    far, near = (find_rings(SIZE, {}, EndRings((0.0, 1.0), curve, 3.0)) for curve in (0.0, 1 / 60))

    assert far is not None
    assert near is not None
    assert far.error_deg == pytest.approx(3.0)
    assert near.error_deg > 2 * far.error_deg
    assert near.pith_mm == pytest.approx((30.0, 10.0 - 60.0))


def test_nothing_tells_nothing() -> None:
    """Straight lines everywhere, and frequencies half way between flat and quarter, say nothing."""
    assert find_rings(SIZE, board(45.0, 0.0, slopes=False), None) is None
    assert find_rings(SIZE, board(45.0, 0.0, slopes=False, spacing=False), None) is None
