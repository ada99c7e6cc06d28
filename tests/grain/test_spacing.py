"""Frequency of ring lines across a side."""

import numpy as np
import pytest

from service.grain.spacing import lines_per_mm

MM_PER_PX = 0.5


@pytest.mark.parametrize("period_mm", [3.0, 6.0, 10.0])
@pytest.mark.parametrize("slope", [0.0, 0.06])
def test_lines_are_counted_along_their_slope(period_mm: float, slope: float) -> None:
    """Lines so far apart give one over that, also when they climb, and under noise of their own strength."""
    row, column = np.arange(160)[:, None], np.arange(2000)[None]
    strip = 0.5 + 0.05 * np.sin(2 * np.pi * (row + slope * column) * MM_PER_PX / period_mm)
    strip = strip + 0.05 * np.random.default_rng(4).standard_normal(strip.shape)
    found = lines_per_mm(strip.astype(np.float32), MM_PER_PX, np.full(100, slope))

    assert found == pytest.approx(1 / period_mm, rel=0.1)


def test_a_strip_too_short_to_average_gives_nothing() -> None:
    """Less than six inches of board hold no average."""
    assert np.isnan(lines_per_mm(np.full((100, 200), 0.5, np.float32), MM_PER_PX, np.zeros(10)))
