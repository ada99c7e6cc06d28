"""Finding a side of the board in plain drawn photos, where every corner is exactly known."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from service.errors import BadInput, Problem
from service.photo.outline import find_side, outline_from_corners
from service.photo.types import Outline, Photo
from tests.photo.scenes import DARK_WOOD, Drawn, draw, mirrored, turned

#: Median distance of a long corner from where it was drawn, and of an end, in pixels.
CORNER_PX = 0.35
END_PX = 2.5

PLAIN = Drawn()


def found(photo: Photo, scene: Drawn) -> Outline:
    """Find the side, which must be there; the drawn board is taken to be 1420 mm long at 1 px per mm."""
    outline = find_side(photo, length_mm=scene.last - scene.first, across_mm=scene.width, photos=1)
    assert isinstance(outline, Outline), outline
    return outline


def misses(outline: Outline, scene: Drawn) -> tuple[float, float]:
    """Median distances of the upper and the lower corner from where they were drawn."""
    return (
        float(np.median(np.abs(outline.upper[:, 0] - scene.upper(outline.upper[:, 1])))),
        float(np.median(np.abs(outline.lower[:, 0] - scene.lower(outline.lower[:, 1])))),
    )


def ends(points: NDArray[np.float64]) -> list[float]:
    """Columns where a long corner begins and stops."""
    return [float(points[0, 1]), float(points[-1, 1])]


@pytest.mark.parametrize(
    "scene",
    [
        PLAIN,
        replace(PLAIN, wood=DARK_WOOD, floor=(0.75, 0.74, 0.70)),
        replace(PLAIN, fall=120.0, taper=0.12),
        replace(PLAIN, fall=-90.0, bend=9.0),
        replace(PLAIN, shadow=True),
        replace(PLAIN, width=16.0, top=590.0),
        replace(PLAIN, width=150.0, top=500.0),
        replace(PLAIN, top=380.0),
        replace(PLAIN, blur_px=2.0, noise=0.04),
        replace(PLAIN, tape_px=28.0),
    ],
    ids=["plain", "dark wood", "slanted", "bent", "shadow", "thin", "wide", "off the middle", "soft", "tape"],
)
def test_corners_and_ends_lie_where_they_were_drawn(scene: Drawn) -> None:
    """Both long corners and both ends are found, whatever the board's place, slant, bend, colour and light."""
    outline = found(draw(scene), scene)
    assert max(misses(outline, scene)) < CORNER_PX
    assert outline.marked_end_in_view
    assert outline.far_end_in_view
    assert ends(outline.upper) == pytest.approx([scene.first, scene.last], abs=END_PX)
    assert ends(outline.lower) == pytest.approx([scene.first, scene.last], abs=END_PX)


def test_the_strip_of_the_next_side_is_left_out() -> None:
    """Seen slightly from one side, the outline keeps to the wanted side's own corner, not the outer one."""
    for strip in (6.0, 14.0):
        scene = replace(PLAIN, strip=strip)
        assert max(misses(found(draw(scene), scene), scene)) < CORNER_PX


def test_the_board_across_the_middle_is_taken_among_others() -> None:
    """With boards of the same wood on both sides, three pixels of gap between, the one across the middle is found."""
    beside = ((60.0, 1480.0, -140.0, 137.0), (120.0, 1560.0, 47.0, 90.0), (20.0, 1500.0, 142.0, 60.0))
    scene = replace(PLAIN, boards=beside, floor=(0.10, 0.10, 0.11))
    outline = found(draw(scene), scene)
    # The neighbour's own edge, three pixels off, pulls the blurred step a little inward.
    assert max(misses(outline, scene)) < 0.5
    assert ends(outline.upper) == pytest.approx([scene.first, scene.last], abs=END_PX)


