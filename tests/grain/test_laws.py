"""Laws of the slope of lines: what may be done to a picture, and what that may do to the answer."""

import io
from typing import Final

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy.ndimage import map_coordinates

from service.grain.lines import LineField, measure_lines
from tests.drawing import LOOKS, random_solid, side_texture
from tests.grain.strips import Float, waves

MM_PER_PX: Final = 0.6
ROWS, COLS = 72, 900
GREY: Final = 0.6

#: What marks and light may change, degrees in the mean over a strip of 20 in.
MARKS_DEG: Final = 0.1
#: What resampling and bookkeeping may change, degrees in the mean.
EXACT_DEG: Final = 0.03
#: At one place, away from the ends: an eighth of a degree.
PLACE_SLOPE: Final = 2.2e-3

SLOPES: Final = st.floats(-0.1, 0.1)
SPACINGS: Final = st.floats(5.0, 14.0)
SEEDS: Final = st.integers(0, 10_000)

#: Each law is tried on this many strips; the same ones every time.
laws = settings(max_examples=8, deadline=None, derandomize=True, database=None)


def drawn(slope: float, spacing_px: float, seed: int, noise: float = 0.03) -> Float:
    """Draw a strip of clear grain."""
    return waves(slope, spacing_px, rows=ROWS, cols=COLS, noise=noise, seed=seed)


def field_of(strip: Float) -> LineField:
    """Measure a strip."""
    return measure_lines(np.ascontiguousarray(strip, np.float32), MM_PER_PX)


def mean_deg(strip: Float) -> float:
    """Mean angle of a strip away from its ends."""
    return float(np.degrees(np.arctan(field_of(strip).slope[8:-8].mean())))


def as_jpeg(strip: Float, quality: int) -> Float:
    """Write a strip as a JPEG file and read it back."""
    data = io.BytesIO()
    Image.fromarray((strip.clip(0, 1) * 255 + 0.5).astype(np.uint8)).save(data, "JPEG", quality=quality)
    return np.asarray(Image.open(data), np.float32) / np.float32(255)


def sheared(strip: Float, slope: float) -> Float:
    """Raise every column by `slope` times its distance from the middle, and cut off what came from outside."""
    rows, cols = strip.shape
    row, col = np.mgrid[0:rows, 0:cols].astype(np.float64)
    lost = int(np.ceil(abs(slope) * cols / 2)) + 2
    moved = map_coordinates(strip, [row + slope * (col - cols / 2), col], order=3, mode="nearest")
    return np.asarray(moved[lost:-lost], np.float32)


@pytest.fixture(scope="module")
def wood() -> Float:
    """Draw the face of a quarter-sawn board with slow waves in its grain."""
    solid = random_solid(21, look=LOOKS["tan"], tilt_deg=80, diagonal=0.03, spiral=0.01)
    strip = side_texture(solid, "face_1", 1 / MM_PER_PX, 400.0, 1100.0)
    return np.asarray(strip + 0.01 * np.random.default_rng(3).standard_normal(strip.shape), np.float32)


@laws
@given(SLOPES, SPACINGS, SEEDS)
def test_mirror_along_negates_and_reverses(slope: float, spacing_px: float, seed: int) -> None:
    """Seen in a mirror, a line that rose falls, and what stood left stands right."""
    strip = drawn(slope, spacing_px, seed)
    plain, mirrored = field_of(strip), field_of(strip[:, ::-1])
    length_mm = COLS * MM_PER_PX
    back = np.interp(plain.positions_mm, length_mm - mirrored.positions_mm[::-1], mirrored.slope[::-1])

    assert np.abs(back + plain.slope)[8:-8].max() < PLACE_SLOPE


def test_mirror_along_negates_and_reverses_wood(wood: Float) -> None:
    """The same holds place by place on wood whose slope wanders."""
    plain, mirrored = field_of(wood), field_of(wood[:, ::-1])
    length_mm = wood.shape[1] * MM_PER_PX
    back = np.interp(plain.positions_mm, length_mm - mirrored.positions_mm[::-1], mirrored.slope[::-1])

    assert np.ptp(plain.slope) > 2 * PLACE_SLOPE
    assert np.abs(back + plain.slope)[8:-8].max() < PLACE_SLOPE


@laws
@given(SLOPES, SPACINGS, SEEDS)
def test_a_negative_reads_as_the_picture(slope: float, spacing_px: float, seed: int) -> None:
    """Dark lines on pale wood and pale lines on dark wood run the same way."""
    strip = drawn(slope, spacing_px, seed)

    assert np.abs(field_of(1 - strip).slope - field_of(strip).slope).max() < 1e-4


