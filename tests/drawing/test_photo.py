"""Photos of drawn boards show what their truth says, where it says, and are files as phones write them."""

from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps
from scipy.interpolate import CubicSpline

from service.sides import SIDES
from tests.drawing import (
    Camera,
    Marks,
    Scene,
    over_part,
    over_parts,
    over_whole,
    photograph,
    random_camera,
    random_scene,
    random_solid,
    truth_of,
)
from tests.drawing.board_view import Lying, paint_board
from tests.drawing.checks import ANGLE_TOLERANCE_DEG, flat, level, tensor_angle_deg
from tests.drawing.end_view import end_corners, paint_end
from tests.drawing.looks import PALE, TAN
from tests.drawing.photo import photo_truth

Array = NDArray[Any]


@pytest.mark.parametrize("tilt_along_deg", [-3.0, 0.0, 4.0])
@pytest.mark.parametrize("side", SIDES)
def test_outline_is_the_border_of_what_is_painted(side: str, tilt_along_deg: float) -> None:
    """Painted white on black, each column's sum and centre of light give the stated outline back to 0.02 px.

    Lens bowing, perspective, crook and bow are all there; the camera hangs so that no other side shows.
    """
    board = random_solid(4, look=replace(PALE, light=(1.0, 1.0, 1.0), dark=(1.0, 1.0, 1.0)))
    camera = over_whole(board.length_mm, tilt_along_deg=tilt_along_deg, bowing=0.02, cols=1512, rows=1134)
    lying, picture = Lying(board, side), np.zeros((camera.rows, camera.cols, 3), np.float32)
    paint_board(picture, lying, camera, Marks())
    cols = np.arange(150, 1350)
    upper, lower = np.array(photo_truth(lying, camera, Scene())["outline_px"]).reshape(2, 21, 2)
    rows = [CubicSpline(*line.T)(cols) for line in (upper, lower[::-1])]
    light = picture[:, cols, 0]
    assert light.sum(axis=0) == pytest.approx(rows[1] - rows[0], abs=0.02)
    centre = (light * np.arange(camera.rows)[:, None]).sum(axis=0) / light.sum(axis=0)
    assert centre == pytest.approx((rows[0] + rows[1]) / 2, abs=0.02)


def test_photo_shows_the_fibre_at_its_angle() -> None:
    """A close-up straightened by its true corners shows the fibre of the truth, through camera, noise and JPEG."""
    board = level(0.001, 1 / 14, 0.0, look=TAN)
    camera = over_part(500.0, 200.0, tilt_up_deg=3.0, tilt_along_deg=-2.0, roll_deg=1.5, cols=2016, rows=1512)
    jpeg, truth = photograph(board, "face_1", camera, Scene(2))
    picture = np.asarray(Image.open(BytesIO(jpeg)).convert("L"), np.float32)
    length = (truth["shows_mm"][1] - truth["shows_mm"][0]) * 10
    flat = np.array([[0, 0], [length, 0], [length, 381], [0, 381]], np.float32) - 0.5
    turn = cv2.getPerspectiveTransform(np.array(truth["corners_px"], np.float32), flat)
    strip = cv2.warpPerspective(picture, turn, (round(length), 381), flags=cv2.INTER_CUBIC)[20:-20, 20:-20]
    side = truth_of(board)["sides"]["face_1"]
    at = float(np.interp(500.0, side["positions_mm"], side["angle_deg"]))
    assert tensor_angle_deg(strip) == pytest.approx(at, abs=ANGLE_TOLERANCE_DEG)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
@pytest.mark.parametrize("portrait", [False, True])
def test_photos_stand_upright_once_turned_as_the_file_says(orientation: int, portrait: bool) -> None:
    """However the file is turned, upright the marked end (taped blue) is left, or at the bottom of a portrait photo."""
    board = random_solid(2, look=PALE)
    camera = over_whole(board.length_mm, cols=1008, rows=756)
    scene = Scene(1, marks=Marks(tape=True), portrait=portrait, orientation=orientation)
    jpeg, truth = photograph(board, "face_1", camera, scene)
    upright = ImageOps.exif_transpose(Image.open(BytesIO(jpeg)))
    assert upright is not None
    assert upright.size == ((756, 1008) if portrait else (1008, 756))
    corners = np.array(truth["corners_px"])
    inward = (corners[[1, 2]].mean(axis=0) - corners[[0, 3]].mean(axis=0)) * 0.004
    col, row = np.round(corners[[0, 3]].mean(axis=0) + inward).astype(int)
    red, _, blue = (int(value) for value in np.asarray(upright)[row, col])
    assert blue > red + 40
    marked, far = corners[[0, 3]].mean(axis=0), corners[[1, 2]].mean(axis=0)
    assert marked[1] > far[1] + 500 if portrait else marked[0] < far[0] - 500


