"""The stretch of a photo that shows the board: cut out and laid back, it is read as in the whole photo."""

import json
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from PIL import Image

from service.board.assemble import board_grid
from service.errors import BadInput, BadPhoto
from service.photo.check import check_photo
from service.photo.decode import open_photo
from service.photo.layout import Layout, Tile, read_layout
from service.photo.stretch import BESIDE_PX, GRID_PX, cover, find_tiles, lay_back
from service.photo.types import Outline
from service.sight import see_side
from service.upload import Upload
from tests.drawing import Solid, over_whole, photograph, random_camera, random_scene, random_solid
from tests.photo.lighten import Light, cut, jpeg, lighten, preview_of, upright

LENGTH_MM = 2438.4
#: What cutting may change: the mean of the grain's angle, and places of corners.
ANGLE_DEG = 0.05
CORNER_PX = 1.0
#: Bytes sent, as a share of the photo's.
BYTES = 0.15

#: Kinds of photos: the side shown, and what is special about camera and scene.
KINDS: dict[str, tuple[str, dict[str, Any], dict[str, Any]]] = {
    "level": ("face_1", {}, {}),
    "askew": ("edge_1", {"roll_deg": 6.9}, {}),
    "upright": ("face_2", {"roll_deg": -3.0}, {"portrait": True, "orientation": 6}),
    "perspective": ("edge_2", {"tilt_along_deg": 9.0, "tilt_up_deg": 6.0, "bowing": 0.01}, {"orientation": 3}),
}


@cache
def drawn(kind: str) -> tuple[bytes, Solid, str]:
    """Draw a board's side at 12 megapixels."""
    side, held, lit = KINDS[kind]
    seed = 300 + list(KINDS).index(kind)
    solid = random_solid(seed, length_mm=LENGTH_MM, tilt_deg=50.0)
    plain = {"ground": "floor", "below_mm": 0.0, "noise": 0.012, "portrait": False, "orientation": 1}
    scene = random_scene(seed, **(plain | lit))
    camera = over_whole(LENGTH_MM, 0.9, **held)
    return photograph(solid, side, camera, replace(scene, quality=92))[0], solid, side


@cache
def light(kind: str) -> Light:
    """Cut a drawn photo."""
    data, solid, side = drawn(kind)
    light = lighten(data, LENGTH_MM, (solid.across_mm(side),))
    assert light is not None
    return light


def straight(turned: bool = False, fall: float = 0.0) -> Outline:
    """Make an outline a hundred pixels wide."""
    along = np.linspace(400.0, 2600.0, 65)
    upper, lower = (
        np.stack([row + fall * (along - 1500.0), along][:: -1 if turned else 1], axis=1) for row in (1500.0, 1600.0)
    )
    return Outline(upper, lower, True, True, 1.0)


@pytest.mark.parametrize("turned", [False, True], ids=["level", "upright"])
@pytest.mark.parametrize("fall", [0.0, 0.02, -0.17, 0.3])
def test_tiles_hold_the_board_and_ground_around(turned: bool, fall: float) -> None:
    """At any slant every point of the outline, and the ground beside it, lies in a tile; the tiles pass their check."""
    side = straight(turned, fall)
    layout = cover(side, Layout(3000, 3000))
    across = 0 if not turned else 1

    covered = np.zeros((3000, 3000), np.bool_)
    for tile in layout.tiles:
        assert not covered[tile.top : tile.top + tile.rows, tile.left : tile.left + tile.cols].any()
        covered[tile.top : tile.top + tile.rows, tile.left : tile.left + tile.cols] = True
    for points, away in ((side.upper, -BESIDE_PX), (side.lower, BESIDE_PX)):
        beside = points.copy()
        beside[:, across] += away
        for row, col in np.concatenate([points, beside]).astype(int):
            assert covered[row, col]
    assert layout.turned is turned
    told = Light(b"", b"", layout).told
    assert read_layout(told, tiled=True) == layout


def test_a_level_board_takes_one_tile() -> None:
    """Tiles at one height are one tile, so a level board is one plain cut on the grid of a JPEG's blocks."""
    (tile,) = cover(straight(), Layout(3000, 3000)).tiles

    assert [edge % GRID_PX for edge in (tile.left, tile.top, tile.rows)] == [0, 0, 0]


@pytest.mark.parametrize("kind", ["askew", "upright"])
def test_laid_back_tiles_are_the_photo_itself(kind: str) -> None:
    """Inside the tiles the picture is the photo but for the JPEG's own error; it has its size and focal length."""
    whole = open_photo(drawn(kind)[0], kind)
    laid = open_photo(light(kind).laid_back(), kind)

    assert laid.luma.shape == whole.luma.shape
    assert laid.focal_px == pytest.approx(whole.focal_px)
    off = np.abs(laid.luma.astype(np.int16) - whole.luma)
    for tile in light(kind).layout.tiles:
        assert off[tile.top : tile.top + tile.rows, tile.left : tile.left + tile.cols].mean() < 2.5


