"""Photos too poor to read are refused for the right reason, and good ones are not."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from service.photo.outline import find_side, outline_from_corners
from service.photo.quality import blank_photo, photo_problems, usable, why_nothing
from service.photo.sharp import SHARP_PX, blurred_all_over, edge_spread_px, end_spread_px
from service.photo.straighten import straighten
from service.photo.types import Outline, Photo, Strip
from tests.photo.scenes import Drawn, draw

#: 44 px across a 25 mm side.
ACROSS_MM = 25.0
SCENE = Drawn()
LENGTH_MM = (SCENE.last - SCENE.first) * ACROSS_MM / SCENE.width


def outline_of(photo: Photo, scene: Drawn = SCENE) -> Outline:
    """Return the true outline of a level scene."""
    low = scene.top + scene.width
    corners = [(scene.first, scene.top), (scene.last, scene.top), (scene.last, low), (scene.first, low)]
    return outline_from_corners(photo, corners)


def read(
    photo: Photo, scene: Drawn = SCENE, across_mm: float = ACROSS_MM, length_mm: float = LENGTH_MM
) -> tuple[Outline, Strip]:
    """Straighten the side of a scene."""
    outline = outline_of(photo, scene)
    return outline, straighten(photo, outline, across_mm, length_mm)


def code(photo: Photo, scene: Drawn = SCENE, across_mm: float = ACROSS_MM, length_mm: float = LENGTH_MM) -> str | None:
    """Say why a photo cannot be used, as a code."""
    problem = usable(photo, *read(photo, scene, across_mm, length_mm))
    return problem.code if problem else None


def moved(photo: Photo, along_px: int, across_px: int) -> Photo:
    """Blur a photo as if the phone had moved, then add the noise of a sensor."""
    kernel = np.full((across_px, along_px), 1 / (along_px * across_px))
    noise = 2.5 * np.random.default_rng(3).standard_normal(photo.luma.shape)
    shaken = cv2.filter2D(photo.luma, cv2.CV_64F, kernel) + noise
    return replace(photo, luma=np.clip(np.round(shaken), 0, 255).astype(np.uint8))


@pytest.mark.parametrize("blur_px", [0.5, 0.8, 1.3])
def test_a_good_photo_has_no_problems(blur_px: float) -> None:
    """Photos as sharp as phones make them are usable."""
    photo = draw(replace(SCENE, blur_px=blur_px))
    assert photo_problems(photo, *read(photo)) == ()


@pytest.mark.parametrize("blur_px", [4.0, 8.0])
@pytest.mark.parametrize("noise", [0.0, 0.04])
def test_an_unfocused_photo_is_blurred_however_noisy(blur_px: float, noise: float) -> None:
    """Blur is told by the corners' own width, so that noise cannot pass for sharpness."""
    assert code(draw(replace(SCENE, blur_px=blur_px, noise=noise))) == "blurred"


@pytest.mark.parametrize(("along_px", "across_px"), [(1, 17), (31, 1)])
def test_a_shaken_photo_is_blurred_whichever_way_it_moved(along_px: int, across_px: int) -> None:
    """Movement across the board softens its long corners, movement along it its ends."""
    assert code(moved(draw(SCENE), along_px, across_px)) == "blurred"


def test_sharpness_falls_as_blur_grows() -> None:
    """The more blur, the less sharpness, with and without noise; the spread measured is the blur drawn."""
    for noise in (0.0, 0.03):
        blurs = (0.8, 1.5, 2.5, 4.0, 6.0)
        photos = [draw(replace(SCENE, blur_px=blur, noise=noise)) for blur in blurs]
        sharpness = [read(photo)[1].sharpness for photo in photos]
        assert sharpness == sorted(sharpness, reverse=True)
        spread = edge_spread_px(photos[3], outline_of(photos[3]))
        assert spread == pytest.approx(4.0, rel=0.2)
        assert sharpness[3] == pytest.approx(SHARP_PX / spread, rel=0.05)


def test_spread_along_the_board_needs_an_end() -> None:
    """Without an end in view nothing is said about movement along the board."""
    photo = draw(SCENE)
    outline = outline_of(photo)
    assert end_spread_px(photo, outline) == pytest.approx(0.9, abs=0.3)
    assert end_spread_px(photo, replace(outline, marked_end_in_view=False, far_end_in_view=False)) is None


def test_a_photo_in_the_dark_is_too_dark() -> None:
    """A side in which nothing is lighter than a tenth is too dark to read."""
    assert code(draw(replace(SCENE, gain=0.11, noise=0.004))) == "too_dark"


def test_a_burnt_out_side_is_burnt_out() -> None:
    """A side whose wood is white all over is refused, although its outline is clear."""
    assert code(draw(replace(SCENE, wood=(1.0, 1.0, 1.0), gain=1.15, grain=0.0))) == "burnt_out"


def test_a_small_side_is_too_small() -> None:
    """Fewer than 14 pixels across, or fewer than 25 per inch, are too few."""
    thin = replace(SCENE, width=12.0)
    assert code(draw(thin), thin, 10.0, 1183.0) == "too_small"
    assert code(draw(SCENE), SCENE, 48.0, 48.0 / 44.0 * 1420.0) == "too_small"
    assert code(draw(SCENE), SCENE, 43.0, 43.0 / 44.0 * 1420.0) is None


def test_a_side_seen_at_a_flat_angle_is_grazing() -> None:
    """A side that looks half as wide as its length says is seen at too flat an angle."""
    assert code(draw(SCENE), SCENE, 25.0, 1420.0 * 25 / 44 / 2) == "grazing"


def test_a_long_corner_out_of_the_photo_is_said() -> None:
    """A board whose long corner runs out of the picture is found, but not usable."""
    scene = replace(SCENE, first=-99.0, last=1800.0, top=330.0, width=800.0, fall=180.0)
    outline = find_side(draw(scene), across_mm=88.9)
    assert isinstance(outline, Outline)
    problem = usable(draw(scene), outline, straighten(draw(scene), outline, 88.9, None))
    assert problem is not None
    assert problem.code == "cut_off"


def test_light_is_told_before_looking_for_a_board() -> None:
    """Black and white pictures are told at a glance; a dim or grey one is looked at."""
    for gain, expected in ((0.0, "too_dark"), (9.0, "burnt_out")):
        problem = blank_photo(draw(replace(SCENE, gain=gain, noise=0.0)))
        assert problem is not None
        assert problem.code == expected
    assert blank_photo(draw(replace(SCENE, gain=0.3))) is None


def test_a_photo_without_a_board_is_blamed_only_for_its_own_faults() -> None:
    """An empty floor is no fault of the photo; an unfocused, dim or burnt-out one is."""
    empty = replace(SCENE, first=4000.0, last=5000.0)
    assert why_nothing(draw(SCENE)) is None
    faults = {
        "blurred": replace(SCENE, blur_px=9.0, noise=0.01),
        "too_dark": replace(empty, gain=0.25),
        "burnt_out": replace(empty, gain=3.0),
    }
    for expected, scene in faults.items():
        problem = why_nothing(draw(scene))
        assert problem is not None
        assert problem.code == expected
    assert blurred_all_over(draw(faults["blurred"]))
    assert not blurred_all_over(draw(SCENE))