def test_a_board_that_goes_on_beyond_the_picture_is_followed_to_its_border() -> None:
    """Ends out of view are said to be out of view, and the outline runs to the border."""
    scene = replace(PLAIN, first=-50.0, last=1300.0, width=90.0, top=560.0)
    outline = find_side(draw(scene), length_mm=3000.0, across_mm=90.0, photos=2)
    assert isinstance(outline, Outline)
    assert (outline.marked_end_in_view, outline.far_end_in_view) == (False, True)
    assert ends(outline.upper) == pytest.approx([0.0, 1300.0], abs=END_PX)
    assert max(misses(outline, scene)) < CORNER_PX


def test_a_close_up_is_found_from_its_width_alone() -> None:
    """A close-up shows both long corners and no end."""
    scene = replace(PLAIN, first=-99.0, last=1800.0, width=640.0, top=280.0, taper=0.05, grain=0.05)
    outline = find_side(draw(scene), across_mm=88.9)
    assert isinstance(outline, Outline)
    assert not outline.marked_end_in_view
    assert not outline.far_end_in_view
    assert max(misses(outline, scene)) < 2 * CORNER_PX


def test_a_portrait_photo_reads_like_a_landscape_one_turned_clockwise() -> None:
    """With the marked end at the bottom, "upper" is the left corner, and points run from the bottom up."""
    scene = replace(PLAIN, fall=60.0)
    level, upright = found(draw(scene), scene), found(turned(draw(scene)), scene)
    # A quarter turn counter-clockwise takes (row, col) to (cols - 1 - col, row).
    expected = np.stack([scene.cols - 1 - level.upper[:, 1], level.upper[:, 0]], axis=1)
    assert np.abs(upright.upper - expected).max() < 0.3
    assert upright.upper[0, 0] > upright.upper[-1, 0]
    assert upright.upper[:, 1].mean() < upright.lower[:, 1].mean()


def test_mirroring_a_photo_mirrors_the_outline() -> None:
    """Mirrored top to bottom the upper corner is the old lower one; mirrored left to right the ends change places."""
    scene = replace(PLAIN, fall=60.0, last=1460.0)
    plain = found(draw(scene), scene)
    flipped = found(mirrored(draw(scene), rows=True), scene)
    assert np.abs(flipped.upper[:, 0] - (scene.rows - 1 - plain.lower[:, 0])).max() < 0.3
    flipped = found(mirrored(draw(scene), cols=True), scene)
    assert np.abs(flipped.upper[::-1, 0] - plain.upper[:, 0]).max() < 0.3
    assert ends(flipped.upper) == pytest.approx([1599 - 1460, 1599 - 90], abs=END_PX)


def test_brightness_does_not_move_the_outline() -> None:
    """A photo at 60 % of its brightness gives the same corners."""
    scene = replace(PLAIN, noise=0.004)
    plain, dim = found(draw(scene), scene), found(draw(replace(scene, gain=0.6)), scene)
    assert np.abs(plain.upper[:, 0] - dim.upper[:, 0]).max() < 0.2
    assert np.abs(plain.lower[:, 0] - dim.lower[:, 0]).max() < 0.2


def test_an_empty_floor_has_no_board() -> None:
    """A photo of the floor alone is refused with a sentence that says what to do."""
    empty = replace(PLAIN, first=4000.0, last=5000.0)
    problem = find_side(draw(empty), length_mm=1420.0, across_mm=44.0, photos=1)
    assert isinstance(problem, Problem)
    assert problem.code == "no_board"
    assert "set the four corners by hand" in problem.text


def test_a_board_away_from_the_middle_is_not_taken_when_another_lies_there() -> None:
    """When a board lies across the middle but its corners cannot be told, its neighbour is not read in its place."""
    # One wide sheet of the same wood lies under the middle; a board like the wanted one lies below it.
    scene = replace(PLAIN, top=760.0, boards=((-50.0, 1700.0, -420.0, 400.0),))
    problem = find_side(draw(scene), length_mm=1420.0, across_mm=44.0, photos=1)
    assert isinstance(problem, Problem)
    assert problem.code == "two_boards"


