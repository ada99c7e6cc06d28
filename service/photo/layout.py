"""Where tiles were cut from a photo, as a phone tells it."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.errors import BadInput
from service.language import say
from service.photo.decode import MAX_PIXELS

#: Smallest photo that is cut, along its shorter side: smaller ones are sent as they are.
LEAST_SIDE_PX: Final = 1200
#: Tiles that hold more than this share of the photo are not worth the work.
MOST_SHARE: Final = 0.4
#: Most tiles of a photo: steps of 128 pixels along four times the longest side of a phone's photo.
MOST_TILES: Final = 300
#: Narrowest tile: those that are told are wider.
LEAST_TILE_PX: Final = 16
#: Focal lengths in 35 mm film that are believed, as when a photo is opened.
FOCAL_35_MM: Final = (5.0, 1000.0)


@dataclass(frozen=True)
class Tile:
    """A rectangle of whole pixels in an upright photo."""

    left: int
    top: int
    cols: int
    rows: int


@dataclass(frozen=True)
class Layout:
    """Where tiles were cut from a photo.

    Attributes
    ----------
    cols, rows
        Size of the upright photo, in pixels.
    tiles
        In the order in which they lie in the picture of tiles, from its start on without gaps.
    turned
        Whether the board runs up the photo: then the tiles lie below one another, else side by side.
    focal_35_mm
        Focal length in 35 mm film noted by the camera; None when it noted none.
    """

    cols: int
    rows: int
    tiles: tuple[Tile, ...] = ()
    turned: bool = False
    focal_35_mm: float | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Columns and rows of the picture of all tiles.

        >>> Layout(400, 300, (Tile(0, 16, 160, 64), Tile(160, 32, 240, 64))).size
        (400, 64)
        """
        cols, rows = [tile.cols for tile in self.tiles], [tile.rows for tile in self.tiles]
        return (max(cols), sum(rows)) if self.turned else (sum(cols), max(rows))

    @property
    def share(self) -> float:
        """Share of the photo that the tiles hold.

        >>> Layout(400, 300, (Tile(0, 16, 160, 64), Tile(160, 32, 240, 64))).share
        0.21333333333333335
        """
        return sum(tile.cols * tile.rows for tile in self.tiles) / (self.cols * self.rows)


class _Told(BaseModel):
    """A layout as it is told."""

    model_config = ConfigDict(strict=True, extra="forbid")

    size: tuple[int, int]
    focal_35_mm: Annotated[float, Field(allow_inf_nan=False)] | None = None
    tiles: Annotated[list[tuple[int, int, int, int]], Field(max_length=MOST_TILES)] = []
    turned: bool = False


def misfit() -> BadInput:
    """Refuse a stretch that does not fit its photo."""
    text = say("The part cut out of the photo does not fit the photo. Take it again, or send it by the plain form.")
    return BadInput(text, "layout")


def read_layout(text: str, tiled: bool = False, max_pixels: int = MAX_PIXELS) -> Layout:
    """Read where tiles were cut, and refuse what cannot be.

    Parameters
    ----------
    text
        JSON: `size` (columns and rows), `focal_35_mm` (a number or null), and once they are known `tiles` (each left,
        top, columns, rows) and `turned`.
    tiled
        Whether there must be tiles.
    max_pixels
        Most pixels of the photo.

    Returns
    -------
    Layout
        Its tiles lie inside the photo, are equally wide across the board and follow one another along it.

    Raises
    ------
    BadInput
        It is no such text, or the tiles cannot be: `misfit`.

    Examples
    --------
    >>> read_layout('{"size": [4032, 3024], "focal_35_mm": 26, "tiles": [[0, 96, 4032, 208]]}').tiles
    (Tile(left=0, top=96, cols=4032, rows=208),)
    >>> read_layout('{"size": [4032, 3024], "tiles": [[0, 2900, 4032, 208]]}')
    Traceback (most recent call last):
    service.errors.BadInput: The part cut out of the photo does not fit the photo. Take it again, or send it by the ...
    """
    try:
        told = _Told.model_validate_json(text)
    except ValidationError as error:
        raise misfit() from error
    low, high = FOCAL_35_MM
    focal = told.focal_35_mm if told.focal_35_mm is not None and low < told.focal_35_mm < high else None
    layout = Layout(*told.size, tuple(Tile(*tile) for tile in told.tiles), told.turned, focal)
    if min(told.size) < LEAST_SIDE_PX or layout.cols * layout.rows > max_pixels or layout.share > MOST_SHARE:
        raise misfit()
    if tiled and not layout.tiles:
        raise misfit()
    if not all(_inside(tile, layout) for tile in layout.tiles) or not _in_a_row(layout):
        raise misfit()
    return layout


def _inside(tile: Tile, layout: Layout) -> bool:
    reaches = tile.left + tile.cols <= layout.cols and tile.top + tile.rows <= layout.rows
    return reaches and min(tile.left, tile.top) >= 0 and min(tile.cols, tile.rows) >= LEAST_TILE_PX


def _in_a_row(layout: Layout) -> bool:
    """Say whether tiles are equally wide across the board and follow one another along it."""
    if layout.turned:
        spans = [(tile.top, tile.top + tile.rows, tile.cols) for tile in layout.tiles]
    else:
        spans = [(tile.left, tile.left + tile.cols, tile.rows) for tile in layout.tiles]
    return all(one[1:] == (other[0], other[2]) for one, other in pairwise(spans))
