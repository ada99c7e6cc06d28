"""Rings in the picture of a board's end."""

import numpy as np
import pytest

from service.errors import Problem
from service.grain.rings import EndRings, read_end_rings
from tests.grain.strips import Float

MM_PER_PX = 0.1
WIDTH_MM, THICKNESS_MM = 60.0, 19.0

#: Drawn rings with noise half their contrast are placed this well.
NORMAL_DEG = 2.0


def drawn_end(pith_mm: tuple[float, float], noise: float = 0.03, contrast: float = 0.06) -> Float:
    """Draw an end with rings 2.4 mm wide about a pith (y from the left, z from the lower side)."""
    rows, cols = round(THICKNESS_MM / MM_PER_PX), round(WIDTH_MM / MM_PER_PX)
    y_mm = (np.arange(cols) + 0.5) * MM_PER_PX
    z_mm = THICKNESS_MM - (np.arange(rows) + 0.5) * MM_PER_PX
    radius = np.hypot(y_mm[None] - pith_mm[0], z_mm[:, None] - pith_mm[1])
    picture = 0.6 + contrast * np.sin(2 * np.pi * radius / 2.4)
    picture += noise * np.random.default_rng(1).standard_normal(picture.shape)
    return np.asarray(picture, np.float32)


@pytest.mark.parametrize("pith_mm", [(30.0, -80.0), (-40.0, -60.0), (100.0, 90.0), (-150.0, 5.0), (20.0, 130.0)])
def test_pith_is_found_from_the_arcs(pith_mm: tuple[float, float]) -> None:
    """The ring normal at the middle points away from the pith, and the curve gives its distance."""
    found = read_end_rings(drawn_end(pith_mm), MM_PER_PX)
    away = np.subtract((WIDTH_MM / 2, THICKNESS_MM / 2), pith_mm)
    distance_mm = float(np.linalg.norm(away))

    assert isinstance(found, EndRings)
    assert float(np.dot(found.normal_yz, away / distance_mm)) > np.cos(np.radians(NORMAL_DEG))
    assert 1 / found.curve_per_mm == pytest.approx(distance_mm, rel=0.25)


def test_far_pith_gives_a_direction_and_no_place() -> None:
    """Rings as good as straight tell which way they lie, not where the pith is."""
    found = read_end_rings(drawn_end((-6000.0, -6000.0)), MM_PER_PX)

    assert isinstance(found, EndRings)
    assert abs(abs(np.dot(found.normal_yz, (0.7071, 0.7071))) - 1) < 1e-3
    assert found.curve_per_mm < 1 / 1000


def test_an_end_without_rings_is_unread() -> None:
    """Noise is refused with the way out, not fitted."""
    found = read_end_rings(drawn_end((30, -80), contrast=0.0), MM_PER_PX)

    assert isinstance(found, Problem)
    assert found.code == "end_unread"
    assert "photograph it again" in found.text
