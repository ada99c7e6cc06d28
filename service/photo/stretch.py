"""The stretch of a photo that shows the board: found in a small preview, cut out elsewhere, laid back here.

A phone on a slow line sends a small preview first, then only the tiles of the full photo that cover the board, and its
surroundings small once more. Laid back where they were cut, over the surroundings made large, they give a picture of
the photo's own size that is read like any other. Tiles have whole-pixel places and are not turned, so the wood in them
is that of the photo, pixel by pixel.
"""

import io
import math
from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from service.errors import BadPhoto
from service.language import say
from service.photo.decode import EXIF_BLOCK, FILM_DIAGONAL_MM, FOCAL_35_TAG, REDUCTION
from service.photo.layout import MOST_SHARE, Layout, Tile, misfit
from service.photo.outline import find_side
from service.photo.types import Bytes, Outline, Photo

#: Tiles begin and end at multiples of this many pixels, the blocks of a JPEG, unless the photo's border comes first.
GRID_PX: Final = 16
#: A board askew is followed in steps of at least this many pixels along it.
STEP_PX: Final = 128
#: Ground kept beside the long corners and beyond the ends: the sharpness of a corner is told within 24 pixels of it,
#: and a preview places corners within 4 pixels, ends within 120 (nearly all drawn photos).
BESIDE_PX: Final = 28
BEYOND_PX: Final = 208
#: Share of the width that is kept besides, and of what the outline lacks in being sure: in a preview the strip of the
#: next side may hide a corner.
BESIDE_WIDTH: Final = 0.15
#: Outlines less sure than this in a preview are not cut out. Measured on drawn photos: of those at least as sure nearly
#: all lie within 26 pixels of the whole photo's; part photos have 0.5 to 0.6.
SURELY: Final = 0.5
#: Rise over run of the steepest side that is cut out: an eighth is the most that long lines are looked for at.
STEEPEST: Final = 0.125
#: Longest side of previews and surroundings: four times what phones send.
MOST_SMALL_PX: Final = 4096
#: Side of the blocks in which the ground's roughness is measured and made.
ROUGH_PX: Final = 4
#: Quality of the picture that is kept: its error is small beside that of the tiles.
QUALITY: Final = 95


def find_tiles(
    preview: bytes, whole: Layout, length_mm: float | None = None, across_mm: Sequence[float] = ()
) -> Layout | None:
    """Find the side of the board in a small preview, and the tiles that cover it in the whole photo.

    Parameters
    ----------
    preview
        The photo made small, upright, as JPEG.
    whole
        Size and focal length of the whole photo.
    length_mm, across_mm
        As `service.photo.check.check_photo` takes them.

    Returns
    -------
    Layout or None
        The same with tiles; None when the side is not surely found, or fills so much of the photo that cutting saves
        little.

    Raises
    ------
    BadPhoto
        The preview cannot be opened.
    BadInput
        The preview has other proportions than the photo.
    """
    photo = _enlarged(preview, whole)
    looks = [find_side(photo, length_mm, width if length_mm else None, rough=True) for width in across_mm or (None,)]
    sides = [look for look in looks if isinstance(look, Outline) and not look.problems]
    best = max(sides, key=lambda side: side.sure, default=None)
    if best is None or best.sure < SURELY or _slope(best) > STEEPEST:
        return None
    layout = cover(best, whole)
    return layout if layout.share <= MOST_SHARE else None