def test_file_notes_tell_focal_length_and_place_only_when_asked() -> None:
    """Photos carry the 35 mm focal length; a place is written only into photos meant to test its removal."""
    board, camera = random_solid(2), over_whole(2438.4, cols=504, rows=378)
    for gps in (False, True):
        notes = Image.open(BytesIO(photograph(board, "edge_1", camera, Scene(1, gps=gps))[0])).getexif()
        assert notes.get_ifd(0x8769)[0xA405] == 26
        assert bool(notes.get_ifd(0x8825)) is gps


def test_same_seed_same_photo_other_seed_other_photo() -> None:
    """Everything comes from the seed."""

    def once(seed: int) -> bytes:
        board = random_solid(seed)
        return photograph(board, "face_1", random_camera(seed, board, cols=504, rows=378), random_scene(seed))[0]

    assert once(6) == once(6)
    assert once(6) != once(7)


def test_camera_sends_rays_back_through_its_own_pixels() -> None:
    """A point projected into the picture lies on the ray of its pixel, lens bowing included."""
    camera = Camera(300.0, 900.0, 5.0, 4.0, -3.0, 2.0, bowing=0.02)
    along, up, out = np.array([0.0, 350.0, 700.0]), np.array([-60.0, 10.0, 80.0]), np.array([0.0, -15.0, 4.0])
    ray, centre = camera.rays(*camera.project(along, up, out)), camera.centre()
    reach = (out - centre[2]) / ray[2]
    assert centre[0] + reach * ray[0] == pytest.approx(along, abs=1e-3)
    assert centre[1] + reach * ray[1] == pytest.approx(up, abs=1e-3)


@pytest.mark.parametrize("name", ["tilt_along_deg", "tilt_up_deg", "roll_deg"])
def test_camera_signs(name: str) -> None:
    """Seen from the far end the marked end is smaller, from above the upper corner longer; a roll lifts the far end."""
    board = flat(((0.0, 0.0),))
    _, truth = photograph(board, "face_1", over_whole(2438.4, cols=504, rows=378, **{name: 6.0}), Scene(1))
    (upper_col, upper_row), (far_upper_col, far_upper_row) = truth["corners_px"][:2]
    (_, far_lower_row), (_, lower_row) = truth["corners_px"][2:]
    if name == "tilt_along_deg":
        assert lower_row - upper_row < far_lower_row - far_upper_row
    elif name == "tilt_up_deg":
        (lower_col, _), (far_lower_col, _) = truth["corners_px"][3], truth["corners_px"][2]
        assert far_upper_col - upper_col > far_lower_col - lower_col
    else:
        assert far_upper_row < upper_row


@pytest.mark.parametrize(("tilt_up_deg", "above"), [(0.0, False), (25.0, True)])
def test_face_1_shows_above_the_end_only_from_above(tilt_up_deg: float, above: bool) -> None:
    """Head on only the end is seen; from above the end, face 1 shows over its upper corner."""
    board = level(0.0, 0.0, 45.0, look=replace(PALE, light=(1.0, 1.0, 1.0), dark=(1.0, 1.0, 1.0)))
    camera = over_part(19.0, 200.0, cols=800, rows=600, tilt_up_deg=tilt_up_deg)
    picture = np.zeros((600, 800, 3), np.float32)
    paint_end(picture, board, camera)
    rows, cols = end_corners(board, camera)
    middle = round(float(cols.mean()))
    assert picture[round(float(rows.mean())), middle, 0] == pytest.approx(1.0)
    assert bool(picture[round(float(rows[:2].mean())) - 6, middle, 0] > 0.5) is above
    assert picture[round(float(rows[2:].mean())) + 6, middle, 0] == 0


def test_part_photos_overlap_and_reach_both_ends() -> None:
    """Three photos of a whole side begin before the marked end, overlap, and end behind the far end."""
    board = random_solid(2)
    shown = []
    for camera in over_parts(board.length_mm, 3, cols=504, rows=378):
        shown.append(photograph(board, "face_1", camera)[1]["shows_mm"])
    assert shown[0][0] == 0
    assert shown[2][1] == board.length_mm
    assert all(before[1] > after[0] + 100 for before, after in pairwise(shown))