def test_a_board_as_light_as_its_ground_is_found_by_colour() -> None:
    """Wood and floor of one brightness but of different colour: both corners within 1.5 pixels."""
    scene = replace(PLAIN, wood=(0.55, 0.42, 0.30), floor=(0.42, 0.452, 0.473), width=90.0, top=550.0, grain=0.01)
    outline = found(draw(scene), scene)

    assert max(misses(outline, scene)) < 1.5
    assert ends(outline.upper) == pytest.approx([scene.first, scene.last], abs=2 * END_PX)


@pytest.mark.parametrize("photos", [0, 1, 2])
def test_a_board_on_ground_of_its_own_tone_is_not_guessed(photos: int) -> None:
    """Wood on wood of the same tone, lines of the grain all over: no outline, but what to do about it."""
    scene = replace(PLAIN, floor=(0.775, 0.615, 0.418), width=90.0, top=550.0, grain=0.05)
    problem = find_side(draw(scene), length_mm=1420.0, across_mm=90.0, photos=photos)

    assert isinstance(problem, Problem)
    assert problem.code in {"unclear", "no_board"}
    assert "set the four corners by hand" in problem.text


@pytest.mark.parametrize(("gain", "code"), [(0.0, "too_dark"), (9.0, "burnt_out")])
def test_black_and_white_photos_are_refused_for_their_light(gain: float, code: str) -> None:
    """A black or wholly burnt-out photo is refused for its light, not for lack of a board."""
    problem = find_side(draw(replace(PLAIN, gain=gain, noise=0.0)))
    assert isinstance(problem, Problem)
    assert problem.code == code


def test_corners_by_hand_make_a_straight_outline() -> None:
    """Four corners given by hand become two straight long corners from the marked end on."""
    photo = draw(PLAIN)
    outline = outline_from_corners(photo, [(90, 580), (1510, 570), (1512, 620), (88, 624)])
    assert outline.corners == [[90, 580], [1510, 570], [1512, 620], [88, 624]]
    middle = outline.upper[len(outline.upper) // 2]
    assert middle.tolist() == [575.0, 800.0]
    assert outline.marked_end_in_view
    assert outline.far_end_in_view
    assert outline.sure == 1.0


def test_corners_by_hand_on_the_border_mean_that_the_board_goes_on() -> None:
    """Corners on the picture's border are no ends of the board."""
    outline = outline_from_corners(draw(PLAIN), [(0, 580), (1510, 570), (1512, 620), (0, 624)])
    assert not outline.marked_end_in_view
    assert outline.far_end_in_view


@pytest.mark.parametrize(
    ("corners", "says"),
    [
        ([(90, 580), (1510, 570), (1512, 620)], "Four corners are needed, 3 were given."),
        (
            [(90, 580), (1610, 570), (1512, 620), (88, 624)],
            "A corner lies outside the photo, which is 1600 x 1200 pixels.",
        ),
        (
            [(90, -5), (1510, 570), (1512, 620), (88, 624)],
            "A corner lies outside the photo, which is 1600 x 1200 pixels.",
        ),
        ([(90, 580), (1512, 620), (1510, 570), (88, 624)], "The corners cross or are in the wrong order"),
        ([(88, 624), (1512, 620), (1510, 570), (90, 580)], "The corners cross or are in the wrong order"),
        ([(90, 580), (1510, 580), (1510, 583), (90, 583)], "The corners lie too close together"),
        ([(90, 100), (200, 100), (200, 900), (90, 900)], "The corners lie too close together"),
        ([(float("nan"), 580), (1510, 570), (1512, 620), (88, 624)], "Each corner needs a column and a row."),
    ],
)
def test_impossible_corners_are_refused(corners: list[tuple[float, float]], says: str) -> None:
    """Too few, outside, crossing, out of order or too thin: each is refused with its own sentence."""
    with pytest.raises(BadInput, match=says):
        outline_from_corners(draw(PLAIN), corners)