@laws
@given(SLOPES, SPACINGS, SEEDS, st.floats(-0.06, 0.06))
def test_shear_adds_its_slope(slope: float, spacing_px: float, seed: int, by: float) -> None:
    """Columns raised in proportion to their place add that proportion to every slope: no pull toward straight."""
    strip = drawn(slope, spacing_px, seed, noise=0.01)
    found_deg = mean_deg(sheared(strip, by))

    assert found_deg == pytest.approx(np.degrees(np.arctan(slope + by)), abs=MARKS_DEG)


def test_shear_adds_its_slope_on_wood(wood: Float) -> None:
    """Drawn wood raised at 1 in 25 reads 1 in 25 steeper."""
    before, after = (np.tan(np.radians(mean_deg(sheared(wood, by)))) for by in (1e-9, 0.04))

    assert np.degrees(after - before) == pytest.approx(np.degrees(0.04), abs=MARKS_DEG)


@laws
@given(SLOPES, SPACINGS, SEEDS, st.floats(0.35, 1.1))
def test_millimetres_per_pixel_do_not_turn_lines(slope: float, spacing_px: float, seed: int, mm_per_px: float) -> None:
    """How large a pixel is said to be sets windows, not slopes."""
    strip = drawn(slope, spacing_px, seed)
    said = np.degrees(np.arctan(measure_lines(strip, mm_per_px).slope[8:-8].mean()))

    assert said == pytest.approx(mean_deg(strip), abs=MARKS_DEG)


@laws
@given(SLOPES, SPACINGS, SEEDS)
def test_jpeg_75_changes_little(slope: float, spacing_px: float, seed: int) -> None:
    """A small file costs less than a tenth of a degree."""
    strip = drawn(slope, spacing_px, seed)

    assert mean_deg(as_jpeg(strip, 75)) == pytest.approx(mean_deg(strip), abs=MARKS_DEG)


@laws
@given(SLOPES, SPACINGS, SEEDS, st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))
def test_slanting_light_changes_little(slope: float, spacing_px: float, seed: int, across: float, along: float) -> None:
    """Light that falls off across, along or both ways leaves the angle alone."""
    strip = drawn(slope, spacing_px, seed)
    light = np.add.outer(np.linspace(-across, across, ROWS), np.linspace(-along, along, COLS)).astype(np.float32)

    assert mean_deg(strip + light) == pytest.approx(mean_deg(strip), abs=EXACT_DEG)


@laws
@given(SLOPES, SPACINGS, SEEDS, st.floats(-4.0, 4.0), st.floats(4.0, 12.0))
def test_planer_marks_change_little(
    slope: float, spacing_px: float, seed: int, lean_deg: float, mark_px: float
) -> None:
    """Ripples as strong as the grain, straight across or leaning either way, leave the angle alone."""
    strip = drawn(slope, spacing_px, seed)
    row, col = np.mgrid[0:ROWS, 0:COLS]
    ripples = 0.05 * np.sin(2 * np.pi * (col + np.tan(np.radians(lean_deg)) * row) / mark_px)

    assert mean_deg(strip + ripples.astype(np.float32)) == pytest.approx(mean_deg(strip), abs=MARKS_DEG)


@laws
@given(SLOPES, SPACINGS, SEEDS, st.floats(-0.8, 0.8), st.floats(0.3, 0.7))
def test_a_shadows_edge_changes_little(slope: float, spacing_px: float, seed: int, lean: float, share: float) -> None:
    """Where a shadow of two fifths begins, slanting over the side, the slope changes by less than half a degree."""
    strip = drawn(slope, spacing_px, seed)
    row, col = np.mgrid[0:ROWS, 0:COLS]
    depth = 1 / (1 + np.exp(-(col - share * COLS - lean * (row - ROWS / 2)) / 4))
    shaded = (strip * (1 - 0.4 * depth)).astype(np.float32)
    change_deg = np.degrees(np.abs(field_of(shaded).slope - field_of(strip).slope))[8:-8]

    assert change_deg.mean() < MARKS_DEG
    assert change_deg.max() < 0.5


def test_a_piece_reads_as_in_place(wood: Float) -> None:
    """A foot cut out of the strip reads, away from the cuts, as it did in the whole."""
    whole, start_px, stop_px = field_of(wood), 300, 800
    piece = field_of(wood[:, start_px:stop_px])
    in_place = np.interp(piece.positions_mm + start_px * MM_PER_PX, whole.positions_mm, whole.slope)
    kept = slice(8, -8)

    assert np.degrees(np.abs(piece.slope - in_place)[kept].mean()) < MARKS_DEG
