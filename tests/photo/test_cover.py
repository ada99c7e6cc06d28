"""What lies over a side, and lines of the grain taken for corners: against scenes drawn with known places."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from service.photo.cover import covered_share
from service.photo.curves import Corners, Curve
from service.photo.frame import Frame
from service.photo.outline import outline_from_corners
from service.photo.quality import tilt_deg
from service.photo.types import Outline, Photo
from service.photo.widen import widened
from tests.photo.scenes import Drawn, draw

SCENE = Drawn()
CLOSE = replace(SCENE, first=-99.0, last=1800.0, width=500.0, top=350.0)
SKIN = (0.75, 0.53, 0.43)


def outline_of(photo: Photo, scene: Drawn = SCENE) -> Outline:
    """Return the true outline of a level scene."""
    low = scene.top + scene.width
    corners = [(scene.first, scene.top), (scene.last, scene.top), (scene.last, low), (scene.first, low)]
    return outline_from_corners(photo, corners)


def covered(photo: Photo, first_col: int, last_col: int, rows: slice = slice(None)) -> Photo:
    """Lay something skin-coloured over columns of a photo."""
    luma, colour = photo.luma.copy(), photo.colour.copy()
    luma[rows, first_col:last_col] = round(255 * float(np.array(SKIN) @ [0.299, 0.587, 0.114]))
    shrink = photo.reduction
    small = slice(*(None if at is None else at // shrink for at in (rows.start, rows.stop)))
    colour[small, first_col // shrink : last_col // shrink] = SKIN
    return replace(photo, luma=luma, colour=colour)


@pytest.mark.parametrize("share", [0.15, 0.4])
def test_the_covered_share_is_the_drawn_one(share: float) -> None:
    """A finger over a share of the side's length is seen as that share, to a twentieth."""
    last = int(400 + share * (SCENE.last - SCENE.first))
    photo = covered(draw(SCENE), 400, last)

    assert covered_share(photo, outline_of(photo)) == pytest.approx(share, abs=0.05)


@pytest.mark.parametrize("scene", [SCENE, replace(SCENE, shadow=True), replace(SCENE, tape_px=60.0)])
def test_shade_and_tape_cover_nothing(scene: Drawn) -> None:
    """A clear side, a shadow across it and tape on its end hide nothing."""
    photo = draw(scene)

    assert covered_share(photo, outline_of(photo)) < 0.02


def test_a_label_on_the_wood_covers_nothing() -> None:
    """What keeps within the long corners is on the wood, not over it."""
    photo = covered(draw(SCENE), 600, 1000, slice(592, 612))

    assert covered_share(photo, outline_of(photo)) == 0


def level(upper: float, lower: float) -> Corners:
    """Make level corners at two rows of the close-up."""
    middle, width = (Curve(np.array([value]), 800.0, 800.0) for value in (0.5 * (upper + lower), lower - upper))
    return Corners(middle, width, 0.0, 1599.0)


@pytest.mark.parametrize(("upper", "lower"), [(350.0, 700.0), (520.0, 850.0)])
def test_a_line_of_the_grain_is_widened_to_the_corner(upper: float, lower: float) -> None:
    """Of two lines the one with wood beyond it moves out to where the wood ends, 350 and 850 here."""
    wider = widened(Frame(draw(CLOSE), False), level(upper, lower))

    assert wider is not None
    cols: NDArray[np.float64] = np.array([100.0, 800.0, 1500.0])
    assert wider.rows(cols, 0.0) == pytest.approx(350.0, abs=8.0)
    assert wider.rows(cols, 1.0) == pytest.approx(850.0, abs=8.0)


def test_true_corners_are_left_where_they_are() -> None:
    """With ground beyond both lines there is nothing to widen."""
    assert widened(Frame(draw(CLOSE), False), level(350.0, 850.0)) is None


@pytest.mark.parametrize("tilt", [0.0, 20.0, 50.0])
def test_leaning_ends_tell_the_tilt(tilt: float) -> None:
    """Ends drawn toward the vanishing point f / tan(tilt) beside the middle give back that tilt."""
    photo = replace(draw(SCENE), focal_px=1200.0)
    middle_col, middle_row = 799.5, 599.5
    rise = np.tan(np.radians(tilt)) / 1200.0
    ends = [
        [(middle_col + away * (1 + (row - middle_row) * rise), row) for row in (570.0, 630.0)]
        for away in (-600.0, 600.0)
    ]
    outline = outline_from_corners(photo, [ends[0][0], ends[1][0], ends[1][1], ends[0][1]])

    assert tilt_deg(photo, outline) == pytest.approx(tilt, abs=0.5)
