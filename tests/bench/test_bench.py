"""The yardsticks of the accuracy table: what they measure is known here beforehand."""

import numpy as np
import pytest

from service.judge.record_side import Knot, RunOff
from tests.bench.boards import KINDS, ORDINARY_SPIRAL, STRONG_SPIRAL, TILT_DEG, Kind, make_solid
from tests.bench.estimators import gaussian_tensor, radon_slope, shipped_tensor
from tests.bench.plane_waves import WINDOW_COLS, draw_strip, least_error_deg, make_wave
from tests.bench.scoring import match_knots, match_runoffs, runoff_misses_mm


def test_bound_falls_with_noise_and_with_length() -> None:
    """Half the noise halves the least error; twice the length divides it by the square root of eight."""
    wave = make_wave("sine", 8.0)
    once = least_error_deg(wave, 0.0, 1.0)

    assert least_error_deg(wave, 0.0, 2.0) == pytest.approx(once / 2)
    assert least_error_deg(wave, 0.0, 1.0, 2 * WINDOW_COLS) == pytest.approx(once / np.sqrt(8), rel=0.01)


def test_sharper_rings_tell_more() -> None:
    """At one contrast a ring's sharp line allows a smaller error than a sine of the same spacing."""
    assert least_error_deg(make_wave("ring", 20.0), 0.0, 1.0) < 0.8 * least_error_deg(make_wave("sine", 20.0), 0.0, 1.0)


@pytest.mark.parametrize("slope", [-0.06, 0.05])
def test_the_others_read_clean_strips(slope: float) -> None:
    """Without noise the Radon transform and Gaussian derivatives find a drawn slope, sign and all."""
    strip = draw_strip(make_wave("sine", 8.0), slope, 200.0, WINDOW_COLS, np.random.default_rng(1))

    assert radon_slope(strip) == pytest.approx(slope, abs=1.5e-3)
    assert gaussian_tensor(strip) == pytest.approx(slope, abs=1.5e-3)


def test_the_shipped_tensor_reads_fine_lines_too_straight() -> None:
    """Its Sobel derivative flattens lines 4 px apart by about a fifth, so it is no yardstick there."""
    strip = draw_strip(make_wave("sine", 4.0), 0.05, 200.0, WINDOW_COLS, np.random.default_rng(1))

    assert 0.7 < shipped_tensor(strip) / 0.05 < 0.9


@pytest.mark.parametrize("kind", KINDS)
def test_boards_are_of_their_kind(kind: Kind) -> None:
    """Sawing and spiral of made-up boards lie in the bounds their kind promises."""
    solids = [make_solid(kind, "whole", seed) for seed in range(1, 6)]
    tilt_deg = [float(np.degrees(np.arccos(abs(solid.normal_yz[1])))) for solid in solids]
    spiral = [abs(float(np.mean([slope for _, slope in solid.spiral]))) for solid in solids]
    low_deg, high_deg = TILT_DEG[kind]
    least, most = STRONG_SPIRAL if kind == "strong spiral" else (0.0, ORDINARY_SPIRAL)

    assert all(low_deg - 0.5 <= tilt <= high_deg + 0.5 for tilt in tilt_deg)
    assert all(least - 0.005 <= size <= most + 0.005 for size in spiral)


def test_runoffs_pair_once_over_the_same_corner() -> None:
    """Of three found, one fits; one comes second to it and one left over the other corner."""
    found = [
        RunOff(position_mm=at, over=over, slope=0.05, line=1, position_error_mm=20.0)
        for at, over in ((100, "edge_1"), (105, "edge_1"))
    ]
    found.append(RunOff(position_mm=300, over="edge_2", slope=0.05, line=2, position_error_mm=20.0))
    true = [
        {"position_mm": 110.0, "over": "edge_1", "line": 1},
        {"position_mm": 301.0, "over": "edge_1", "line": 2},
    ]

    assert match_runoffs(found, true) == (1, 2, 1)
    assert runoff_misses_mm(found, true) == [10.0, 5.0]


def test_knots_pair_by_their_boxes() -> None:
    """One found knot lies on a true one, one lies nowhere near, and one true knot was missed."""
    true = [
        {"from_mm": 100.0, "to_mm": 112.0, "across_from_mm": 5.0, "across_to_mm": 15.0},
        {"from_mm": 700.0, "to_mm": 712.0, "across_from_mm": 5.0, "across_to_mm": 15.0},
    ]
    found = [
        Knot(from_mm=98, to_mm=110, across_from_mm=6, across_to_mm=14),
        Knot(from_mm=400, to_mm=410, across_from_mm=6, across_to_mm=14),
    ]

    assert match_knots(found, true) == (1, 1, 1)
