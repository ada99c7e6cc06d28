"""Sides laid out on the lattice: bridges, unread wood, the opposite side, warp."""

from dataclasses import replace

import numpy as np
import pytest

from service.judge.combined import running_mean
from service.judge.lattice import fill_bridges, lay_out, make_lattice, warp_slope
from service.judge.limits import Limits
from tests.judge.made import SPACING_MM, change_side, make_reading, unread, without

LIMITS = Limits()
GRID_MM = np.arange(0.0, 1000.0, SPACING_MM)
CROOK_MM = 0.02
"""How well a warp is followed: the polynomial fits these arcs all but exactly."""


def lattice_of(board_mm: float = 1219.2) -> tuple[np.ndarray, float]:
    """Return a lattice's points and its spacing."""
    lattice = make_lattice(board_mm, 900.0, 3.0, 76.2)
    return lattice.points_mm, lattice.step_mm


def test_points_run_from_end_to_end() -> None:
    """The lattice begins at the marked end and ends at the far end, at most 3 mm apart."""
    points_mm, step_mm = lattice_of(1000.3)

    assert points_mm[0] == 0.0
    assert points_mm[-1] == pytest.approx(1000.3)
    assert step_mm <= 3.0


def test_a_longer_section_keeps_the_points_of_a_shorter_one() -> None:
    """The points do not depend on the section's length, so lengths can be compared."""
    short = make_lattice(1219.2, 900.0, 3.0, 76.2)
    longer = make_lattice(1219.2, 1001.0, 3.0, 76.2)

    np.testing.assert_array_equal(short.points_mm, longer.points_mm)
    assert short.mean_steps == longer.mean_steps


def test_a_section_lies_within_its_points() -> None:
    """No start begins before the board and none ends beyond it."""
    lattice = make_lattice(1219.2, 901.0, 3.0, 76.2)

    assert lattice.starts_mm[0] >= 0.0
    assert lattice.starts_mm[-1] + 901.0 <= 1219.2 + 1e-9


def test_short_gaps_are_bridged_with_a_wider_error() -> None:
    """One unread position on a half-inch grid is bridged straight across, with more error by its distance."""
    values = np.where(np.arange(GRID_MM.size) == 10, np.nan, 2.0)
    filled, error = fill_bridges(GRID_MM, values, np.full(GRID_MM.shape, 0.3), GRID_MM, LIMITS)

    assert filled[10] == pytest.approx(2.0)
    assert error[10] == pytest.approx(0.3 + SPACING_MM * LIMITS.bridge_error_deg_per_mm)
    assert error[9] == pytest.approx(0.3)


@pytest.mark.parametrize(("positions", "bridged"), [(1, True), (2, True), (3, False), (8, False)])
def test_an_inch_is_the_longest_bridge(positions: int, bridged: bool) -> None:
    """Two unread positions of half an inch are bridged, three are unread."""
    values = np.ones(GRID_MM.shape)
    values[20 : 20 + positions] = np.nan
    filled, _ = fill_bridges(GRID_MM, values, np.zeros(GRID_MM.shape), GRID_MM, LIMITS)

    assert bool(np.isfinite(filled[20 : 20 + positions]).all()) is bridged


@pytest.mark.parametrize(("positions", "bridged"), [(2, True), (3, False)])
def test_the_ends_are_bridged_no_farther(positions: int, bridged: bool) -> None:
    """Unread wood at an end of the board is bridged from one side only up to the same length."""
    values = np.ones(GRID_MM.shape)
    values[:positions] = np.nan
    values[-positions:] = np.nan
    filled, error = fill_bridges(GRID_MM, values, np.zeros(GRID_MM.shape), GRID_MM, LIMITS)

    assert bool(np.isfinite(filled[[0, -1]]).all()) is bridged
    assert not bridged or error[0] == pytest.approx(positions * SPACING_MM * LIMITS.bridge_error_deg_per_mm)


def test_a_place_without_error_is_unread() -> None:
    """An angle whose error is unknown counts for nothing."""
    error_deg = np.full(GRID_MM.shape, 0.2)
    error_deg[30:40] = np.nan
    filled, _ = fill_bridges(GRID_MM, np.ones(GRID_MM.shape), error_deg, GRID_MM, LIMITS)

    assert np.isnan(filled[30:40]).all()


def test_nothing_read_is_unread_everywhere() -> None:
    """A side with no reading gives no value at all."""
    filled, _ = fill_bridges(GRID_MM, np.full(GRID_MM.shape, np.nan), np.zeros(GRID_MM.shape), GRID_MM, LIMITS)

    assert np.isnan(filled).all()


