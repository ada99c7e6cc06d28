"""Steps in tone over long corners and ends, against scenes drawn with known places and tones."""

from dataclasses import replace

import numpy as np
import pytest

from service.photo.curves import Corners, Curve
from service.photo.frame import Frame
from service.photo.outline import outline_from_corners
from service.photo.steps import LEAST_END_STEP, LEAST_STEP, corner_step, end_step
from service.photo.types import Photo
from tests.photo.scenes import Drawn, draw

WIDE = Drawn(width=150.0, top=520.0)


def level(upper: float, lower: float) -> Corners:
    """Make level corners at two rows, along the board."""
    middle, width = (Curve(np.array([value]), 800.0, 800.0) for value in (0.5 * (upper + lower), lower - upper))
    return Corners(middle, width, WIDE.first, WIDE.last)


def ends_at(photo: Photo, first: float, last: float) -> float:
    """Measure the smaller step over two ends of the board."""
    low = WIDE.top + WIDE.width
    corners = [(first, WIDE.top), (last, WIDE.top), (last, low), (first, low)]
    return end_step(photo, outline_from_corners(photo, corners))


def test_the_step_at_true_corners_is_that_of_the_drawn_tones() -> None:
    """Where colours differ by a known amount, the step over the corners is that amount, to a tenth."""
    tones = [np.log(np.array(colour) + 0.02) for colour in (WIDE.wood, WIDE.floor)]
    off = tones[0] - tones[1]
    expected = np.array([off.mean() / 0.25, (off[0] - off[1]) / 0.06, (off[2] - off[1]) / 0.06])
    measured = corner_step(Frame(draw(WIDE), False), level(WIDE.top, WIDE.top + WIDE.width))

    assert measured == pytest.approx(float(np.linalg.norm(expected)), rel=0.1)


@pytest.mark.parametrize(("upper", "lower"), [(570.0, 670.0), (520.0, 610.0)])
def test_a_line_within_the_wood_is_no_step(upper: float, lower: float) -> None:
    """With one of two lines laid through the wood, the smaller step parts nothing."""
    assert corner_step(Frame(draw(WIDE), False), level(upper, lower)) < LEAST_STEP


def test_ends_within_the_wood_are_no_step() -> None:
    """True ends are steps; an end put 150 pixels into the wood is none."""
    photo = draw(WIDE)

    assert ends_at(photo, WIDE.first, WIDE.last) > 10 * LEAST_END_STEP
    assert ends_at(photo, WIDE.first + 150, WIDE.last) < LEAST_END_STEP
    assert ends_at(photo, WIDE.first, WIDE.last - 150) < LEAST_END_STEP


def test_without_ends_in_view_nothing_is_missing() -> None:
    """A stretch of a board that leaves the photo at both borders has no end that could be unclear."""
    assert ends_at(draw(replace(WIDE, first=-50.0, last=1700.0)), 0.0, 1599.0) == np.inf