@pytest.mark.parametrize("kind", KINDS)
def test_a_cut_photo_is_judged_as_the_whole_one(kind: str) -> None:
    """Corners lie within a pixel, and the same is said of light, sharpness and size; a seventh of the bytes is sent."""
    data, solid, side = drawn(kind)
    whole, cut_out = (
        check_photo(photo, kind, LENGTH_MM, (solid.across_mm(side),)) for photo in (data, light(kind).laid_back())
    )

    assert [one.code for one in cut_out.problems] == [one.code for one in whole.problems] == []
    assert whole.outline is not None
    assert cut_out.outline is not None
    assert np.array(cut_out.outline.corners) == pytest.approx(np.array(whole.outline.corners), abs=CORNER_PX)
    assert cut_out.sharpness == pytest.approx(whole.sharpness, abs=0.05)
    assert light(kind).sent_bytes <= BYTES * len(data)


@pytest.mark.parametrize("kind", KINDS)
def test_a_cut_photo_gives_the_same_grain(kind: str) -> None:
    """The grain's angle along the side differs by 0.05 degrees at most in the mean, and as much of it is read."""
    data, solid, side = drawn(kind)
    grid = board_grid(LENGTH_MM)
    grains = [
        see_side((Upload(kind, photo),), LENGTH_MM, solid.across_mm(side), grid).grain
        for photo in (data, light(kind).laid_back())
    ]

    assert grains[0] is not None
    assert grains[1] is not None
    angles = [np.degrees(np.arctan(grain.line)) for grain in grains if grain is not None]
    assert np.nanmean(np.abs(angles[1] - angles[0])) <= ANGLE_DEG
    assert np.isfinite(angles[1]).mean() == pytest.approx(np.isfinite(angles[0]).mean(), abs=0.03)


def test_photos_without_a_board_are_sent_whole() -> None:
    """A preview of a bare floor, or one that a board fills, has no tiles."""
    floor = np.clip(np.random.default_rng(4).normal(120, 8, (3024, 4032, 3)), 0, 255).astype(np.uint8)
    solid = random_solid(310, length_mm=LENGTH_MM)
    close, _ = photograph(solid, "face_1", random_camera(310, solid, "close"), random_scene(310, ground="floor"))

    assert find_tiles(preview_of(Image.fromarray(floor)), Layout(4032, 3024), LENGTH_MM, (63.5,)) is None
    assert lighten(close) is None


GOOD: dict[str, Any] = {"size": [4032, 3024], "focal_35_mm": 26, "tiles": [[0, 96, 2048, 208], [2048, 112, 1984, 208]]}


@pytest.mark.parametrize(
    "changed",
    [
        {"size": [800, 600]},
        {"size": [40000, 30000]},
        {"size": [4032, -3024]},
        {"size": [4032.5, 3024]},
        {"size": "4032"},
        {"tiles": []},
        {"tiles": [[0, 2900, 4032, 208]]},
        {"tiles": [[-16, 96, 4032, 208]]},
        {"tiles": [[0, 96, 4032, 0]]},
        {"tiles": [[0, 0, 4032, 2000]]},
        {"tiles": [[0, 96, 2048, 208], [1024, 96, 2048, 208]]},
        {"tiles": [[0, 96, 2048, 208], [3000, 96, 1000, 208]]},
        {"tiles": [[0, 96, 2048, 208], [2048, 96, 1984, 224]]},
        {"tiles": [[0, 96, 1, 208], [1, 96, 4031, 208]]},
        {"tiles": [[0, 96, 16, 208]] * 301},
        {"turned": True},
        {"turned": "no"},
        {"focal_35_mm": "long"},
        {"more": 1},
    ],
)
def test_layouts_that_cannot_be_are_refused(changed: dict[str, Any]) -> None:
    """Sizes, places and numbers that no phone tells are refused at their field before any picture is opened."""
    with pytest.raises(BadInput) as refused:
        read_layout(json.dumps(GOOD | changed), tiled=True)

    assert refused.value.field == "layout"


def test_texts_that_are_no_layout_are_refused() -> None:
    """Neither broken JSON nor deep nesting is a layout; a good one is."""
    for text in ("", "{", "[" * 10000, "null", '{"size": [1e999, 3]}'):
        with pytest.raises(BadInput):
            read_layout(text)

    assert read_layout(json.dumps(GOOD), tiled=True).tiles[1] == Tile(2048, 112, 1984, 208)


def test_pictures_that_do_not_fit_their_layout_are_refused() -> None:
    """Tiles of another size, surroundings of other proportions, and files that are none say so."""
    layout = read_layout(json.dumps(GOOD))
    tiles, around = jpeg(Image.new("RGB", layout.size), 80), jpeg(Image.new("RGB", (1008, 756)), 50)

    assert len(lay_back(tiles, around, layout)) > 0
    for wrong in ((around, around), (tiles, tiles), (tiles, jpeg(Image.new("RGB", (8064, 6048)), 50))):
        with pytest.raises(BadInput):
            lay_back(*wrong, layout)
    for broken in ((tiles[: len(tiles) // 2], around), (tiles, b""), (b"tiles", around)):
        with pytest.raises(BadPhoto):
            lay_back(*broken, layout)


def test_notes_of_the_kept_picture_are_the_focal_length_alone() -> None:
    """Nothing but the focal length is noted in what is laid back, and nothing at all where none was told."""
    picture, whole = upright(drawn("level")[0])
    layout = cover(straight(), replace(whole, focal_35_mm=None))
    laid = lay_back(cut(picture, layout), preview_of(picture), layout)

    assert open_photo(laid, "laid").focal_px is None
    assert b"Exif" not in laid
