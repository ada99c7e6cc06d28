"""Lines along a strip: known slopes, and the laws that hold whatever the wood."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from service.grain.lines import LineField, measure_lines
from tests.drawing import LOOKS, random_solid, side_texture, truth_of
from tests.grain.strips import Float, waves

MM_PER_PX = 0.6

#: On noisy drawn strips of 4 in and more the mean is within this of the truth.
CLEAR_DEG = 0.1


def mean_deg(field: LineField) -> float:
    """Mean angle of a field away from its ends."""
    return float(np.degrees(np.arctan(field.slope[8:-8].mean())))


@pytest.mark.parametrize("spacing_px", [4, 7, 15, 30])
@pytest.mark.parametrize("slope", [-0.1, -0.05, 0.0, 0.05])
def test_known_slope(slope: float, spacing_px: float) -> None:
    """A drawn slope under noise as strong as the grain is read without bias."""
    field = measure_lines(waves(slope, spacing_px, noise=0.05), MM_PER_PX)

    assert mean_deg(field) == pytest.approx(np.degrees(np.arctan(slope)), abs=CLEAR_DEG)


def test_curved_lines_are_followed() -> None:
    """A slope that swings along the board is read where it swings."""
    row, col = np.mgrid[0:90, 0:1600].astype(np.float64)
    rise = 12 * np.sin(2 * np.pi * col / 800)
    picture = (0.6 + 0.05 * np.sin(2 * np.pi * (row + rise) / 9)).astype(np.float32)
    field = measure_lines(picture, MM_PER_PX)
    truth = 12 * 2 * np.pi / 800 * np.cos(2 * np.pi * (field.positions_mm / MM_PER_PX - 0.5) / 800)

    assert np.degrees(np.abs(field.slope - truth)[8:-8].mean()) < 0.35


@pytest.fixture(scope="module")
def wood() -> Float:
    """Draw the edge of a flat-sawn board: ring lines of about 1 in 30."""
    solid = random_solid(9, look=LOOKS["pale"], tilt_deg=10, diagonal=0.033, spiral=0.01)
    strip = side_texture(solid, "edge_1", 1.6, 300.0, 1300.0)
    return np.asarray(strip + 0.01 * np.random.default_rng(2).standard_normal(strip.shape), np.float32)


@pytest.fixture(scope="module")
def wood_field(wood: Float) -> LineField:
    """Read that strip's lines."""
    return measure_lines(wood, 1 / 1.6)


def test_drawn_wood_is_read_as_its_rings_run(wood_field: LineField) -> None:
    """On an edge that cuts the rings well, the longest lines are the rings."""
    solid = random_solid(9, look=LOOKS["pale"], tilt_deg=10, diagonal=0.033, spiral=0.01)
    side = truth_of(solid)["sides"]["edge_1"]
    truth_deg = np.interp(wood_field.positions_mm + 300, side["positions_mm"], side["ring_deg_mid"])

    assert np.abs(np.degrees(np.arctan(wood_field.long_slope)) - truth_deg)[8:-8].mean() < 0.25


def test_mirror_across_turns_the_sign(wood: Float, wood_field: LineField) -> None:
    """Upside down, every line falls that rose."""
    turned = measure_lines(np.ascontiguousarray(wood[::-1]), 1 / 1.6)

    assert np.allclose(turned.slope, -wood_field.slope, atol=1e-3)


def test_half_turn_keeps_the_sign_and_reverses_the_order(wood: Float, wood_field: LineField) -> None:
    """Turned end for end, the same lines come in reverse order."""
    turned = measure_lines(np.ascontiguousarray(wood[::-1, ::-1]), 1 / 1.6)
    back = np.interp(wood_field.positions_mm, 1000 - turned.positions_mm[::-1], turned.slope[::-1])

    assert np.abs(back - wood_field.slope)[8:-8].max() < 5e-3


def test_brightness_and_contrast_do_not_matter(wood: Float, wood_field: LineField) -> None:
    """Half the contrast on another grey reads the same."""
    dim = measure_lines(wood * np.float32(0.5) + np.float32(0.1), 1 / 1.6)

    assert np.allclose(dim.slope, wood_field.slope, atol=1e-4)


def test_scale_does_not_matter(wood: Float, wood_field: LineField) -> None:
    """The same wood at one and a half times the size has the same slopes."""
    large = cv2.resize(wood, None, fx=1.5, fy=1.5, interpolation=cv2.INTER_CUBIC)
    field = measure_lines(np.asarray(large, np.float32), 1 / 2.4)

    assert mean_deg(field) == pytest.approx(mean_deg(wood_field), abs=0.1)


def test_light_falling_off_across_does_not_straighten(wood: Float, wood_field: LineField) -> None:
    """A gradient across as strong as a bad lamp leaves the angle alone."""
    shade = np.linspace(0, 0.25, wood.shape[0], dtype=np.float32)[:, None]
    field = measure_lines(wood + shade, 1 / 1.6)

    assert mean_deg(field) == pytest.approx(mean_deg(wood_field), abs=0.05)


def test_planer_marks_do_not_turn_the_answer(wood: Float, wood_field: LineField) -> None:
    """Marks straight across, as strong as the grain, leave the angle alone."""
    marks = 0.06 * np.sin(2 * np.pi * np.arange(wood.shape[1]) / 6.3).astype(np.float32)[None]
    field = measure_lines(wood + marks, 1 / 1.6)

    assert mean_deg(field) == pytest.approx(mean_deg(wood_field), abs=0.05)


def test_jpeg_does_not_straighten(wood: Float, wood_field: LineField) -> None:
    """JPEG at quality 80 costs less than a tenth of a degree."""
    data = io.BytesIO()
    Image.fromarray((wood.clip(0, 1) * 255).astype(np.uint8)).save(data, "JPEG", quality=80)
    read = np.asarray(Image.open(data), np.float32) / np.float32(255)
    field = measure_lines(read, 1 / 1.6)

    assert mean_deg(field) == pytest.approx(mean_deg(wood_field), abs=0.1)


@pytest.mark.parametrize("rows", [30, 60, 120])
@pytest.mark.parametrize("blur_px", [0.0, 0.6, 1.0])
def test_bare_noise_is_not_seen_as_grain(rows: int, blur_px: float) -> None:
    """Where there is no grain nothing counts as read, however the sensor's noise was smoothed."""
    noise = np.random.default_rng(rows).standard_normal((rows, 3000)).astype(np.float32)
    if blur_px:
        noise = np.asarray(cv2.GaussianBlur(noise, (0, 0), blur_px), np.float32)
    field = measure_lines(np.asarray(0.6 + 0.02 * noise, np.float32), MM_PER_PX)

    assert field.seen.mean() < 0.03


@pytest.mark.parametrize("slope", [-0.1, 0.0, 0.05])
def test_faint_grain_is_seen(slope: float) -> None:
    """Grain half as strong as the noise is read all along."""
    field = measure_lines(waves(slope, 8, rows=60, noise=0.07), MM_PER_PX)

    assert field.seen.mean() > 0.95


def test_error_bar_is_wide_where_wood_is_faint() -> None:
    """The second half of a strip, ten times fainter, gets the wider error."""
    strip = waves(0.03, 8)
    strip[:, 800:] = 0.6 + (strip[:, 800:] - 0.6) / 10
    strip += 0.02 * np.random.default_rng(5).standard_normal(strip.shape).astype(np.float32)
    field = measure_lines(strip, MM_PER_PX)
    half = len(field.error) // 2

    assert np.median(field.error[half + 10 :]) > 3 * np.median(field.error[: half - 10])
