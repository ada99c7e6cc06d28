"""The whitened tensor against closed forms, noise and an independent library."""

import numpy as np
import pytest
from skimage.feature import structure_tensor
from skimage.transform import radon

from service.grain.tensor import Scale, gaussian, line_direction, whitened_gradient
from tests.grain.strips import Float, waves

#: A pure wave's slope from derivatives of one kernel is exact but for the kernel's sampling.
EXACT_DEG = 0.02

#: The limit that decides a board, 1 in 20, and its neighbours.
SLOPES = (-0.08, -0.05, -0.01, 0.0, 0.02, 0.05, 0.1)


def whole_slope_deg(picture: Float, scale: Scale) -> float:
    """Slope of the whole picture but its borders, in degrees."""
    along, across = whitened_gradient(picture, scale)
    core = np.s_[8:-8, 60:-60]
    along, across = along[core].astype(float), across[core].astype(float)
    found = line_direction(np.mean(along**2), np.mean(along * across), np.mean(across**2), scale, along.size)
    return float(np.degrees(np.arctan(found.slope)))


@pytest.mark.parametrize("spacing_px", [4, 5, 6, 8, 12, 30])
@pytest.mark.parametrize("slope", SLOPES)
def test_no_bias_toward_straight_at_any_spacing(slope: float, spacing_px: float) -> None:
    """A known slope is read as such, whatever the ring spacing."""
    found_deg = whole_slope_deg(waves(slope, spacing_px), Scale(4, 1.2))

    assert found_deg == pytest.approx(np.degrees(np.arctan(slope)), abs=EXACT_DEG)


def test_sobel_reads_too_straight_where_we_do_not() -> None:
    """Sobel's bias at fine spacing is there (Jaehne, Digital Image Processing, 13.3) and is not ours."""
    slope, spacing_px = 0.05, 4
    picture = waves(slope, spacing_px).astype(np.float64)
    a_rr, a_rc, a_cc = (part[20:-20, 60:-60].mean() for part in structure_tensor(picture, sigma=2, order="rc"))
    sobel_deg = np.degrees(0.5 * np.arctan2(2 * a_rc, a_rr - a_cc))

    assert sobel_deg < 0.85 * np.degrees(np.arctan(slope))
    assert whole_slope_deg(waves(slope, spacing_px), Scale(4, 1.2)) == pytest.approx(2.862, abs=EXACT_DEG)


@pytest.mark.parametrize("slope", [-0.06, 0.03, 0.05])
def test_agrees_with_an_independent_library_on_coarse_rings(slope: float) -> None:
    """At 20 px a ring Sobel's bias is small, and scikit-image's tensor gives the same angle."""
    picture = waves(slope, 20)
    parts = structure_tensor(picture.astype(np.float64), sigma=3, order="rc")
    a_rr, a_rc, a_cc = (part[20:-20, 60:-60].mean() for part in parts)
    theirs_deg = np.degrees(0.5 * np.arctan2(2 * a_rc, a_rr - a_cc))

    assert whole_slope_deg(picture, Scale(4, 1.2)) == pytest.approx(theirs_deg, abs=0.06)


def test_agrees_with_a_radon_transform() -> None:
    """The direction in which a Radon transform has the most variance is the direction read."""
    picture = waves(0.05, 9, rows=300, cols=300, noise=0.02)
    row, col = np.mgrid[-150:150, -150:150]
    disc = np.where(np.hypot(row, col) < 145, picture - picture.mean(), 0).astype(np.float64)
    angles_deg = np.arange(84.0, 96.0, 0.1)
    best_deg = 90 - angles_deg[np.argmax(radon(disc, angles_deg, circle=True).var(axis=0))]

    assert abs(best_deg) == pytest.approx(whole_slope_deg(picture, Scale(6, 1.2)), abs=0.15)


def test_noise_alone_has_no_direction() -> None:
    """White noise is round after whitening, so it cannot pull an answer toward straight."""
    noise = np.random.default_rng(3).standard_normal((200, 4000)).astype(np.float32)
    along, across = whitened_gradient(noise, Scale(8, 1.2))

    assert float((along**2).mean() / (across**2).mean()) == pytest.approx(1.0, abs=0.05)


def test_stated_error_covers_noise() -> None:
    """The stated standard error is the scatter of repeated readings, within a third."""
    scale, slope = Scale(4, 1.2), 0.04
    found, stated = [], []
    for seed in range(40):
        picture = waves(slope, 8, rows=60, cols=300, noise=0.15, seed=seed)
        along, across = whitened_gradient(picture - picture.mean(), scale)
        core = np.s_[4:-4, 16:-16]
        along, across = along[core].astype(float), across[core].astype(float)
        independent = along.size / scale.noise_area_px
        one = line_direction(np.mean(along**2), np.mean(along * across), np.mean(across**2), scale, independent)
        found.append(float(one.slope))
        stated.append(float(one.error))

    assert np.mean(stated) == pytest.approx(np.std(found), rel=0.34)


def test_kernels_have_unit_response() -> None:
    """The smoothing kernel sums to one, the derivative of a unit ramp is one."""
    assert float(gaussian(1.2).sum()) == pytest.approx(1, abs=1e-6)
    offset = np.arange(-14, 15)
    assert float(gaussian(4.0, derivative=True) @ offset) == pytest.approx(1, abs=1e-6)
