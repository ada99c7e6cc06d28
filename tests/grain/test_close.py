"""Close-ups: the fibre where rings run another way."""

import numpy as np
import pytest

from service.grain.close import read_close
from service.photo.types import Strip
from tests.drawing import LOOKS, random_solid, side_texture, truth_of

PX_PER_MM = 16.0

#: A close-up gives the fibre at least this well where rings do not run along.
CLOSE_DEG = 0.3

#: Beside ring lines of another direction.
RIFT_DEG = 0.45


def strip_of(look: str, seed: int, side: str = "face_1") -> tuple[Strip, float]:
    """Draw a close-up of a flat-sawn board with strong spiral, and its true fibre angle."""
    solid = random_solid(seed, look=LOOKS[look], tilt_deg=4, diagonal=0.01, spiral=0.06)
    picture = side_texture(solid, side, PX_PER_MM, 900, 1100)
    picture = picture + 0.01 * np.random.default_rng(seed).standard_normal(picture.shape)
    none = np.zeros(0)
    strip = Strip(picture.astype(np.float32), 1 / PX_PER_MM, 0, 200, PX_PER_MM, 0.0, none, none, 1.0)
    truth = truth_of(solid)["sides"][side]
    return strip, float(np.interp(1000, truth["positions_mm"], truth["angle_deg"]))


@pytest.mark.parametrize("look", sorted(LOOKS))
def test_spiral_shows_on_the_flat_face(look: str) -> None:
    """On the flat-sawn face, where rings make no lines, a close-up gives the fibre itself."""
    strip, truth_deg = strip_of(look, 51)
    close = read_close(strip)

    assert np.degrees(np.arctan(close.texture)) == pytest.approx(truth_deg, abs=CLOSE_DEG)


@pytest.mark.parametrize("look", sorted(LOOKS))
def test_texture_leans_little_toward_rings_that_run_another_way(look: str) -> None:
    """On rift wood, where ring lines stand 2 to 4 degrees off the fibre, a close-up gives the fibre."""
    solid = random_solid(61, look=LOOKS[look], tilt_deg=45, diagonal=0.03, spiral=0.02)
    picture = side_texture(solid, "face_1", PX_PER_MM, 900, 1100)
    picture = picture + 0.01 * np.random.default_rng(61).standard_normal(picture.shape)
    none = np.zeros(0)
    close = read_close(Strip(picture.astype(np.float32), 1 / PX_PER_MM, 0, 200, PX_PER_MM, 0.0, none, none, 1.0))
    truth = truth_of(solid)["sides"]["face_1"]
    fibre_deg = float(np.interp(1000, truth["positions_mm"], truth["angle_deg"]))
    ring_deg = float(np.interp(1000, truth["positions_mm"], truth["ring_deg_mid"]))

    assert abs(ring_deg - fibre_deg) > 1.0
    assert np.degrees(np.arctan(close.texture)) == pytest.approx(fibre_deg, abs=RIFT_DEG)
    assert np.degrees(np.arctan(close.line)) == pytest.approx(ring_deg, abs=RIFT_DEG)
