"""Straightening a side: against a board seen by a pinhole camera, point for point."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from service.photo.frame import Frame
from service.photo.outline import outline_from_corners
from service.photo.straighten import straighten
from service.photo.types import Outline, Photo, Strip
from tests.photo.scenes import Drawn, draw, photo_of, turned

Array = NDArray[np.float64]

#: Angle of lines in the strip against those drawn, in degrees, and positions along, in millimetres.
ANGLE_DEG = 0.05
POSITION_MM = 1.5

ROWS, COLS, FOCAL_PX = 900, 1600, 1200.0


@dataclass(frozen=True)
class View:
    """A board before a pinhole camera: a plane, its origin on the board's mid-line, turned away from the picture.

    Attributes
    ----------
    length_mm, across_mm
        The board, its marked end at -length / 2.
    distance_mm, along_deg, across_deg, roll_deg
        Distance of the plane's origin, tilt of the board's length and of its width away from the picture, turn in it.
    shift_mm
        Which point of the board lies before the camera.
    """

    length_mm: float = 1500.0
    across_mm: float = 60.0
    distance_mm: float = 1250.0
    along_deg: float = 0.0
    across_deg: float = 0.0
    roll_deg: float = 0.0
    shift_mm: float = 0.0

    def matrix(self) -> Array:
        """Turn (along, down, 1), millimetres from the marked end and the upper corner, into (col, row, 1)."""
        tilt, lean, roll = np.radians([self.along_deg, self.across_deg, self.roll_deg])
        along = np.array([np.cos(tilt), 0.0, np.sin(tilt)])
        down = np.array([-np.sin(tilt) * np.sin(lean), np.cos(lean), np.cos(tilt) * np.sin(lean)])
        turn = np.array([[np.cos(roll), np.sin(roll), 0], [-np.sin(roll), np.cos(roll), 0], [0, 0, 1.0]])
        along, down = turn @ along, turn @ down
        start = (
            np.array([0, 0, self.distance_mm])
            - (self.length_mm / 2 + self.shift_mm) * along
            - self.across_mm / 2 * down
        )
        camera = np.array([[FOCAL_PX, 0, (COLS - 1) / 2], [0, FOCAL_PX, (ROWS - 1) / 2], [0, 0, 1]])
        return np.asarray(camera @ np.stack([along, down, start], axis=1))

    def pixels(self, along_mm: Array, down_mm: Array) -> Array:
        """Points (row, col) of points on the side."""
        seen = self.matrix() @ np.stack([along_mm, down_mm, np.ones_like(along_mm)])
        return np.stack([seen[1] / seen[2], seen[0] / seen[2]], axis=1)

    def outline(self) -> Outline:
        """Return the side's true outline, cut at the picture's borders."""
        lines, views = [], []
        for down in (0.0, self.across_mm):
            fine = self.pixels(np.linspace(0, self.length_mm, 4001), np.full(4001, down))
            inside = fine[(fine[:, 1] >= 0) & (fine[:, 1] <= COLS - 1)]
            cols = np.linspace(inside[0, 1], inside[-1, 1], 65)
            lines.append(np.stack([np.interp(cols, inside[:, 1], inside[:, 0]), cols], axis=1))
            views.append((fine[0, 1] >= 0, fine[-1, 1] <= COLS - 1))
        near, far = (all(view[end] for view in views) for end in (0, 1))
        return Outline(lines[0], lines[1], near, far, 1.0)

    def photo(self, slope: float = 0.0, marks_mm: tuple[float, ...] = (), focal_known: bool = True) -> Photo:
        """Draw lines of a known slope (rise toward the upper corner per length) with dark marks across."""
        col, row = np.meshgrid(np.arange(COLS, dtype=np.float64), np.arange(ROWS, dtype=np.float64))
        back = np.linalg.inv(self.matrix()) @ np.stack([col.ravel(), row.ravel(), np.ones(col.size)])
        along, down = (back[axis] / back[2] for axis in (0, 1))
        value = 0.6 + 0.15 * np.cos(2 * np.pi * (down + slope * along) / 9.0)
        for mark in marks_mm:
            value -= 0.5 * np.exp(-0.5 * ((along - mark) / 2.0) ** 2)
        on = (along >= 0) & (along <= self.length_mm) & (down >= 0) & (down <= self.across_mm)
        grey = np.where(on, value, 0.1).reshape(ROWS, COLS)
        return photo_of(np.repeat(grey[..., None], 3, axis=2), focal_px=FOCAL_PX if focal_known else None)


def slope_in(strip: Strip) -> float:
    """Slope of the lines in a strip: the shift of its columns against each other, from the phase of the 9 mm wave.

    Read between a tenth and nine tenths of the width, by the phase of the wave along the rows of each column.
    """
    rows = strip.image.shape[0]
    inner = strip.image[rows // 10 : rows - rows // 10].astype(np.float64)
    down_mm = np.arange(len(inner)) * strip.mm_per_px
    wave = np.hanning(len(inner)) * np.exp(-2j * np.pi * down_mm / 9.0)
    inner = inner - inner.mean(axis=0)
    phase = np.unwrap(np.angle(wave @ inner))
    along_mm = np.arange(strip.image.shape[1]) * strip.mm_per_px
    return float(np.polyfit(along_mm, phase, 1)[0] * 9.0 / (2 * np.pi))


def marks_in(strip: Strip, marks_mm: tuple[float, ...]) -> list[float]:
    """Where the dark marks lie in a strip, near where they should."""
    mean = strip.image[3:-3].mean(axis=0)
    at = strip.from_mm + np.arange(len(mean)) * strip.mm_per_px
    found = []
    for mark in marks_mm:
        near = np.abs(at - mark) < 12
        dark = np.maximum(0.5 - mean[near], 0)
        found.append(float((dark * at[near]).sum() / dark.sum()))
    return found


VIEWS = [
    View(),
    View(along_deg=6.0),
    View(along_deg=-5.0, across_deg=9.0),
    View(across_deg=-20.0),
    View(roll_deg=3.0, along_deg=3.0, across_deg=5.0),
]


@pytest.mark.parametrize("view", VIEWS, ids=str)
@pytest.mark.parametrize("slope", [0.05, -0.083])
def test_slopes_and_positions_are_those_drawn(view: View, slope: float) -> None:
    """With both ends in view, angles agree within 0.05 degrees and positions within 1.5 mm, however it is tilted."""
    marks = (60.0, 400.0, 750.0, 1100.0, 1440.0)
    strip = straighten(view.photo(slope, marks), view.outline(), view.across_mm, view.length_mm)
    assert math.degrees(math.atan(slope_in(strip))) == pytest.approx(math.degrees(math.atan(slope)), abs=ANGLE_DEG)
    assert marks_in(strip, marks) == pytest.approx(marks, abs=POSITION_MM)
    assert (strip.from_mm, strip.to_mm) == pytest.approx((0.0, view.length_mm), abs=strip.mm_per_px)
    assert (strip.image.shape[0] - 1) * strip.mm_per_px == pytest.approx(view.across_mm)
    assert strip.scale_error < 0.03
    assert strip.image.dtype == np.float32


@pytest.mark.parametrize("across_deg", [-15.0, 0.0, 12.0])
@pytest.mark.parametrize("shift_mm", [-500.0, 500.0])
def test_one_end_in_view_still_gives_the_scale(across_deg: float, shift_mm: float) -> None:
    """With one end out of view the lean of the other tells the tilt: positions hold within 0.5 % of what is seen."""
    view = View(length_mm=2400.0, across_deg=across_deg, along_deg=2.0, shift_mm=shift_mm)
    outline = view.outline()
    assert outline.marked_end_in_view == (shift_mm < 0)
    assert outline.far_end_in_view == (shift_mm > 0)
    marks = (300.0, 900.0, 1300.0) if shift_mm < 0 else (1150.0, 1600.0, 2200.0)
    strip = straighten(view.photo(0.0, marks), outline, view.across_mm, view.length_mm)
    assert marks_in(strip, marks) == pytest.approx(marks, abs=0.005 * (strip.to_mm - strip.from_mm))
    if shift_mm < 0:
        assert strip.from_mm == 0.0
    else:
        assert strip.to_mm == pytest.approx(2400.0, abs=strip.mm_per_px)


def test_no_end_in_view_takes_the_scale_from_the_width() -> None:
    """A close-up gets its scale from the width; that the side may be tilted is said in scale_error."""
    view = View(length_mm=4000.0, along_deg=4.0)
    strip = straighten(view.photo(0.05), view.outline(), view.across_mm, None)
    assert strip.from_mm == 0.0
    assert math.degrees(math.atan(slope_in(strip))) == pytest.approx(math.degrees(math.atan(0.05)), abs=ANGLE_DEG)
    tilted = View(length_mm=4000.0, across_deg=14.0)
    strip = straighten(tilted.photo(0.05), tilted.outline(), tilted.across_mm, None)
    assert abs(slope_in(strip) / 0.05 - 1) < strip.scale_error


def test_an_unknown_focal_length_is_taken_as_a_usual_one() -> None:
    """Without camera notes the scale along still holds within what is stated."""
    view = View(length_mm=4000.0, along_deg=5.0)
    strip = straighten(view.photo(0.05, focal_known=False), view.outline(), view.across_mm, None)
    assert abs(slope_in(strip) / 0.05 - 1) < strip.scale_error


def test_crook_is_up_in_the_sides_own_photo() -> None:
    """A board whose middle sags by 9 pixels at 1 px per mm has a crook of -9 mm in the middle, turned or not."""
    scene = Drawn(bend=9.0)
    cols = np.linspace(scene.first, scene.last, 65)
    upper, lower = (np.stack([edge(cols), cols], axis=1) for edge in (scene.upper, scene.lower))
    length, across = scene.last - scene.first, scene.width
    sag = scene.middle(np.array([800.0]))[0] - scene.middle(np.array([90.0]))[0]
    level = straighten(draw(scene), Outline(upper, lower, True, True, 1.0), across, length)
    photo = turned(draw(scene))
    frame = Frame(photo, True)
    upright = straighten(photo, Outline(frame.to_photo(upper), frame.to_photo(lower), True, True, 1.0), across, length)
    for strip in (level, upright):
        middle = np.interp(length / 2, strip.crook_positions_mm, strip.crook_mm)
        assert middle == pytest.approx(-sag, abs=0.3)
        assert strip.crook_mm[0] == pytest.approx(0.0, abs=0.01)
    part = slice(0, min(level.image.shape[1], upright.image.shape[1]))
    assert np.abs(level.image[:, part] - upright.image[:, part]).max() < 0.02


def test_both_long_corners_become_straight() -> None:
    """Rows 0 and last of the strip lie on the long corners of a bent board, all along: half wood, half floor there."""
    scene = Drawn(bend=12.0, noise=0.0, grain=0.0)
    cols = np.linspace(scene.first, scene.last, 65)
    upper, lower = (np.stack([edge(cols), cols], axis=1) for edge in (scene.upper, scene.lower))
    strip = straighten(draw(scene), Outline(upper, lower, True, True, 1.0), 44.0, 1420.0)
    inside = strip.image[10, 20:-20].mean()
    for row in (0, -1):
        edge = strip.image[row, 20:-20]
        assert edge.std() < 0.04
        assert 0.4 < edge.mean() < inside - 0.05


def test_resolution_and_scale_follow_from_the_photo() -> None:
    """44 px across a 22 mm side is 2 px per mm; the strip is sampled no coarser than that."""
    scene = Drawn()
    outline = outline_from_corners(draw(scene), [(90, 580), (1510, 580), (1510, 624), (90, 624)])
    strip = straighten(draw(scene), outline, 22.0, 710.0)
    assert strip.photo_px_per_mm == pytest.approx(2.0)
    assert strip.mm_per_px <= 0.5
    assert strip.image.shape[1] == pytest.approx(710.0 / strip.mm_per_px, abs=1.5)


def test_scale_error_grows_as_the_side_shrinks() -> None:
    """A corner is placed to a share of a pixel, so a side half as wide in the photo is half as sure of its scale."""
    errors = []
    for width in (80.0, 40.0):
        scene = Drawn(width=width)
        corners = [(90.0, 580.0), (1510.0, 580.0), (1510.0, 580.0 + width), (90.0, 580.0 + width)]
        photo = draw(scene)
        errors.append(straighten(photo, outline_from_corners(photo, corners), 40.0, 1420.0).scale_error)
    assert errors[1] == pytest.approx(2 * errors[0])
