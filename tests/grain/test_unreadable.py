"""What is no wood is marked, and grain is not."""

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from service.grain.departure import departure
from service.grain.lines import measure_lines
from service.grain.unreadable import unreadable
from tests.drawing import LOOKS, Marks, random_solid, side_texture
from tests.drawing.board_view import colour
from tests.drawing.marks import paint
from tests.drawing.wear import Wear
from tests.grain.strips import Float

PX_PER_MM = 1.7

#: Clear wood may be marked by mistake on this share of its pixels at most: its darkest ring lines and pores.
MOST_ON_CLEAR_WOOD = 0.02


def marked(strip: Float) -> NDArray[np.bool_]:
    """Mark what shows no grain on a strip."""
    return unreadable(departure(strip, 1 / PX_PER_MM), strip.shape)


@cache
def drawn(look: str, marks: Marks) -> Float:
    """Draw 600 mm of a flat-sawn face with marks: what is on it does not change with the marks."""
    solid = random_solid(41, look=LOOKS[look], tilt_deg=20, length_mm=600.0)
    strip = colour(solid.look, side_texture(solid, "face_1", PX_PER_MM))
    paint(strip, marks, solid, "face_1", PX_PER_MM, 0.0)
    noise = 0.01 * np.random.default_rng(7).standard_normal(strip.shape[:2])
    return np.asarray(strip.mean(axis=2) + noise, np.float32)


@pytest.mark.parametrize("look", sorted(LOOKS))
def test_clear_wood_is_readable(look: str) -> None:
    """Hardly anything of clear wood of each look is marked."""
    assert marked(drawn(look, Marks())).mean() < MOST_ON_CLEAR_WOOD


@pytest.mark.parametrize("look", ["pale", "tan", "open"])
@pytest.mark.parametrize("wear", [Wear(stamps=2), Wear(checks=2)], ids=["stamps", "checks"])
def test_most_of_what_covers_the_wood_is_marked(look: str, wear: Wear) -> None:
    """Of the pixels that print or cracks darken by a third, more than half is marked.

    Not so on dark wood: ink is hardly darker than its ring lines.
    """
    bare, worn = drawn(look, Marks()), drawn(look, Marks(wear=wear))
    changed = worn < 0.66 * bare

    assert changed.mean() > 0.001
    assert marked(worn)[changed].mean() > 0.5


def test_a_shadow_across_is_readable() -> None:
    """A hand's shadow leaves the grain to be read."""
    strip = drawn("pale", Marks()).copy()
    strip[:, 500:560] *= np.float32(0.6)

    assert marked(strip)[:, 510:550].mean() < MOST_ON_CLEAR_WOOD


def test_a_label_hardly_turns_the_grain_beside_it() -> None:
    """With its pixels left out, a dark label laid askew shifts the slopes around by less than half of what it did."""
    clear = drawn("pale", Marks())
    labelled = clear.copy()
    rows, cols = np.indices(clear.shape)
    askew = (np.abs(rows - 0.2 * (cols - 500) - clear.shape[0] / 2) < 14) & (np.abs(cols - 500) < 80)
    labelled[askew] = 0.3 + 0.01 * np.random.default_rng(3).standard_normal(int(askew.sum()))
    truth, plain = (measure_lines(strip, 1 / PX_PER_MM) for strip in (clear, labelled))
    spared = measure_lines(labelled, 1 / PX_PER_MM, blank=marked(labelled))
    off, left = (np.abs(field.slope - truth.slope).max() for field in (plain, spared))

    assert np.degrees(off) > 2
    assert left < off / 2
