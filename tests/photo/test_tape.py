"""Tape across an end, and what is no tape: against scenes drawn with known places."""

from dataclasses import replace

import numpy as np
import pytest

from service.photo.curves import Corners, Curve
from service.photo.frame import Frame
from service.photo.tape import past_tape
from service.photo.types import Photo
from service.photo.wood import learn_tone
from tests.photo.scenes import Drawn, draw

SCENE = Drawn(width=80.0, top=560.0)
BLUE, RED = (0.15, 0.35, 0.75), (0.62, 0.16, 0.12)
#: Blur of the small colour picture.
PLACE_PX = 5


def painted(photo: Photo, colour: tuple[float, float, float], rows: slice, cols: slice) -> Photo:
    """Fill a part of a photo with a colour."""
    luma, small, shrink = photo.luma.copy(), photo.colour.copy(), photo.reduction
    luma[rows, cols] = round(255 * float(np.array(colour) @ [0.299, 0.587, 0.114]))
    small[tuple(slice(part.start // shrink, part.stop // shrink) for part in (rows, cols))] = colour
    return replace(photo, luma=luma, colour=small)


def taped(photo: Photo, col: int, way: int) -> int:
    """Move an end of the drawn board over tape."""
    frame = Frame(photo, False)
    middle, width = (Curve(np.array([value]), 800.0, 800.0) for value in (SCENE.top + SCENE.width / 2, SCENE.width))
    corners = Corners(middle, width, 300.0, 1300.0)
    return past_tape(frame, corners, learn_tone(frame, corners, 400.0, 1200.0), col, way)


@pytest.mark.parametrize("floor", [SCENE.floor, (0.1, 0.1, 0.11), (0.85, 0.84, 0.8)])
@pytest.mark.parametrize("length_px", [40, 100, 180])
def test_tape_is_followed_to_its_end(length_px: int, floor: tuple[float, float, float]) -> None:
    """On dark, middle and light ground the end moves from where the wood ends to where the tape ends, 90 here."""
    photo = draw(replace(SCENE, tape_px=float(length_px), floor=floor))

    assert taped(photo, 90 + length_px, -1) == pytest.approx(90, abs=PLACE_PX)


def test_tape_at_the_far_end_is_followed_likewise() -> None:
    """With tape on the last hundred pixels the end moves to the right."""
    photo = painted(draw(SCENE), BLUE, slice(560, 640), slice(1412, 1508))

    assert taped(photo, 1410, 1) == pytest.approx(1510, abs=PLACE_PX)


def test_bare_ground_is_no_tape() -> None:
    """An end without tape stays where it is, though the ground is even and unlike the wood."""
    assert taped(draw(SCENE), 90, -1) == 90


def test_a_box_behind_the_end_is_no_tape() -> None:
    """A box that goes on beyond both long corners lies behind the board, not on it."""
    photo = painted(draw(SCENE), RED, slice(480, 720), slice(20, 88))

    assert taped(photo, 90, -1) == 90


def test_a_label_narrower_than_the_side_is_no_tape() -> None:
    """A label leaves wood along the long corners; the board may go on behind it."""
    photo = painted(draw(replace(SCENE, first=-50.0)), (0.93, 0.93, 0.91), slice(572, 628), slice(0, 140))

    assert taped(photo, 140, -1) == 140
