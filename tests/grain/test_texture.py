"""Texture finer than rings along a whole side."""

import cv2
import numpy as np
import pytest

from service.grain.lines import measure_lines
from service.grain.side import read_side
from service.grain.tensor import Float
from service.grain.texture import measure_texture, rings_draw_no_lines
from service.photo.types import Strip

MM_PER_PX = 0.5
ROWS, COLS = 160, 2400


def cathedral(fibre: float, streaks: float = 1.0, seed: int = 2) -> Float:
    """Draw V shapes far steeper than grain over short streaks of a given slope."""
    rng = np.random.default_rng(seed)
    column = np.arange(COLS, dtype=np.float32)[None]
    row = np.arange(ROWS, dtype=np.float32)[:, None]
    arches = np.sin((column - 0.02 * (row - ROWS / 2) ** 2) / 14)
    noise = cv2.GaussianBlur(rng.standard_normal((2 * ROWS, COLS)).astype(np.float32), (0, 0), sigmaX=14, sigmaY=0.8)
    source = row + ROWS / 2 + np.float32(fibre) * (column - COLS / 2)
    fine = cv2.remap(noise, np.broadcast_to(column, source.shape).copy(), source, cv2.INTER_CUBIC)
    speckle = rng.standard_normal((ROWS, COLS))
    return np.asarray(0.6 + 0.03 * arches + 0.03 * streaks * fine / fine.std() + 0.01 * speckle, np.float32)


@pytest.mark.parametrize("fibre", [-0.05, 0.0, 0.03])
def test_fibre_is_read_under_cathedral_figure(fibre: float) -> None:
    """Streaks give their own slope within a third of a degree though V shapes of their contrast cross them."""
    field = measure_texture(cathedral(fibre), MM_PER_PX)
    middle = np.abs(field.positions_mm - COLS * MM_PER_PX / 2) < 200
    assert field.seen[middle].all()
    assert np.degrees(np.arctan(field.slope[middle])).mean() == pytest.approx(np.degrees(np.arctan(fibre)), abs=0.33)


def test_a_side_of_cathedral_figure_is_not_lost() -> None:
    """Its positions count as read, and its texture is handed on."""
    strip = Strip(cathedral(0.02), MM_PER_PX, 0.0, COLS * MM_PER_PX, 2.0, 0.0, np.zeros(0), np.zeros(0), sharpness=1.0)
    grain = read_side([strip], np.arange(100.0, 1100.0, 6.35))
    assert np.isfinite(grain.texture).mean() > 0.95
    assert np.degrees(np.nanmean(grain.texture)) == pytest.approx(np.degrees(0.02), abs=0.33)


def test_plain_straight_lines_need_no_texture() -> None:
    """Where rings draw clear lines along the side nothing else is looked for; V shapes say otherwise."""
    row = np.arange(ROWS)[:, None]
    level = np.broadcast_to(0.6 + 0.05 * np.sin(row / 2.0), (ROWS, COLS)) + 0.005 * np.random.default_rng(
        1
    ).standard_normal((ROWS, COLS))
    plain = measure_lines(level.astype(np.float32), MM_PER_PX)
    arched = measure_lines(cathedral(0.0, streaks=0.0), MM_PER_PX)
    assert not rings_draw_no_lines(plain, np.zeros(plain.slope.shape))
    assert rings_draw_no_lines(arched, np.ptp(arched.band_slope, axis=0))
