"""Part photos read like one long photo: the same drawn board, once in one piece and once in three."""

from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray

from service.board.assemble import board_grid
from service.grain.types import SideGrain
from service.reading import Wish, read_board
from service.sides import BoardSize
from service.sight import SideSight, see_side
from service.upload import Upload
from tests.drawing import LOOKS, over_whole, photograph, random_parts, random_scene, random_solid

LENGTH_MM: Final = 1219.2
SIDE: Final = "face_1"
GRID_MM = board_grid(LENGTH_MM)
SEEDS = (751, 752)

#: Mean difference of the lines' angle between the two ways, in degrees, and how far run-offs may lie apart beyond
#: what the slopes' stated errors allow: two positions of the grid.
MEAN_DEG, GRID_STEPS_MM = 0.08, 12.7


@cache
def photos(seed: int) -> tuple[float, Upload, tuple[Upload, ...]]:
    """Photograph a made-up straight face whole, with many pixels, and in three parts: both 107 px per inch."""
    solid = random_solid(seed, look=LOOKS["open"], length_mm=LENGTH_MM, tilt_deg=60.0, diagonal=0.03)
    solid = replace(solid, crook_mm=0.0, bow_mm=0.0)
    scene = replace(random_scene(seed, ground="floor", shadow=False, portrait=False, orientation=1), below_mm=0.0)
    whole, truth = photograph(solid, SIDE, over_whole(LENGTH_MM, 0.96, cols=5400, rows=500), scene)
    parts = [
        Upload(f"{number}.jpg", photograph(solid, SIDE, camera, replace(scene, seed=10 * seed + number, place=seed))[0])
        for number, camera in enumerate(random_parts(seed, solid, 3, cols=2400, rows=800))
    ]
    corners = tuple((col, row) for col, row in truth["corners_px"])
    return solid.across_mm(SIDE), Upload("whole.jpg", whole, corners), tuple(parts)


@cache
def seen(seed: int, order: tuple[int, ...]) -> SideSight:
    """Read the parts in an order; the whole photo when the order is empty."""
    across_mm, whole, parts = photos(seed)
    return see_side([parts[n] for n in order] if order else [whole], LENGTH_MM, across_mm, GRID_MM)


def grain(seed: int, order: tuple[int, ...]) -> SideGrain:
    """Return the grain read."""
    found = seen(seed, order).grain
    assert found is not None
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_parts_give_the_slopes_of_one_long_photo(seed: int) -> None:
    """Nothing is left unread, and the lines run the same way within their stated errors at 90 % of all places."""
    whole, parts = grain(seed, ()), grain(seed, (0, 1, 2))
    apart = np.abs(parts.line - whole.line)

    assert np.isfinite(parts.line).mean() > 0.95
    assert np.degrees(np.nanmean(apart)) < MEAN_DEG
    assert np.nanmean(apart < 1.96 * np.hypot(parts.line_error, whole.line_error)) > 0.9


def leaves_mm(slope: NDArray[np.float64], across_mm: float) -> dict[int, float]:
    """Say where lines from tenths of the width leave the side: slopes summed up, unread ones filled in straight."""
    known = np.isfinite(slope)
    filled = np.interp(GRID_MM, GRID_MM[known], slope[known])
    rise = np.append(0.0, np.cumsum(filled * np.diff(GRID_MM, prepend=0.0)))
    found = {}
    for line in range(1, 10):
        height = line / 10 * across_mm + rise
        off = np.flatnonzero((height <= 0) | (height >= across_mm))
        if off.size:
            found[line] = float(np.append(0.0, GRID_MM)[off[0]])
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_lines_leave_the_side_at_the_same_places(seed: int) -> None:
    """Run-offs of the parts lie between those of the long photo with its slopes steeper and flatter by the errors."""
    across_mm, _, _ = photos(seed)
    whole, parts = grain(seed, ()), grain(seed, (0, 1, 2))
    error = np.hypot(whole.line_error, parts.line_error)
    found = leaves_mm(parts.line, across_mm)
    bounds = [leaves_mm(whole.line + way * error, across_mm) for way in (-1.0, 1.0)]

    assert len(found) > 3
    for line, place_mm in found.items():
        ends = [bound.get(line, LENGTH_MM) for bound in bounds]
        assert min(ends) - GRID_STEPS_MM <= place_mm <= max(ends) + GRID_STEPS_MM


@pytest.mark.parametrize("order", [(2, 0, 1), (2, 1, 0)])
def test_the_order_of_photos_changes_nothing_but_a_note(order: tuple[int, ...]) -> None:
    """Given in a wrong order, the photos give the same slopes to the last digit, and the order is told."""
    plain, mixed = seen(SEEDS[0], (0, 1, 2)), seen(SEEDS[0], order)

    assert plain.told == ()
    assert [told.code for told in mixed.told] == ["order"]
    assert "0.jpg, 1.jpg, 2.jpg" in mixed.told[0].text
    assert np.allclose(grain(SEEDS[0], order).line, grain(SEEDS[0], (0, 1, 2)).line, atol=1e-9, equal_nan=True)


def test_a_missing_middle_photo_leaves_a_named_gap() -> None:
    """Without the second photo the stretch that nobody shows stays unread, and is told from where to where."""
    sight = seen(SEEDS[0], (0, 2))
    first, last = sight.strips

    assert [told.code for told in sight.told] == ["gap"]
    assert "No photo shows the board from" in sight.told[0].text
    unread = np.abs(GRID_MM - 0.5 * (first.to_mm + last.from_mm)) < 0.5 * (last.from_mm - first.to_mm) - 10.0
    assert unread.any()
    assert np.isnan(grain(SEEDS[0], (0, 2)).line[unread]).all()


def test_the_answer_names_the_side_whose_photos_are_out_of_order() -> None:
    """What is noticed about a side's photos stands among the reasons, with the side's name before it."""
    across_mm, _, parts = photos(SEEDS[0])
    answer = read_board(Wish(BoardSize(LENGTH_MM, across_mm, 19.0), 900.0, {SIDE: parts[::-1]})).answer

    assert any(reason.code == "order" and reason.text.startswith("Face 1: The photos") for reason in answer.reasons)
    assert [photo.file for photo in answer.sides[SIDE].photos] == ["2.jpg", "1.jpg", "0.jpg"]
