"""Close-ups: the fibre where rings run another way."""

import numpy as np
import pytest

from service.grain.side import read_close
from service.grain.streaks import measure_streaks
from service.photo.types import Strip
from tests.drawing import LOOKS, random_solid, side_texture, truth_of

PX_PER_MM = 16.0

#: A close-up gives the fibre at least this well where rings do not run along.
CLOSE_DEG = 0.3

#: Streaks alone, against the grain of their own scatter.
STREAK_DEG = 0.6


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
def test_streaks_tell_fibre_from_level_rings(look: str) -> None:
    """Streaks follow the fibre when the bands beside them lie level."""
    strip, truth_deg = strip_of(look, 51)
    streaks = measure_streaks(strip.image[20:-20], strip.mm_per_px, 0.0)

    assert streaks is not None
    assert np.degrees(np.arctan(streaks.slope)) == pytest.approx(truth_deg, abs=STREAK_DEG)


def test_too_few_streaks_are_no_answer() -> None:
    """A blank stretch gives no streaks, not a straight answer."""
    blank = (0.6 + 0.01 * np.random.default_rng(1).standard_normal((300, 1200))).astype(np.float32)

    assert measure_streaks(blank, 0.06, 0.0) is None