def cover(outline: Outline, whole: Layout) -> Layout:
    """Cover a side with tiles that follow it like stairs, with some ground around.

    Parameters
    ----------
    outline
        The side, in pixels of the whole photo.
    whole
        Size and focal length of the photo.

    Returns
    -------
    Layout
        Tiles of the same width across the side, from beyond one end to beyond the other.

    Examples
    --------
    >>> along = np.linspace(400.0, 3600.0, 65)
    >>> upper, lower = (np.stack([np.full(65, row), along], axis=1) for row in (1500.0, 1600.0))
    >>> cover(Outline(upper, lower, True, True, 1.0), Layout(4032, 3024)).tiles
    (Tile(left=192, top=1440, cols=3616, rows=208),)
    """
    run = np.abs(outline.upper[-1] - outline.upper[0])
    turned = bool(run[0] > run[1])
    most_along, most_across = (whole.rows, whole.cols) if turned else (whole.cols, whole.rows)
    along = np.concatenate([outline.upper, outline.lower])[:, 0 if turned else 1]
    first = max(_down(along.min() - BEYOND_PX), 0)
    last = min(_up(along.max() + BEYOND_PX), most_along)
    cuts = [*range(first, last - STEP_PX // 2, STEP_PX), last]
    low, high = _spans(outline, turned, cuts)
    beside = BESIDE_PX + (BESIDE_WIDTH + 1 - outline.sure) * outline.width_px
    thick = min(_up((high - low).max() + 2 * beside) + GRID_PX, most_across)
    steps: list[tuple[int, int, int]] = []  # across, from and to along
    for begin, end, middle in zip(cuts, cuts[1:], 0.5 * (low + high), strict=False):
        at = min(max(_down(middle - 0.5 * thick + 0.5 * GRID_PX), 0), most_across - thick)
        if steps and steps[-1][0] == at:
            begin = steps.pop()[1]
        steps.append((at, begin, end))
    if turned:
        tiles = tuple(Tile(at, begin, thick, end - begin) for at, begin, end in steps)
    else:
        tiles = tuple(Tile(begin, at, end - begin, thick) for at, begin, end in steps)
    return Layout(whole.cols, whole.rows, tiles, turned, whole.focal_35_mm)


def _slope(outline: Outline) -> float:
    """Rise of a side over its run from border to border of the photo."""
    rise, run = sorted(np.abs(outline.upper[-1] - outline.upper[0]))
    return float(rise / run)


def _spans(outline: Outline, turned: bool, cuts: Sequence[int]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least and greatest place of a side across, between each two cuts along it."""
    own, other = (0, 1) if turned else (1, 0)
    sides = []
    for points in (outline.upper, outline.lower):
        order = np.argsort(points[:, own])
        sides.append(np.interp(cuts, points[order, own], points[order, other]))
    low, high = np.minimum(*sides), np.maximum(*sides)
    return np.minimum(low[:-1], low[1:]), np.maximum(high[:-1], high[1:])


def _down(place: float) -> int:
    """Go back to a multiple of the grid."""
    return math.floor(place / GRID_PX) * GRID_PX


def _up(place: float) -> int:
    """Go on to a multiple of the grid."""
    return math.ceil(place / GRID_PX) * GRID_PX


def lay_back(tiles: bytes, around: bytes, layout: Layout) -> bytes:
    """Lay tiles back where they were cut, over the surroundings made large.

    Parameters
    ----------
    tiles
        The picture of all tiles, as JPEG.
    around
        The whole photo made small, upright, as JPEG.
    layout
        Where the tiles belong; at least one.

    Returns
    -------
    bytes
        A JPEG of the photo's own size, with its focal length and nothing else noted.

    Raises
    ------
    BadPhoto
        One of the pictures cannot be opened.
    BadInput
        They do not have the sizes that the layout says.
    """
    cut = _open(tiles, layout.size, exactly=True)
    ground = _roughened(_around(around, layout), cut, layout)
    picture = np.asarray(cv2.resize(ground, (layout.cols, layout.rows), interpolation=cv2.INTER_CUBIC))
    at = 0
    for tile in layout.tiles:
        picture[tile.top : tile.top + tile.rows, tile.left : tile.left + tile.cols] = _part(
            cut, tile, at, layout.turned
        )
        at += tile.rows if layout.turned else tile.cols
    coded = io.BytesIO()
    Image.fromarray(picture).save(coded, "JPEG", quality=QUALITY, exif=_notes(layout.focal_35_mm))
    return coded.getvalue()


def _notes(focal_35_mm: float | None) -> bytes:
    """Note a focal length as a camera does, and nothing else."""
    if focal_35_mm is None:
        return b""
    notes = Image.Exif()
    notes.get_ifd(EXIF_BLOCK)[FOCAL_35_TAG] = round(focal_35_mm)
    return notes.tobytes()


def _roughened(around: Bytes, cut: Bytes, layout: Layout) -> Bytes:
    """Make surroundings as rough as the ground at the outer borders of the tiles, the same way each time.

    Whoever looks for long lines in a picture rates steps of light and colour against its usual ones, so among smooth
    surroundings every line of the grain would look like a corner. Returns a quarter of the photo's size.
    """
    cols, rows = -(-layout.cols // ROUGH_PX), -(-layout.rows // ROUGH_PX)
    smooth = cv2.resize(around, (cols, rows), interpolation=cv2.INTER_CUBIC).astype(np.float32)
    lost, at = [], 0
    for tile in layout.tiles:
        part = _part(cut, tile, at, layout.turned)
        means = cv2.resize(part, (tile.cols // ROUGH_PX, tile.rows // ROUGH_PX), interpolation=cv2.INTER_AREA)
        top, left = tile.top // ROUGH_PX, tile.left // ROUGH_PX
        off = means - smooth[top : top + means.shape[0], left : left + means.shape[1]]
        borders = off[:, [0, -1]] if layout.turned else off[[0, -1]]
        lost.append(borders.reshape(-1, 3))
        at += tile.rows if layout.turned else tile.cols
    rng = np.random.default_rng(0)
    noise = rng.multivariate_normal(np.zeros(3), np.cov(np.concatenate(lost).T), (rows, cols), method="eigh")
    return np.clip(np.rint(smooth + noise), 0, 255).astype(np.uint8)


def _part(cut: Bytes, tile: Tile, at: int, turned: bool) -> Bytes:
    """One tile in the picture of tiles, where it begins `at` pixels along it."""
    return cut[at : at + tile.rows, : tile.cols] if turned else cut[: tile.rows, at : at + tile.cols]


def _enlarged(preview: bytes, whole: Layout) -> Photo:
    """Make a preview as large as its photo, so that all distances in pixels are those of the photo."""
    small = _around(preview, whole)
    luma = cv2.resize(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), (whole.cols, whole.rows), interpolation=cv2.INTER_CUBIC)
    size = (whole.cols // REDUCTION, whole.rows // REDUCTION)
    colour = cv2.resize(small, size, interpolation=cv2.INTER_AREA).astype(np.float32) / np.float32(255)
    focal_px = math.hypot(whole.cols, whole.rows) * whole.focal_35_mm / FILM_DIAGONAL_MM if whole.focal_35_mm else None
    return Photo("preview", np.asarray(luma, dtype=np.uint8), colour, REDUCTION, focal_px, "")


def _around(data: bytes, whole: Layout) -> Bytes:
    """Open a photo made small."""
    return _open(data, (whole.cols, whole.rows), exactly=False)


def _open(data: bytes, size: tuple[int, int], exactly: bool) -> Bytes:
    """Open a JPEG of the given (columns, rows), or of these proportions but smaller; uint8, shape (rows, cols, 3)."""
    try:
        image = Image.open(io.BytesIO(data), formats=("JPEG",))
        shrink = image.size[0] / size[0]
        alike = shrink <= 1 and max(image.size) <= MOST_SMALL_PX and abs(image.size[1] - shrink * size[1]) < 1.5
        if image.size != size if exactly else not alike:  # before any pixel is decoded
            raise misfit()
        return np.asarray(image.convert("RGB"), dtype=np.uint8)
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError, TypeError) as error:
        text = say("The part cut out of the photo is damaged or breaks off. Send the photo again.")
        raise BadPhoto(text, "photo") from error
