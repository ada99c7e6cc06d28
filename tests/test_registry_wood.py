"""Real wood that nobody here photographed, from a general graphics package that the test extra installs.

Source: jupyterlab_vpython 3.1.8 on PyPI (BSD 3-clause), textures for three-dimensional scenes,
vpython_data/wood_texture.jpg (a planed board, dark ring lines) and wood_old_texture.jpg (weathered,
cracked), 512 x 512 pixels each, lines running about along the rows.

What stands beside the reading: scikit-image's Radon transform of the same pixels (the angle whose
projection varies most), scipy's Gaussian derivatives, and the angle that lines laid along the picture
show to the eye. How the pictures were scaled is not known; a slope does not depend on it, and the
scale only sets how wide the windows are.
"""

from functools import cache
from importlib.metadata import files
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import pytest
from PIL import Image

from service.grain.lines import measure_lines
from tests.bench.estimators import gaussian_tensor, radon_slope
from tests.grain.strips import Float

PACKAGE: Final = "jupyterlab_vpython"
#: Chosen so that the pictures are as wide as a broad board.
MM_PER_PX: Final = 0.4

#: Two methods weigh the lines of the planed board, which are not all parallel, differently: half a degree.
AGREE_DEG: Final = 0.5
#: The eye lays a line along a picture's grain to this, on the planed board and on the weathered one.
EYE_DEG, EYE_OLD_DEG = 0.5, 2.0
#: A turned picture's reading turns with it to this, resampling and the cut at the border included.
TURN_DEG: Final = 0.1


@cache
def picture(name: str) -> Float:
    """Open one of the package's pictures as grey, 0 to 1."""
    (path,) = (Path(str(file.locate())) for file in files(PACKAGE) or () if file.name == name)
    return np.asarray(Image.open(path).convert("L"), np.float32) / np.float32(255)


def read_deg(wood: Float) -> float:
    """Read one angle, each position by its own stated error."""
    field = measure_lines(np.ascontiguousarray(wood), MM_PER_PX)
    weight = 1 / field.error**2
    return float(np.degrees(np.arctan((weight * field.slope).sum() / weight.sum())))


def turned(wood: Float, turn_deg: float) -> Float:
    """Turn a picture counter-clockwise and cut off what the turn brought in from outside."""
    rows, cols = wood.shape
    turn = cv2.getRotationMatrix2D((cols / 2 - 0.5, rows / 2 - 0.5), turn_deg, 1.0)
    whole = cv2.warpAffine(wood, turn, (cols, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return np.asarray(whole[60:-60, 60:-60], np.float32)


@pytest.mark.parametrize("top", [0, 128, 256, 384])
def test_the_planed_board_reads_as_the_radon_transform_does(top: int) -> None:
    """Every strip of 128 rows gives the angle that the Radon transform finds in the same pixels."""
    strip = picture("wood_texture.jpg")[top : top + 128]

    assert read_deg(strip) == pytest.approx(np.degrees(np.arctan(radon_slope(strip))), abs=AGREE_DEG)


def test_the_planed_board_reads_level_as_the_eye_sees_it() -> None:
    """The dark lines leave the right border at the height at which they enter the left one."""
    assert read_deg(picture("wood_texture.jpg")) == pytest.approx(0.0, abs=EYE_DEG)


@pytest.mark.parametrize("turn_deg", [-6.0, -3.0, 3.0, 6.0])
def test_a_turned_board_reads_turned(turn_deg: float) -> None:
    """Turned by a known angle, real wood reads as much steeper: no pull toward straight."""
    wood = picture("wood_texture.jpg")

    assert read_deg(turned(wood, turn_deg)) - read_deg(turned(wood, 0.0)) == pytest.approx(turn_deg, abs=TURN_DEG)


@pytest.mark.parametrize(("top", "eye_deg"), [(64, 4.5), (256, 8.0)])
def test_weathered_wood_reads_as_the_eye_sees_it(top: int, eye_deg: float) -> None:
    """The long crack rises 38 pixels over 500, the dark streak below the middle 77 over 512."""
    strip = picture("wood_old_texture.jpg")[top : top + 128]

    assert read_deg(strip) == pytest.approx(eye_deg, abs=EYE_OLD_DEG)


def test_weathered_wood_reads_as_gaussian_derivatives_do() -> None:
    """Over the whole weathered picture a smooth tensor of scipy's finds the same angle."""
    wood = picture("wood_old_texture.jpg")
    theirs_deg = float(np.degrees(np.arctan(gaussian_tensor(wood, sigma_px=3.0))))

    assert read_deg(wood) == pytest.approx(theirs_deg, abs=1.0)
