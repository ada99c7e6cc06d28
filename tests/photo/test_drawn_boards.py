"""Boards drawn as solids under a phone camera: seeds that were not looked at while the search was made.

Corners and scales of `tests.drawing` come from its own camera, which shares no code with the search.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from service.photo.decode import open_photo
from service.photo.end import find_end
from service.photo.outline import find_side
from service.photo.quality import usable
from service.photo.straighten import straighten
from service.photo.types import EndView, Outline
from tests.drawing import (
    Camera,
    Scene,
    over_whole,
    photograph,
    photograph_end,
    random_camera,
    random_scene,
    random_solid,
)

#: Median distance of a long corner from the truth, in pixels, and of positions, as a share of the length.
CORNER_PX = 2.0
POSITION = 0.006


@pytest.mark.parametrize(("seed", "side"), [(901, "face_1"), (902, "edge_1"), (903, "face_2")])
def test_whole_boards_of_unseen_seeds_are_found(seed: int, side: str) -> None:
    """A whole board on a plain floor, held over as people do, is found within 2 pixels and placed within 0.6 %."""
    solid = random_solid(seed, length_mm=1828.8)
    scene = replace(random_scene(seed), ground="floor", orientation=1, portrait=False)
    data, truth = photograph(solid, side, random_camera(seed, solid), scene)
    photo = open_photo(data, side)
    across = solid.across_mm(side)
    outline = find_side(photo, solid.length_mm, across, photos=1)
    assert isinstance(outline, Outline), outline
    true = np.array(truth["outline_px"])
    for found, line in ((outline.upper, true[: len(true) // 2]), (outline.lower, true[len(true) // 2 :][::-1])):
        assert np.median(np.abs(found[:, 0] - CubicSpline(line[:, 0], line[:, 1])(found[:, 1]))) < CORNER_PX
    strip = straighten(photo, outline, across, solid.length_mm)
    assert usable(photo, outline, strip) is None
    assert (strip.from_mm, strip.to_mm) == pytest.approx(truth["shows_mm"], abs=POSITION * solid.length_mm)


def test_the_end_lies_as_the_solid_says() -> None:
    """Straightened, the end shows y growing to the right: its corners are the drawn ones, mirrored."""
    solid = random_solid(904)
    camera = replace(over_whole(solid.width_mm, 0.35), along_mm=solid.width_mm / 2)
    assert isinstance(camera, Camera)
    data, truth = photograph_end(solid, camera, Scene(seed=904))
    view = find_end(open_photo(data, "end"), solid.width_mm, solid.thickness_mm)
    assert isinstance(view, EndView)
    # The drawn corners run clockwise from the upper left, where y is largest.
    drawn = np.array(truth["corners_px"])[[1, 0, 3, 2], ::-1]
    assert np.abs(view.corners - drawn).max() < 3.0
