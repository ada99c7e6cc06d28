"""Real photos of wood that nobody here made, kept beside the project and read only when they are there.

Their angles were read by others with a structure tensor and by eye, to a degree or so: a check of
signs and of gross error, not of tenths.

Sources: red_oak_board, softwood_panel: learnmaketeachshare, MIT, 2018. sawn_softwood: Kodytek et
al. 2021, doi 10.5281/zenodo.4694695, CC BY 4.0. block: Maria Larsson, mokumeproject, MIT, 2025.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage.feature import structure_tensor

from service.errors import Problem
from service.grain.lines import measure_lines
from service.grain.prepare import detrend_columns, even_contrast
from service.grain.tensor import Scale, line_direction, whitened_gradient
from service.photo.decode import open_photo
from service.photo.outline import find_side, outline_from_corners
from service.photo.straighten import straighten
from tests.grain.strips import Float

PHOTOS = Path(__file__).parents[2] / "shared" / "photos"

pytestmark = pytest.mark.skipif(not PHOTOS.is_dir(), reason="the real photos are not beside the project")

BOARDS = {
    "red_oak_board": (((62, 127), (598, 52), (793, 282), (64, 530)), -0.3),
    "softwood_panel": (((1334, 2194), (190, 701), (1083, 456), (2424, 1502)), -1.3),
}

#: What the pictures' own list allows, degrees.
WITHIN_DEG = 1.5


@pytest.mark.parametrize("name", sorted(BOARDS))
def test_a_straightened_face_reads_its_angle(name: str) -> None:
    """With the corners given by hand the face is straightened and reads what its list says."""
    corners, angle_deg = BOARDS[name]
    photo = open_photo((PHOTOS / f"{name}.jpg").read_bytes(), name)
    outline = outline_from_corners(photo, corners)
    field = measure_lines(straighten(photo, outline, 140.0, 600.0).image, 140.0 / 400)
    weight = 1 / field.error**2
    found_deg = np.degrees(np.arctan((weight * field.slope).sum() / weight.sum()))

    assert found_deg == pytest.approx(angle_deg, abs=WITHIN_DEG)


@pytest.mark.parametrize("name", sorted(BOARDS))
def test_outline_is_found_or_refused_with_a_reason(name: str) -> None:
    """The board is found within 3 % of the picture's width, or the refusal says what to do."""
    photo = open_photo((PHOTOS / f"{name}.jpg").read_bytes(), name)
    outline = find_side(photo)
    if isinstance(outline, Problem):
        assert "corners" in outline.text
        return

    truth = np.array(BOARDS[name][0], float)
    order = [truth, np.roll(truth[::-1], 0, axis=0)]
    found = np.array(outline.corners)
    off_px = min(np.abs(np.roll(corners, shift, axis=0) - found).max() for corners in order for shift in range(4))
    assert off_px <= 0.03 * photo.luma.shape[1]


def turned(picture: Float, degrees: float) -> Float:
    """Turn a picture clockwise and keep the square in its middle."""
    rows, cols = picture.shape
    turn = cv2.getRotationMatrix2D((cols / 2 - 0.5, rows / 2 - 0.5), -degrees, 1.0)
    whole = cv2.warpAffine(picture, turn, (cols, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    half = int(min(rows, cols) / 2 / np.sqrt(2))
    middle = np.s_[rows // 2 - half : rows // 2 + half, cols // 2 - half : cols // 2 + half]
    return np.ascontiguousarray(whole[middle], np.float32)


def grey(name: str) -> Float:
    """Open a tile as grey, 0 to 1."""
    return np.asarray(Image.open(PHOTOS / f"{name}.png").convert("L"), np.float32) / np.float32(255)


def whole_deg(picture: Float) -> float:
    """Read one angle for a picture whose lines run nearly level."""
    even = even_contrast(detrend_columns(picture), 60.0)
    scale = Scale(4, 1.2)
    along, across = whitened_gradient(even, scale)
    core = np.s_[4:-4, 14:-14]
    along, across = along[core].astype(float), across[core].astype(float)
    found = line_direction(np.mean(along**2), np.mean(along * across), np.mean(across**2), scale, 100)
    return float(np.degrees(np.arctan(found.slope)))


@pytest.mark.parametrize(
    ("name", "angle_deg"), [("block_CN03_C", 73.9), ("block_CN03_E", -73.4), ("block_H11_E", 86.6)]
)
def test_blocks_read_their_angle_and_an_independent_library_agrees(name: str, angle_deg: float) -> None:
    """Quarter and side faces of hardwood blocks, turned to within a few degrees of level."""
    turn_deg = 10 * round(angle_deg / 10)
    picture = turned(grey(name), turn_deg)
    theirs = [part[8:-8, 8:-8].mean() for part in structure_tensor(picture.astype(float), sigma=2, order="rc")]
    theirs_deg = np.degrees(0.5 * np.arctan2(2 * theirs[1], theirs[0] - theirs[2]))

    assert turn_deg + whole_deg(picture) == pytest.approx(angle_deg, abs=WITHIN_DEG)
    assert whole_deg(picture) == pytest.approx(theirs_deg, abs=2.0)


@pytest.mark.parametrize(
    ("name", "angle_deg", "within_deg"),
    [
        ("sawn_softwood_v_r0c2", -89.4, 1.0),
        ("sawn_softwood_v_r1c0", -87.9, WITHIN_DEG),
        ("sawn_softwood_v_r0c0", -88.0, 4.5),
        ("sawn_softwood_v_r1c1", -89.0, 2.0),
    ],
)
def test_sawn_tiles_read_their_angle(name: str, angle_deg: float, within_deg: float) -> None:
    """Boards between their two edges on black, the board's axis upright; a quarter turn lays them level."""
    level = np.rot90(grey(name))
    wood = (level > 0.12).mean(axis=1) > 0.5
    rows = np.flatnonzero(wood)
    cols = np.flatnonzero((level[rows[0] : rows[-1]] > 0.12).mean(axis=0) > 0.98)
    picture = np.ascontiguousarray(level[rows[0] + 6 : rows[-1] - 6, cols[0] : cols[-1] + 1])
    field = measure_lines(picture, 0.6)
    weight = 1 / field.error**2
    found_deg = np.degrees(np.arctan((weight * field.slope).sum() / weight.sum()))

    assert found_deg - 90 == pytest.approx(angle_deg, abs=within_deg)
