"""Finding the board's end, and which way round it is."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from service.errors import Problem
from service.photo.end import find_end
from service.photo.types import EndView, Photo
from tests.photo.scenes import FLOOR, GAMMA, WOOD, light, photo_of

Array = NDArray[np.float64]

#: Corners against those drawn, in pixels, and places in the straightened end, in millimetres.
CORNER_PX = 1.0
PLACE_MM = 0.15

WIDTH_MM, THICKNESS_MM = 63.5, 19.0


def end_photo(corners: Array, dots: list[tuple[float, float]], floor: tuple[float, float, float] = FLOOR) -> Photo:
    """Draw an end with faint rings and dark dots.

    Parameters
    ----------
    corners
        Shape (4, 2), (row, col) of face 1's corner at the largest y, at y = 0, and face 2's at y = 0 and at the
        largest y: clockwise from the upper left, as y grows to the left seen from the marked end.
    dots
        (y, z) of each, millimetres: y up in face 1's photo from its lower corner, z out of face 1 from face 2.
    """
    # World: (width - y, thickness - z) runs right and down in the photo.
    world = np.array([[0, 0], [WIDTH_MM, 0], [WIDTH_MM, THICKNESS_MM], [0, THICKNESS_MM]], dtype=np.float32)
    turn = cv2.getPerspectiveTransform(corners[:, ::-1].astype(np.float32), world)
    col, row = np.meshgrid(np.arange(1200.0), np.arange(900.0))
    seen = turn @ np.stack([col.ravel(), row.ravel(), np.ones(col.size)])
    right, down = (seen[axis] / seen[2] for axis in (0, 1))
    value = 1 + 0.06 * np.cos(2 * np.pi * np.hypot(right - 20, down - 120) / 3.5)
    for y, z in dots:
        value -= 0.8 * np.exp(-0.5 * ((WIDTH_MM - y - right) ** 2 + (THICKNESS_MM - z - down) ** 2) / 0.8**2)
    on = ((right >= 0) & (right <= WIDTH_MM) & (down >= 0) & (down <= THICKNESS_MM)).reshape(900, 1200, 1)
    picture = np.where(on, value.reshape(900, 1200, 1) * light(WOOD), light(floor))
    picture = np.maximum(cv2.GaussianBlur(picture, (0, 0), 0.8), 0) ** (1 / GAMMA)
    return photo_of(np.clip(picture + 0.01 * np.random.default_rng(2).standard_normal(picture.shape), 0, 1))


def dark_places(view: EndView) -> list[tuple[float, float]]:
    """(y, z) of the dark dots in a straightened end, by growing y."""
    dark = cv2.GaussianBlur(view.image, (0, 0), 3) < 0.45
    _, _, _, centres = cv2.connectedComponentsWithStats(dark.astype(np.uint8))
    return sorted((col * view.mm_per_px, THICKNESS_MM - row * view.mm_per_px) for col, row in centres[1:])


LEVEL = np.array([[380.0, 300.0], [380.0, 860.0], [547.6, 860.0], [547.6, 300.0]])
TURNED = np.array([[350.0, 330.0], [420.0, 870.0], [585.0, 850.0], [510.0, 312.0]])


@pytest.mark.parametrize("corners", [LEVEL, TURNED], ids=["level", "turned"])
def test_the_end_is_found_and_straightened_with_y_growing_to_the_right(corners: Array) -> None:
    """Dots drawn at known (y, z) come out where y = col * mm_per_px and z = thickness - row * mm_per_px."""
    dots = [(10.0, 15.0), (30.0, 4.0), (55.0, 9.0)]
    view = find_end(end_photo(corners, dots), WIDTH_MM, THICKNESS_MM)
    assert isinstance(view, EndView)
    # Row 0 runs along face 1 from y = 0, the upper right corner of the photo, to the upper left one.
    assert np.abs(view.corners - corners[[1, 0, 3, 2]]).max() < CORNER_PX
    assert np.array(dark_places(view)) == pytest.approx(np.array(dots), abs=PLACE_MM)
    assert (view.image.shape[1] - 1) * view.mm_per_px == pytest.approx(WIDTH_MM)
    assert (view.image.shape[0] - 1) * view.mm_per_px == pytest.approx(THICKNESS_MM, abs=view.mm_per_px)
    assert view.sure > 0.6


def test_a_floor_nearly_as_light_as_the_wood_will_do() -> None:
    """Wood on a floor of equal brightness is told from it by colour."""
    view = find_end(end_photo(LEVEL, [], floor=(0.62, 0.64, 0.66)), WIDTH_MM, THICKNESS_MM)
    assert isinstance(view, EndView)
    assert np.abs(view.corners - LEVEL[[1, 0, 3, 2]]).max() < 3 * CORNER_PX


def test_wrong_proportions_are_not_taken_for_the_end() -> None:
    """A rectangle of twice the thickness is not this board's end."""
    problem = find_end(end_photo(LEVEL, []), WIDTH_MM, 2 * THICKNESS_MM)
    assert isinstance(problem, Problem)
    assert problem.code == "no_end"


def test_an_empty_photo_has_no_end() -> None:
    """A floor alone is refused, and so is a black photo, for its own reason."""
    away = LEVEL + np.array([2000.0, 0.0])
    problem = find_end(end_photo(away, []), WIDTH_MM, THICKNESS_MM)
    assert isinstance(problem, Problem)
    assert problem.code == "no_end"
    plain = end_photo(away, [])
    black = replace(plain, luma=0 * plain.luma, colour=0 * plain.colour)
    problem = find_end(black, WIDTH_MM, THICKNESS_MM)
    assert isinstance(problem, Problem)
    assert problem.code == "too_dark"