def test_unread_wood_is_taken_from_the_opposite_side() -> None:
    """A long unread stretch mirrors the opposite side, with the wider error, and says so."""
    reading = unread(make_reading({"face_1": 0.03}, length_mm=1219.2), "face_1", 500.0, 600.0)
    lattice = make_lattice(1219.2, 900.0, 3.0, 76.2)
    side = lay_out(reading, lattice, LIMITS)["face_1"]
    at = int(550.0 / lattice.step_mm)

    assert side.assumed[at]
    assert not side.unread[at]
    assert side.slope[at] == pytest.approx(0.03)
    assert side.error[at] == pytest.approx(side.error[0] + np.radians(LIMITS.mirror_error_deg) * 1.0009, rel=1e-3)


def test_a_side_to_retake_is_unread_whatever_its_opposite_shows() -> None:
    """Where a photo was given and could not be read, the side is asked for again, not taken from the other."""
    reading = without(make_reading({"face_1": 0.03}, length_mm=1219.2), "face_1", "retake")
    side = lay_out(reading, make_lattice(1219.2, 900.0, 3.0, 76.2), LIMITS)["face_1"]

    assert side.unread.all()


def test_warp_is_the_slope_of_the_mid_line() -> None:
    """A mid-line that is a parabola 4 mm high turns by 16 mm over the length at its ends, not in the middle."""
    reading = make_reading(length_mm=2438.4)
    share = reading.positions_mm / 2438.4
    reading = change_side(reading, "face_1", crook_mm=16.0 * share * (1.0 - share))
    reading = change_side(reading, "face_2", crook_mm=-16.0 * share * (1.0 - share))
    line_mm, slope = warp_slope(reading, "face_1", np.array([0.0, 1219.2, 2438.4]))

    np.testing.assert_allclose(line_mm, [0.0, 4.0, 0.0], atol=CROOK_MM)
    np.testing.assert_allclose(slope, [16 / 2438.4, 0.0, -16 / 2438.4], atol=1e-5)


def test_the_bow_of_a_lens_is_no_warp() -> None:
    """A bend that both opposite photos show the same way up comes from the lens and is dropped."""
    reading = make_reading(length_mm=2438.4)
    share = reading.positions_mm / 2438.4
    for name in ("face_1", "face_2"):
        reading = change_side(reading, name, crook_mm=12.0 * share * (1.0 - share))

    np.testing.assert_allclose(warp_slope(reading, "face_1", reading.positions_mm)[0], 0.0, atol=CROOK_MM)


def test_one_side_tells_the_warp_of_both() -> None:
    """When only one of two opposite mid-lines is known the other is its mirror."""
    reading = make_reading(length_mm=2438.4)
    share = reading.positions_mm / 2438.4
    crook_mm = 12.0 * share * (1.0 - share)
    reading = change_side(reading, "edge_1", crook_mm=crook_mm)
    reading = change_side(reading, "edge_2", crook_mm=np.full(crook_mm.shape, np.nan))

    np.testing.assert_allclose(warp_slope(reading, "edge_2", reading.positions_mm)[0], -crook_mm, atol=CROOK_MM)


def test_jitter_of_an_outline_hardly_turns_the_grain() -> None:
    """Half a millimetre of jitter in the mid-line changes slopes by less than 1 in 500."""
    reading = make_reading(length_mm=2438.4)
    jitter_mm = np.random.default_rng(7).normal(0.0, 0.5, reading.positions_mm.shape)
    for name, sign in (("face_1", 1.0), ("face_2", -1.0)):
        reading = change_side(reading, name, crook_mm=sign * jitter_mm)

    assert np.abs(warp_slope(reading, "face_1", reading.positions_mm[8:-8])[1]).max() < 1 / 500


def test_unknown_mid_lines_count_as_straight() -> None:
    """Without any mid-line slopes are told against the board's own, and nothing is added."""
    reading = make_reading(length_mm=1219.2)
    sides = {name: replace(side, crook_mm=np.full(side.crook_mm.shape, np.nan)) for name, side in reading.sides.items()}

    assert not warp_slope(replace(reading, sides=sides), "face_1", reading.positions_mm)[1].any()


def test_running_mean_of_a_ramp_is_its_middle() -> None:
    """The mean over a stretch of a straight ramp is the ramp's value in its middle."""
    means = running_mean(np.arange(20.0), 6)

    np.testing.assert_allclose(means, np.arange(3.0, 17.0))
